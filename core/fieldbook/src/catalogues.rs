//! Makers' catalogues: every imported number is kept, the newest is used.

use super::error::Inner;
use super::signature::{self, PublicKey, SignatureStatus};
use super::stored::EnumText;
use super::text::{self, Lines};
use super::{BookError, Reader, Timestamp, Work};
use rusqlite::{Connection, OptionalExtension, params};
use serde::Serialize;
use sha2::{Digest, Sha256};
use steerwright_fit::catalogue::Catalogue;

/// A catalogue file to import.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub struct CatalogueImport<'f> {
    /// The file, byte for byte.
    pub bytes: &'f [u8],
    /// Its name in messages.
    pub file: &'f str,
    /// The maker's detached Ed25519 signature over those bytes, in hexadecimal digits or base64.
    pub signature: Option<&'f str>,
    /// Whether the user requested to go back to an older number than the one in use.
    pub allow_older: bool,
}

/// The result of an import.
#[derive(Debug, Clone, PartialEq, Eq, Serialize)]
pub struct ImportedCatalogue {
    /// Its maker.
    pub maker: String,
    /// Its number.
    pub number: u32,
    /// The status of its signature.
    pub signature_status: SignatureStatus,
    /// False if the identical file was in the book already.
    pub new: bool,
    /// The result in a sentence or two.
    pub text: String,
}

/// A stored catalogue.
#[derive(Debug, Clone, PartialEq, Eq, Serialize)]
pub struct CatalogueRow {
    /// Its number.
    pub number: u32,
    /// Date of issue.
    pub issued: String,
    /// Number of kits.
    pub kits: u32,
    /// The status of its signature.
    pub signature_status: SignatureStatus,
    /// When it was imported.
    pub imported_at: Timestamp,
    /// Whether it is in use.
    pub in_use: bool,
}

/// A maker with its stored catalogues.
#[derive(Debug, Clone, PartialEq, Eq, Serialize)]
pub struct MakerRow {
    /// The maker, as spelled in its catalogues.
    pub maker: String,
    /// The key that the user pinned.
    pub pinned: Option<PublicKey>,
    /// The catalogues, the highest number first.
    pub catalogues: Vec<CatalogueRow>,
}

/// The signature status of a file.
fn signature_status(
    bytes: &[u8],
    signature: Option<&[u8; 64]>,
    pinned: Option<&PublicKey>,
) -> SignatureStatus {
    match (signature, pinned) {
        (None, None) => SignatureStatus::Unsigned,
        (None, Some(_)) => SignatureStatus::UnsignedThoughPinned,
        (Some(_), None) => SignatureStatus::Unchecked,
        (Some(signature), Some(key)) if key.signed(bytes, signature) => SignatureStatus::Verified,
        (Some(_), Some(_)) => SignatureStatus::OtherKey,
    }
}

struct Maker {
    key: i64,
    pinned: Option<PublicKey>,
    in_use: Option<(i64, u32)>,
}

fn maker(conn: &Connection, name: &str) -> Result<Option<Maker>, Inner> {
    let row = conn
        .prepare_cached(
            "SELECT m.key, m.pinned, c.key, c.number FROM makers m LEFT JOIN catalogues c ON c.key = m.in_use
             WHERE m.name = ?1",
        )?
        .query_row([name], |row| {
            let used: (Option<i64>, Option<u32>) = (row.get(2)?, row.get(3)?);
            Ok(Maker { key: row.get(0)?, pinned: row.get(1)?, in_use: used.0.zip(used.1) })
        })
        .optional()?;
    Ok(row)
}

fn maker_or_new(conn: &Connection, name: &str) -> Result<Maker, Inner> {
    if let Some(maker) = maker(conn, name)? {
        return Ok(maker);
    }
    conn.execute("INSERT INTO makers (name) VALUES (?1)", [name])?;
    Ok(Maker { key: conn.last_insert_rowid(), pinned: None, in_use: None })
}

/// The catalogue stored under a number.
struct StoredCatalogue {
    key: i64,
    sha256: [u8; 32],
    signature: Option<[u8; 64]>,
}

fn kept(conn: &Connection, maker: i64, number: u32) -> Result<Option<StoredCatalogue>, Inner> {
    let row = conn
        .prepare_cached("SELECT key, sha256, signature FROM catalogues WHERE maker = ?1 AND number = ?2")?
        .query_row([maker, i64::from(number)], |row| {
            Ok(StoredCatalogue { key: row.get(0)?, sha256: row.get(1)?, signature: row.get(2)? })
        })
        .optional()?;
    Ok(row)
}

