//! Fields of forms and of addresses.

use futures_util::stream;
use http::{Request, header};
use multer::Multipart;
use std::collections::BTreeMap;
use std::convert::Infallible;

/// The fields by name; of one that comes twice, the last.
#[derive(Debug, Default)]
pub(crate) struct Fields(BTreeMap<String, String>);

impl Fields {
    /// Those of a form of fields that was sent.
    fn of_body(request: &Request<Vec<u8>>) -> Self {
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

/// A form that was sent, with its files: name and bytes.
#[derive(Debug, Default)]
pub(crate) struct Form {
    pub(crate) fields: Fields,
    pub(crate) files: Vec<(String, Vec<u8>)>,
}

impl Form {
    /// The form of a request. A file is a field too where it is text.
    pub(crate) fn of(request: &Request<Vec<u8>>) -> Result<Self, ()> {
        let kind = request.headers().get(header::CONTENT_TYPE).and_then(|kind| kind.to_str().ok());
        match kind.and_then(|kind| multer::parse_boundary(kind).ok()) {
            // The whole body is there, so that nothing is waited for.
            Some(boundary) => {
                pollster::block_on(Self::of_parts(request.body().clone(), boundary)).map_err(drop)
            }
            None => Ok(Self { fields: Fields::of_body(request), files: Vec::new() }),
        }
    }

    async fn of_parts(body: Vec<u8>, boundary: String) -> Result<Self, multer::Error> {
        let mut parts = Multipart::new(stream::iter([Ok::<_, Infallible>(body)]), boundary);
        let mut form = Self::default();
        while let Some(part) = parts.next_field().await? {
            let name = part.name().unwrap_or_default().to_owned();
            let file = part.file_name().map(str::to_owned);
            let bytes = part.bytes().await?;
            // A field for a file that was left empty sends an empty one without a name.
            if file.is_some() && bytes.is_empty() {
                continue;
            }
            if let Ok(text) = std::str::from_utf8(&bytes) {
                form.fields.0.insert(name, text.to_owned());
            }
            if let Some(file) = file {
                form.files.push((file, bytes.to_vec()));
            }
        }
        Ok(form)
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
