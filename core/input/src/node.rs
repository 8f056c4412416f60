//! A JSON text as a tree that keeps every field, including repeated ones, in file order.

use super::plain::printable;
use super::problem::{FileError, FileErrors, Problem, count};
use serde::de::{self, DeserializeSeed, Deserializer, MapAccess, SeqAccess, Visitor};
use std::cell::Cell;
use std::fmt;

/// One JSON value.
#[derive(Debug, Clone, PartialEq)]
pub enum Node {
    /// `null`.
    Null,
    /// `true` or `false`.
    Bool(bool),
    /// Always finite: JSON has no other numbers, and one beyond the range of a double is refused.
    Number(f64),
    /// A string.
    Text(String),
    /// An array.
    List(Vec<Node>),
    /// An object, in file order.
    Fields(Vec<(String, Node)>),
}

impl Node {
    /// The first value of a field; `None` if this is not an object or has no such field.
    pub fn get(&self, name: &str) -> Option<&Self> {
        match self {
            Self::Fields(fields) => fields.iter().find(|(field, _)| field == name).map(|(_, node)| node),
            _ => None,
        }
    }

    /// Moves the values of a list field out and leaves an empty list, so that they can be read one by one; `None` if
    /// there is no such list.
    pub fn take_list(&mut self, name: &str) -> Option<Vec<Self>> {
        let Self::Fields(fields) = self else { return None };
        match fields.iter_mut().find(|(field, _)| field == name) {
            Some((_, Self::List(list))) => Some(std::mem::take(list)),
            _ => None,
        }
    }
}

/// Resource limits of a format.
#[derive(Debug, Clone, Copy)]
pub struct Limits {
    /// Size of the text.
    pub bytes: usize,
    /// Total number of values; bounds the memory of the tree.
    pub values: usize,
}

/// Maximum nesting of objects and lists; the formats need five.
const DEEPEST: usize = 16;

/// The tree of a JSON text, or the one reason why it cannot be parsed. A UTF-8 byte order mark is skipped, since
/// editors on Windows still write it.
pub fn parse(bytes: &[u8], file: &str, limits: Limits) -> Result<Node, FileErrors> {
    let fail = |problem, found: String, expected: String, place: Option<(usize, usize)>| {
        let error = FileError {
            file: printable(file).into_owned(),
            field: String::new(),
            problem,
            found: Some(found),
            expected,
            did_you_mean: None,
            line: place.map(|(line, _)| line),
            column: place.map(|(_, column)| column),
        };
        FileErrors::new(vec![error], false)
    };
    let size = bytes.len();
    if size > limits.bytes {
        let expected = format!("at most {} bytes", limits.bytes);
        return Err(fail(Problem::TooLarge, count(size, "byte"), expected, None));
    }
    let bytes = bytes.strip_prefix(b"\xef\xbb\xbf").unwrap_or(bytes);
    let text = std::str::from_utf8(bytes).map_err(|error| {
        let good = bytes.get(..error.valid_up_to()).unwrap_or_default();
        let line = good.iter().filter(|byte| **byte == b'\n').count() + 1;
        let column = good.iter().rev().take_while(|byte| **byte != b'\n').count() + 1;
        fail(Problem::NotJson, "this is not UTF-8 text".into(), "JSON in UTF-8".into(), Some((line, column)))
    })?;

    let budget = Budget { left: Cell::new(limits.values), refusal: Cell::new(None) };
    let mut json = serde_json::Deserializer::from_str(text);
    let tree = Seed { depth: 0, budget: &budget }.deserialize(&mut json);
    tree.and_then(|tree| json.end().map(|()| tree)).map_err(|error| match budget.refusal.get() {
        Some(Refusal::Depth) => {
            let found = format!("more than {DEEPEST} lists or objects inside one another");
            fail(Problem::TooLarge, found, format!("at most {DEEPEST}"), None)
        }
        Some(Refusal::Values) => {
            let found = format!("more than {} values", limits.values);
            fail(Problem::TooLarge, found, format!("at most {}", limits.values), None)
        }
        None => {
            let (line, column) = (error.line(), error.column());
            let told = error.to_string();
            let reason = if text.trim().is_empty() {
                "there is nothing in the file"
            } else if error.is_eof() {
                "the text ends in the middle of a value"
            } else {
                told.strip_suffix(&format!(" at line {line} column {column}")).unwrap_or(&told)
            };
            let found = format!("this is not JSON ({reason})");
            let place = Some((line.max(1), column.max(1)));
            fail(Problem::NotJson, found, "JSON as in RFC 8259".into(), place)
        }
    })
}

#[derive(Debug, Clone, Copy)]
enum Refusal {
    Depth,
    Values,
}

struct Budget {
    left: Cell<usize>,
    refusal: Cell<Option<Refusal>>,
}