fn import(work: &mut Work<'_>, incoming: &CatalogueImport<'_>) -> Result<ImportedCatalogue, Inner> {
    let catalogue = Catalogue::from_json(incoming.bytes, incoming.file)?;
    work.back_up_before_import(catalogue.kits.len())?;
    let signature = incoming.signature.map(signature::signature).transpose()?;
    let (name, number) = (&catalogue.maker, catalogue.number);
    let maker = maker_or_new(work.tx(), name)?;
    let signature_status = signature_status(incoming.bytes, signature.as_ref(), maker.pinned.as_ref());
    if signature_status == SignatureStatus::OtherKey {
        let reason = format!(
            "{}: the signature was not made by {name} with the key you pinned over this file; it was not imported",
            incoming.file
        );
        return Err(Inner::rule("catalogue.other_key", reason).with("maker", name.as_str()));
    }
    let sha256: [u8; 32] = Sha256::digest(incoming.bytes).into();
    let there = kept(work.tx(), maker.key, number)?;
    if there.as_ref().is_some_and(|there| there.sha256 != sha256) {
        let reason = format!(
            "another file with number {number} of {name} is here already; a changed catalogue needs a new number"
        );
        return Err(Inner::rule("catalogue.number_taken", reason)
            .with("maker", name.as_str())
            .with("number", number));
    }
    if let Some((_, used)) = maker.in_use
        && number < used
        && !incoming.allow_older
    {
        let reason = format!(
            "number {number} of {name} is older than number {used}, which is in use; going back has to be asked for"
        );
        return Err(Inner::rule("catalogue.older", reason)
            .with("maker", name.as_str())
            .with("number", number)
            .with("used", used));
    }
    let new = there.is_none();
    // Importing the same file without a signature does not remove the stored signature.
    let (signature, signature_status) = match there.as_ref().and_then(|there| there.signature) {
        Some(before) if signature.is_none() => {
            let again = self::signature_status(incoming.bytes, Some(&before), maker.pinned.as_ref());
            (Some(before), again)
        }
        _ => (signature, signature_status),
    };
    let key = match there {
        Some(there) => {
            if there.signature != signature {
                work.tx().execute(
                    "UPDATE catalogues SET signature = ?2, signature_status = ?3 WHERE key = ?1",
                    params![there.key, signature.as_ref().map(<[u8; 64]>::as_slice), signature_status.name()],
                )?;
            }
            there.key
        }
        None => {
            work.tx().execute(
                "INSERT INTO catalogues (maker, number, issued, kits, sha256, signature, signature_status, imported_at)
                 VALUES (?1, ?2, ?3, ?4, ?5, ?6, ?7, ?8)",
                params![
                    maker.key,
                    number,
                    catalogue.issued,
                    catalogue.kits.len(),
                    sha256.as_slice(),
                    signature.as_ref().map(<[u8; 64]>::as_slice),
                    signature_status.name(),
                    work.now()
                ],
            )?;
            let key = work.tx().last_insert_rowid();
            let file = params![key, incoming.bytes];
            work.tx().execute("INSERT INTO catalogue_files (key, bytes) VALUES (?1, ?2)", file)?;
            key
        }
    };
    if maker.in_use.map(|(used, _)| used) != Some(key) {
        work.tx().execute("UPDATE makers SET in_use = ?2 WHERE key = ?1", [maker.key, key])?;
    }
    let found = if new { "imported" } else { "was here already" };
    let text = format!("Number {number} of {name} {found} and is in use. {}", signature_status.description());
    Ok(ImportedCatalogue { maker: name.clone(), number, signature_status, new, text })
}

fn pin(work: &mut Work<'_>, name: &str, key: Option<&PublicKey>) -> Result<(), Inner> {
    let name = text::needed("the maker's name", name, text::NAME, Lines::One)?;
    let maker = maker_or_new(work.tx(), name)?;
    if maker.pinned.as_ref() == key {
        return Ok(());
    }
    let at = key.map(|_| work.now());
    work.tx().execute(
        "UPDATE makers SET pinned = ?2, pinned_at = ?3 WHERE key = ?1",
        params![maker.key, key, at],
    )?;
    let mut stands: Vec<(i64, SignatureStatus)> = Vec::new();
    {
        let mut rows = work.tx().prepare(
            "SELECT c.key, c.signature, f.bytes FROM catalogues c JOIN catalogue_files f ON f.key = c.key
             WHERE c.maker = ?1",
        )?;
        let mut rows = rows.query([maker.key])?;
        while let Some(row) = rows.next()? {
            let signature: Option<[u8; 64]> = row.get(1)?;
            let bytes = row.get_ref(2)?.as_blob().map_err(|error| Inner::Stored(error.to_string()))?;
            stands.push((row.get(0)?, signature_status(bytes, signature.as_ref(), key)));
        }
    }
    for (catalogue, signature_status) in stands {
        work.tx().execute(
            "UPDATE catalogues SET signature_status = ?2 WHERE key = ?1 AND signature_status <> ?2",
            params![catalogue, signature_status.name()],
        )?;
    }
    Ok(())
}

