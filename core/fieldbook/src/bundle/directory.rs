//! The structure of a bundle as a ZIP file (PKWARE's APPNOTE 6.3.10), read strictly before anything is unpacked.
//!
//! A ZIP file states most properties twice, at each entry and in the central directory at its end, and readers differ
//! in which of the two they use. Here both must be equal, the entries must follow one another without gap or overlap
//! from the first byte on, and features that bundles do not use (extra fields, comments, data descriptors, encryption,
//! the 64-bit extensions) are refused. So every byte is checked, and the unpacker sees the checked data.

use super::name::{Kind, SeenNames};
use super::{BundleProblem, limits};
use std::io::{Read, Seek, SeekFrom};

const END: [u8; 4] = *b"PK\x05\x06";
const LISTED: [u8; 4] = *b"PK\x01\x02";
const LOCAL: [u8; 4] = *b"PK\x03\x04";
const END_BYTES: u64 = 22;
const LOCAL_BYTES: u64 = 30;

/// An entry of the central directory.
#[derive(Debug, Clone, PartialEq, Eq)]
pub(super) struct Entry {
    pub(super) name: String,
    pub(super) kind: Kind,
    pub(super) size: u64,
    packed: u64,
    flags: u16,
    method: u16,
    crc: u32,
    header: u64,
}

/// Reads little-endian numbers of a record in sequence.
struct Fields<'b>(&'b [u8]);

impl<'b> Fields<'b> {
    fn bytes(&mut self, count: usize) -> Result<&'b [u8], BundleProblem> {
        let (taken, rest) = self.0.split_at_checked(count).ok_or_else(short)?;
        self.0 = rest;
        Ok(taken)
    }

    fn array<const N: usize>(&mut self) -> Result<[u8; N], BundleProblem> {
        let taken = self.bytes(N)?;
        <[u8; N]>::try_from(taken).map_err(|_| short())
    }

    fn two(&mut self) -> Result<u16, BundleProblem> {
        Ok(u16::from_le_bytes(self.array()?))
    }

    fn four(&mut self) -> Result<u32, BundleProblem> {
        Ok(u32::from_le_bytes(self.array()?))
    }
}

fn short() -> BundleProblem {
    BundleProblem::Truncated { why: "its list of entries ends too early".to_owned() }
}

fn other(why: &str) -> BundleProblem {
    BundleProblem::NotABundle { why: why.to_owned() }
}

fn read_at<R: Read + Seek>(source: &mut R, at: u64, count: u64) -> Result<Vec<u8>, BundleProblem> {
    source.seek(SeekFrom::Start(at)).map_err(|error| BundleProblem::io(&error))?;
    let mut bytes = Vec::new();
    source.take(count).read_to_end(&mut bytes).map_err(|error| BundleProblem::io(&error))?;
    if bytes.len() as u64 == count { Ok(bytes) } else { Err(short()) }
}

/// The entries of a bundle in directory order, each with a name of a known kind, and every declared size within the
/// limits.
pub(super) fn scan<R: Read + Seek>(source: &mut R) -> Result<Vec<Entry>, BundleProblem> {
    let length = source.seek(SeekFrom::End(0)).map_err(|error| BundleProblem::io(&error))?;
    if length > limits::FILE {
        return Err(too_large("the bundle", length, limits::FILE));
    }
    let begins = read_at(source, 0, length.min(4))?;
    if begins != LOCAL {
        return Err(other("it does not begin as one"));
    }
    let unfinished =
        || BundleProblem::Truncated { why: "its end is missing, or something follows it".to_owned() };
    let end_at = length.checked_sub(END_BYTES).ok_or_else(unfinished)?;
    let end = read_at(source, end_at, END_BYTES)?;
    let mut end = Fields(&end);
    if end.array()? != END {
        return Err(unfinished());
    }
    let disks = [end.two()?, end.two()?];
    let (here, count) = (end.two()?, end.two()?);
    let (bytes, start) = (u64::from(end.four()?), u64::from(end.four()?));
    let comment = end.two()?;
    if u64::from(count) > limits::ENTRIES {
        return Err(BundleProblem::TooManyEntries { found: count.into(), most: limits::ENTRIES });
    }
    if disks != [0, 0] || here != count || comment != 0 {
        return Err(other("its last record is not that of a bundle"));
    }
    if start + bytes != end_at {
        return Err(unfinished());
    }
    if bytes > limits::DIRECTORY {
        return Err(too_large("the bundle's list of entries", bytes, limits::DIRECTORY));
    }
    let list = read_at(source, start, bytes)?;
    let mut list = Fields(&list);
    let (mut entries, mut met, mut all, mut json) = (Vec::new(), SeenNames::default(), 0, 0);
    for _ in 0..count {
        let entry = listed(&mut list, &mut met)?;
        all += entry.size;
        if all > limits::ALL {
            return Err(too_large("the bundle, unpacked,", all, limits::ALL));
        }
        json += if entry.kind.is_json() { entry.size } else { 0 };
        if json > limits::JSON {
            return Err(too_large("the text in the bundle, unpacked,", json, limits::JSON));
        }
        entries.push(entry);
    }
    if !list.0.is_empty() {
        return Err(other("its list has more entries than its end says"));
    }
    compare(source, &entries, start)?;
    Ok(entries)
}

