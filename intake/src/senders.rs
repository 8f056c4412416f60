//! Senders: programs that may send requests, identified by a bearer token.

use crate::audit;
use crate::crypto::{RandomnessError, new_token, sha256};
use crate::database::{Database, DatabaseError, Row, Statement};
use steerwright_metrology::timestamp::Timestamp;

/// The key of a sender.
#[derive(Debug, Clone, Copy, PartialEq, Eq, Hash, PartialOrd, Ord)]
pub struct Sender(pub i64);

/// Why a sender or shopkeeper was not added or changed.
#[derive(Debug, thiserror::Error)]
pub enum AccountError {
    /// The name is empty, longer than 80 characters or not a single line.
    #[error("a name has 1 to 80 characters, all in one line")]
    Name,
    /// The name is already in use.
    #[error("{0:?} is there already")]
    Taken(String),
    /// No account has the name.
    #[error("there is no {0} {1:?}")]
    Missing(&'static str, String),
    /// The sender has requests.
    #[error("{0:?} has stored requests ({1}): close it, or delete those first")]
    HasRequests(String, i64),
    /// The password is too short or too long.
    #[error("a password has 12 to 200 characters")]
    Password,
    /// Hashing with argon2 failed.
    #[error("the password cannot be hashed")]
    Hash,
    /// No random bytes are available.
    #[error(transparent)]
    Randomness(#[from] RandomnessError),
    /// Error of the database.
    #[error(transparent)]
    Database(#[from] DatabaseError),
}

/// Trims and validates a name.
///
/// # Errors
/// [`AccountError::Name`].
pub(crate) fn validated_name(name: &str) -> Result<&str, AccountError> {
    let name = name.trim();
    let valid = (1..=80).contains(&name.chars().count()) && steerwright_input::first_hidden(name).is_none();
    valid.then_some(name).ok_or(AccountError::Name)
}

/// Adds a sender and returns its token. Only the token's hash is stored.
///
/// # Errors
/// An invalid or taken name, no random bytes, or the database.
pub async fn add(database: &Database, name: &str, now: Timestamp) -> Result<String, AccountError> {
    let name = validated_name(name)?;
    let token = new_token()?;
    let add = Statement::new(
        "INSERT INTO senders (name, token_hash, added_at) VALUES ($1, $2, $3) ON CONFLICT (name) DO NOTHING",
        [name.into(), sha256(token.as_bytes()).into(), now.0.into()],
    );
    let noted = audit::note(audit::COMMAND_LINE, "added sender", name, now);
    changed(database, vec![add.expecting_one_row(), noted], AccountError::Taken(name.to_owned())).await?;
    Ok(token)
}

/// Runs a change whose first statement has to change a row; if it does not, the error is `otherwise`.
pub(crate) async fn changed(
    database: &Database,
    statements: Vec<Statement>,
    otherwise: AccountError,
) -> Result<(), AccountError> {
    match database.transaction(statements).await {
        Ok(_) => Ok(()),
        Err(DatabaseError::Conflict) => Err(otherwise),
        Err(error) => Err(error.into()),
    }
}

/// Closes a sender: its token is rejected from then on, its requests stay.
///
/// # Errors
/// No open sender has the name; the database.
pub async fn close(database: &Database, name: &str, now: Timestamp) -> Result<(), AccountError> {
    let name = name.trim();
    let close = Statement::new(
        "UPDATE senders SET closed_at = $1 WHERE name = $2 AND closed_at IS NULL",
        [now.0.into(), name.into()],
    );
    let noted = audit::note(audit::COMMAND_LINE, "closed sender", name, now);
    let missing = AccountError::Missing("open sender", name.to_owned());
    changed(database, vec![close.expecting_one_row(), noted], missing).await
}

/// Gives a sender another token; the one before ends, and a sender that was closed is open again. Its requests stay its own.
///
/// # Errors
/// No sender has the name, no random bytes, or the database.
pub async fn replace_token(database: &Database, name: &str, now: Timestamp) -> Result<String, AccountError> {
    let (name, token) = (name.trim(), new_token()?);
    let replace = Statement::new(
        "UPDATE senders SET token_hash = $1, closed_at = NULL WHERE name = $2",
        [sha256(token.as_bytes()).into(), name.into()],
    );
    let noted = audit::note(audit::COMMAND_LINE, "gave a new token to sender", name, now);
    let missing = AccountError::Missing("sender", name.to_owned());
    changed(database, vec![replace.expecting_one_row(), noted], missing).await?;
    Ok(token)
}

/// Gives a sender another name.
///
/// # Errors
/// An invalid or taken name, no sender of the name, or the database.
pub async fn rename(database: &Database, name: &str, to: &str, now: Timestamp) -> Result<(), AccountError> {
    let (name, to) = (name.trim(), validated_name(to)?);
    let taken = Statement::new("SELECT number FROM senders WHERE name = $1", [to.into()]);
    if name != to && database.run_one(taken).await?.count > 0 {
        return Err(AccountError::Taken(to.to_owned()));
    }
    let rename = Statement::new("UPDATE senders SET name = $1 WHERE name = $2", [to.into(), name.into()]);
    let noted = audit::note(audit::COMMAND_LINE, "renamed sender", format!("{name}, now {to}"), now);
    let missing = AccountError::Missing("sender", name.to_owned());
    changed(database, vec![rename.expecting_one_row(), noted], missing).await
}

/// Removes a sender that has no stored requests, and its photos.
///
/// # Errors
/// No sender has the name, or it has requests; the database.
pub async fn remove(database: &Database, name: &str, now: Timestamp) -> Result<(), AccountError> {
    let name = name.trim();
    let counted = Statement::new(
        "SELECT count(*) FROM requests r JOIN senders s ON s.number = r.sender WHERE s.name = $1",
        [name.into()],
    );
    let requests = database.run_one(counted).await?.rows.pop().map_or(Ok(0), |mut row| row.int())?;
    if requests > 0 {
        return Err(AccountError::HasRequests(name.to_owned(), requests));
    }
    // Objects of its photos have no row then, so the sweeper removes them.
    let of = |sql| Statement::new(sql, [name.into()]);
    let statements = vec![
        of("UPDATE senders SET closed_at = added_at WHERE name = $1").expecting_one_row(),
        of("DELETE FROM photo_parts WHERE sender = (SELECT number FROM senders WHERE name = $1)"),
        of("DELETE FROM photos WHERE sender = (SELECT number FROM senders WHERE name = $1)"),
        of("DELETE FROM claims WHERE sender = (SELECT number FROM senders WHERE name = $1)"),
        of("DELETE FROM senders WHERE name = $1"),
        audit::note(audit::COMMAND_LINE, "removed sender", name, now),
    ];
    changed(database, statements, AccountError::Missing("sender", name.to_owned())).await
}

/// A sender as a list shows it.
#[derive(Debug, Clone, PartialEq, Eq)]
pub struct SenderSummary {
    /// Its name.
    pub name: String,
    /// When it was added.
    pub added_at: Timestamp,
    /// When it was closed.
    pub closed_at: Option<Timestamp>,
    /// The number of its stored requests.
    pub requests: i64,
    /// When the last of them came.
    pub last_at: Option<Timestamp>,
}

/// All senders, by name.
///
/// # Errors
/// The database.
pub async fn list(database: &Database) -> Result<Vec<SenderSummary>, DatabaseError> {
    let found = database
        .run_one(Statement::new(
            "SELECT s.name, s.added_at, s.closed_at, count(r.number), max(r.received_at)
             FROM senders s LEFT JOIN requests r ON r.sender = s.number
             GROUP BY s.number, s.name, s.added_at, s.closed_at ORDER BY s.name",
            [],
        ))
        .await?;
    let summary = |mut row: Row| {
        Ok(SenderSummary {
            name: row.text()?,
            added_at: Timestamp(row.int()?),
            closed_at: row.maybe_int()?.map(Timestamp),
            requests: row.int()?,
            last_at: row.maybe_int()?.map(Timestamp),
        })
    };
    found.rows.into_iter().map(summary).collect()
}

/// The open sender of a token. The lookup uses the token's hash, so that its timing reveals nothing about the
/// token. The token has 256 random bits, so the hash needs no salt.
///
/// # Errors
/// The database.
pub async fn find_by_token(database: &Database, token: &str) -> Result<Option<Sender>, DatabaseError> {
    let hash = sha256(token.as_bytes());
    let found = database
        .run_one(Statement::new(
            "SELECT number, token_hash FROM senders WHERE token_hash = $1 AND closed_at IS NULL",
            [hash.into()],
        ))
        .await?;
    let Some(mut row) = found.rows.into_iter().next() else { return Ok(None) };
    let (number, stored) = (row.int()?, row.bytes()?);
    let same: bool = subtle::ConstantTimeEq::ct_eq(stored.as_slice(), hash.as_slice()).into();
    Ok(same.then_some(Sender(number)))
}
