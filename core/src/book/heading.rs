//! The first hundred bytes of a database file, made anew where they are damaged.
//!
//! Without them SQLite reads nothing at all, though every page of rows may be sound. What they say is the same in
//! every book (SQLite file format, 1.3), but for counters that reading can do without.

use super::error::Inner;
use super::open::beside;
use super::recover::remove;
use std::fs::{self, File};
use std::io::{Read, Seek, SeekFrom, Write};
use std::path::{Path, PathBuf};

const MAGIC: &[u8; 16] = b"SQLite format 3\0";
/// What SQLite makes files with, and so every book.
const PAGE_BYTES: u16 = 4096;

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
    let page_bytes = if sensible(page_bytes) { page_bytes } else { PAGE_BYTES };
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
