//! E-mail addresses, and links to them.

use email_address::{EmailAddress, Options};
use percent_encoding::{AsciiSet, NON_ALPHANUMERIC, utf8_percent_encode};
use steerwright_input::first_hidden;

/// What a part of an address keeps in a link: letters, digits and RFC 3986's other unreserved characters. Everything else
/// is escaped, so that no part can begin the headers of a mail (RFC 6068, 2 and 7).
const ESCAPED: &AsciiSet = &NON_ALPHANUMERIC.remove(b'-').remove(b'.').remove(b'_').remove(b'~');

/// Whether the text is an e-mail address as RFC 5322 has it, with a dotted domain and nothing around it. At most 254
/// characters (RFC 5321, 4.5.3.1.3, minus the brackets).
pub fn is_email(text: &str) -> bool {
    let options = Options::default().with_required_tld().without_display_text().without_domain_literal();
    text.chars().count() <= 254
        && first_hidden(text).is_none()
        && EmailAddress::parse_with_options(text, options).is_ok_and(|it| is_host(it.domain()))
}

/// Whether a domain is made of what names of hosts are made of: letters, digits and hyphens between dots (RFC 1123, 2.1),
/// letters of any script included (RFC 5890). RFC 5322 alone would allow `?` in it.
fn is_host(domain: &str) -> bool {
    domain.chars().all(|c| c.is_alphanumeric() || c == '-' || c == '.')
}

/// The link that writes a mail to an address.
pub fn mailto(email: &str) -> String {
    let escaped = |part| utf8_percent_encode(part, ESCAPED);
    match email.rsplit_once('@') {
        Some((local, domain)) => format!("mailto:{}@{}", escaped(local), escaped(domain)),
        None => format!("mailto:{}", escaped(email)),
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn slips_of_a_thumb_are_caught() {
        for good in [
            "wren@example.org",
            "w.r+e@sub.example.org",
            "ü@bücher.example",
            "o'hara@example.org",
            "a?b=c@example.org",
        ] {
            assert!(is_email(good), "{good}");
        }
        let long = format!("{}@example.org", "a".repeat(243));
        for bad in [
            "",
            "wren",
            "wren@",
            "@example.org",
            "wren@example",
            "a b@example.org",
            "a@b@example.org",
            "wren@example..org",
            "wren@example.org?bcc=ash@example.org",
            "wren@example.org?bcc=ash",
            "wren@example.org,ash@example.org",
            "Wren <wren@example.org>",
            "wren@[127.0.0.1]",
            "wren@example.org\n",
            "wr\u{202e}en@example.org",
            long.as_str(),
        ] {
            assert!(!is_email(bad), "{bad}");
        }
    }

    /// RFC 6068, 2: `?` begins the headers, `&` parts them, and `%` begins an escape; its 6.1 writes them as here (F).
    #[test]
    fn an_address_cannot_add_headers_to_its_mail() {
        assert_eq!(mailto("wren@example.org"), "mailto:wren@example.org");
        assert_eq!(mailto("gorby%kremvax@example.com"), "mailto:gorby%25kremvax@example.com");
        assert_eq!(mailto("unlikely?address@example.com"), "mailto:unlikely%3Faddress@example.com");
        assert_eq!(mailto("Mike&family@example.org"), "mailto:Mike%26family@example.org");
        assert_eq!(mailto("wren?bcc=ash@example.org"), "mailto:wren%3Fbcc%3Dash@example.org");
        assert_eq!(mailto("\"not@me\"@example.org"), "mailto:%22not%40me%22@example.org");
        assert_eq!(mailto("x@y.example?bcc=ash"), "mailto:x@y.example%3Fbcc%3Dash");
    }
}
