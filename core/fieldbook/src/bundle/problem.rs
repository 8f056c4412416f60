//! Why a bundle was refused.

/// Why a bundle was not read; nothing was written. Every text is fit to show.
#[derive(Debug, Clone, PartialEq, Eq, thiserror::Error)]
pub enum BundleProblem {
    /// The file is something else, or was packed again by another program.
    #[error("this is no Steerwright bundle: {why}")]
    NotABundle {
        /// What is wrong.
        why: String,
    },
    /// The end of the file is missing, or something follows it.
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
        /// How many.
        found: u64,
        /// The limit.
        most: u64,
    },
    /// A compression ratio that only an archive made to fill a disk has.
    #[error("the entry {name:?} would unpack to more than {most} times its size")]
    Bomb {
        /// The entry.
        name: String,
        /// The limit.
        most: u64,
    },
    /// A name with `..`, `.` or nothing between two slashes.
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
    /// A name that is no UTF-8, holds control characters or is far too long.
    #[error("the entry {name:?} has a name that cannot be read")]
    BadName {
        /// The entry, as far as it can be shown.
        name: String,
    },
    /// Two entries of one name.
    #[error("the entry {name:?} is there twice")]
    Duplicate {
        /// The entry.
        name: String,
    },
    /// Two entries that are one file on some systems.
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
    /// A folder, a device or the like.
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
    /// An entry that bundles do not have.
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
    /// An entry that the manifest or another entry names is not there.
    #[error("the entry {name:?} is missing from the bundle")]
    Missing {
        /// The entry.
        name: String,
    },
    /// An entry has another length than was declared.
    #[error("the entry {name:?} does not have the {declared} bytes it should have")]
    WrongSize {
        /// The entry.
        name: String,
        /// Bytes declared.
        declared: u64,
    },
    /// An entry's SHA-256 is not the manifest's.
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
        /// What the unpacker says.
        why: String,
    },
    /// What an entry says makes no sense.
    #[error("in the entry {name:?}: {why}")]
    Content {
        /// The entry.
        name: String,
        /// What is wrong.
        why: String,
    },
    /// A row of the bundle has the name of another row in this book.
    #[error("the {what} {id} is in this book already with other data")]
    Conflict {
        /// A bike, a measurement, a check, a photo.
        what: &'static str,
        /// Its name in the book.
        id: String,
    },
    /// The device or the operating system refused.
    #[error("reading the bundle failed: {why}")]
    Io {
        /// The system's own words.
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

    /// What an entry says makes no sense.
    pub(super) fn content(name: &str, why: impl std::fmt::Display) -> Self {
        // The reason may repeat text of the entry, such as a field's name with control characters.
        let why = why.to_string().replace('\n', " ");
        let why = why.chars().map(|c| if c.is_control() { char::REPLACEMENT_CHARACTER } else { c }).collect();
        Self::Content { name: name.to_owned(), why }
    }
}
