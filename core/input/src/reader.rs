//! Typed values from a tree, noting every problem on the way instead of stopping at the first.
//!
//! Where the tree holds a value of the wrong kind, the problem is noted and a stand-in value is handed on, so that
//! the rest of the object is still looked at. A value made with stand-ins never leaves the reader of its format:
//! once a problem is noted, the file is refused.

use super::nearest::nearest;
use super::node::Node;
use super::path::Path;
use super::problem::{Problem, count, quoted};
use super::problems::{Problems, described};
use serde::de::value::StrDeserializer;
use serde::de::{self, DeserializeOwned, DeserializeSeed, IntoDeserializer, MapAccess, SeqAccess, Visitor};
use std::collections::BTreeSet;
use std::fmt;

/// Texts that are tried where a text is missing or refused by its own type, so that the fields beside it are still
/// looked at: a decimal number, a seat code.
const STAND_INS: [&str; 2] = ["0", "IS42"];

/// A value from a tree. `None` only where no stand-in would do; otherwise the value may hold stand-ins, which
/// `problems` knows of: use it for further checks only, until [`Problems::is_empty`] says that all is well.
pub fn read<T: DeserializeOwned>(node: &Node, path: &Path<'_>, problems: &Problems<'_>) -> Option<T> {
    // Each round mends one field at least: a bound for safety's sake, above the number of fields of any object here.
    for _ in 0..64 {
        let stop = match T::deserialize(Reader { node: Some(node), path, problems }) {
            Ok(value) => return Some(value),
            Err(_) if problems.is_full() => return None,
            Err(stop) => stop,
        };
        let at = stop.path?;
        match stop.why {
            Why::Missing { expected } => {
                let path = Path::Field(&Path::Root, &at.text);
                if problems.is_sound(&path) {
                    problems.note(&path, Problem::Missing, None, expected, None);
                }
            }
            Why::Refused { found, expected } => {
                problems.value(&Path::Field(&Path::Root, &at.text), found, expected, None);
            }
        }
        if !problems.dig_hole(at.text, STAND_INS.len()) {
            return None;
        }
    }
    None
}

/// Why a value could not even be made with stand-ins.
#[derive(Debug)]
struct Stop {
    path: Option<At>,
    why: Why,
}

#[derive(Debug)]
struct At {
    text: String,
}

#[derive(Debug)]
enum Why {
    Missing { expected: String },
    Refused { found: String, expected: String },
}

impl fmt::Display for Stop {
    fn fmt(&self, f: &mut fmt::Formatter<'_>) -> fmt::Result {
        match &self.why {
            Why::Missing { expected } => write!(f, "missing; expected {expected}"),
            Why::Refused { found, expected } => write!(f, "{found}; expected {expected}"),
        }
    }
}

impl std::error::Error for Stop {}

impl de::Error for Stop {
    fn custom<T: fmt::Display>(message: T) -> Self {
        Self { path: None, why: Why::Refused { found: String::new(), expected: message.to_string() } }
    }

    fn missing_field(field: &'static str) -> Self {
        Self { path: None, why: Why::Missing { expected: field.to_owned() } }
    }
}

#[derive(Clone, Copy)]
struct Reader<'n, 'p> {
    /// `None` where a stand-in is wanted.
    node: Option<&'n Node>,
    path: &'p Path<'p>,
    problems: &'p Problems<'p>,
}

impl<'n> Reader<'n, '_> {
    /// The node, unless a stand-in is to be used in its place.
    fn node(&self) -> Option<&'n Node> {
        if self.problems.stand_in(self.path).is_some() { None } else { self.node }
    }

    /// What `wanted` finds in the node; otherwise the problem is noted and there is a stand-in to be made.
    fn pick<T>(&self, kind: &str, wanted: impl FnOnce(&'n Node) -> Option<T>) -> Option<T> {
        let node = self.node()?;
        let picked = wanted(node);
        if picked.is_none() {
            self.problems.wrong_kind(self.path, node, kind);
        }
        picked
    }

    fn whole(&self, low: f64, high: f64) -> Option<f64> {
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
        picked.unwrap_or_else(|| {
            let tried = self.problems.stand_in(self.path).unwrap_or(0);
            STAND_INS.get(tried).copied().unwrap_or_default()
        })
    }

    /// Gives an error that has no place yet this value's place.
    fn placed(&self, mut stop: Stop) -> Stop {
        if stop.path.is_some() {
            return stop;
        }
        stop.path = Some(match &mut stop.why {
            Why::Missing { expected } => {
                let path = Path::Field(self.path, expected);
                let (text, words) = (path.to_string(), self.problems.expected(&path, "this field"));
                *expected = words;
                At { text }
            }
            Why::Refused { found, expected } => {
                *found = self.node.map_or_else(String::new, described);
                *expected = self.problems.expected(self.path, expected);
                At { text: self.path.to_string() }
            }
        });
        stop
    }
}

