//! The shop to which order requests are sent, and the user's agreement.

use super::catalogue;
use super::due::NEVER;
use super::record::Entry;
use crate::{
    BookError, Inner, Lines, OrderId, Reader, Screen, Timestamp, Work, check_text, check_who, needed_text,
};
use rusqlite::{Connection, OptionalExtension, params};
use serde::Serialize;
use std::fmt;
use steerwright_metrology::sentence::Sentence;

/// The sender's token: a secret between sender and shop. It is never displayed, logged or serialised.
#[derive(Clone, PartialEq, Eq)]
pub struct Token(String);

impl Token {
    /// A token as the shop issued it: 8 to 512 characters of RFC 6750, 2.1 (letters, digits, `-._~+/` and `=` at the
    /// end).
    ///
    /// # Errors
    /// Any other text; the message does not repeat it.
    pub fn new(text: &str) -> Result<Self, BookError> {
        let text = text.trim();
        let body = text.trim_end_matches('=');
        let plain = |c: char| c.is_ascii_alphanumeric() || "-._~+/".contains(c);
        if (8..=512).contains(&text.len()) && !body.is_empty() && body.chars().all(plain) {
            return Ok(Self(text.to_owned()));
        }
        let reason = "the token is not one a shop gives: 8 to 512 letters, digits and -._~+/ without a space";
        Err(BookError::Refused(Sentence::new("shop.token", reason)))
    }

    /// The value of the header `Authorization`.
    pub(super) fn header(&self) -> String {
        format!("Bearer {}", self.0)
    }
}

impl fmt::Debug for Token {
    fn fmt(&self, f: &mut fmt::Formatter<'_>) -> fmt::Result {
        f.write_str("Token(not shown)")
    }
}

/// The shop's settings for display; the token stays in the book.
#[derive(Debug, Clone, PartialEq, Eq, Serialize)]
pub struct ShopSetting {
    /// Its address, without a trailing slash.
    pub base: String,
    /// When it was set.
    pub set_at: Timestamp,
    /// The user's agreement for this shop; nothing is sent without it.
    pub agreement: Option<Agreement>,
}

/// The user's agreement.
#[derive(Debug, Clone, PartialEq, Eq, Serialize)]
pub struct Agreement {
    /// The text that was displayed.
    pub words: String,
    /// Who agreed.
    pub who: Option<String>,
    /// Timestamp.
    pub agreed_at: Timestamp,
}

/// What a shop that is erased here was still to be asked; only the user can ask it now.
#[derive(Debug, Clone, PartialEq, Eq, Default, Serialize)]
pub struct ForgottenShop {
    /// Requests whose contact was erased here and not at the shop.
    pub not_erased: Vec<OrderId>,
    /// Requests with a message or a withdrawal that the shop did not get.
    pub not_told: Vec<OrderId>,
}

/// The shop with its token.
pub(super) struct Shop {
    pub(super) base: String,
    pub(super) token: Token,
}

/// What an address of a shop looks like.
const EXPECTED: &str = "expected https:// (or http:// on this device), a host, and perhaps a path, such as \
     https://orders.shop.example/intake";

/// Validates a shop's address and returns its stored form: `https`, or `http` on this device; a host, optionally a port
/// and a path.
fn sound_base(text: &str) -> Result<String, Inner> {
    let text = text.trim().trim_end_matches('/');
    check_text("the shop's address", text, 300, Lines::One)?;
    let refused = |why: &str| {
        let reason = format!("the shop's address {text:?} {why}; {EXPECTED}");
        Err(Inner::rule("shop.address", reason).with("address", text))
    };
    let Some((scheme, rest)) = text.split_once("://") else {
        return refused("has to begin with https://");
    };
    let (authority, path) = rest.split_once('/').unwrap_or((rest, ""));
    if authority.is_empty() || authority.contains('@') || text.contains(['?', '#', ' ', '\\', '"', '<', '>'])
    {
        return refused("has no host, or has a name, a query or a space");
    }
    if !path.is_ascii() || !authority.is_ascii() {
        return refused("holds letters beyond ASCII; write the host's name in its xn-- form");
    }
    // RFC 3986, 5.2.4: a client takes such segments out, so the calls would go elsewhere than is shown.
    let dots =
        |segment: &str| matches!(segment.to_ascii_lowercase().replace("%2e", ".").as_str(), "." | "..");
    if path.split('/').any(dots) {
        return refused("has a path with the segment . or ..");
    }
    let host = match authority.strip_prefix('[') {
        Some(six) => six.split_once(']').map_or("", |(host, _)| host),
        None => authority.split_once(':').map_or(authority, |(host, _)| host),
    };
    let here = matches!(host.to_ascii_lowercase().as_str(), "localhost" | "127.0.0.1" | "::1");
    match scheme.to_ascii_lowercase().as_str() {
        "https" if !host.is_empty() => {}
        "http" if here => {}
        "http" => return refused("has to begin with https://: over http:// anybody on the way reads along"),
        _ => return refused("has to begin with https://"),
    }
    let (scheme, authority) = (scheme.to_ascii_lowercase(), authority.to_ascii_lowercase());
    Ok(if path.is_empty() {
        format!("{scheme}://{authority}")
    } else {
        format!("{scheme}://{authority}/{path}")
    })
}

