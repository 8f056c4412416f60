//! Checks that every format needs.

use super::node::Node;
use super::path::Path;
use super::problem::{Problem, count, quoted};
use super::problems::Problems;
use super::reader::read;
use serde::de::DeserializeOwned;

/// A list's values one by one, each looked at further by `check`; a list that is too long is refused as a whole.
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

/// Notes and drops the fields of a map whose names are none of `known`.
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

/// Refuses a file of another format or version in one sentence, before its fields give a hundred.
pub fn check_schema(tree: &Node, schema: &str, problems: &Problems<'_>) {
    if let Some(Node::Text(found)) = tree.get("schema")
        && found != schema
    {
        problems.value(&Path::Field(&Path::Root, "schema"), quoted(found), quoted(schema), None);
    }
}

/// Text that people read: something in it, of bounded length, nothing that a terminal would obey.
pub fn check_text(text: &str, most: usize, path: &Path<'_>, problems: &Problems<'_>) {
    let length = text.chars().count();
    let found = if text.trim().is_empty() {
        "empty".to_owned()
    } else if length > most {
        format!("{} long", count(length, "character"))
    } else if text.chars().any(char::is_control) {
        format!("{}, with a control character in it", quoted(text))
    } else {
        return;
    };
    problems.value(path, found, format!("1 to {most} plain characters"), None);
}
