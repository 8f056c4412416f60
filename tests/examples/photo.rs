//! Ingests photos and prints the facts as JSON, for other programs to check.
//!
//! `cargo run --example photo -- FOLDER FILE...` writes the copies of the file number N to FOLDER as `N-working.jpg`,
//! `N-thumbnail.jpg`, `N-sent.jpg` (nothing kept) and `N-measured.jpg` (focal length kept).
#![expect(clippy::print_stdout, reason = "the answer of a program")]

use serde_json::{Value, json};
use std::io::Result;
use std::path::Path;
use steerwright_core::photo::{BuiltIn, IngestedPhoto, Keep, Limits, for_sending, ingest};

fn main() -> Result<()> {
    let mut words = std::env::args().skip(1);
    let folder = words.next().unwrap_or_else(|| ".".to_owned());
    let mut answers = Vec::new();
    for (number, file) in words.enumerate() {
        let bytes = std::fs::read(&file)?;
        let mut answer = match ingest(&bytes, &Limits::default(), &BuiltIn) {
            Ok(intake) => {
                taken(&bytes, intake, &|name| Path::new(&folder).join(format!("{number}-{name}.jpg")))?
            }
            Err(reason) => json!({ "refused": reason.to_string() }),
        };
        if let Some(answer) = answer.as_object_mut() {
            answer.insert("file".to_owned(), file.into());
        }
        answers.push(answer);
    }
    println!("{}", Value::Array(answers));
    Ok(())
}

fn taken(bytes: &[u8], intake: IngestedPhoto, path: &dyn Fn(&str) -> std::path::PathBuf) -> Result<Value> {
    let sent = |keep| for_sending(bytes, &Limits::default(), &BuiltIn, keep).unwrap_or_default();
    let copies = [
        ("working", intake.working),
        ("thumbnail", intake.thumbnail),
        ("sent", sent(Keep::Nothing)),
        ("measured", sent(Keep::FocalLength)),
    ];
    let mut paths = serde_json::Map::new();
    for (name, copy) in copies {
        std::fs::write(path(name), copy)?;
        paths.insert(name.to_owned(), path(name).to_string_lossy().into());
    }
    let facts = intake.facts;
    Ok(json!({
        "format": facts.format.to_string(),
        "width": facts.width,
        "height": facts.height,
        "taken_at": facts.taken_at.map(|taken| {
            let (hour, minute, second) = taken.local.as_hms();
            format!("{} {hour:02}:{minute:02}:{second:02}", taken.local.date())
        }),
        "utc_offset_minutes": facts.taken_at.and_then(|taken| taken.offset).map(|offset| offset.whole_minutes()),
        "focal_length_mm": facts.focal_length_mm,
        "focal_length_35mm": facts.focal_length_35mm,
        "camera": facts.camera,
        "sha256": intake.sha256.iter().map(|byte| format!("{byte:02x}")).collect::<String>(),
        "copies": paths,
    }))
}
