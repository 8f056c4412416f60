//! Why a bundle was refused.

use steerwright_input::printable;

/// Why a bundle was not read; nothing was written. Every text is suitable for users.
#[derive(Debug, Clone, PartialEq, Eq, thiserror::Error)]
pub enum BundleProblem {
    /// The file has another format, or was repacked by another program.
    #[error("this is no Steerwright bundle: {why}")]
    NotABundle {
        /// What is wrong.
        why: String,
    },
    /// The end of the file is missing, or there is data after it.
    #[error("the bundle is not complete: {why}; fetch or send it again")]
    Truncated {
        /// What is missing.
        why: String,
    },
    /// A newer version of the program wrote it.
    #[error(
        "the bundle has the format {found:?}; this version of Steerwright reads \"steerwright.bundle/1\""
    )]
    OtherFormat {
        /// Its format.
        found: String,
    },
    /// More bytes than a bundle may have.
    #[error("{what} has {found} bytes; the most is {most}")]
    TooLarge {
        /// The whole file, all entries unpacked, or one entry.
        what: String,
        /// Bytes found or declared.
        found: u64,
        /// The limit.
        most: u64,
    },
    /// More entries than a bundle may have.
    #[error("the bundle has {found} entries; the most is {most}")]
    TooManyEntries {
        /// Number of entries.
        found: u64,
        /// The limit.
        most: u64,
    },
    /// More rows than a bundle may have.
    #[error("the bundle has more than {most} measurements, checks, photos and sets of marks")]
    TooManyRows {
        /// The limit.
        most: usize,
    },
    /// A compression ratio of a decompression bomb.
    #[error("the entry {name:?} would unpack to more than {most} times its size")]
    Bomb {
        /// The entry.
        name: String,
        /// The limit.
        most: u64,
    },
    /// A name with `..`, `.` or an empty component.
    #[error("the entry {name:?} points out of the bundle")]
    Traversal {
        /// The entry.
        name: String,
    },
    /// A name that begins at a root or a drive.
    #[error("the entry {name:?} has an absolute name")]
    Absolute {
        /// The entry.
        name: String,
    },
    /// A name with a backslash, which is a separator on some systems.
    #[error("the entry {name:?} has a backslash in its name")]
    Backslash {
        /// The entry.
        name: String,
    },
    /// A name that is not UTF-8, has hidden characters or is far too long.
    #[error("the entry {name:?} has a name that cannot be read")]
    BadName {
        /// The entry, as far as it can be displayed.
        name: String,
    },
    /// Two entries with the same name.
    #[error("the entry {name:?} is there twice")]
    Duplicate {
        /// The entry.
        name: String,
    },
    /// Two names that denote one file on some systems.
    #[error("the entries {name:?} and {other:?} differ only in case or in the form of their letters")]
    SameFolded {
        /// The later one.
        name: String,
        /// The earlier one.
        other: String,
    },
    /// A symbolic link.
    #[error("the entry {name:?} is a symbolic link")]
    Symlink {
        /// The entry.
        name: String,
    },
    /// A folder, a device or another special file.
    #[error("the entry {name:?} is no plain file")]
    NotAFile {
        /// The entry.
        name: String,
    },
    /// Encrypted, or packed by another method than deflate.
    #[error("the entry {name:?} is packed in a way bundles do not use")]
    Packing {
        /// The entry.
        name: String,
    },
    /// An entry of a kind that bundles do not have.
    #[error("the entry {name:?} is none of a bundle's")]
    Unknown {
        /// The entry.
        name: String,
    },
    /// An entry that the manifest does not list.
    #[error("the entry {name:?} is not in the bundle's manifest")]
    Unlisted {
        /// The entry.
        name: String,
    },
    /// An entry that is named in the manifest or another entry does not exist.
    #[error("the entry {name:?} is missing from the bundle")]
    Missing {
        /// The entry.
        name: String,
    },
    /// An entry's length differs from the declared one.
    #[error("the entry {name:?} does not have the {declared} bytes it should have")]
    WrongSize {
        /// The entry.
        name: String,
        /// Bytes declared.
        declared: u64,
    },
    /// An entry's SHA-256 differs from the manifest's.
    #[error("the entry {name:?} was changed or damaged after the bundle was made")]
    WrongHash {
        /// The entry.
        name: String,
    },
    /// An entry cannot be unpacked.
    #[error("the entry {name:?} cannot be unpacked: {why}")]
    Damaged {
        /// The entry.
        name: String,
        /// The unpacker's message.
        why: String,
    },
    /// The content of an entry is invalid.
    #[error("in the entry {name:?}: {why}")]
    Content {
        /// The entry.
        name: String,
        /// What is wrong.
        why: String,
    },
    /// A row of the bundle has the id of a different row in this book.
    #[error("the {what} {id} is in this book already with other data")]
    Conflict {
        /// A bike, a measurement, a check, a photo.
        what: &'static str,
        /// Its id in the book.
        id: String,
    },
    /// The device or the operating system refused.
    #[error("reading the bundle failed: {why}")]
    Io {
        /// The system's message.
        why: String,
    },
}

impl BundleProblem {
    /// For `map_err`: an error of reading the file itself.
    pub(super) fn io(error: &std::io::Error) -> Self {
        if error.kind() == std::io::ErrorKind::UnexpectedEof {
            return Self::Truncated { why: "it ends too early".to_owned() };
        }
        Self::Io { why: error.to_string() }
    }

    /// The content of an entry is invalid.
    pub(super) fn content(name: &str, why: impl std::fmt::Display) -> Self {
        // The reason may quote text of the entry, such as a field's name with hidden characters.
        let why = why.to_string().replace('\n', " ");
        Self::Content { name: name.to_owned(), why: printable(&why).into_owned() }
    }
}
