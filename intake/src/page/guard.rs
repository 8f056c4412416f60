//! Who may see a page and send a form.

use super::frame::{Away, refusal};
use crate::api::{body, is_of_type, one};
use crate::secret::same;
use crate::shopkeepers::{self, Session};
use crate::state::Intake;
use axum::body::Body;
use axum::extract::FromRequestParts;
use axum::http::request::Parts;
use axum::http::{HeaderMap, HeaderValue, StatusCode, header};
use axum::response::{AppendHeaders, IntoResponse, Redirect};
use std::collections::HashMap;
use std::sync::Arc;
use url::form_urlencoded;

/// Bytes of a form: an answer of 2000 characters, each at most four bytes, each written as three.
const FORM_BYTES: usize = 32 << 10;

/// A cookie's name; the prefix makes browsers hold to `Secure` and to this host (RFC 6265bis, 4.1.3.2).
pub(super) fn cookie_name(intake: &Intake, name: &str) -> String {
    format!("{}{name}", if intake.https { "__Host-" } else { "" })
}

/// A cookie that goes nowhere else and that no script reads.
pub(super) fn cookie(intake: &Intake, name: &str, value: &str, seconds: u32) -> String {
    let secure = if intake.https { "; Secure" } else { "" };
    format!(
        "{}={value}; Path=/; Max-Age={seconds}; HttpOnly; SameSite=Strict{secure}",
        cookie_name(intake, name)
    )
}

pub(super) type Cookies<const N: usize> = AppendHeaders<[(header::HeaderName, String); N]>;

/// `Set-Cookie` headers.
pub(super) fn set<const N: usize>(cookies: [String; N]) -> Cookies<N> {
    AppendHeaders(cookies.map(|cookie| (header::SET_COOKIE, cookie)))
}

/// The value of a cookie.
pub(super) fn cookie_of<'h>(headers: &'h HeaderMap, name: &str) -> Option<&'h str> {
    let lists = headers.get_all(header::COOKIE).iter().filter_map(|value| value.to_str().ok());
    let mut pairs = lists.flat_map(|list| list.split(';')).filter_map(|pair| pair.trim().split_once('='));
    pairs.find_map(|(found, value)| (found == name).then_some(value))
}

/// The session's cookie.
pub(super) const SESSION: &str = "steerwright-session";

/// A shopkeeper who is logged in; everybody else is led to the login.
pub(super) struct Keeper(pub(super) Session);

impl FromRequestParts<Arc<Intake>> for Keeper {
    type Rejection = Away;

    async fn from_request_parts(parts: &mut Parts, intake: &Arc<Intake>) -> Result<Self, Away> {
        match session(intake, &parts.headers).await? {
            Some(session) => {
                tracing::Span::current().record("shopkeeper", session.name.as_str());
                Ok(Self(session))
            }
            None => Err(Away::instead(Redirect::to("/login").into_response())),
        }
    }
}

/// The session that the cookie names.
pub(super) async fn session(intake: &Intake, headers: &HeaderMap) -> Result<Option<Session>, Away> {
    match cookie_of(headers, &cookie_name(intake, SESSION)) {
        Some(secret) => Ok(shopkeepers::session(&intake.database, secret, intake.now()).await?),
        None => Ok(None),
    }
}

/// The fields of a form, each the first of its name.
pub(super) struct Form(HashMap<String, String>);

impl Form {
    /// Reads a form that a page of this very server sent.
    pub(super) async fn read(intake: &Intake, headers: &HeaderMap, content: Body) -> Result<Self, Away> {
        if !from_here(headers) {
            return Err(stranger());
        }
        if !is_of_type(headers, "application/x-www-form-urlencoded") {
            return Err(Away::instead(refusal(
                StatusCode::UNSUPPORTED_MEDIA_TYPE,
                "That is no form.",
                "Go back and try again.",
            )));
        }
        let bytes = body(intake, headers, content, FORM_BYTES).await.map_err(|_| {
            let text = "It is too long, or the connection broke off. Go back and try again.";
            Away::instead(refusal(StatusCode::PAYLOAD_TOO_LARGE, "The form did not come through.", text))
        })?;
        let mut fields = HashMap::new();
        for (name, value) in form_urlencoded::parse(&bytes) {
            fields.entry(name.into_owned()).or_insert_with(|| value.into_owned());
        }
        Ok(Self(fields))
    }

    /// A field; empty where it is missing.
    pub(super) fn get(&self, name: &str) -> &str {
        self.0.get(name).map_or("", String::as_str)
    }

    /// Whether the form repeats a secret.
    pub(super) fn repeats(&self, secret: &str) -> Result<(), Away> {
        if !secret.is_empty() && same(self.get("form"), secret) { Ok(()) } else { Err(stranger()) }
    }
}

fn stranger() -> Away {
    Away::instead(refusal(
        StatusCode::FORBIDDEN,
        "The form is not of this page.",
        "Perhaps you logged in anew meanwhile. Go back, load the page again, and send it once more.",
    ))
}

/// Where the browser says where a form comes from, it has to be here. The secret in the form is what protects; this
/// stops what has it by accident.
fn from_here(headers: &HeaderMap) -> bool {
    let site = headers.get("sec-fetch-site").and_then(|value| value.to_str().ok());
    if site.is_some_and(|site| site != "same-origin") {
        return false;
    }
    let Some(origin) = headers.get(header::ORIGIN).map(HeaderValue::to_str) else { return true };
    let host = one(headers, header::HOST.as_str());
    let authority = origin.ok().and_then(|origin| origin.split_once("://")).map(|(_, authority)| authority);
    authority.is_some() && authority == host
}

#[cfg(test)]
mod tests {
    use super::*;

    fn headers(pairs: &[(&'static str, &'static str)]) -> HeaderMap {
        pairs.iter().map(|(name, value)| (name.parse().unwrap(), HeaderValue::from_static(value))).collect()
    }

    #[test]
    fn a_form_comes_from_here() {
        let host = ("host", "shop.example");
        for (pairs, here) in [
            (&[host][..], true),
            (&[host, ("origin", "https://shop.example")], true),
            (&[host, ("origin", "https://shop.example.evil.example")], false),
            (&[host, ("origin", "https://evil.example")], false),
            (&[host, ("origin", "null")], false),
            (&[("origin", "https://shop.example")], false),
            (&[host, ("sec-fetch-site", "same-origin")], true),
            (&[host, ("sec-fetch-site", "same-site")], false),
            (&[host, ("sec-fetch-site", "cross-site")], false),
            (&[host, ("sec-fetch-site", "none")], false),
        ] {
            assert_eq!(from_here(&headers(pairs)), here, "{pairs:?}");
        }
    }

    #[test]
    fn cookies_by_their_name() {
        let sent = headers(&[("cookie", "a=1; bb=2;c=3=4")]);
        assert_eq!(cookie_of(&sent, "a"), Some("1"));
        assert_eq!(cookie_of(&sent, "bb"), Some("2"));
        assert_eq!(cookie_of(&sent, "c"), Some("3=4"));
        assert_eq!(cookie_of(&sent, "b"), None);
    }
}
