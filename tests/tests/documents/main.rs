//! The documents in `docs/` against the code: worked examples are recomputed, examples of files conform to their
//! schemas, and every call and problem of the protocol is listed.

mod formats;
mod model_examples;
mod protocol;

use std::path::{Path, PathBuf};

/// The workspace's folder.
fn root() -> PathBuf {
    Path::new(env!("CARGO_MANIFEST_DIR")).parent().unwrap().to_owned()
}

fn document(name: &str) -> String {
    let path = root().join("docs").join(name);
    std::fs::read_to_string(&path).unwrap_or_else(|error| panic!("{}: {error}", path.display()))
}

/// The text of each fenced block whose info string begins with `kind` and a space, with the rest of that string.
fn blocks(text: &str, kind: &str) -> Vec<(String, String)> {
    let mut found = Vec::new();
    let mut lines = text.lines();
    while let Some(line) = lines.next() {
        let info = line.strip_prefix("```").and_then(|info| info.strip_prefix(kind)?.strip_prefix(' '));
        let Some(name) = info else { continue };
        let body: Vec<&str> = lines.by_ref().take_while(|line| *line != "```").collect();
        found.push((name.trim().to_owned(), body.join("\n")));
    }
    found
}
