//! Shopkeepers: the people who log in and answer. Passwords are argon2id hashes (RFC 9106).

use crate::crypto::{RandomnessError, new_token, sha256};
use crate::database::{Database, DatabaseError, Statement};
use crate::senders::{AddError, validated_name};
use argon2::password_hash::{PasswordHasher, PasswordVerifier, phc::PasswordHash};
use argon2::{Algorithm, Argon2, Params, Version};
use steerwright_metrology::timestamp::Timestamp;

/// Maximum idle time of a session, ms.
const SESSION_IDLE_MS: i64 = 2 * 3_600_000;
/// Maximum age of a session, ms.
const SESSION_MAX_MS: i64 = 12 * 3_600_000;
/// Resolution at which the time of a session's last request is stored, so that not every request causes a write, ms.
const LAST_SEEN_STEP_MS: i64 = 60_000;

/// m = 19 MiB, t = 2, p = 1. The second recommendation of RFC 9106, 4 needs 64 MiB, too much for a small
/// server; these parameters follow from its steps 3 to 5 (common practice).
fn argon2() -> Argon2<'static> {
    let params = Params::new(19 * 1024, 2, 1, None).unwrap_or_default();
    Argon2::new(Algorithm::Argon2id, Version::V0x13, params)
}

/// A session of a logged-in shopkeeper.
#[derive(Debug, Clone, PartialEq, Eq)]
pub(crate) struct Session {
    /// The shopkeeper's name.
    pub(crate) name: String,
    /// The token required in each form of the session, against cross-site request forgery.
    pub(crate) csrf_token: String,
}

/// Adds a shopkeeper. If the name exists, replaces the password and ends the existing sessions.
///
/// # Errors
/// An invalid name or password, no random bytes, or the database.
pub async fn add(database: &Database, name: &str, password: &str, now: Timestamp) -> Result<(), AddError> {
    let name = validated_name(name)?;
    if !(12..=200).contains(&password.chars().count()) {
        return Err(AddError::Password);
    }
    let hash = argon2().hash_password(password.as_bytes()).map_err(|_| AddError::Hash)?.to_string();
    database
        .transaction(vec![
            Statement::new(
                "INSERT INTO shopkeepers (name, password, added_at) VALUES ($1, $2, $3)
                 ON CONFLICT (name) DO UPDATE SET password = excluded.password",
                [name.into(), hash.into(), now.0.into()],
            ),
            Statement::new(
                "DELETE FROM sessions WHERE shopkeeper = (SELECT number FROM shopkeepers WHERE name = $1)",
                [name.into()],
            ),
        ])
        .await?;
    Ok(())
}

/// Why a login failed.
#[derive(Debug, thiserror::Error)]
pub(crate) enum LoginError {
    /// Name or password are wrong.
    #[error("name or password are wrong")]
    Wrong,
    /// Error of the database.
    #[error(transparent)]
    Database(#[from] DatabaseError),
    /// The stored password hash cannot be read or verified.
    #[error("a stored password hash: {0}")]
    Hash(#[from] argon2::password_hash::Error),
    /// The task that verifies the password panicked or was cancelled.
    #[error("the password task failed: {0}")]
    Task(#[from] tokio::task::JoinError),
    /// No random bytes are available.
    #[error(transparent)]
    Randomness(#[from] RandomnessError),
}

/// Starts a session and returns its token. Only the token's hash is stored.
///
/// # Errors
/// [`LoginError::Wrong`] for an unknown name and for a wrong password, which take the same time; the other errors.
pub(crate) async fn log_in(
    database: &Database,
    name: &str,
    password: String,
    now: Timestamp,
) -> Result<String, LoginError> {
    let found = database
        .run_one(Statement::new(
            "SELECT number, password FROM shopkeepers WHERE name = $1",
            [name.trim().into()],
        ))
        .await?;
    let account = match found.rows.into_iter().next() {
        Some(mut row) => Some((row.int()?, row.text()?)),
        None => None,
    };
    let number = account.as_ref().map(|(number, _)| *number);
    let hash = account.map(|(_, hash)| hash);
    let verified = tokio::task::spawn_blocking(move || verify(hash.as_deref(), &password)).await??;
    let (true, Some(number)) = (verified, number) else { return Err(LoginError::Wrong) };
    let (token, csrf_token) = (new_token()?, new_token()?);
    database
        .transaction(vec![
            Statement::new(
                "DELETE FROM sessions WHERE last_seen_at < $1 OR created_at < $2",
                [(now.0 - SESSION_IDLE_MS).into(), (now.0 - SESSION_MAX_MS).into()],
            ),
            Statement::new(
                "INSERT INTO sessions (token_hash, shopkeeper, csrf_token, created_at, last_seen_at)
                 VALUES ($1, $2, $3, $4, $5)",
                [
                    sha256(token.as_bytes()).into(),
                    number.into(),
                    csrf_token.into(),
                    now.0.into(),
                    now.0.into(),
                ],
            ),
        ])
        .await?;
    Ok(token)
}

/// Whether a password matches a stored hash. Without a stored hash the same work is done, so that the time
/// does not reveal which names exist.
fn verify(stored: Option<&str>, password: &str) -> Result<bool, argon2::password_hash::Error> {
    let Some(stored) = stored else {
        argon2().hash_password(password.as_bytes())?;
        return Ok(false);
    };
    match argon2().verify_password(password.as_bytes(), &PasswordHash::new(stored)?) {
        Ok(()) => Ok(true),
        Err(argon2::password_hash::Error::PasswordInvalid) => Ok(false),
        Err(error) => Err(error),
    }
}

/// The session of a token, unless it has ended.
///
/// # Errors
/// The database.
pub(crate) async fn find_session(
    database: &Database,
    token: &str,
    now: Timestamp,
) -> Result<Option<Session>, DatabaseError> {
    let hash = sha256(token.as_bytes());
    let found = database
        .run_one(Statement::new(
            "SELECT k.name, s.csrf_token, s.last_seen_at FROM sessions s JOIN shopkeepers k ON k.number = s.shopkeeper
             WHERE s.token_hash = $1 AND s.last_seen_at > $2 AND s.created_at > $3",
            [hash.into(), (now.0 - SESSION_IDLE_MS).into(), (now.0 - SESSION_MAX_MS).into()],
        ))
        .await?;
    let Some(mut row) = found.rows.into_iter().next() else { return Ok(None) };
    let session = Session { name: row.text()?, csrf_token: row.text()? };
    if row.int()? < now.0 - LAST_SEEN_STEP_MS {
        database
            .run_one(Statement::new(
                "UPDATE sessions SET last_seen_at = $1 WHERE token_hash = $2",
                [now.0.into(), hash.into()],
            ))
            .await?;
    }
    Ok(Some(session))
}

/// Ends a session.
///
/// # Errors
/// The database.
pub(crate) async fn log_out(database: &Database, token: &str) -> Result<(), DatabaseError> {
    let hash = sha256(token.as_bytes());
    database.run_one(Statement::new("DELETE FROM sessions WHERE token_hash = $1", [hash.into()])).await?;
    Ok(())
}
