//! Typed values from a tree, with every problem recorded instead of stopping at the first.
//!
//! A derived deserialiser stops at the first error. If the tree has a value of the wrong kind, the reader therefore
//! records the problem and returns a placeholder, so that the neighbouring fields are read too: 0, false, an empty
//! list, the first word of an enumeration. A text that its own type refuses (a decimal number, a code) is replaced by
//! the example that the format defines for the field ([`Problems::with_examples`]), and the object is read again with
//! it. A value with placeholders never leaves its format: a file with a problem is refused.

use super::nearest::nearest;
use super::node::Node;
use super::path::Path;
use super::problem::{Problem, count, quoted};
use super::problems::{Problems, described};
use serde::de::value::StrDeserializer;
use serde::de::{self, DeserializeOwned, DeserializeSeed, IntoDeserializer, MapAccess, SeqAccess, Visitor};
use std::collections::BTreeSet;
use std::fmt;

/// Maximum number of times that one value is read again; each time one more field has a placeholder. No object of any
/// format has that many fields.
const MOST_READS: usize = 64;

/// A value from a tree, with its problems recorded in `problems`.
///
/// `None` if a text is refused and the format defines no example for its field, or if there are too many problems.
/// Otherwise the value may contain placeholders: use it for further checks only, until [`Problems::is_empty`].
pub fn read<T: DeserializeOwned>(node: &Node, path: &Path<'_>, problems: &Problems<'_>) -> Option<T> {
    for _ in 0..MOST_READS {
        let failure = match T::deserialize(Reader { node: Some(node), path, problems }) {
            Ok(value) => return Some(value),
            Err(_) if problems.is_full() => return None,
            Err(failure) => failure,
        };
        let field = failure.field?;
        let path = Path::Field(&Path::Root, &field);
        match failure.cause {
            Cause::Missing { expected } => {
                if problems.is_sound(&path) {
                    problems.note(&path, Problem::Missing, None, expected, None);
                }
            }
            Cause::Refused { found, expected } => problems.value(&path, found, expected, None),
        }
        if !problems.add_placeholder(field) {
            return None;
        }
    }
    None
}

/// Why a value could not be made.
#[derive(Debug)]
struct Failure {
    /// The path of the field, once it is known.
    field: Option<String>,
    cause: Cause,
}

#[derive(Debug)]
enum Cause {
    Missing { expected: String },
    Refused { found: String, expected: String },
}

impl fmt::Display for Failure {
    fn fmt(&self, f: &mut fmt::Formatter<'_>) -> fmt::Result {
        match &self.cause {
            Cause::Missing { expected } => write!(f, "missing; expected {expected}"),
            Cause::Refused { found, expected } => write!(f, "{found}; expected {expected}"),
        }
    }
}

impl std::error::Error for Failure {}

impl de::Error for Failure {
    fn custom<T: fmt::Display>(message: T) -> Self {
        Self { field: None, cause: Cause::Refused { found: String::new(), expected: message.to_string() } }
    }

    fn missing_field(field: &'static str) -> Self {
        Self { field: None, cause: Cause::Missing { expected: field.to_owned() } }
    }
}

#[derive(Clone, Copy)]
struct Reader<'n, 'p> {
    /// `None` if a placeholder is needed.
    node: Option<&'n Node>,
    path: &'p Path<'p>,
    problems: &'p Problems<'p>,
}

