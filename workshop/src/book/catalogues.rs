//! Catalogues and keys of makers.

use super::args::Catalogue;
use super::done::Done;
use crate::fault::Fault;
use crate::{input, output, text};
use serde_json::json;
use std::path::Path;
use steerwright_core::book::{BookError, CatalogueImport, FieldBook, Op, PublicKey};

/// Size limit for a signature or key file. A valid one has some hundred characters.
const MOST_SIGNATURE_BYTES: usize = 4096;

pub(super) fn list(book: &FieldBook, json: bool) -> Result<(), Fault> {
    let makers = book.read().makers()?;
    if json {
        return output::print_json(&json!({ "makers": makers }));
    }
    output::print(&text::book::catalogues(&makers))
}

pub(super) fn change(book: &mut FieldBook, call: &Catalogue, json: bool) -> Result<(), Fault> {
    match call {
        Catalogue::Import { file, signature, older } => {
            import(book, file, signature.as_deref(), *older, json)
        }
        Catalogue::Trust { maker, key, .. } => trust(book, maker, key.as_deref(), json),
    }
}

/// Whether what the call brings in is right, as far as that can be told without a book.
pub(super) fn check(call: &Catalogue) -> Result<(), Fault> {
    match call {
        Catalogue::Import { file, .. } => input::catalogue(file).map(drop),
        Catalogue::Trust { key, .. } => Ok(key.as_deref().map(PublicKey::read).transpose().map(drop)?),
    }
}

fn import(
    book: &mut FieldBook,
    file: &Path,
    signature: Option<&Path>,
    older: bool,
    json: bool,
) -> Result<(), Fault> {
    if input::is_stdin(file) && signature.is_some_and(input::is_stdin) {
        return Err(Fault::Words("only one file can come from standard input (-)".to_owned()));
    }
    let (name, bytes) = input::bytes(file, steerwright_core::catalogue::Catalogue::MOST_BYTES)?;
    let signature = signature.map(|path| input::bytes(path, MOST_SIGNATURE_BYTES)).transpose()?;
    let signature = signature
        .map(|(name, bytes)| {
            String::from_utf8(bytes).map_err(|_| {
                Fault::Input(format!("{name}: expected a signature in hexadecimal digits or base64"))
            })
        })
        .transpose()?;
    let incoming =
        CatalogueImport { bytes: &bytes, file: &name, signature: signature.as_deref(), allow_older: older };
    let result = book.transact(Op::ImportCatalogue, |work| work.import_catalogue(&incoming));
    // A refusal is caused by the catalogue file or its signature, so it is an input error, not a usage error.
    let imported = match result {
        Ok(outcome) => outcome.output,
        Err(BookError::Refused(said)) => {
            let hint = if said.id == "catalogue.older" { ": --older does" } else { "" };
            return Err(Fault::Input(format!("{said}{hint}")));
        }
        Err(other) => return Err(other.into()),
    };
    let done = Done::new(Op::ImportCatalogue, imported.text).with("maker", imported.maker);
    let done = done.with("number", imported.number).with("signature_status", imported.signature_status);
    done.with("new", imported.new).print(json)
}

fn trust(book: &mut FieldBook, maker: &str, key: Option<&str>, json: bool) -> Result<(), Fault> {
    let key = key.map(PublicKey::read).transpose()?;
    book.transact(Op::PinMaker, |work| work.pin_maker(maker, key.as_ref()))?;
    let maker = maker.trim();
    let makers = book.read().makers()?;
    let used = makers.iter().find(|row| row.maker == maker);
    let used = used.and_then(|row| row.catalogues.iter().find(|catalogue| catalogue.in_use));
    let mut text = match key {
        Some(_) => format!("Catalogues of {maker} have to be signed with this key from now on."),
        None => format!("No key of {maker} is trusted now."),
    };
    match used {
        Some(row) => {
            text.push_str(&format!(" Number {}, in use: {}", row.number, row.signature_status.description()))
        }
        None => text.push_str(" The book has no catalogue of this maker yet."),
    }
    let done = Done::new(Op::PinMaker, text).with("maker", maker).with("key", key);
    done.with("signature_status", used.map(|row| row.signature_status)).print(json)
}