/// The shop, if one is set.
pub(super) fn shop(conn: &Connection) -> Result<Option<Shop>, Inner> {
    let row = conn
        .prepare_cached("SELECT base, token FROM shops WHERE key = 1")?
        .query_row([], |row| Ok(Shop { base: row.get(0)?, token: Token(row.get(1)?) }))
        .optional()?;
    Ok(row)
}

fn agreement(conn: &Connection, base: &str) -> Result<Option<Agreement>, Inner> {
    let row = conn
        .prepare_cached(
            "SELECT words, who, agreed_at FROM agreements WHERE base = ?1 AND ended_at IS NULL
             ORDER BY key DESC LIMIT 1",
        )?
        .query_row([base], |row| {
            Ok(Agreement { words: row.get(0)?, who: row.get(1)?, agreed_at: row.get(2)? })
        })
        .optional()?;
    Ok(row)
}

/// The shop, if there is one and the user agreed to sending there.
pub(super) fn agreed_shop(conn: &Connection) -> Result<Option<Shop>, Inner> {
    agreed(conn, shop(conn)?)
}

fn agreed(conn: &Connection, shop: Option<Shop>) -> Result<Option<Shop>, Inner> {
    let Some(shop) = shop else { return Ok(None) };
    Ok(agreement(conn, &shop.base)?.map(|_| shop))
}

/// The shop to call for a request, if it is known and the user agrees to sending there: the one that has it or may have
/// it, with the token it was sent with, and otherwise the present one.
pub(super) fn shop_of(conn: &Connection, entry: &Entry) -> Result<Option<Shop>, Inner> {
    if !entry.delivery.may_be_with_shop() {
        return agreed_shop(conn);
    }
    let went_to = conn
        .prepare_cached("SELECT base, token FROM order_shops WHERE key = ?1")?
        .query_row([entry.shop], |row| Ok(Shop { base: row.get(0)?, token: Token(row.get(1)?) }))
        .optional()?;
    agreed(conn, went_to)
}

/// Binds a request to this shop.
pub(super) fn bind(work: &Work<'_>, entry: &Entry, shop: &Shop) -> Result<(), Inner> {
    let went_to = params![shop.base, shop.token.0];
    work.tx().execute("INSERT OR IGNORE INTO order_shops (base, token) VALUES (?1, ?2)", went_to)?;
    work.tx().execute(
        "UPDATE outbox SET shop = (SELECT key FROM order_shops WHERE base = ?2 AND token = ?3) WHERE key = ?1",
        params![entry.key, shop.base, shop.token.0],
    )?;
    Ok(())
}

/// Assigns the present token to a request that was refused for its token, if the shop that may have it is the present
/// one.
pub(super) fn with_the_new_token(work: &Work<'_>, entry: &Entry) -> Result<(), Inner> {
    let base: Option<String> = work
        .tx()
        .query_row("SELECT base FROM order_shops WHERE key = ?1", [entry.shop], |row| row.get(0))
        .optional()?;
    match shop(work.tx())?.filter(|present| base.as_ref() == Some(&present.base)) {
        Some(present) if entry.delivery.may_be_with_shop() => bind(work, entry, &present),
        _ => Ok(()),
    }
}

/// Resets requests that are not with a shop yet, for another shop or another sender's token: it has none of their
/// photos, and their faults were those of the other shop. Calls in flight are abandoned.
fn begin_anew(work: &Work<'_>) -> Result<(), Inner> {
    const NOT_SENT: &str = "NOT in_doubt AND state IN ('queued', 'held', 'rejected')";
    let now = work.now();
    work.tx().execute(
        &format!(
            "UPDATE order_photos SET arrived = NULL WHERE request IN (SELECT key FROM outbox WHERE {NOT_SENT})"
        ),
        [],
    )?;
    work.tx().execute(
        &format!("UPDATE outbox SET in_flight = NULL, began_at = NULL, tries = 0, next_at = min(next_at, ?1) WHERE {NOT_SENT}"),
        [now],
    )?;
    work.tx().execute("UPDATE outbox SET fault = NULL WHERE state = 'queued'", [])?;
    Ok(())
}