macro_rules! whole_numbers {
    ($($deserialize:ident, $visit:ident, $kind:ty;)*) => {$(
        fn $deserialize<V: Visitor<'de>>(self, visitor: V) -> Result<V::Value, Stop> {
            let value = self.whole(f64::from(<$kind>::MIN), f64::from(<$kind>::MAX)).unwrap_or(0.0);
            visitor.$visit(value as $kind)
        }
    )*};
}

impl<'de> de::Deserializer<'de> for Reader<'de, '_> {
    type Error = Stop;

    fn deserialize_any<V: Visitor<'de>>(self, visitor: V) -> Result<V::Value, Stop> {
        match self.node() {
            None | Some(Node::Null) => visitor.visit_unit(),
            Some(Node::Bool(value)) => visitor.visit_bool(*value),
            Some(Node::Number(value)) => visitor.visit_f64(*value),
            Some(Node::Text(text)) => visitor.visit_str(text),
            Some(Node::List(_)) => self.deserialize_seq(visitor),
            Some(Node::Fields(_)) => self.deserialize_map(visitor),
        }
        .map_err(|stop| self.placed(stop))
    }

    fn deserialize_bool<V: Visitor<'de>>(self, visitor: V) -> Result<V::Value, Stop> {
        let picked = self.pick("true or false", |node| match node {
            Node::Bool(value) => Some(*value),
            _ => None,
        });
        visitor.visit_bool(picked.unwrap_or_default())
    }

    fn deserialize_f64<V: Visitor<'de>>(self, visitor: V) -> Result<V::Value, Stop> {
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

    fn deserialize_u64<V: Visitor<'de>>(self, visitor: V) -> Result<V::Value, Stop> {
        // Beyond 2^53 a number of JSON is not told apart from its neighbours (RFC 8259, 6).
        let value = self.whole(0.0, 9_007_199_254_740_992.0).unwrap_or(0.0);
        visitor.visit_u64(value as u64)
    }

    fn deserialize_str<V: Visitor<'de>>(self, visitor: V) -> Result<V::Value, Stop> {
        visitor.visit_str(self.text()).map_err(|stop| self.placed(stop))
    }

    fn deserialize_string<V: Visitor<'de>>(self, visitor: V) -> Result<V::Value, Stop> {
        self.deserialize_str(visitor)
    }

    fn deserialize_option<V: Visitor<'de>>(self, visitor: V) -> Result<V::Value, Stop> {
        match self.node() {
            None | Some(Node::Null) => visitor.visit_none(),
            Some(_) => visitor.visit_some(self),
        }
        .map_err(|stop| self.placed(stop))
    }

    fn deserialize_newtype_struct<V: Visitor<'de>>(
        self,
        _: &'static str,
        visitor: V,
    ) -> Result<V::Value, Stop> {
        visitor.visit_newtype_struct(self).map_err(|stop| self.placed(stop))
    }

    fn deserialize_seq<V: Visitor<'de>>(self, visitor: V) -> Result<V::Value, Stop> {
        let list = self.pick("a list", |node| match node {
            Node::List(list) => Some(list.as_slice()),
            _ => None,
        });
        let list = list.unwrap_or_default();
        visitor.visit_seq(Elements { reader: self, list, place: 0, pad: 0 }).map_err(|stop| self.placed(stop))
    }

    fn deserialize_tuple<V: Visitor<'de>>(self, len: usize, visitor: V) -> Result<V::Value, Stop> {
        let list = self.pick(&format!("a list of {}", count(len, "number")), |node| match node {
            Node::List(list) if list.len() == len => Some(list.as_slice()),
            _ => None,
        });
        let (list, pad) = list.map_or((&[] as &[Node], len), |list| (list, 0));
        visitor.visit_seq(Elements { reader: self, list, place: 0, pad }).map_err(|stop| self.placed(stop))
    }

    fn deserialize_map<V: Visitor<'de>>(self, visitor: V) -> Result<V::Value, Stop> {
        let fields = self.pick("an object", fields_of).unwrap_or_default();
        visitor.visit_map(Fields::new(self, fields, None)).map_err(|stop| self.placed(stop))
    }

    fn deserialize_struct<V: Visitor<'de>>(
        self,
        _: &'static str,
        known: &'static [&'static str],
        visitor: V,
    ) -> Result<V::Value, Stop> {
        let picked = self.pick("an object", fields_of);
        let whole = picked.is_none();
        let mut fields = Fields::new(self, picked.unwrap_or_default(), Some(known));
        fields.stand_ins = known
            .iter()
            .copied()
            .filter(|name| whole || self.problems.stand_in(&Path::Field(self.path, name)).is_some())
            .collect();
        visitor.visit_map(fields).map_err(|stop| self.placed(stop))
    }

    fn deserialize_enum<V: Visitor<'de>>(
        self,
        _: &'static str,
        words: &'static [&'static str],
        visitor: V,
    ) -> Result<V::Value, Stop> {
        /// More words than this are not written out.
        const FEW: usize = 10;
        let expected = || {
            let words = match words {
                [only] => quoted(only),
                _ if words.len() <= FEW => format!("one of {}", words.join(", ")),
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
        let word: StrDeserializer<'_, Stop> = word.into_deserializer();
        visitor.visit_enum(word).map_err(|stop| self.placed(stop))
    }

    fn deserialize_identifier<V: Visitor<'de>>(self, visitor: V) -> Result<V::Value, Stop> {
        self.deserialize_str(visitor)
    }

    fn deserialize_ignored_any<V: Visitor<'de>>(self, visitor: V) -> Result<V::Value, Stop> {
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

/// The values of a list, then `pad` stand-ins.
struct Elements<'n, 'p> {
    reader: Reader<'n, 'p>,
    list: &'n [Node],
    place: usize,
    pad: usize,
}

impl<'de> SeqAccess<'de> for Elements<'de, '_> {
    type Error = Stop;

    fn next_element_seed<S: DeserializeSeed<'de>>(&mut self, seed: S) -> Result<Option<S::Value>, Stop> {
        let node = match self.list.get(self.place) {
            Some(node) => Some(node),
            None if self.place < self.list.len() + self.pad => None,
            None => return Ok(None),
        };
        let path = Path::Place(self.reader.path, self.place);
        self.place += 1;
        nested(node, &path, self.reader.problems, seed).map(Some)
    }
}

