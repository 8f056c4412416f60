//! Reading HTML forms, protected against cross-site request forgery.

use super::layout::{PageError, error_page};
use crate::api::{has_content_type, read_body, single_header};
use crate::crypto::constant_time_eq;
use crate::state::AppState;
use axum::body::Body;
use axum::http::{HeaderMap, HeaderValue, StatusCode, header};
use std::collections::HashMap;
use url::form_urlencoded;

/// Maximum size of a form, bytes: a message of 2000 characters, each up to four bytes, each encoded as three.
const MAX_FORM_BYTES: usize = 32 << 10;

/// The fields of a form. Of several with the same name, the first counts.
pub(super) struct Form(HashMap<String, String>);

impl Form {
    /// Reads a form sent from a page of this server.
    ///
    /// # Errors
    /// An error page for a form of another site, of another content type, too long or incomplete.
    pub(super) async fn read(app: &AppState, headers: &HeaderMap, content: Body) -> Result<Self, PageError> {
        match origin(headers) {
            FormOrigin::Here => {}
            FormOrigin::OtherHost { page, host } => {
                tracing::warn!(
                    "a form's Origin is not this server's Host: does the proxy forward the Host header?"
                );
                let message = format!(
                    "The page is at {page}, but the form reached this server as {host}. If a proxy stands in front of it, \
                     the proxy has to forward the Host header unchanged. If you came here from another site, do not."
                );
                return Err(PageError::response(error_page(
                    StatusCode::FORBIDDEN,
                    "The form came in under another name.",
                    &message,
                )));
            }
            FormOrigin::Elsewhere => {
                return Err(PageError::response(error_page(
                    StatusCode::FORBIDDEN,
                    "The form is not of this page.",
                    "Another site sent it. Open this page yourself and try again.",
                )));
            }
        }
        if !has_content_type(headers, "application/x-www-form-urlencoded") {
            return Err(PageError::response(error_page(
                StatusCode::UNSUPPORTED_MEDIA_TYPE,
                "That is no form.",
                "Go back and try again.",
            )));
        }
        let bytes = read_body(app, headers, content, MAX_FORM_BYTES).await.map_err(|_| {
            let message = "It is too long, or the connection broke off. Go back and try again.";
            PageError::response(error_page(
                StatusCode::PAYLOAD_TOO_LARGE,
                "The form did not come through.",
                message,
            ))
        })?;
        let mut fields = HashMap::new();
        for (name, value) in form_urlencoded::parse(&bytes) {
            fields.entry(name.into_owned()).or_insert_with(|| value.into_owned());
        }
        Ok(Self(fields))
    }

    /// The value of a field, empty if it is missing.
    pub(super) fn get(&self, name: &str) -> &str {
        self.0.get(name).map_or("", String::as_str)
    }

    /// The text of a field in lines, trimmed; `None` if it is empty, longer than `most` characters, or not plain.
    pub(super) fn lines(&self, name: &str, most: usize) -> Option<String> {
        let text = self.get(name).replace("\r\n", "\n").trim().to_owned();
        let sound = (1..=most).contains(&text.chars().count())
            && steerwright_input::first_hidden_in_lines(&text).is_none();
        sound.then_some(text)
    }

    /// Checks that the form contains the token.
    ///
    /// # Errors
    /// An error page with 403.
    pub(super) fn check_csrf_token(&self, token: &str) -> Result<(), PageError> {
        if !token.is_empty() && constant_time_eq(self.get("csrf_token"), token) {
            Ok(())
        } else {
            Err(forged())
        }
    }
}

fn forged() -> PageError {
    PageError::response(error_page(
        StatusCode::FORBIDDEN,
        "The form is not of this page.",
        "Perhaps you logged in anew meanwhile. Go back, load the page again, and send it once more.",
    ))
}

/// Where a form comes from, by `Sec-Fetch-Site` and `Origin`, if present. The form's token is the actual protection; this
/// is an additional check.
#[derive(Debug, PartialEq, Eq)]
enum FormOrigin {
    Here,
    /// The page's address is not the one under which the form arrived. Behind a proxy that rewrites `Host` every form is so.
    OtherHost {
        page: String,
        host: String,
    },
    Elsewhere,
}

fn origin(headers: &HeaderMap) -> FormOrigin {
    let site = headers.get("sec-fetch-site").and_then(|value| value.to_str().ok());
    if site.is_some_and(|site| site != "same-origin") {
        return FormOrigin::Elsewhere;
    }
    let Some(origin) = headers.get(header::ORIGIN).map(HeaderValue::to_str) else { return FormOrigin::Here };
    let host = single_header(headers, header::HOST.as_str());
    let page = origin.ok().and_then(|origin| origin.split_once("://")).map(|(_, authority)| authority);
    match (page, host) {
        (Some(page), Some(host)) if page == host => FormOrigin::Here,
        (Some(page), host) => FormOrigin::OtherHost {
            page: page.to_owned(),
            host: host.unwrap_or("an unknown host").to_owned(),
        },
        (None, _) => FormOrigin::Elsewhere,
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    fn headers(pairs: &[(&'static str, &'static str)]) -> HeaderMap {
        pairs.iter().map(|(name, value)| (name.parse().unwrap(), HeaderValue::from_static(value))).collect()
    }

    #[test]
    fn forms_of_the_same_origin() {
        let host = ("host", "shop.example");
        let other =
            |page: &str, host: &str| FormOrigin::OtherHost { page: page.to_owned(), host: host.to_owned() };
        for (pairs, expected) in [
            (&[host][..], FormOrigin::Here),
            (&[host, ("origin", "https://shop.example")], FormOrigin::Here),
            (
                &[host, ("origin", "https://shop.example.evil.example")],
                other("shop.example.evil.example", "shop.example"),
            ),
            (
                &[("host", "127.0.0.1:8480"), ("origin", "https://shop.example")],
                other("shop.example", "127.0.0.1:8480"),
            ),
            (&[host, ("origin", "null")], FormOrigin::Elsewhere),
            (&[("origin", "https://shop.example")], other("shop.example", "an unknown host")),
            (&[host, ("sec-fetch-site", "same-origin")], FormOrigin::Here),
            (&[host, ("sec-fetch-site", "same-site")], FormOrigin::Elsewhere),
            (&[host, ("sec-fetch-site", "cross-site")], FormOrigin::Elsewhere),
            (&[host, ("sec-fetch-site", "none")], FormOrigin::Elsewhere),
            (
                &[host, ("origin", "https://shop.example"), ("sec-fetch-site", "cross-site")],
                FormOrigin::Elsewhere,
            ),
        ] {
            assert_eq!(origin(&headers(pairs)), expected, "{pairs:?}");
        }
    }
}
