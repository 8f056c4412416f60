//! Sessions of logged-in shopkeepers, by cookie.

use super::layout::PageError;
use crate::shopkeepers::{self, Session};
use crate::state::AppState;
use axum::extract::FromRequestParts;
use axum::http::request::Parts;
use axum::http::{HeaderMap, header};
use axum::response::{AppendHeaders, IntoResponse, Redirect};
use std::sync::Arc;

/// A cookie's name. The prefix makes browsers require `Secure` and bind the cookie to this host (RFC 6265bis, 4.1.3.2).
pub(super) fn cookie_name(app: &AppState, name: &str) -> String {
    format!("{}{name}", if app.https { "__Host-" } else { "" })
}

/// A `Set-Cookie` value limited to this site and hidden from scripts.
pub(super) fn new_cookie(app: &AppState, name: &str, value: &str, seconds: u32) -> String {
    let secure = if app.https { "; Secure" } else { "" };
    format!(
        "{}={value}; Path=/; Max-Age={seconds}; HttpOnly; SameSite=Strict{secure}",
        cookie_name(app, name)
    )
}

pub(super) type Cookies<const N: usize> = AppendHeaders<[(header::HeaderName, String); N]>;

/// `Set-Cookie` headers.
pub(super) fn set_cookies<const N: usize>(cookies: [String; N]) -> Cookies<N> {
    AppendHeaders(cookies.map(|cookie| (header::SET_COOKIE, cookie)))
}

/// The value of a cookie.
pub(super) fn find_cookie<'h>(headers: &'h HeaderMap, name: &str) -> Option<&'h str> {
    let lists = headers.get_all(header::COOKIE).iter().filter_map(|value| value.to_str().ok());
    let mut pairs = lists.flat_map(|list| list.split(';')).filter_map(|pair| pair.trim().split_once('='));
    pairs.find_map(|(found, value)| (found == name).then_some(value))
}

/// Name of the session cookie.
pub(super) const SESSION_COOKIE: &str = "steerwright-session";

/// Extracts the session of a logged-in shopkeeper; redirects all others to the login page.
pub(super) struct LoggedIn(pub(super) Session);

impl FromRequestParts<Arc<AppState>> for LoggedIn {
    type Rejection = PageError;

    async fn from_request_parts(parts: &mut Parts, app: &Arc<AppState>) -> Result<Self, PageError> {
        match find_session(app, &parts.headers).await? {
            Some(session) => {
                tracing::Span::current().record("shopkeeper", session.name.as_str());
                Ok(Self(session))
            }
            None => Err(PageError::response(Redirect::to("/login").into_response())),
        }
    }
}

/// The session of the request's session cookie.
pub(super) async fn find_session(app: &AppState, headers: &HeaderMap) -> Result<Option<Session>, PageError> {
    match find_cookie(headers, &cookie_name(app, SESSION_COOKIE)) {
        Some(token) => Ok(shopkeepers::find_session(&app.database, token, app.now()).await?),
        None => Ok(None),
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn cookies_by_their_name() {
        let mut sent = HeaderMap::new();
        sent.insert(header::COOKIE, "a=1; bb=2;c=3=4".parse().unwrap());
        assert_eq!(find_cookie(&sent, "a"), Some("1"));
        assert_eq!(find_cookie(&sent, "bb"), Some("2"));
        assert_eq!(find_cookie(&sent, "c"), Some("3=4"));
        assert_eq!(find_cookie(&sent, "b"), None);
    }
}
