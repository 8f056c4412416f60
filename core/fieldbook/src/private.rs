//! The book's files are for its user alone, where the platform has file modes: 0600, and folders 0700.
//!
//! Other users of a machine must not read what a customer's bike is and whose. Files are made so from the start; what an
//! earlier version or another program left open is closed when the book is opened. A file that the user exports follows
//! the user's own setting (`umask`), since it is made to be passed on.

use std::fs::{self, OpenOptions};
use std::io::{ErrorKind, Result};
use std::path::Path;

/// Suffixes of the book's own files and folders, by how they begin.
const OWN: [&str; 8] =
    ["-wal", "-shm", "-journal", "-suspect", "-photos", ".backup-", ".recovering", ".damaged-"];

/// Options that make a file for the user alone.
#[cfg_attr(not(unix), expect(unused_mut))]
pub(super) fn options() -> OpenOptions {
    let mut options = OpenOptions::new();
    #[cfg(unix)]
    std::os::unix::fs::OpenOptionsExt::mode(&mut options, 0o600);
    options
}

/// Makes an empty file for the user alone, if there is none.
pub(super) fn make_file(path: &Path) -> Result<()> {
    match options().write(true).create_new(true).open(path).map(drop) {
        Err(error) if error.kind() == ErrorKind::AlreadyExists => Ok(()),
        made => made,
    }
}

/// Makes a folder for the user alone, with those above it, where they are missing.
pub(super) fn make_folder(path: &Path) -> Result<()> {
    let mut builder = fs::DirBuilder::new();
    builder.recursive(true);
    #[cfg(unix)]
    std::os::unix::fs::DirBuilderExt::mode(&mut builder, 0o700);
    builder.create(path)
}

/// Takes a file or folder away from other users. It is left as it is if it is another user's, or on a file system without
/// modes.
pub fn make_private(path: &Path) {
    #[cfg(unix)]
    if let Ok(about) = fs::symlink_metadata(path)
        && !about.is_symlink()
    {
        use std::os::unix::fs::PermissionsExt;
        let mode = about.permissions().mode();
        if mode & 0o077 != 0 {
            // A book that cannot be closed to others can still be read and written.
            let _ = fs::set_permissions(path, fs::Permissions::from_mode(mode & 0o700));
        }
    }
    #[cfg(not(unix))]
    let _ = path;
}

/// [`make_private`] for the book and every file and folder that is its own. A folder that cannot be listed is passed over:
/// its book can still be read and written.
pub(super) fn make_all_private(path: &Path) {
    // Through a link, which a user may have made, to the book itself.
    if let Ok(book) = fs::canonicalize(path) {
        make_private(&book);
    }
    let folder = path.parent().filter(|folder| !folder.as_os_str().is_empty()).unwrap_or(Path::new("."));
    let Some(name) = path.file_name() else { return };
    for entry in fs::read_dir(folder).into_iter().flatten().flatten() {
        let own = entry.file_name();
        let rest = own.as_encoded_bytes().strip_prefix(name.as_encoded_bytes());
        if rest.is_some_and(|rest| OWN.iter().any(|own| rest.starts_with(own.as_bytes()))) {
            make_private(&entry.path());
        }
    }
}
