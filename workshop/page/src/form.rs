//! Fields of forms and of addresses.

use http::Request;
use std::collections::BTreeMap;

/// The fields by name; of one that comes twice, the last.
#[derive(Debug, Default)]
pub(crate) struct Fields(BTreeMap<String, String>);

impl Fields {
    /// Those of a form that was sent.
    pub(crate) fn of_body(request: &Request<Vec<u8>>) -> Self {
        Self(form_urlencoded::parse(request.body()).into_owned().collect())
    }

    /// Those of an address.
    pub(crate) fn of_query(request: &Request<Vec<u8>>) -> Self {
        let query = request.uri().query().unwrap_or_default();
        Self(form_urlencoded::parse(query.as_bytes()).into_owned().collect())
    }

    /// A field; empty where it is missing.
    pub(crate) fn get(&self, name: &str) -> &str {
        self.0.get(name).map_or("", String::as_str)
    }

    /// Whether a field was sent.
    pub(crate) fn has(&self, name: &str) -> bool {
        self.0.contains_key(name)
    }

    /// A field that is a number written by a program.
    pub(crate) fn number(&self, name: &str) -> Option<f64> {
        self.get(name).parse().ok().filter(|number: &f64| number.is_finite())
    }
}

/// A text as a part of an address (RFC 3986, unreserved characters stay).
pub(crate) fn segment(text: &str) -> String {
    form_urlencoded::byte_serialize(text.as_bytes()).collect::<String>().replace('+', "%20")
}

/// The parts of a path, decoded; `None` for one that is no UTF-8.
pub(crate) fn segments(path: &str) -> Option<Vec<String>> {
    path.split('/').filter(|part| !part.is_empty()).map(decoded).collect()
}

fn decoded(part: &str) -> Option<String> {
    let mut bytes = Vec::new();
    let mut rest = part.bytes();
    while let Some(byte) = rest.next() {
        if byte != b'%' {
            bytes.push(byte);
            continue;
        }
        let digit = |byte: Option<u8>| char::from(byte?).to_digit(16);
        let (high, low) = (digit(rest.next())?, digit(rest.next())?);
        bytes.push(u8::try_from(high * 16 + low).ok()?);
    }
    String::from_utf8(bytes).ok()
}
