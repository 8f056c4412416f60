//! Who may send: names and tokens.

use crate::database::{Database, DatabaseError, Statement};
use crate::secret::{NoChance, secret, sha256};
use steerwright_metrology::timestamp::Timestamp;

/// A sender that is known.
#[derive(Debug, Clone, Copy, PartialEq, Eq, Hash, PartialOrd, Ord)]
pub struct Sender(pub i64);

/// Why a name was not added.
#[derive(Debug, thiserror::Error)]
pub enum AddError {
    /// Not 1 to 80 characters in one line.
    #[error("a name has 1 to 80 characters, all in one line")]
    Name,
    /// There already.
    #[error("{0:?} is there already")]
    Taken(String),
    /// Too short or too long.
    #[error("a password has 12 to 200 characters")]
    Password,
    /// argon2 did not take it.
    #[error("the password cannot be hashed")]
    Hash,
    /// No random bytes.
    #[error(transparent)]
    Chance(#[from] NoChance),
    /// The database.
    #[error(transparent)]
    Database(#[from] DatabaseError),
}

/// A name as it is kept.
///
/// # Errors
/// [`AddError::Name`].
pub(crate) fn sound_name(name: &str) -> Result<&str, AddError> {
    let name = name.trim();
    let sound = (1..=80).contains(&name.chars().count()) && !name.chars().any(char::is_control);
    sound.then_some(name).ok_or(AddError::Name)
}

/// Adds a sender and gives its token, which is nowhere else: only its hash is kept.
///
/// # Errors
/// A name that is none or taken, no random bytes, or the database.
pub async fn add(database: &Database, name: &str, now: Timestamp) -> Result<String, AddError> {
    let name = sound_name(name)?;
    let token = secret()?;
    let added = database
        .one(Statement::new(
            "INSERT INTO senders (name, token_hash, added_at) VALUES ($1, $2, $3) ON CONFLICT (name) DO NOTHING",
            [name.into(), sha256(token.as_bytes()).into(), now.0.into()],
        ))
        .await?;
    if added.count == 0 {
        return Err(AddError::Taken(name.to_owned()));
    }
    Ok(token)
}

/// Closes a sender: its token is refused from now on, its requests stay. Whether there was one that was open.
///
/// # Errors
/// The database.
pub async fn close(database: &Database, name: &str, now: Timestamp) -> Result<bool, DatabaseError> {
    let closed = database
        .one(Statement::new(
            "UPDATE senders SET closed_at = $1 WHERE name = $2 AND closed_at IS NULL",
            [now.0.into(), name.trim().into()],
        ))
        .await?;
    Ok(closed.count == 1)
}

/// The sender of a token. The row is looked up by the token's hash, so the time that takes tells nothing of the token;
/// the hash is of 256 random bits, so no salt is needed.
///
/// # Errors
/// The database.
pub async fn of_token(database: &Database, token: &str) -> Result<Option<Sender>, DatabaseError> {
    let hash = sha256(token.as_bytes());
    let found = database
        .one(Statement::new(
            "SELECT number, token_hash FROM senders WHERE token_hash = $1 AND closed_at IS NULL",
            [hash.into()],
        ))
        .await?;
    let Some(mut row) = found.rows.into_iter().next() else { return Ok(None) };
    let (number, kept) = (row.int()?, row.bytes()?);
    let same: bool = subtle::ConstantTimeEq::ct_eq(kept.as_slice(), hash.as_slice()).into();
    Ok(same.then_some(Sender(number)))
}