fn makers(conn: &Connection) -> Result<Vec<MakerRow>, Inner> {
    let mut rows = conn.prepare_cached(
        "SELECT m.name, m.pinned, c.number, c.issued, c.kits, c.signature_status, c.imported_at, c.key IS m.in_use
         FROM makers m LEFT JOIN catalogues c ON c.maker = m.key ORDER BY m.name, c.number DESC",
    )?;
    let mut rows = rows.query([])?;
    let mut makers: Vec<MakerRow> = Vec::new();
    while let Some(row) = rows.next()? {
        let maker: String = row.get(0)?;
        if makers.last().is_none_or(|last| last.maker != maker) {
            makers.push(MakerRow { maker, pinned: row.get(1)?, catalogues: Vec::new() });
        }
        let number: Option<u32> = row.get(2)?;
        if let (Some(number), Some(maker)) = (number, makers.last_mut()) {
            let EnumText(signature_status) = row.get(5)?;
            maker.catalogues.push(CatalogueRow {
                number,
                issued: row.get(3)?,
                kits: row.get(4)?,
                signature_status,
                imported_at: row.get(6)?,
                in_use: row.get(7)?,
            });
        }
    }
    Ok(makers)
}

/// Whether a catalogue with these bytes is in the book.
pub(crate) fn is_kept(conn: &Connection, sha256: &[u8; 32]) -> Result<bool, Inner> {
    Ok(conn
        .prepare_cached("SELECT EXISTS (SELECT 1 FROM catalogues WHERE sha256 = ?1)")?
        .query_row([sha256.as_slice()], |row| row.get(0))?)
}

/// The number of a maker's catalogue that is in use.
pub(crate) fn number_in_use(conn: &Connection, name: &str) -> Result<Option<u32>, Inner> {
    Ok(maker(conn, name)?.and_then(|maker| maker.in_use).map(|(_, number)| number))
}

/// A maker's catalogue: the one in use, or the one with a number.
pub(crate) fn catalogue(conn: &Connection, name: &str, number: Option<u32>) -> Result<Catalogue, Inner> {
    let missing = || Inner::NotFound {
        what: "catalogue",
        name: number.map_or_else(|| name.to_owned(), |number| format!("{name}, number {number}")),
    };
    let bytes: Vec<u8> = conn
        .prepare_cached(
            "SELECT f.bytes FROM makers m JOIN catalogues c ON c.maker = m.key JOIN catalogue_files f ON f.key = c.key
             WHERE m.name = ?1 AND CASE WHEN ?2 IS NULL THEN c.key = m.in_use ELSE c.number = ?2 END",
        )?
        .query_row(params![name, number], |row| row.get(0))
        .optional()?
        .ok_or_else(missing)?;
    // It was valid when it was imported: if it cannot be parsed now, it was written by another program or is damaged.
    Catalogue::from_json(&bytes, name).map_err(|errors| Inner::Stored(errors.to_string()))
}

impl Work<'_> {
    /// Imports a catalogue and uses it from now on. The file is kept byte for byte together with the maker's other
    /// numbers.
    ///
    /// # Errors
    /// An invalid catalogue, a signature that the pinned key did not make, a number that exists with other contents, or
    /// one older than the one in use if that was not requested.
    pub fn import_catalogue(
        &mut self,
        incoming: &CatalogueImport<'_>,
    ) -> Result<ImportedCatalogue, BookError> {
        self.step(|work| import(work, incoming))
    }

    /// Pins the key with which a maker's catalogues are signed from now on, or removes it; the signature status of
    /// every catalogue of the maker is updated.
    ///
    /// # Errors
    /// No name.
    pub fn pin_maker(&mut self, maker: &str, key: Option<&PublicKey>) -> Result<(), BookError> {
        self.step(|work| pin(work, maker, key))
    }
}

impl Reader {
    /// Every maker with its stored catalogues, makers by name.
    ///
    /// # Errors
    /// Only those of reading.
    pub fn makers(&self) -> Result<Vec<MakerRow>, BookError> {
        self.read(makers)
    }

    /// A maker's catalogue: the one in use, or the one with a number.
    ///
    /// # Errors
    /// There is none.
    pub fn catalogue(&self, maker: &str, number: Option<u32>) -> Result<Catalogue, BookError> {
        self.read(|conn| catalogue(conn, maker, number))
    }
}
