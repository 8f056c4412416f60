//! Photo files, named by their SHA-256, in the folder next to the book.
//!
//! A file is written before the row that references it, both within one transaction. Only the holder of the write lock
//! adds or removes files, so a file whose row is not written yet is never removed as an orphan.

use super::Timestamp;
use super::error::Inner;
use super::open::sync_folder;
use super::private;
use super::recover;
use data_encoding::HEXLOWER;
use rusqlite::{Connection, TransactionBehavior};
use sha2::{Digest, Sha256};
use std::collections::BTreeSet;
use std::fs::{self, File};
use std::io::{ErrorKind, Read, Write};
use std::path::{Path, PathBuf};

/// The path of the file of a hash.
pub(crate) fn path(folder: &Path, hash: &[u8; 32]) -> PathBuf {
    folder.join(HEXLOWER.encode(hash))
}

/// SHA-256 of some bytes.
pub(crate) fn sha256(bytes: &[u8]) -> [u8; 32] {
    Sha256::digest(bytes).into()
}

/// The bytes of a photo file; `None` if it is missing, too large or does not match its hash.
pub(crate) fn get(folder: &Path, hash: &[u8; 32], most: u64) -> Result<Option<Vec<u8>>, Inner> {
    let path = path(folder, hash);
    let reading = || format!("reading {}", path.display());
    let file = match File::open(&path) {
        Err(error) if error.kind() == ErrorKind::NotFound => return Ok(None),
        opened => opened.map_err(Inner::io(reading()))?,
    };
    let mut bytes = Vec::new();
    file.take(most.saturating_add(1)).read_to_end(&mut bytes).map_err(Inner::io(reading()))?;
    Ok((bytes.len() as u64 <= most && sha256(&bytes) == *hash).then_some(bytes))
}

/// Opens a plain file for reading; `None` for a folder, pipe or device, which is not opened: a pipe without a writer would
/// block, and a device may never end.
///
/// # Errors
/// Those of the file system.
pub fn open_plain(path: &Path) -> std::io::Result<Option<File>> {
    if !fs::metadata(path)?.is_file() {
        return Ok(None);
    }
    File::open(path).map(Some)
}

/// The length of a photo file; `None` if it is missing.
pub(crate) fn length(folder: &Path, hash: &[u8; 32]) -> Option<u64> {
    fs::metadata(path(folder, hash)).ok().filter(fs::Metadata::is_file).map(|about| about.len())
}

/// Files written in a transaction that is not committed yet.
pub(super) struct PhotoFileWriter {
    folder: PathBuf,
    new: Vec<PathBuf>,
    /// True if some files existed already: their directory entries may not be synced yet, if the program that wrote
    /// them was killed.
    known: bool,
}

impl PhotoFileWriter {
    pub(super) fn new(folder: PathBuf) -> Self {
        Self { folder, new: Vec::new(), known: false }
    }

    /// The folder of the files.
    pub(super) fn folder(&self) -> &Path {
        &self.folder
    }

    /// Writes a file under its hash, atomically. A valid existing file is kept.
    pub(super) fn put(&mut self, hash: &[u8; 32], bytes: &[u8]) -> Result<(), Inner> {
        let path = path(&self.folder, hash);
        if get(&self.folder, hash, bytes.len() as u64)?.is_some() {
            self.known = true;
            return Ok(());
        }
        let writing = || format!("writing {}", path.display());
        private::make_folder(&self.folder).map_err(Inner::io(writing()))?;
        let was_there = path.exists();
        replace(&path, private::options(), |file| file.write_all(bytes)).map_err(Inner::io(writing()))?;
        if was_there {
            self.known = true;
        } else {
            self.new.push(path);
        }
        Ok(())
    }

    /// Syncs the directory entries to the disk. Must be called before the rows that reference the files are committed.
    pub(super) fn sync(&self) -> Result<(), Inner> {
        if self.new.is_empty() && !self.known {
            return Ok(());
        }
        // The folder's own entry too: the program that created it may have been killed before syncing.
        sync_folder(&self.folder.join("any"))?;
        sync_folder(&self.folder)
    }

    /// Removes the files again. Must be called while the failed transaction is still open.
    pub(super) fn roll_back(&self) {
        for path in &self.new {
            // The next opening removes unreferenced files.
            let _ = fs::remove_file(path);
        }
    }
}