pub(super) fn too_large(what: &str, found: u64, most: u64) -> BundleProblem {
    BundleProblem::TooLarge { what: what.to_owned(), found, most }
}

fn listed(list: &mut Fields<'_>, met: &mut SeenNames) -> Result<Entry, BundleProblem> {
    if list.array()? != LISTED {
        return Err(other("its list of entries is not that of a bundle"));
    }
    let [_, made_on, _, _] = list.array()?;
    let (flags, method) = (list.two()?, list.two()?);
    list.bytes(4)?; // The entry's date and time are not used.
    let crc = list.four()?;
    let (packed, size) = (u64::from(list.four()?), u64::from(list.four()?));
    let (name, extra, comment) = (list.two()?, list.two()?, list.two()?);
    let disk = list.two()?;
    list.bytes(2)?;
    let attributes = list.four()?;
    let header = u64::from(list.four()?);
    let name = met.take(list.bytes(name.into())?)?;
    // The upper half holds the file mode of the originating system, if it has one; the lower half the MS-DOS
    // attributes.
    match (attributes >> 16) & 0o170_000 {
        0o120_000 => return Err(BundleProblem::Symlink { name }),
        0 | 0o100_000 if attributes & 0x10 == 0 && !name.ends_with('/') => {}
        _ => return Err(BundleProblem::NotAFile { name }),
    }
    let Some(kind) = Kind::of(&name) else { return Err(BundleProblem::Unknown { name }) };
    // Only bit 11, "the name is UTF-8", and the two bits for the packer's compression effort are accepted.
    let stored_whole = method == 0 && packed == size;
    if flags & !0b1000_0000_0110 != 0 || !(stored_whole || method == 8) || made_on > 19 {
        return Err(BundleProblem::Packing { name });
    }
    if extra != 0 || comment != 0 || disk != 0 {
        return Err(other("an entry has fields that bundles do not use"));
    }
    if size > kind.most_bytes() {
        return Err(too_large(&format!("the entry {name:?}"), size, kind.most_bytes()));
    }
    if size > limits::SMALL && size > packed.saturating_mul(limits::RATIO) {
        return Err(BundleProblem::Bomb { name, most: limits::RATIO });
    }
    Ok(Entry { name, kind, size, packed, flags, method, crc, header })
}

/// Each entry's local header must match the directory, and the entries must fill the file up to the directory.
fn compare<R: Read + Seek>(source: &mut R, entries: &[Entry], list: u64) -> Result<(), BundleProblem> {
    let mut order: Vec<&Entry> = entries.iter().collect();
    order.sort_by_key(|entry| entry.header);
    let mut at = 0;
    for entry in order {
        let differs = || other(&format!("the entry {:?} is listed as another than it is", entry.name));
        if entry.header != at {
            return Err(other("its entries overlap or leave gaps"));
        }
        let name = entry.name.as_bytes();
        let length = LOCAL_BYTES + name.len() as u64;
        let header = read_at(source, at, length)?;
        let mut header = Fields(&header);
        if header.array()? != LOCAL {
            return Err(differs());
        }
        header.bytes(2)?;
        let (flags, method) = (header.two()?, header.two()?);
        header.bytes(4)?;
        let (crc, packed, size) = (header.four()?, header.four()?, header.four()?);
        let (named, extra) = (header.two()?, header.two()?);
        let same = (flags, method, crc) == (entry.flags, entry.method, entry.crc)
            && (u64::from(packed), u64::from(size)) == (entry.packed, entry.size)
            && (usize::from(named), extra) == (name.len(), 0)
            && header.0 == name;
        if !same {
            return Err(differs());
        }
        at += length + entry.packed;
    }
    if at == list { Ok(()) } else { Err(other("its entries overlap or leave gaps")) }
}
