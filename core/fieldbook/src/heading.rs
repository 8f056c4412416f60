//! The first hundred bytes of a database file, made anew where they are damaged.
//!
//! Without them SQLite reads nothing at all, though every page of rows may be sound. What they say is the same in
//! every book (SQLite file format, 1.3), but for counters that reading can do without.

use super::connection::PAGE_BYTES;
use super::error::Inner;
use super::open::beside;
use super::recover::remove;
use std::fs::{self, File};
use std::io::{Read, Seek, SeekFrom, Write};
use std::path::{Path, PathBuf};

const MAGIC: &[u8; 16] = b"SQLite format 3\0";
/// The page sizes that books were made with: this release's, and SQLite's own before.
const PAGE_SIZES: [u16; 2] = [PAGE_BYTES, 4096];

/// A copy of a book that can be read, gone when dropped.
pub(super) struct Readable(PathBuf);

impl Readable {
    pub(super) fn path(&self) -> &Path {
        &self.0
    }
}

impl Drop for Readable {
    fn drop(&mut self) {
        // What is left is taken away before the next copy is made.
        let _ = clear(&self.0);
    }
}

fn clear(copy: &Path) -> Result<(), Inner> {
    ["", "-wal", "-shm"].into_iter().try_for_each(|suffix| remove(&beside(copy, suffix)))
}

/// Whether a page size of the header makes sense: a power of two from 512, or 1 for 65,536.
fn sensible(page_bytes: u16) -> bool {
    page_bytes == 1 || (page_bytes >= 512 && page_bytes.is_power_of_two())
}

/// Which of the page sizes a file has, from how many of its pages begin as those of tables and indexes do (SQLite file
/// format, 1.6). At twice the true size the share is the same but for luck; at half of it every other page is the
/// middle of one, so the share is about a half.
fn likely_page_bytes(path: &Path) -> std::io::Result<u16> {
    let [small, large] = PAGE_SIZES;
    let (as_small, as_large) = (share_of_trees(path, small)?, share_of_trees(path, large)?);
    Ok(if as_small >= 0.75 * as_large { small } else { large })
}

fn share_of_trees(path: &Path, page_bytes: u16) -> std::io::Result<f64> {
    let mut file = File::open(path)?;
    let length = file.metadata()?.len();
    let (mut trees, mut pages) = (0u32, 0u32);
    for at in (u64::from(page_bytes)..length).step_by(page_bytes.into()).take(1000) {
        let mut kind = [0];
        file.seek(SeekFrom::Start(at))?;
        file.read_exact(&mut kind)?;
        trees += u32::from(matches!(kind, [0x02 | 0x05 | 0x0A | 0x0D]));
        pages += 1;
    }
    Ok(f64::from(trees) / f64::from(pages.max(1)))
}

/// A copy with a new heading, beside the book whose own is damaged; `None` if it is not, or if more than it is gone.
pub(super) fn readable_copy(path: &Path) -> Result<Option<Readable>, Inner> {
    let copy = beside(path, ".reading");
    clear(&copy)?;
    let reading = || format!("reading {}", path.display());
    let mut start = Vec::new();
    File::open(path).and_then(|file| file.take(101).read_to_end(&mut start)).map_err(Inner::io(reading()))?;
    let (Some((magic, [high, low, ..])), Some(page_kind)) = (start.split_first_chunk::<16>(), start.get(100))
    else {
        return Ok(None);
    };
    let page_bytes = u16::from_be_bytes([*high, *low]);
    // The schema's own page begins right after: a leaf or an inner page of a table.
    if (magic == MAGIC && sensible(page_bytes)) || !matches!(page_kind, 0x05 | 0x0D) {
        return Ok(None);
    }
    let page_bytes = if sensible(page_bytes) {
        page_bytes
    } else {
        likely_page_bytes(path).map_err(Inner::io(reading()))?
    };
    let copied = Readable(copy);
    let write = || -> std::io::Result<()> {
        fs::copy(path, copied.path())?;
        let log = beside(path, "-wal");
        if log.exists() {
            fs::copy(log, beside(copied.path(), "-wal"))?;
        }
        let mut file = File::options().write(true).open(copied.path())?;
        file.write_all(MAGIC)?;
        file.write_all(&page_bytes.to_be_bytes())?;
        // Write-ahead log, no bytes kept free in a page, the fixed payload fractions.
        file.write_all(&[2, 2, 0, 64, 32, 32])?;
        // A change counter unlike that at 92 makes SQLite count the pages itself. Then no free pages.
        file.write_all(&1u32.to_be_bytes())?;
        file.write_all(&[0; 12])?;
        file.seek(SeekFrom::Start(44))?;
        // Schema format 4, no cache size of its own, no vacuum of its own, UTF-8.
        for word in [4u32, 0, 0, 1] {
            file.write_all(&word.to_be_bytes())?;
        }
        // The format number and the mark of a book at 60 and 68 stay: who reads them asks whether they make sense.
        file.seek(SeekFrom::Start(64))?;
        file.write_all(&[0; 4])?;
        file.seek(SeekFrom::Start(72))?;
        file.write_all(&[0; 24])
    };
    write().map_err(Inner::io(format!("copying {}", path.display())))?;
    Ok(Some(copied))
}
