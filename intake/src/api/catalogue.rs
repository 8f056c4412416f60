//! `/v1/catalogue`.

use super::auth::AuthenticatedSender;
use super::problem::ProblemResponse;
use crate::state::AppState;
use axum::extract::State;
use axum::http::{HeaderMap, HeaderName, HeaderValue, StatusCode, header};
use axum::response::{IntoResponse, Response};
use std::sync::Arc;
use steerwright_protocol::wire::{CATALOGUE_SIGNATURE, JSON};

/// `GET`: the catalogue's bytes with the maker's signature; 304 if `If-None-Match` matches them.
pub(super) async fn get(
    State(app): State<Arc<AppState>>,
    _: AuthenticatedSender,
    headers: HeaderMap,
) -> Result<Response, ProblemResponse> {
    let published = &app.published;
    let mut response = if if_none_match(&headers, &published.etag) {
        StatusCode::NOT_MODIFIED.into_response()
    } else {
        ([(header::CONTENT_TYPE, JSON)], published.bytes.clone()).into_response()
    };
    let put = |response: &mut Response, name: HeaderName, value: &str| {
        if let Ok(value) = HeaderValue::from_str(value) {
            response.headers_mut().insert(name, value);
        }
    };
    put(&mut response, header::ETAG, &published.etag);
    // A cache may store it but has to revalidate it each time: prices change.
    put(&mut response, header::CACHE_CONTROL, "private, no-cache");
    if let (Some(signature), Ok(name)) =
        (&published.signature, HeaderName::from_bytes(CATALOGUE_SIGNATURE.as_bytes()))
    {
        put(&mut response, name, signature);
    }
    Ok(response)
}

/// Whether `If-None-Match` matches an entity tag (RFC 9110, 13.1.2): it is `*` or a list of tags, compared
/// weakly. Several headers count as one list. A value that is not a list of tags matches nothing.
fn if_none_match(headers: &HeaderMap, etag: &str) -> bool {
    headers.get_all(header::IF_NONE_MATCH).iter().filter_map(|value| value.to_str().ok()).any(|list| {
        // The tag contains no comma, so splitting at commas finds it in any list.
        list.trim() == "*" || list.split(',').any(|tag| tag.trim().trim_start_matches("W/") == etag)
    })
}

#[cfg(test)]
mod tests {
    use super::*;

    /// RFC 9110, 8.8.3.2: weak comparison; 13.1.2: lists and `*`.
    #[test]
    fn tags_are_compared_weakly() {
        let headers = |values: &[&'static str]| {
            let mut map = HeaderMap::new();
            for value in values {
                map.append(header::IF_NONE_MATCH, HeaderValue::from_static(value));
            }
            map
        };
        for (values, same) in [
            (&["\"1\""][..], true),
            (&["W/\"1\""], true),
            (&["\"2\""], false),
            (&["W/\"2\""], false),
            (&["\"2\", W/\"1\""], true),
            (&["\"2\"", "\"1\""], true),
            (&["*"], true),
            (&[], false),
            (&["1"], false),
            (&["\"1"], false),
            (&["\"11\""], false),
        ] {
            assert_eq!(if_none_match(&headers(values), "\"1\""), same, "{values:?}");
        }
    }
}