impl<'n> Reader<'n, '_> {
    /// The node; `None` if it is replaced by a placeholder.
    fn node(&self) -> Option<&'n Node> {
        self.node.filter(|_| !self.problems.has_placeholder(self.path))
    }

    /// The node converted by `convert`. `None` requests a placeholder; a node of the wrong kind is recorded.
    fn pick<T>(&self, kind: &str, convert: impl FnOnce(&'n Node) -> Option<T>) -> Option<T> {
        let node = self.node()?;
        let picked = convert(node);
        if picked.is_none() {
            self.problems.wrong_kind(self.path, node, kind);
        }
        picked
    }

    fn whole_number(&self, low: f64, high: f64) -> Option<f64> {
        let kind = format!("a whole number from {low} to {high}");
        self.pick(&kind, |node| match node {
            Node::Number(value) if value.fract() == 0.0 && (low..=high).contains(value) => Some(*value),
            _ => None,
        })
    }

    fn text(&self) -> &'n str {
        let picked = self.pick("text", |node| match node {
            Node::Text(text) => Some(text.as_str()),
            _ => None,
        });
        picked.unwrap_or_else(|| self.problems.example(self.path).unwrap_or_default())
    }

    /// The failure with this value's path, unless it has one.
    fn located(&self, mut failure: Failure) -> Failure {
        if failure.field.is_some() {
            return failure;
        }
        failure.field = Some(match &mut failure.cause {
            Cause::Missing { expected } => {
                let path = Path::Field(self.path, expected);
                let (text, words) = (path.to_string(), self.problems.expected(&path, "this field"));
                *expected = words;
                text
            }
            Cause::Refused { found, expected } => {
                *found = self.node.map_or_else(String::new, described);
                *expected = self.problems.expected(self.path, expected);
                self.path.to_string()
            }
        });
        failure
    }
}

macro_rules! whole_numbers {
    ($($deserialize:ident, $visit:ident, $kind:ty;)*) => {$(
        fn $deserialize<V: Visitor<'de>>(self, visitor: V) -> Result<V::Value, Failure> {
            let value = self.whole_number(f64::from(<$kind>::MIN), f64::from(<$kind>::MAX)).unwrap_or(0.0);
            visitor.$visit(value as $kind)
        }
    )*};
}

impl<'de> de::Deserializer<'de> for Reader<'de, '_> {
    type Error = Failure;

