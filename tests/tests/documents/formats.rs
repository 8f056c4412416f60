//! The examples of `docs/formats.md` conform to the schemas they are named after, and the core reads those of its
//! formats.

use super::{blocks, document, root};
use serde_json::Value;
use std::collections::BTreeMap;
use std::path::Path;
use steerwright_core::bike::Bike;
use steerwright_core::catalogue::Catalogue;
use steerwright_core::photogrammetry::measure::Marks;
use steerwright_core::protocol::wire::{OrderMessage, OrderRequest};

/// Every schema file under the core, by its name without `.schema.json`.
fn schemas() -> BTreeMap<String, Value> {
    fn look(folder: &Path, found: &mut BTreeMap<String, Value>) {
        for entry in std::fs::read_dir(folder).unwrap() {
            let path = entry.unwrap().path();
            let name = path.file_name().unwrap().to_string_lossy().into_owned();
            if path.is_dir() && name != "target" {
                look(&path, found);
            } else if let Some(format) = name.strip_suffix(".schema.json") {
                let text = std::fs::read_to_string(&path).unwrap();
                found.insert(format.to_owned(), serde_json::from_str(&text).unwrap());
            }
        }
    }
    let mut found = BTreeMap::new();
    look(&root().join("core"), &mut found);
    found
}

#[test]
fn every_format_has_an_example_that_follows_its_schema() {
    let (schemas, examples) = (schemas(), blocks(&document("formats.md"), "json"));
    let mut named: Vec<&String> = examples.iter().map(|(name, _)| name).collect();
    named.sort();
    assert_eq!(named, schemas.keys().collect::<Vec<_>>());
    for (name, text) in &examples {
        let example: Value = serde_json::from_str(text).unwrap();
        let validator = jsonschema::validator_for(&schemas[name]).unwrap();
        let problems: Vec<String> = validator.iter_errors(&example).map(|error| error.to_string()).collect();
        assert!(problems.is_empty(), "{name}: {problems:?}");
    }
}

#[test]
fn what_the_core_reads_it_reads() {
    let mut read = 0;
    for (name, text) in blocks(&document("formats.md"), "json") {
        let problems = match name.as_str() {
            "bike-1" => Bike::from_json(text.as_bytes(), &name).err(),
            "catalogue-1" => Catalogue::from_json(text.as_bytes(), &name).err(),
            "marks-1" => Marks::from_json(text.as_bytes(), &name).err(),
            "order-request-1" => OrderRequest::from_json(text.as_bytes(), &name).err(),
            "order-message-1" => OrderMessage::from_json(text.as_bytes(), &name).err(),
            _ => continue,
        };
        assert!(problems.is_none(), "{}", problems.unwrap());
        read += 1;
    }
    assert_eq!(read, 5);
}
