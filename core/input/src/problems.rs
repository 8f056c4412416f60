//! Collects the problems of one file.

use super::nearest::nearest;
use super::node::Node;
use super::path::Path;
use super::plain::printable;
use super::problem::{FileError, FileErrors, Problem, count, number, quoted};
use std::cell::RefCell;
use std::collections::BTreeSet;

/// The problems of one file found so far.
pub struct Problems<'f> {
    file: &'f str,
    expects: fn(&str) -> Option<String>,
    examples: fn(&str) -> Option<&'static str>,
    found: RefCell<Found>,
}

#[derive(Default)]
struct Found {
    errors: Vec<FileError>,
    /// Whether there are further problems that are not listed.
    more: bool,
    /// Paths of bad values, and every problem as its kind and path.
    bad: BTreeSet<String>,
    /// Paths whose value is replaced by a placeholder.
    placeholders: BTreeSet<String>,
}

impl<'f> Problems<'f> {
    /// No problems yet in `file`, the file's name in messages.
    ///
    /// `expects` describes in words the expected value of a field of this name; `None` if its type is sufficient.
    pub fn new(file: &'f str, expects: fn(&str) -> Option<String>) -> Self {
        Self { file, expects, examples: |_| None, found: RefCell::default() }
    }

    /// Supplies an example of a valid text by the field's name, for fields whose type refuses most texts. The reader
    /// substitutes it for an invalid text, so that the neighbouring fields are checked too; no message shows it.
    #[must_use]
    pub fn with_examples(self, examples: fn(&str) -> Option<&'static str>) -> Self {
        Self { examples, ..self }
    }

    /// Records an invalid value. Nothing is recorded for a value that is known to be invalid, or that is inside one.
    pub fn value(&self, path: &Path<'_>, found: String, expected: String, meant: Option<String>) {
        if self.is_sound(path) {
            self.note(path, Problem::Value, Some(found), expected, meant);
        }
    }

    /// Records a problem of another kind.
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
        // A second pass over the same object finds the same problems again.
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
            file: printable(self.file).into_owned(),
            field,
            problem,
            found,
            expected,
            did_you_mean: meant,
            line: None,
            column: None,
        });
    }

    /// True unless the value there, or one around it, is already known to be invalid.
    pub fn is_sound(&self, path: &Path<'_>) -> bool {
        let all = self.found.borrow();
        if all.bad.is_empty() {
            return true;
        }
        let path = path.to_string();
        let around = path.match_indices(['.', '[']).filter_map(|(end, _)| path.get(..end));
        !around.chain(["", &path]).any(|path| all.bad.contains(path))
    }

    /// The field's expected value in words; `otherwise` if the format does not define one.
    pub(super) fn expected(&self, path: &Path<'_>, otherwise: &str) -> String {
        (self.expects)(path.name()).unwrap_or_else(|| otherwise.to_owned())
    }

    /// Records a value of the wrong kind.
    pub(super) fn wrong_kind(&self, path: &Path<'_>, node: &Node, otherwise: &str) {
        self.value(path, described(node), self.expected(path, otherwise), None);
    }

    /// A valid text for this field, if the format defines one.
    pub(super) fn example(&self, path: &Path<'_>) -> Option<&'static str> {
        (self.examples)(path.name())
    }

    /// True if the value there is replaced by a placeholder.
    pub(super) fn has_placeholder(&self, path: &Path<'_>) -> bool {
        let all = self.found.borrow();
        !all.placeholders.is_empty() && all.placeholders.contains(&path.to_string())
    }

    /// Requests a placeholder at this path from now on; false if there is one already, which was refused too.
    pub(super) fn add_placeholder(&self, path: String) -> bool {
        self.found.borrow_mut().placeholders.insert(path)
    }

    /// Records a field that is not in `known`.
    pub(super) fn unknown(&self, name: &str, node: &Node, known: &[&str], path: &Path<'_>) {
        if self.is_full() {
            return;
        }
        let meant = nearest(name, known).map(|word| format!("`{word}`"));
        let expected = format!("one of {}", known.join(", "));
        self.note(path, Problem::Unknown, Some(described(node)), expected, meant);
    }

    /// True once there are more problems than are listed. Reading stops there, so that a hostile file with a million
    /// problems costs little.
    pub(super) fn is_full(&self) -> bool {
        self.found.borrow().more
    }

    /// True if nothing was recorded so far.
    pub fn is_empty(&self) -> bool {
        self.found.borrow().errors.is_empty()
    }

    /// All recorded problems.
    pub fn into_errors(self) -> FileErrors {
        if self.is_empty() {
            // Should not happen, but an error without a reason would be useless.
            self.note(&Path::Root, Problem::Value, None, "a file of this format".to_owned(), None);
        }
        let Found { errors, more, .. } = self.found.into_inner();
        FileErrors::new(errors, more)
    }
}

/// A value's description for messages.
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