/// Removes shops that no request refers to, with their tokens.
fn tidy(work: &Work<'_>) -> Result<(), Inner> {
    let unused = "DELETE FROM order_shops WHERE key NOT IN (SELECT shop FROM outbox WHERE shop IS NOT NULL)";
    work.tx().execute(unused, [])?;
    Ok(())
}

fn set(work: &mut Work<'_>, base: &str, token: &Token) -> Result<(), Inner> {
    let base = sound_base(base)?;
    let before = shop(work.tx())?;
    let another = before.as_ref().is_some_and(|before| before.base != base);
    if another || before.is_some_and(|before| before.token != *token) {
        begin_anew(work)?;
    }
    if another {
        catalogue::another_shop(work)?;
    }
    let now = work.now();
    work.tx().execute(
        "INSERT INTO shops (key, base, token, set_at) VALUES (1, ?1, ?2, ?3)
         ON CONFLICT (key) DO UPDATE SET base = excluded.base, token = excluded.token, set_at = excluded.set_at",
        params![base, token.0, now],
    )?;
    tidy(work)?;
    work.touch(Screen::Settings);
    work.touch(Screen::Orders);
    Ok(())
}

/// What is outstanding at a shop that is about to be erased.
fn outstanding(work: &Work<'_>, base: &str) -> Result<ForgottenShop, Inner> {
    let ids = |which: &str| -> Result<Vec<OrderId>, Inner> {
        let mut rows = work.tx().prepare(&format!(
            "SELECT o.id FROM orders o JOIN outbox x ON x.key = o.key JOIN order_shops s ON s.key = x.shop
             WHERE s.base = ?1 AND {which} ORDER BY o.key"
        ))?;
        let rows = rows.query_map([base], |row| row.get(0))?;
        Ok(rows.collect::<Result<_, _>>()?)
    };
    Ok(ForgottenShop {
        not_erased: ids(&format!(
            "o.erased_at IS NOT NULL AND x.next_at <> {} AND (x.state = 'delivered' OR (x.state = 'withdrawn' AND x.in_doubt))",
            NEVER.0
        ))?,
        not_told: ids(
            "EXISTS (SELECT 1 FROM order_messages m WHERE m.request = o.key AND m.state = 'queued')",
        )?,
    })
}

fn forget(work: &mut Work<'_>, base: &str) -> Result<ForgottenShop, Inner> {
    let base = sound_base(base)?;
    let outstanding = outstanding(work, &base)?;
    let present = work.tx().execute("DELETE FROM shops WHERE base = ?1", [&base])? > 0;
    work.tx().execute(
        "UPDATE outbox SET shop = NULL WHERE shop IN (SELECT key FROM order_shops WHERE base = ?1)",
        [&base],
    )?;
    let earlier = work.tx().execute("DELETE FROM order_shops WHERE base = ?1", [&base])? > 0;
    if !present && !earlier {
        return Err(Inner::rule("shop.no_orders_there", format!("no order request goes or went to {base}"))
            .with("base", base));
    }
    if present {
        begin_anew(work)?;
        catalogue::another_shop(work)?;
        catalogue::end(work)?;
    }
    // The text of the agreement contains the address.
    work.tx().execute("DELETE FROM agreements WHERE base = ?1", [&base])?;
    work.touch(Screen::Settings);
    work.touch(Screen::Orders);
    work.rewrite_after()?;
    Ok(outstanding)
}

fn agree(work: &mut Work<'_>, words: &str, who: Option<&str>) -> Result<(), Inner> {
    let words = needed_text("what was agreed to", words, 4_000, Lines::Many)?;
    let who = check_who(who)?;
    let Some(shop) = shop(work.tx())? else {
        return Err(Inner::rule("shop.none", "there is no shop to send to yet"));
    };
    let now = work.now();
    end(work, &shop.base)?;
    work.tx().execute(
        "INSERT INTO agreements (base, words, who, agreed_at) VALUES (?1, ?2, ?3, ?4)",
        params![shop.base, words, who, now],
    )?;
    work.touch(Screen::Settings);
    work.touch(Screen::Orders);
    Ok(())
}

fn end(work: &mut Work<'_>, base: &str) -> Result<(), Inner> {
    let now = work.now();
    work.tx().execute(
        "UPDATE agreements SET ended_at = ?2 WHERE base = ?1 AND ended_at IS NULL",
        params![base, now],
    )?;
    Ok(())
}

