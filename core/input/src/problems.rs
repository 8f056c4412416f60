//! What was found wrong with a file so far.

use super::nearest::nearest;
use super::node::Node;
use super::path::Path;
use super::problem::{FileError, FileErrors, Problem, count, number, printable, quoted};
use std::cell::RefCell;
use std::collections::{BTreeMap, BTreeSet};

/// The problems found so far in one file.
pub struct Problems<'f> {
    file: &'f str,
    /// What a field of the format expects, by the field's name, in words.
    expects: fn(&str) -> Option<String>,
    found: RefCell<Found>,
}

#[derive(Default)]
struct Found {
    errors: Vec<FileError>,
    /// Whether there are problems beyond those written out.
    more: bool,
    /// Paths whose value is already known to be bad.
    bad: BTreeSet<String>,
    /// Paths that get a stand-in, and how many were tried there.
    holes: BTreeMap<String, usize>,
}

impl<'f> Problems<'f> {
    /// No problems yet; `expects` describes what a path should hold, where a general description would not do.
    pub fn new(file: &'f str, expects: fn(&str) -> Option<String>) -> Self {
        Self { file, expects, found: RefCell::default() }
    }

    /// Notes a problem with a value, once for each field; says nothing of a value inside one already refused.
    pub fn value(&self, path: &Path<'_>, found: String, expected: String, meant: Option<String>) {
        if self.is_sound(path) {
            self.note(path, Problem::Value, Some(found), expected, meant);
        }
    }

    /// Notes a problem of another kind.
    pub fn note(
        &self,
        path: &Path<'_>,
        problem: Problem,
        found: Option<String>,
        expected: String,
        meant: Option<String>,
    ) {
        let mut all = self.found.borrow_mut();
        if all.more {
            return;
        }
        let field = path.to_string();
        // A second pass over the same object meets the same problems again.
        if !all.bad.insert(format!("{problem:?} {field}")) {
            return;
        }
        if matches!(problem, Problem::Value | Problem::Missing | Problem::TooLarge) {
            all.bad.insert(field.clone());
        }
        if all.errors.len() == FileErrors::MOST {
            all.more = true;
            return;
        }
        all.errors.push(FileError {
            file: self.file.chars().flat_map(printable).collect(),
            field,
            problem,
            found,
            expected,
            did_you_mean: meant,
            line: None,
            column: None,
        });
    }

    /// True unless the value there, or one around it, is already known to be bad.
    pub fn is_sound(&self, path: &Path<'_>) -> bool {
        let all = self.found.borrow();
        if all.bad.is_empty() {
            return true;
        }
        let path = path.to_string();
        let around = path.match_indices(['.', '[']).filter_map(|(end, _)| path.get(..end));
        !around.chain(["", &path]).any(|path| all.bad.contains(path))
    }

    /// What the field expects, in words; `otherwise` where the format has nothing special to say.
    pub(super) fn expected(&self, path: &Path<'_>, otherwise: &str) -> String {
        (self.expects)(path.name()).unwrap_or_else(|| otherwise.to_owned())
    }

    /// Notes a value of the wrong kind.
    pub(super) fn wrong_kind(&self, path: &Path<'_>, node: &Node, otherwise: &str) {
        self.value(path, described(node), self.expected(path, otherwise), None);
    }

    /// How many stand-ins were tried at this path; `None` if none is wanted there.
    pub(super) fn stand_in(&self, path: &Path<'_>) -> Option<usize> {
        let all = self.found.borrow();
        if all.holes.is_empty() { None } else { all.holes.get(&path.to_string()).copied() }
    }

    /// Asks for a stand-in at this path from now on; false once every stand-in was tried there.
    pub(super) fn dig_hole(&self, path: String, most: usize) -> bool {
        let mut all = self.found.borrow_mut();
        let tried = all.holes.entry(path).and_modify(|tried| *tried += 1).or_insert(0);
        *tried < most
    }

    /// Notes a field that is none of `known`.
    pub(super) fn unknown(&self, name: &str, node: &Node, known: &[&str], path: &Path<'_>) {
        if self.is_full() {
            return;
        }
        let meant = nearest(name, known).map(|word| format!("`{word}`"));
        let expected = format!("one of {}", known.join(", "));
        self.note(path, Problem::Unknown, Some(described(node)), expected, meant);
    }

    /// True once there are more problems than are written out: reading on would tell nothing new, and a file made to
    /// be wrong a million times would take its time.
    pub(super) fn is_full(&self) -> bool {
        self.found.borrow().more
    }

    /// True if nothing was noted so far.
    pub fn is_empty(&self) -> bool {
        self.found.borrow().errors.is_empty()
    }

    /// Everything that was noted.
    pub fn into_errors(self) -> FileErrors {
        if self.is_empty() {
            // Not reached as far as is known; a refusal without a reason would be worse than this one.
            self.note(&Path::Root, Problem::Value, None, "a file of this format".to_owned(), None);
        }
        let Found { errors, more, .. } = self.found.into_inner();
        FileErrors::new(errors, more)
    }
}

/// A value as a message shows it.
pub fn described(node: &Node) -> String {
    match node {
        Node::Null => "null".into(),
        Node::Bool(value) => value.to_string(),
        Node::Number(value) => number(*value),
        Node::Text(text) => quoted(text),
        Node::List(list) => format!("a list of {}", count(list.len(), "value")),
        Node::Fields(_) => "an object".into(),
    }
}
