//! Snapshots of what the command prints, under `tests/data/golden`.
//!
//! `INSTA_UPDATE=always cargo test --workspace` writes them again; every change then has to be reviewed.

use insta::{Settings, assert_snapshot};
use std::path::Path;

/// Compares a text exactly with the snapshot `tests/data/golden/{name}.snap`; the name may have a folder.
#[track_caller]
pub(crate) fn assert_text(name: &str, text: &str) {
    let golden = Path::new(env!("CARGO_MANIFEST_DIR")).join("../tests/data/golden");
    let (folder, name) = name.rsplit_once('/').unwrap_or(("", name));
    let mut settings = Settings::clone_current();
    settings.set_snapshot_path(golden.join(folder));
    settings.set_prepend_module_to_snapshot(false);
    settings.set_omit_expression(true);
    settings.bind(|| assert_snapshot!(name, text));
}