/// Writes a file under a temporary name, made with these options, syncs and renames it. On failure no file is left.
pub(super) fn replace<E: From<std::io::Error>>(
    path: &Path,
    mut options: fs::OpenOptions,
    write: impl FnOnce(&mut File) -> Result<(), E>,
) -> Result<(), E> {
    let mut name = path.as_os_str().to_owned();
    // Two programs that write the same file at the same time must not share the temporary file.
    name.push(format!(".{}.part", std::process::id()));
    let part = PathBuf::from(name);
    let result = options.read(true).write(true).create(true).truncate(true).open(&part);
    let result = result.map_err(E::from).and_then(|mut file| {
        write(&mut file)?;
        file.sync_all()?;
        drop(file);
        Ok(fs::rename(&part, path)?)
    });
    if result.is_err() {
        let _ = fs::remove_file(&part);
    }
    result
}

/// Every referenced hash: of photos, of those that undo or redo would restore, and of order requests that are still to
/// be sent, even if the photo was removed from its bike.
fn named(conn: &Connection) -> Result<BTreeSet<[u8; 32]>, Inner> {
    let mut rows = conn.prepare(
        "WITH kept (sha256, original_kept, working, thumbnail) AS (
             SELECT sha256, original_kept, working, thumbnail FROM photos WHERE removed_at IS NULL
             UNION ALL
             SELECT sha256, original_kept, working, thumbnail FROM undo_photos
             WHERE removed_at IS NULL)
         SELECT working FROM kept
         UNION SELECT thumbnail FROM kept
         UNION SELECT sha256 FROM kept WHERE original_kept
         UNION SELECT p.sha256 FROM order_photos p JOIN outbox o ON o.key = p.request
             WHERE o.state NOT IN ('delivered', 'withdrawn')",
    )?;
    let rows = rows.query_map([], |row| row.get(0))?;
    Ok(rows.collect::<Result<_, _>>()?)
}

/// Removes unreferenced files: those of interrupted transactions and of photos removed long ago.
///
/// In a book that lost rows of photos to damage such a file may be all that is left of a photo, so it is moved to the
/// folder `unclaimed`. If another program is writing, the removal is left to a later opening.
pub(super) fn remove_orphans(conn: &mut Connection, folder: &Path, now: Timestamp) -> Result<(), Inner> {
    let looking = || format!("looking through {}", folder.display());
    let entries = match fs::read_dir(folder) {
        Err(error) if error.kind() == ErrorKind::NotFound => return Ok(()),
        entries => entries.map_err(Inner::io(looking()))?,
    };
    // Only files that existed before the write lock was taken may be removed.
    let mut names = Vec::new();
    for entry in entries {
        let entry = entry.map_err(Inner::io(looking()))?;
        if let Ok(name) = entry.file_name().into_string()
            && entry.file_type().is_ok_and(|kind| kind.is_file())
        {
            names.push(name);
        }
    }
    let named_now = named(conn)?;
    let hash = |name: &str| -> Option<[u8; 32]> {
        HEXLOWER.decode(name.as_bytes()).ok().and_then(|bytes| bytes.try_into().ok())
    };
    let part = |name: &str| {
        let (stem, end) = name.split_at_checked(64).unwrap_or((name, ""));
        hash(stem).is_some() && end.ends_with(".part")
    };
    names.retain(|name| hash(name).is_some_and(|hash| !named_now.contains(&hash)) || part(name));
    if names.is_empty() {
        return Ok(());
    }
    let tx = match conn.transaction_with_behavior(TransactionBehavior::Immediate) {
        Err(error) if error.sqlite_error_code() == Some(rusqlite::ErrorCode::DatabaseBusy) => return Ok(()),
        tx => tx?,
    };
    let lost = recover::all(&tx)?.iter().any(|recovery| recovery.lost.iter().any(|it| it.table == "photos"));
    let named = named(&tx)?;
    for name in names {
        let path = folder.join(&name);
        let gone = match hash(&name) {
            Some(hash) if named.contains(&hash) => Ok(()),
            Some(_) if lost => set_aside(folder, &path, &name, now),
            _ => fs::remove_file(&path),
        };
        match gone {
            Err(error) if error.kind() != ErrorKind::NotFound => {
                return Err(Inner::io(format!("sweeping {}", path.display()))(error));
            }
            _ => {}
        }
    }
    Ok(())
}

fn set_aside(folder: &Path, path: &Path, name: &str, now: Timestamp) -> std::io::Result<()> {
    let aside = folder.join("unclaimed");
    private::make_folder(&aside)?;
    // With an extension, so that a file manager displays the picture.
    fs::rename(path, aside.join(format!("{}-{name}.jpg", now.compact())))
}
