//! What was done to accounts and to stored data, by whom and when.

use crate::database::{Database, DatabaseError, Row, Statement};
use steerwright_metrology::timestamp::Timestamp;

/// Who a change on the command line is noted for.
pub const COMMAND_LINE: &str = "the command line";
/// Who a change by a setting is noted for.
pub const SETTING: &str = "a setting";

/// The statement that notes something done, for the transaction that does it.
pub(crate) fn note(who: &str, did: &'static str, about: impl Into<String>, now: Timestamp) -> Statement {
    Statement::new(
        "INSERT INTO audit (at, who, did, about) VALUES ($1, $2, $3, $4)",
        [now.0.into(), who.into(), did.into(), about.into().into()],
    )
}

/// One thing done.
#[derive(Debug, Clone, PartialEq, Eq)]
pub struct Entry {
    /// When.
    pub at: Timestamp,
    /// The shopkeeper's name, [`COMMAND_LINE`] or [`SETTING`].
    pub who: String,
    /// What was done.
    pub did: String,
    /// The account or request.
    pub about: String,
}

/// At most `limit` entries, newest first.
///
/// # Errors
/// The database.
pub async fn entries(database: &Database, limit: i64) -> Result<Vec<Entry>, DatabaseError> {
    let found = database
        .run_one(Statement::new(
            "SELECT at, who, did, about FROM audit ORDER BY number DESC LIMIT $1",
            [limit.into()],
        ))
        .await?;
    let entry = |mut row: Row| {
        Ok(Entry { at: Timestamp(row.int()?), who: row.text()?, did: row.text()?, about: row.text()? })
    };
    found.rows.into_iter().map(entry).collect()
}