impl Budget {
    /// Deducts one value from the budget.
    fn spend<E: de::Error>(&self) -> Result<(), E> {
        let left = self.left.get().checked_sub(1).ok_or_else(|| self.refuse(Refusal::Values))?;
        self.left.set(left);
        Ok(())
    }

    fn refuse<E: de::Error>(&self, why: Refusal) -> E {
        self.refusal.set(Some(why));
        E::custom("beyond the limits")
    }
}

#[derive(Clone, Copy)]
struct Seed<'b> {
    depth: usize,
    budget: &'b Budget,
}

impl Seed<'_> {
    fn inner<E: de::Error>(self) -> Result<Self, E> {
        if self.depth == DEEPEST {
            return Err(self.budget.refuse(Refusal::Depth));
        }
        Ok(Self { depth: self.depth + 1, ..self })
    }
}

impl<'de> DeserializeSeed<'de> for Seed<'_> {
    type Value = Node;

    fn deserialize<D: Deserializer<'de>>(self, deserializer: D) -> Result<Node, D::Error> {
        self.budget.spend()?;
        deserializer.deserialize_any(self)
    }
}

impl<'de> Visitor<'de> for Seed<'_> {
    type Value = Node;

    fn expecting(&self, f: &mut fmt::Formatter<'_>) -> fmt::Result {
        f.write_str("a JSON value")
    }

    fn visit_unit<E>(self) -> Result<Node, E> {
        Ok(Node::Null)
    }

    fn visit_bool<E>(self, value: bool) -> Result<Node, E> {
        Ok(Node::Bool(value))
    }

    fn visit_u64<E>(self, value: u64) -> Result<Node, E> {
        Ok(Node::Number(value as f64))
    }

    fn visit_i64<E>(self, value: i64) -> Result<Node, E> {
        Ok(Node::Number(value as f64))
    }

    fn visit_f64<E>(self, value: f64) -> Result<Node, E> {
        Ok(Node::Number(value))
    }

    fn visit_str<E>(self, value: &str) -> Result<Node, E> {
        Ok(Node::Text(value.to_owned()))
    }

    fn visit_string<E>(self, value: String) -> Result<Node, E> {
        Ok(Node::Text(value))
    }

    fn visit_seq<A: SeqAccess<'de>>(self, mut list: A) -> Result<Node, A::Error> {
        let inner = self.inner()?;
        let mut nodes = Vec::new();
        while let Some(node) = list.next_element_seed(inner)? {
            nodes.push(node);
        }
        Ok(Node::List(nodes))
    }

    fn visit_map<A: MapAccess<'de>>(self, mut map: A) -> Result<Node, A::Error> {
        let inner = self.inner()?;
        let mut fields = Vec::new();
        while let Some(name) = map.next_key::<String>()? {
            fields.push((name, map.next_value_seed(inner)?));
        }
        Ok(Node::Fields(fields))
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    const SMALL: Limits = Limits { bytes: 400_000, values: 40 };

    fn told(bytes: &[u8]) -> String {
        parse(bytes, "f.json", SMALL).unwrap_err().to_string()
    }

    #[test]
    fn keeps_repeated_fields() {
        let node = parse(b"\xef\xbb\xbf{\"a\": 1, \"a\": [true, null, \"x\"]}", "f", SMALL).unwrap();
        assert_eq!(node.get("a"), Some(&Node::Number(1.0)));
        let list = Node::List(vec![Node::Bool(true), Node::Null, Node::Text("x".into())]);
        assert_eq!(node, Node::Fields(vec![("a".into(), Node::Number(1.0)), ("a".into(), list)]));
    }

    #[test]
    fn refuses_what_is_not_json() {
        assert_eq!(
            told(b"{\n \"a\": NaN}"),
            "f.json, line 2, column 7: this is not JSON (expected value); expected JSON as in RFC 8259."
        );
        assert!(told(b"[1e999]").contains("number out of range"));
        assert!(told(b"[1] 2").contains("trailing characters"));
        assert_eq!(
            told(b"[\n\"\xff\"]"),
            "f.json, line 2, column 2: this is not UTF-8 text; expected JSON in UTF-8."
        );
    }

    #[test]
    fn refuses_what_is_too_much() {
        for (open, what) in [("[", "lists"), ("{\"a\":", "objects")] {
            let deep = told(open.repeat(60_000).as_bytes());
            assert!(deep.contains("more than 16 lists or objects inside one another"), "{what}: {deep}");
        }
        assert!(told(format!("[1{}]", ",1".repeat(39)).as_bytes()).contains("more than 40 values"));
        assert!(told(&vec![b' '; 400_001]).contains("400001 bytes; expected at most 400000 bytes"));
    }
}
