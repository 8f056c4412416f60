//! Files of photos, named by their SHA-256 in the folder beside the book.

use crate::book::error::Inner;
use crate::book::open::sync_folder;
use data_encoding::HEXLOWER;
use sha2::{Digest, Sha256};
use std::fs::{self, File};
use std::io::{Read, Write};
use std::path::{Path, PathBuf};

/// Where the file of a hash lies.
pub(super) fn path(folder: &Path, hash: &[u8; 32]) -> PathBuf {
    folder.join(HEXLOWER.encode(hash))
}

/// SHA-256 of some bytes.
pub(super) fn sha256(bytes: &[u8]) -> [u8; 32] {
    Sha256::digest(bytes).into()
}

/// The bytes of a photo file; `None` if it is missing, too large or not what it was.
pub(super) fn get(folder: &Path, hash: &[u8; 32], most: u64) -> Result<Option<Vec<u8>>, Inner> {
    let path = path(folder, hash);
    let reading = || format!("reading {}", path.display());
    let file = match File::open(&path) {
        Err(error) if error.kind() == std::io::ErrorKind::NotFound => return Ok(None),
        opened => opened.map_err(Inner::io(reading()))?,
    };
    let mut bytes = Vec::new();
    file.take(most.saturating_add(1)).read_to_end(&mut bytes).map_err(Inner::io(reading()))?;
    Ok((bytes.len() as u64 <= most && sha256(&bytes) == *hash).then_some(bytes))
}

/// Files that were put beside the book before the rows that name them; taken away again unless kept.
pub(super) struct Put {
    folder: PathBuf,
    new: Vec<PathBuf>,
}

impl Put {
    pub(super) fn new(folder: PathBuf) -> Self {
        Self { folder, new: Vec::new() }
    }

    /// Puts a file there under its hash, complete or not at all; one that is there and sound stays.
    pub(super) fn put(&mut self, hash: &[u8; 32], bytes: &[u8]) -> Result<(), Inner> {
        let path = path(&self.folder, hash);
        if get(&self.folder, hash, bytes.len() as u64)?.is_some() {
            return Ok(());
        }
        let writing = || format!("writing {}", path.display());
        fs::create_dir_all(&self.folder).map_err(Inner::io(writing()))?;
        let was_there = path.exists();
        replace(&path, |file| file.write_all(bytes)).map_err(Inner::io(writing()))?;
        if !was_there {
            self.new.push(path);
        }
        Ok(())
    }

    /// Puts the names on the disk.
    pub(super) fn sync(&self) -> Result<(), Inner> {
        match self.new.first() {
            Some(path) => sync_folder(path).and_then(|()| sync_folder(&self.folder)),
            None => Ok(()),
        }
    }

    /// The rows that name them are committed.
    pub(super) fn keep(mut self) {
        self.new.clear();
    }
}

impl Drop for Put {
    fn drop(&mut self) {
        for path in &self.new {
            // A file that no row names harms nobody if it cannot be taken away.
            let _ = fs::remove_file(path);
        }
    }
}

/// Writes a file under another name, puts it on the disk and gives it its own name; on failure nothing is left.
pub(super) fn replace<E: From<std::io::Error>>(
    path: &Path,
    write: impl FnOnce(&mut File) -> Result<(), E>,
) -> Result<(), E> {
    let mut name = path.as_os_str().to_owned();
    // Two programs that write the same file at once must not write into each other's.
    name.push(format!(".{}.part", std::process::id()));
    let part = PathBuf::from(name);
    let result = File::options().read(true).write(true).create(true).truncate(true).open(&part);
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
