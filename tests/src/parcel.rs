//! ZIP files written by hand, valid or not (PKWARE's APPNOTE 6.3.10).

use data_encoding::HEXLOWER;
use sha2::{Digest, Sha256};

/// The fields common to an entry's two headers, except name and offset.
#[derive(Debug, Clone, PartialEq, Eq)]
pub struct HeaderFields {
    /// General purpose flags.
    pub flags: u16,
    /// 0 is stored, 8 deflated.
    pub method: u16,
    /// Checksum of the unpacked bytes.
    pub crc: u32,
    /// Packed length.
    pub packed: u32,
    /// Unpacked length.
    pub size: u32,
}

/// One entry: valid when made, then modified by tests.
#[derive(Debug, Clone, PartialEq, Eq)]
pub struct Item {
    /// Its name in the central directory.
    pub name: Vec<u8>,
    /// Its name in the local header.
    pub own_name: Vec<u8>,
    /// The fields in the central directory.
    pub listed: HeaderFields,
    /// The fields in the local header.
    pub own: HeaderFields,
    /// File attributes in the central directory: the mode in the upper half.
    pub attributes: u32,
    /// The originating system in the central directory.
    pub made_on: u8,
    /// Extra field in the central directory.
    pub extra: Vec<u8>,
    /// Comment in the central directory.
    pub comment: Vec<u8>,
    /// The offset stated in the central directory, if not the true one.
    pub header: Option<u32>,
    /// The packed bytes.
    pub bytes: Vec<u8>,
}

/// A length in the format's width; a longer one is saturated, which a reader must detect.
fn four(length: usize) -> [u8; 4] {
    u32::try_from(length).unwrap_or(u32::MAX).to_le_bytes()
}

fn two(length: usize) -> [u8; 2] {
    u16::try_from(length).unwrap_or(u16::MAX).to_le_bytes()
}

impl Item {
    /// A plain file, packed by `method` into `packed`.
    pub fn new(name: &str, bytes: &[u8], method: u16, packed: Vec<u8>) -> Self {
        let length = |bytes: &[u8]| u32::from_le_bytes(four(bytes.len()));
        let crc = crc32fast::hash(bytes);
        let said = HeaderFields { flags: 0, method, crc, packed: length(&packed), size: length(bytes) };
        Self {
            name: name.into(),
            own_name: name.into(),
            listed: said.clone(),
            own: said,
            attributes: 0o100_644 << 16,
            made_on: 3,
            extra: Vec::new(),
            comment: Vec::new(),
            header: None,
            bytes: packed,
        }
    }

    /// A plain file without compression.
    pub fn stored(name: &str, bytes: &[u8]) -> Self {
        Self::new(name, bytes, 0, bytes.to_vec())
    }

    /// Applies the same change to both headers.
    #[must_use]
    pub fn saying(mut self, change: impl Fn(&mut HeaderFields)) -> Self {
        change(&mut self.listed);
        change(&mut self.own);
        self
    }

    /// Sets the same name in both headers.
    #[must_use]
    pub fn named(mut self, name: impl AsRef<[u8]>) -> Self {
        self.name = name.as_ref().to_vec();
        self.own_name.clone_from(&self.name);
        self
    }
}

fn header(said: &HeaderFields, name: &[u8]) -> Vec<u8> {
    let mut out = vec![20, 0];
    out.extend(said.flags.to_le_bytes());
    out.extend(said.method.to_le_bytes());
    out.extend([0, 0, 0x21, 0x5C]);
    out.extend(said.crc.to_le_bytes());
    out.extend(said.packed.to_le_bytes());
    out.extend(said.size.to_le_bytes());
    out.extend(two(name.len()));
    out
}

/// The file of these entries.
pub fn zip(items: &[Item]) -> Vec<u8> {
    let (mut out, mut list) = (Vec::new(), Vec::new());
    for item in items {
        let at = item.header.map_or_else(|| four(out.len()), u32::to_le_bytes);
        out.extend(b"PK\x03\x04");
        out.extend(header(&item.own, &item.own_name));
        out.extend([0, 0]);
        out.extend(&item.own_name);
        out.extend(&item.bytes);

        list.extend(b"PK\x01\x02");
        list.extend([20, item.made_on]);
        list.extend(header(&item.listed, &item.name));
        list.extend(two(item.extra.len()));
        list.extend(two(item.comment.len()));
        list.extend([0; 4]);
        list.extend(item.attributes.to_le_bytes());
        list.extend(at);
        list.extend(&item.name);
        list.extend(&item.extra);
        list.extend(&item.comment);
    }
    let start = out.len();
    out.extend(&list);
    out.extend(b"PK\x05\x06\0\0\0\0");
    out.extend(two(items.len()));
    out.extend(two(items.len()));
    out.extend(four(list.len()));
    out.extend(four(start));
    out.extend([0, 0]);
    out
}

/// A bundle's manifest of these entries.
pub fn manifest(entries: &[(String, Vec<u8>)]) -> String {
    let mut rows = Vec::new();
    for (name, bytes) in entries {
        let hash = HEXLOWER.encode(&Sha256::digest(bytes));
        rows.push(serde_json::json!({ "name": name, "bytes": bytes.len(), "sha256": hash }));
    }
    let manifest = serde_json::json!({
        "schema": "steerwright.bundle/1", "made_at": "2026-05-01T08:00:00Z", "made_by": "0.1.0", "entries": rows,
    });
    manifest.to_string()
}

/// A bundle of these entries, its manifest first.
pub fn bundle(entries: &[(String, Vec<u8>)]) -> Vec<Item> {
    let mut items = vec![Item::stored("manifest.json", manifest(entries).as_bytes())];
    items.extend(entries.iter().map(|(name, bytes)| Item::stored(name, bytes)));
    items
}
