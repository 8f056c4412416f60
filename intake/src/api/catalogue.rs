//! `/v1/catalogue`.

use super::caller::Caller;
use super::problem::Refusal;
use crate::state::Intake;
use axum::extract::State;
use axum::http::{HeaderMap, HeaderName, HeaderValue, StatusCode, header};
use axum::response::{IntoResponse, Response};
use std::sync::Arc;
use steerwright_protocol::wire::{CATALOGUE_SIGNATURE, JSON};

/// The catalogue's bytes with its maker's signature; 304 where the caller has these bytes already.
pub(super) async fn get(
    State(intake): State<Arc<Intake>>,
    _: Caller,
    headers: HeaderMap,
) -> Result<Response, Refusal> {
    let shop = &intake.shop;
    let mut response = if has_it(&headers, &shop.etag) {
        StatusCode::NOT_MODIFIED.into_response()
    } else {
        ([(header::CONTENT_TYPE, JSON)], shop.bytes.clone()).into_response()
    };
    let put = |response: &mut Response, name: HeaderName, value: &str| {
        if let Ok(value) = HeaderValue::from_str(value) {
            response.headers_mut().insert(name, value);
        }
    };
    put(&mut response, header::ETAG, &shop.etag);
    // Kept, but asked for each time: the prices have to be today's.
    put(&mut response, header::CACHE_CONTROL, "private, no-cache");
    if let (Some(signature), Ok(name)) =
        (&shop.signature, HeaderName::from_bytes(CATALOGUE_SIGNATURE.as_bytes()))
    {
        put(&mut response, name, signature);
    }
    Ok(response)
}

/// `If-None-Match` (RFC 9110, 13.1.2): a star, or a list of tags, compared weakly. Several headers are one list. What is
/// no list of tags is passed over.
fn has_it(headers: &HeaderMap, etag: &str) -> bool {
    headers.get_all(header::IF_NONE_MATCH).iter().filter_map(|value| value.to_str().ok()).any(|list| {
        // Tags hold neither a quote nor, here, a comma, so a split at commas finds ours wherever it stands.
        list.trim() == "*" || list.split(',').any(|tag| tag.trim().trim_start_matches("W/") == etag)
    })
}

#[cfg(test)]
mod tests {
    use super::*;

    /// RFC 9110, 8.8.3.2: weak comparison, and 13.1.2: lists and the star.
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
            assert_eq!(has_it(&headers(values), "\"1\""), same, "{values:?}");
        }
    }
}
