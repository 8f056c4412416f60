//! Senders: programs that may send requests, identified by a bearer token.

use crate::crypto::{RandomnessError, new_token, sha256};
use crate::database::{Database, DatabaseError, Statement};
use steerwright_metrology::timestamp::Timestamp;

/// The key of a sender.
#[derive(Debug, Clone, Copy, PartialEq, Eq, Hash, PartialOrd, Ord)]
pub struct Sender(pub i64);

/// Why a sender or shopkeeper was not added.
#[derive(Debug, thiserror::Error)]
pub enum AddError {
    /// The name is empty, longer than 80 characters or not a single line.
    #[error("a name has 1 to 80 characters, all in one line")]
    Name,
    /// The name is already in use.
    #[error("{0:?} is there already")]
    Taken(String),
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
/// [`AddError::Name`].
pub(crate) fn validated_name(name: &str) -> Result<&str, AddError> {
    let name = name.trim();
    let valid = (1..=80).contains(&name.chars().count()) && steerwright_input::first_hidden(name).is_none();
    valid.then_some(name).ok_or(AddError::Name)
}

/// Adds a sender and returns its token. Only the token's hash is stored.
///
/// # Errors
/// An invalid or taken name, no random bytes, or the database.
pub async fn add(database: &Database, name: &str, now: Timestamp) -> Result<String, AddError> {
    let name = validated_name(name)?;
    let token = new_token()?;
    let added = database
        .run_one(Statement::new(
            "INSERT INTO senders (name, token_hash, added_at) VALUES ($1, $2, $3) ON CONFLICT (name) DO NOTHING",
            [name.into(), sha256(token.as_bytes()).into(), now.0.into()],
        ))
        .await?;
    if added.count == 0 {
        return Err(AddError::Taken(name.to_owned()));
    }
    Ok(token)
}

/// Closes a sender: its token is rejected from then on, its requests stay. Returns whether there was an open
/// sender with this name.
///
/// # Errors
/// The database.
pub async fn close(database: &Database, name: &str, now: Timestamp) -> Result<bool, DatabaseError> {
    let closed = database
        .run_one(Statement::new(
            "UPDATE senders SET closed_at = $1 WHERE name = $2 AND closed_at IS NULL",
            [now.0.into(), name.trim().into()],
        ))
        .await?;
    Ok(closed.count == 1)
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