    fn deserialize_any<V: Visitor<'de>>(self, visitor: V) -> Result<V::Value, Failure> {
        match self.node() {
            None | Some(Node::Null) => visitor.visit_unit(),
            Some(Node::Bool(value)) => visitor.visit_bool(*value),
            Some(Node::Number(value)) => visitor.visit_f64(*value),
            Some(Node::Text(text)) => visitor.visit_str(text),
            Some(Node::List(_)) => self.deserialize_seq(visitor),
            Some(Node::Fields(_)) => self.deserialize_map(visitor),
        }
        .map_err(|failure| self.located(failure))
    }

    fn deserialize_bool<V: Visitor<'de>>(self, visitor: V) -> Result<V::Value, Failure> {
        let picked = self.pick("true or false", |node| match node {
            Node::Bool(value) => Some(*value),
            _ => None,
        });
        visitor.visit_bool(picked.unwrap_or_default())
    }

    fn deserialize_f64<V: Visitor<'de>>(self, visitor: V) -> Result<V::Value, Failure> {
        let picked = self.pick("a number", |node| match node {
            Node::Number(value) => Some(*value),
            _ => None,
        });
        visitor.visit_f64(picked.unwrap_or_default())
    }

    whole_numbers! {
        deserialize_u8, visit_u8, u8;
        deserialize_u16, visit_u16, u16;
        deserialize_u32, visit_u32, u32;
    }

    fn deserialize_u64<V: Visitor<'de>>(self, visitor: V) -> Result<V::Value, Failure> {
        // Above 2^53 a double is not exact for every whole number (RFC 8259, 6).
        let value = self.whole_number(0.0, 9_007_199_254_740_992.0).unwrap_or(0.0);
        visitor.visit_u64(value as u64)
    }

    fn deserialize_str<V: Visitor<'de>>(self, visitor: V) -> Result<V::Value, Failure> {
        visitor.visit_str(self.text()).map_err(|failure| self.located(failure))
    }

    fn deserialize_string<V: Visitor<'de>>(self, visitor: V) -> Result<V::Value, Failure> {
        self.deserialize_str(visitor)
    }

    fn deserialize_option<V: Visitor<'de>>(self, visitor: V) -> Result<V::Value, Failure> {
        match self.node() {
            None | Some(Node::Null) => visitor.visit_none(),
            Some(_) => visitor.visit_some(self),
        }
        .map_err(|failure| self.located(failure))
    }

    fn deserialize_newtype_struct<V: Visitor<'de>>(
        self,
        _: &'static str,
        visitor: V,
    ) -> Result<V::Value, Failure> {
        visitor.visit_newtype_struct(self).map_err(|failure| self.located(failure))
    }

    fn deserialize_seq<V: Visitor<'de>>(self, visitor: V) -> Result<V::Value, Failure> {
        let list = self.pick("a list", |node| match node {
            Node::List(list) => Some(list.as_slice()),
            _ => None,
        });
        let list = list.unwrap_or_default();
        visitor
            .visit_seq(Elements { reader: self, list, len: list.len(), next: 0 })
            .map_err(|failure| self.located(failure))
    }

    fn deserialize_tuple<V: Visitor<'de>>(self, len: usize, visitor: V) -> Result<V::Value, Failure> {
        let list = self.pick(&format!("a list of {}", count(len, "number")), |node| match node {
            Node::List(list) if list.len() == len => Some(list.as_slice()),
            _ => None,
        });
        let (list, len) = list.map_or((&[] as &[Node], len), |list| (list, list.len()));
        visitor
            .visit_seq(Elements { reader: self, list, len, next: 0 })
            .map_err(|failure| self.located(failure))
    }

    fn deserialize_map<V: Visitor<'de>>(self, visitor: V) -> Result<V::Value, Failure> {
        let fields = self.pick("an object", fields_of).unwrap_or_default();
        visitor.visit_map(Fields::new(self, fields, None)).map_err(|failure| self.located(failure))
    }

    fn deserialize_struct<V: Visitor<'de>>(
        self,
        _: &'static str,
        known: &'static [&'static str],
        visitor: V,
    ) -> Result<V::Value, Failure> {
        let picked = self.pick("an object", fields_of);
        let is_placeholder = picked.is_none();
        let mut fields = Fields::new(self, picked.unwrap_or_default(), Some(known));
        fields.placeholders = known
            .iter()
            .copied()
            .filter(|name| is_placeholder || self.problems.has_placeholder(&Path::Field(self.path, name)))
            .collect();
        visitor.visit_map(fields).map_err(|failure| self.located(failure))
    }

    fn deserialize_enum<V: Visitor<'de>>(
        self,
        _: &'static str,
        words: &'static [&'static str],
        visitor: V,
    ) -> Result<V::Value, Failure> {
        /// A message lists at most this many words.
        const MOST_LISTED: usize = 10;
        let expected = || {
            let words = match words {
                [only] => quoted(only),
                _ if words.len() <= MOST_LISTED => format!("one of {}", words.join(", ")),
                _ => "a word of this format".to_owned(),
            };
            self.problems.expected(self.path, &words)
        };
        let word = match self.node() {
            None => None,
            Some(Node::Text(text)) => {
                let known = words.iter().copied().find(|word| word == text);
                if known.is_none() {
                    let meant = nearest(text, words).map(str::to_owned);
                    self.problems.value(self.path, quoted(text), expected(), meant);
                }
                known
            }
            Some(other) => {
                self.problems.value(self.path, described(other), expected(), None);
                None
            }
        };
        let word = word.or_else(|| words.first().copied()).unwrap_or_default();
        let word: StrDeserializer<'_, Failure> = word.into_deserializer();
        visitor.visit_enum(word).map_err(|failure| self.located(failure))
    }

    fn deserialize_identifier<V: Visitor<'de>>(self, visitor: V) -> Result<V::Value, Failure> {
        self.deserialize_str(visitor)
    }

    fn deserialize_ignored_any<V: Visitor<'de>>(self, visitor: V) -> Result<V::Value, Failure> {
        visitor.visit_unit()
    }

    serde::forward_to_deserialize_any! {
        i8 i16 i32 i64 i128 u128 f32 char bytes byte_buf unit unit_struct tuple_struct
    }
}

fn fields_of(node: &Node) -> Option<&[(String, Node)]> {
    match node {
        Node::Fields(fields) => Some(fields),
        _ => None,
    }
}

/// The values of a list, then placeholders up to `len`.
struct Elements<'n, 'p> {
    reader: Reader<'n, 'p>,
    list: &'n [Node],
    len: usize,
    next: usize,
}

impl<'de> SeqAccess<'de> for Elements<'de, '_> {
    type Error = Failure;