impl Work<'_> {
    /// Sets the shop to which order requests are sent: its address (`https://`, or `http://` on this device) and the
    /// token it issued. A new address needs a new agreement before anything is sent. Requests that a shop has, or may
    /// have, stay with that shop and the token they were sent with; unsent ones go to the new one.
    ///
    /// # Errors
    /// An invalid address.
    pub fn set_shop(&mut self, base: &str, token: &Token) -> Result<(), BookError> {
        self.step(|work| set(work, base, token))
    }

    /// Erases a shop: its address, its tokens and its agreements. Returns what it was still to be asked. Requests that it has, or may have, then have the
    /// reason [`Reason::ShopGone`](super::Reason::ShopGone); it is not asked to erase their contacts. If it is the
    /// present shop, there is none from then on. See [`Reader::erasing`].
    ///
    /// # Errors
    /// An invalid address, or one that is neither the present shop's nor that of a request.
    pub fn forget_shop(&mut self, base: &str) -> Result<ForgottenShop, BookError> {
        self.step(|work| forget(work, base))
    }

    /// Records that the user agreed to sending order requests to the present shop: the exact text that was displayed,
    /// and who agreed.
    ///
    /// # Errors
    /// No words, or no shop.
    pub fn agree_to_sending(&mut self, words: &str, who: Option<&str>) -> Result<(), BookError> {
        self.step(|work| agree(work, words, who))
    }

    /// Ends every agreement, also for shops of earlier requests: nothing is sent or queried from now on. The record of
    /// the agreement and its time stays.
    ///
    /// # Errors
    /// Only those of writing.
    pub fn end_agreement(&mut self) -> Result<(), BookError> {
        self.step(|work| {
            let now = work.now();
            work.tx().execute("UPDATE agreements SET ended_at = ?1 WHERE ended_at IS NULL", [now])?;
            work.touch(Screen::Settings);
            work.touch(Screen::Orders);
            Ok(())
        })
    }
}

impl Reader {
    /// The shop to which order requests are sent, without its token.
    ///
    /// # Errors
    /// Only those of reading.
    pub fn shop(&self) -> Result<Option<ShopSetting>, BookError> {
        self.read(|conn| {
            let row: Option<(String, Timestamp)> = conn
                .query_row("SELECT base, set_at FROM shops WHERE key = 1", [], |row| {
                    Ok((row.get(0)?, row.get(1)?))
                })
                .optional()?;
            let Some((base, set_at)) = row else { return Ok(None) };
            let agreement = agreement(conn, &base)?;
            Ok(Some(ShopSetting { base, set_at, agreement }))
        })
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn only_safe_addresses() {
        for (given, kept) in [
            ("https://shop.example/", "https://shop.example"),
            (" HTTPS://Shop.Example/Orders/ ", "https://shop.example/Orders"),
            ("http://localhost:8080", "http://localhost:8080"),
            ("http://127.0.0.1", "http://127.0.0.1"),
            ("http://[::1]:8080", "http://[::1]:8080"),
        ] {
            assert_eq!(sound_base(given).unwrap(), kept);
        }
        for bad in [
            "",
            "shop.example",
            "http://shop.example",
            "http://localhost.shop.example",
            "ftp://shop.example",
            "https://",
            "https:///x",
            "https://a@shop.example",
            "https://shop.example/?q",
            "https://sh op.example",
            "https://shöp.example",
            "http://127.0.0.1@shop.example",
            "https://:80",
        ] {
            assert!(sound_base(bad).is_err(), "{bad}");
        }
    }

    #[test]
    fn a_path_with_dot_segments_is_refused_by_field_value_and_what_is_expected() {
        for bad in [
            "https://shop.example/..",
            "https://shop.example/../",
            "https://shop.example/.",
            "https://shop.example/a/../b",
            "https://shop.example/%2e%2E/b",
            "https://shop.example/a/.%2e",
            "http://localhost:8480/./orders",
        ] {
            let said = BookError::from(sound_base(bad).unwrap_err()).to_string();
            for part in ["the shop's address", bad.trim_end_matches('/'), "expected https://", "a host"] {
                assert!(said.contains(part), "{bad}: {said}");
            }
        }
        // A dot in a segment is none.
        assert_eq!(sound_base("https://shop.example/v1.2/...").unwrap(), "https://shop.example/v1.2/...");
    }

    #[test]
    fn a_token_is_not_shown() {
        let token = Token::new("abcDEF-._~+/123==").unwrap();
        assert_eq!(format!("{token:?}"), "Token(not shown)");
        assert_eq!(token.header(), "Bearer abcDEF-._~+/123==");
        for bad in ["", "short", "with a space", "=========", "line\nbreak1"] {
            let message = Token::new(bad).unwrap_err().to_string();
            assert!(bad.is_empty() || !message.contains(bad), "{message}");
        }
    }
}
