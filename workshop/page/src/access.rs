//! Who may use the page: the browser that opened the one-time address, on this machine.

use http::{HeaderMap, Method, Request, Response, StatusCode, header};
use subtle::ConstantTimeEq as _;

/// Name of the session's cookie.
const COOKIE: &str = "steerwright_session";

/// The secrets of one run: both are long random texts of letters and digits.
#[derive(Debug)]
pub struct Access {
    /// `127.0.0.1:PORT`, as a browser names it.
    host: String,
    /// Opens the page once.
    key: Option<String>,
    /// The cookie's value.
    session: String,
}

impl Access {
    /// Access by `key`, once, from then on by a cookie.
    pub fn new(host: impl Into<String>, key: impl Into<String>, session: impl Into<String>) -> Self {
        Self { host: host.into(), key: Some(key.into()), session: session.into() }
    }

    /// The address that opens the page once; `None` after it was used.
    pub fn address(&self) -> Option<String> {
        self.key.as_ref().map(|key| format!("http://{}/enter/{key}", self.host))
    }

    /// The one-time address becomes a cookie.
    pub(crate) fn enter(&mut self, request: &Request<Vec<u8>>) -> Option<Response<Vec<u8>>> {
        let given = request.uri().path().strip_prefix("/enter/")?;
        if !self.is_host(request.headers()) || request.method() != Method::GET {
            return None;
        }
        let key = self.key.as_ref()?;
        if !same(key, given) {
            return None;
        }
        self.key = None;
        let mut response = Response::new(Vec::new());
        *response.status_mut() = StatusCode::SEE_OTHER;
        let headers = response.headers_mut();
        headers.insert(header::LOCATION, header::HeaderValue::from_static("/"));
        let cookie = format!("{COOKIE}={}; Path=/; HttpOnly; SameSite=Strict", self.session);
        if let Ok(cookie) = header::HeaderValue::from_str(&cookie) {
            headers.insert(header::SET_COOKIE, cookie);
        }
        Some(response)
    }

    /// Whether a request comes from the session's browser, and from a page of this address where it changes something.
    pub(crate) fn allows(&self, request: &Request<Vec<u8>>) -> bool {
        let headers = request.headers();
        let known = cookie(headers, COOKIE).is_some_and(|given| same(&self.session, given));
        // A name that resolves to this machine (DNS rebinding) shows in `Host`, another site's form in `Origin`.
        let origin = headers.get(header::ORIGIN).and_then(|origin| origin.to_str().ok());
        let own = origin.is_some_and(|origin| origin.strip_prefix("http://") == Some(self.host.as_str()));
        let is_read = matches!(*request.method(), Method::GET | Method::HEAD);
        known && self.is_host(headers) && (own || (is_read && origin.is_none()))
    }

    fn is_host(&self, headers: &HeaderMap) -> bool {
        headers.get(header::HOST).and_then(|host| host.to_str().ok()) == Some(self.host.as_str())
    }
}

/// Takes as long for a wrong text as for a right one.
fn same(known: &str, given: &str) -> bool {
    known.as_bytes().ct_eq(given.as_bytes()).into()
}

/// The value of a cookie.
pub(crate) fn cookie<'h>(headers: &'h HeaderMap, name: &str) -> Option<&'h str> {
    let lines = headers.get_all(header::COOKIE).iter().filter_map(|line| line.to_str().ok());
    lines.flat_map(|line| line.split(';')).find_map(|pair| pair.trim().strip_prefix(name)?.strip_prefix('='))
}
