//! Checks common to all formats.

use super::node::Node;
use super::path::Path;
use super::plain::{first_hidden, hidden_words};
use super::problem::{Problem, count, quoted};
use super::problems::Problems;
use super::reader::read;
use serde::de::DeserializeOwned;

/// The values of a list, read one by one; `check` is called with each value, its node and its path. A list of more than
/// `most` values is refused as a whole.
pub fn rows<T: DeserializeOwned>(
    list: &[Node],
    path: &Path<'_>,
    most: usize,
    problems: &Problems<'_>,
    mut check: impl FnMut(&T, &Node, &Path<'_>),
) -> Vec<T> {
    if list.len() > most {
        let expected = format!("at most {most}");
        problems.note(path, Problem::TooLarge, Some(count(list.len(), "row")), expected, None);
        return Vec::new();
    }
    let one = |(place, node)| {
        if problems.is_full() {
            return None;
        }
        let path = Path::Place(path, place);
        let row = read(node, &path, problems)?;
        check(&row, node, &path);
        Some(row)
    };
    list.iter().enumerate().filter_map(one).collect()
}

/// Records and removes the fields of an object whose names are not in `known`.
pub fn keep_known(tree: &mut Node, known: &[&str], problems: &Problems<'_>) {
    if let Node::Fields(fields) = tree {
        fields.retain(|(name, node)| {
            let keep = known.contains(&name.as_str());
            if !keep {
                problems.unknown(name, node, known, &Path::Field(&Path::Root, name));
            }
            keep
        });
    }
}

/// Refuses a file of another format or version by its `schema` field, so that its unknown fields are not listed.
pub fn check_schema(tree: &Node, schema: &str, problems: &Problems<'_>) {
    if let Some(Node::Text(found)) = tree.get("schema")
        && found != schema
    {
        problems.value(&Path::Field(&Path::Root, "schema"), quoted(found), quoted(schema), None);
    }
}

/// Validates text for users: 1 to `most` characters, not only blanks, no hidden characters ([`first_hidden`]).
pub fn check_text(text: &str, most: usize, path: &Path<'_>, problems: &Problems<'_>) {
    let length = text.chars().count();
    let found = if text.trim().is_empty() {
        "empty".to_owned()
    } else if length > most {
        format!("{} long", count(length, "character"))
    } else if let Some(hidden) = first_hidden(text) {
        format!("{}, with {} in it", quoted(text), hidden_words(hidden))
    } else {
        return;
    };
    problems.value(path, found, format!("1 to {most} plain characters"), None);
}
