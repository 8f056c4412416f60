//! Reading and writing a catalogue file.

use super::check::{check_bearing, check_head, check_kit, example, expects};
use super::{Bearing, Catalogue, Kit};
use std::collections::BTreeMap;
use steerwright_input::{
    FileErrors, Limits, Node, Path, Problem, Problems, check_schema, described, parse, read, rows,
};

impl Catalogue {
    /// The largest file that is read, in bytes.
    pub const MOST_BYTES: usize = 16 << 20;
    /// The most kits one file may hold, and the most bearings.
    pub const MOST_KITS: usize = 20_000;

    const LIMITS: Limits = Limits { bytes: Self::MOST_BYTES, values: 1_500_000 };

    /// Reads a catalogue file (`steerwright.catalogue/1`, JSON in UTF-8); `file` is what the messages call it.
    ///
    /// # Errors
    /// Every problem of the file at once: unknown, missing and repeated fields, unknown words, numbers outside what
    /// a kit can have, a field that does not belong to the kind of seat, an order code used twice. A text that is
    /// no JSON, or is beyond the limits, gives that one problem.
    pub fn from_json(bytes: &[u8], file: &str) -> Result<Self, FileErrors> {
        let mut tree = parse(bytes, file, Self::LIMITS)?;
        let problems = Problems::new(file, expects).with_examples(example);
        check_schema(&tree, "steerwright.catalogue/1", &problems);
        if problems.is_empty() {
            // Checked here because `expects` describes the field of this name in a kit, which is no list.
            if let Some(other) = tree.get("bearings").filter(|node| !matches!(node, Node::List(_))) {
                let path = Path::Field(&Path::Root, "bearings");
                problems.value(&path, described(other), "a list of bearings".to_owned(), None);
            }
            let kit_nodes = tree.take_list("kits").unwrap_or_default();
            let bearing_nodes = tree.take_list("bearings").unwrap_or_default();
            let head: Option<Self> = read(&tree, &Path::Root, &problems);
            if let Some(head) = &head {
                check_head(head, &problems);
            }
            let mut codes = BTreeMap::new();
            let kits_path = Path::Field(&Path::Root, "kits");
            let kits = rows(&kit_nodes, &kits_path, Self::MOST_KITS, &problems, |kit: &Kit, node, path| {
                check_kit(kit, path, &problems);
                check_price(node, path, &problems);
                check_unique(&kit.sku, &mut codes, path, &problems);
            });
            let bearings_path = Path::Field(&Path::Root, "bearings");
            let check = |bearing: &Bearing, node: &Node, path: &Path<'_>| {
                check_bearing(bearing, path, &problems);
                check_price(node, path, &problems);
                check_unique(&bearing.sku, &mut codes, path, &problems);
            };
            let bearings = rows(&bearing_nodes, &bearings_path, Self::MOST_KITS, &problems, check);
            if let (true, Some(head)) = (problems.is_empty(), head) {
                return Ok(Self { kits, bearings, ..head });
            }
        }
        Err(problems.into_errors())
    }

    /// The file's text: indented, fields in a fixed order, a line break at the end. Reading it gives an equal
    /// catalogue.
    pub fn to_json(&self) -> String {
        steerwright_input::pretty(self)
    }
}

/// Notes an order code that was used before: an order could not tell the two apart. `codes` holds the codes so far, each
/// with the path of its row.
fn check_unique(sku: &str, codes: &mut BTreeMap<String, String>, row: &Path<'_>, problems: &Problems<'_>) {
    let path = Path::Field(row, "sku");
    if !problems.is_sound(&path) {
        return;
    }
    if let Some(first) = codes.get(sku) {
        let found = format!("is {sku:?}, as {first}.sku is already");
        problems.note(&path, Problem::Repeated, Some(found), "an order code of its own".to_owned(), None);
    } else {
        codes.insert(sku.to_owned(), row.to_string());
    }
}

/// Notes a price that is not digits with at most one point: the decimal type also reads `1e2` and `1_000`. Four decimals
/// are the most a currency has (ISO 4217).
fn check_price(row: &Node, path: &Path<'_>, problems: &Problems<'_>) {
    let Some(Node::Text(text)) = row.get("price") else { return };
    let (whole, part) = text.split_once('.').unwrap_or((text, "0"));
    let digits =
        |text: &str, most| (1..=most).contains(&text.len()) && text.bytes().all(|byte| byte.is_ascii_digit());
    if !(digits(whole, 7) && digits(part, 4)) {
        let expected = expects("price").unwrap_or_default();
        problems.value(&Path::Field(path, "price"), format!("{text:?}"), expected, None);
    }
}

impl Catalogue {
    /// The format's JSON Schema (2020-12). It knows fields, kinds and words; whether a number makes sense is for
    /// [`Catalogue::from_json`] to say.
    pub fn json_schema() -> schemars::Schema {
        schemars::schema_for!(Self)
    }
}
