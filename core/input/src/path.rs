//! Location of a value in a file.

use super::plain::printable;
use super::problem::start;
use std::fmt;

/// Location of a value in a file.
#[derive(Debug, Clone, Copy)]
pub enum Path<'p> {
    /// The file as a whole.
    Root,
    /// A field of an object.
    Field(&'p Self, &'p str),
    /// An index in a list.
    Place(&'p Self, usize),
}

impl Path<'_> {
    /// The name of the field; `[]` for an index in a list and empty for the file as a whole.
    pub(super) fn name(&self) -> &str {
        match self {
            Self::Root => "",
            Self::Field(_, name) => name,
            Self::Place(..) => "[]",
        }
    }
}

impl fmt::Display for Path<'_> {
    fn fmt(&self, f: &mut fmt::Formatter<'_>) -> fmt::Result {
        match self {
            Self::Root => Ok(()),
            Self::Field(Self::Root, name) => shown(name, f),
            Self::Field(above, name) => {
                write!(f, "{above}.")?;
                shown(name, f)
            }
            Self::Place(above, place) => write!(f, "{above}[{place}]"),
        }
    }
}

/// The first 80 characters of a field's name, hidden ones escaped: an untrusted file can contain any text there.
fn shown(name: &str, f: &mut fmt::Formatter<'_>) -> fmt::Result {
    f.write_str(&printable(start(name, 80)))
}