/// The fields of an object, then stand-ins for required fields that are missing.
struct Fields<'n, 'p> {
    reader: Reader<'n, 'p>,
    fields: std::slice::Iter<'n, (String, Node)>,
    /// The names a struct has; `None` for a map, whose keys have their own type.
    known: Option<&'static [&'static str]>,
    seen: BTreeSet<&'n str>,
    stand_ins: Vec<&'static str>,
    current: Option<Named<'n>>,
}

/// A field's name and value; no value where a stand-in is wanted.
type Named<'n> = (&'n str, Option<&'n Node>);

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
            stand_ins: Vec::new(),
            current: None,
        }
    }

    /// The next field that is known and not repeated.
    fn next_field(&mut self) -> Option<Named<'n>> {
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
            let name = self.stand_ins.pop()?;
            if self.seen.insert(name) {
                return Some((name, None));
            }
        }
    }
}

impl<'de> MapAccess<'de> for Fields<'de, '_> {
    type Error = Stop;

    fn next_key_seed<S: DeserializeSeed<'de>>(&mut self, seed: S) -> Result<Option<S::Value>, Stop> {
        let Some((name, node)) = self.next_field() else { return Ok(None) };
        self.current = Some((name, node));
        seed.deserialize(Key { name }).map(Some)
    }

    fn next_value_seed<S: DeserializeSeed<'de>>(&mut self, seed: S) -> Result<S::Value, Stop> {
        let (name, node) = self.current.take().unwrap_or_default();
        nested(node, &Path::Field(self.reader.path, name), self.reader.problems, seed)
    }
}

/// Reads one value inside another.
fn nested<'de, S: DeserializeSeed<'de>>(
    node: Option<&'de Node>,
    path: &Path<'_>,
    problems: &Problems<'_>,
    seed: S,
) -> Result<S::Value, Stop> {
    let reader = Reader { node, path, problems };
    seed.deserialize(reader).map_err(|stop| reader.placed(stop))
}

/// The name of a field: text for a struct, a word of an enum for a map with such keys.
struct Key<'n> {
    name: &'n str,
}

impl<'de> de::Deserializer<'de> for Key<'de> {
    type Error = Stop;

    fn deserialize_any<V: Visitor<'de>>(self, visitor: V) -> Result<V::Value, Stop> {
        visitor.visit_str(self.name)
    }

    fn deserialize_enum<V: Visitor<'de>>(
        self,
        _: &'static str,
        _: &'static [&'static str],
        visitor: V,
    ) -> Result<V::Value, Stop> {
        let name: StrDeserializer<'_, Stop> = self.name.into_deserializer();
        visitor.visit_enum(name)
    }

    serde::forward_to_deserialize_any! {
        bool i8 i16 i32 i64 i128 u8 u16 u32 u64 u128 f32 f64 char str string bytes byte_buf option unit
        unit_struct newtype_struct seq tuple tuple_struct map struct identifier ignored_any
    }
}