    fn next_element_seed<S: DeserializeSeed<'de>>(&mut self, seed: S) -> Result<Option<S::Value>, Failure> {
        if self.next == self.len {
            return Ok(None);
        }
        let node = self.list.get(self.next);
        let path = Path::Place(self.reader.path, self.next);
        self.next += 1;
        nested(node, &path, self.reader.problems, seed).map(Some)
    }
}

/// The fields of an object, then placeholders for required fields that are missing.
struct Fields<'n, 'p> {
    reader: Reader<'n, 'p>,
    fields: std::slice::Iter<'n, (String, Node)>,
    /// The field names of a struct; `None` for a map, whose keys have their own type.
    known: Option<&'static [&'static str]>,
    seen: BTreeSet<&'n str>,
    placeholders: Vec<&'static str>,
    current: Option<NamedNode<'n>>,
}

/// A field's name and value; no value if a placeholder is needed.
type NamedNode<'n> = (&'n str, Option<&'n Node>);

impl<'n, 'p> Fields<'n, 'p> {
    fn new(
        reader: Reader<'n, 'p>,
        fields: &'n [(String, Node)],
        known: Option<&'static [&'static str]>,
    ) -> Self {
        Self {
            reader,
            fields: fields.iter(),
            known,
            seen: BTreeSet::new(),
            placeholders: Vec::new(),
            current: None,
        }
    }

    /// The next field that is known and not repeated.
    fn next_field(&mut self) -> Option<NamedNode<'n>> {
        let problems = self.reader.problems;
        for (name, node) in self.fields.by_ref() {
            let path = Path::Field(self.reader.path, name);
            if let Some(known) = self.known.filter(|known| !known.contains(&name.as_str())) {
                problems.unknown(name, node, known, &path);
            } else if !self.seen.insert(name) {
                let found = "stands here twice".to_owned();
                problems.note(&path, Problem::Repeated, Some(found), "it once".to_owned(), None);
            } else {
                return Some((name, Some(node)));
            }
        }
        loop {
            let name = self.placeholders.pop()?;
            if self.seen.insert(name) {
                return Some((name, None));
            }
        }
    }
}

impl<'de> MapAccess<'de> for Fields<'de, '_> {
    type Error = Failure;

    fn next_key_seed<S: DeserializeSeed<'de>>(&mut self, seed: S) -> Result<Option<S::Value>, Failure> {
        let Some((name, node)) = self.next_field() else { return Ok(None) };
        self.current = Some((name, node));
        seed.deserialize(Key { name }).map(Some)
    }

    fn next_value_seed<S: DeserializeSeed<'de>>(&mut self, seed: S) -> Result<S::Value, Failure> {
        let (name, node) = self.current.take().unwrap_or_default();
        nested(node, &Path::Field(self.reader.path, name), self.reader.problems, seed)
    }
}

/// A value inside another one.
fn nested<'de, S: DeserializeSeed<'de>>(
    node: Option<&'de Node>,
    path: &Path<'_>,
    problems: &Problems<'_>,
    seed: S,
) -> Result<S::Value, Failure> {
    let reader = Reader { node, path, problems };
    seed.deserialize(reader).map_err(|failure| reader.located(failure))
}

/// The name of a field: text for a struct, a word of an enumeration for a map with such keys.
struct Key<'n> {
    name: &'n str,
}

impl<'de> de::Deserializer<'de> for Key<'de> {
    type Error = Failure;

    fn deserialize_any<V: Visitor<'de>>(self, visitor: V) -> Result<V::Value, Failure> {
        visitor.visit_str(self.name)
    }

    fn deserialize_enum<V: Visitor<'de>>(
        self,
        _: &'static str,
        _: &'static [&'static str],
        visitor: V,
    ) -> Result<V::Value, Failure> {
        let name: StrDeserializer<'_, Failure> = self.name.into_deserializer();
        visitor.visit_enum(name)
    }

    serde::forward_to_deserialize_any! {
        bool i8 i16 i32 i64 i128 u8 u16 u32 u64 u128 f32 f64 char str string bytes byte_buf option unit
        unit_struct newtype_struct seq tuple tuple_struct map struct identifier ignored_any
    }
}
