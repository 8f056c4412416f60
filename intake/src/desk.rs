//! What shopkeepers note for one another: who has a request in hand, notes, when somebody looked, and the shop's own texts.

use crate::audit;
use crate::database::{Database, DatabaseError, Row, Statement};
use steerwright_metrology::timestamp::Timestamp;

/// A shopkeeper's note.
#[derive(Debug, Clone, PartialEq, Eq)]
pub struct Note {
    /// The text.
    pub text: String,
    /// Who wrote it.
    pub written_by: String,
    /// When.
    pub at: Timestamp,
}

/// The most characters of a note or a text of the shop's.
pub const MOST_CHARS: usize = 2_000;
/// The most characters of the name of a text.
pub const MOST_NAME_CHARS: usize = 80;

/// Writes a note. Returns false if there is no such request, or who asked is erased: then nothing more is noted.
///
/// # Errors
/// The database.
pub async fn write_note(
    database: &Database,
    request: i64,
    text: &str,
    written_by: &str,
    now: Timestamp,
) -> Result<bool, DatabaseError> {
    let written = database
        .run_one(Statement::new(
            "INSERT INTO notes (text, written_by, at, request)
             SELECT $1, $2, $3, number FROM requests WHERE number = $4 AND erased_at IS NULL",
            [text.into(), written_by.into(), now.0.into(), request.into()],
        ))
        .await?;
    Ok(written.count == 1)
}

/// The notes on a request, newest first.
///
/// # Errors
/// The database.
pub async fn notes(database: &Database, request: i64) -> Result<Vec<Note>, DatabaseError> {
    let found = database
        .run_one(Statement::new(
            "SELECT text, written_by, at FROM notes WHERE request = $1 ORDER BY number DESC",
            [request.into()],
        ))
        .await?;
    let note =
        |mut row: Row| Ok(Note { text: row.text()?, written_by: row.text()?, at: Timestamp(row.int()?) });
    found.rows.into_iter().map(note).collect()
}

/// Notes who has a request in hand: `who`, or nobody.
///
/// # Errors
/// The database.
pub async fn take_in_hand(
    database: &Database,
    request: i64,
    who: Option<&str>,
    by: &str,
    now: Timestamp,
) -> Result<(), DatabaseError> {
    let did = if who.is_some() { "took in hand request" } else { "put down request" };
    let statements = vec![
        Statement::new("UPDATE requests SET in_hand = $1 WHERE number = $2", [who.into(), request.into()])
            .expecting_one_row(),
        audit::note(by, did, request.to_string(), now),
    ];
    database.transaction(statements).await?;
    Ok(())
}

/// What was done to a request beside answering it, newest first.
///
/// # Errors
/// The database.
pub async fn deeds(database: &Database, request: i64) -> Result<Vec<audit::Entry>, DatabaseError> {
    let found = database
        .run_one(Statement::new(
            "SELECT at, who, did, about FROM audit WHERE about = $1 AND did LIKE '% request' ORDER BY number DESC",
            [request.to_string().into()],
        ))
        .await?;
    let entry = |mut row: Row| {
        Ok(audit::Entry { at: Timestamp(row.int()?), who: row.text()?, did: row.text()?, about: row.text()? })
    };
    found.rows.into_iter().map(entry).collect()
}

/// Notes that a shopkeeper looks at a request.
///
/// # Errors
/// The database.
pub async fn look(
    database: &Database,
    shopkeeper: i64,
    request: i64,
    now: Timestamp,
) -> Result<(), DatabaseError> {
    database
        .run_one(Statement::new(
            "INSERT INTO looks (shopkeeper, request, at) VALUES ($1, $2, $3)
             ON CONFLICT (shopkeeper, request) DO UPDATE SET at = excluded.at",
            [shopkeeper.into(), request.into(), now.0.into()],
        ))
        .await?;
    Ok(())
}

/// One of the shop's own texts for answers.
#[derive(Debug, Clone, PartialEq, Eq)]
pub struct Template {
    /// Its name.
    pub name: String,
    /// The text.
    pub text: String,
}

/// The shop's texts, by name.
///
/// # Errors
/// The database.
pub async fn templates(database: &Database) -> Result<Vec<Template>, DatabaseError> {
    let found =
        database.run_one(Statement::new("SELECT name, text FROM templates ORDER BY name", [])).await?;
    let template = |mut row: Row| Ok(Template { name: row.text()?, text: row.text()? });
    found.rows.into_iter().map(template).collect()
}

/// Writes a text, or replaces the one of this name; an empty text removes it.
///
/// # Errors
/// The database.
pub async fn write_template(
    database: &Database,
    Template { name, text }: &Template,
    by: &str,
    now: Timestamp,
) -> Result<(), DatabaseError> {
    let (statement, did) = if text.is_empty() {
        (Statement::new("DELETE FROM templates WHERE name = $1", [name.as_str().into()]), "removed the text")
    } else {
        let statement = Statement::new(
            "INSERT INTO templates (name, text) VALUES ($1, $2) ON CONFLICT (name) DO UPDATE SET text = excluded.text",
            [name.as_str().into(), text.as_str().into()],
        );
        (statement, "wrote the text")
    };
    database.transaction(vec![statement, audit::note(by, did, name.as_str(), now)]).await?;
    Ok(())
}
