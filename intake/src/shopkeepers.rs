//! Who may answer: names, passwords (argon2id, RFC 9106) and sessions.

use crate::database::{Database, DatabaseError, Statement};
use crate::secret::{NoChance, secret, sha256};
use crate::senders::{AddError, sound_name};
use argon2::password_hash::{PasswordHasher, PasswordVerifier, phc::PasswordHash};
use argon2::{Algorithm, Argon2, Params, Version};
use steerwright_metrology::timestamp::Timestamp;

/// How long a session lasts without a call, ms.
const IDLE_MS: i64 = 2 * 3_600_000;
/// How long a session lasts at most, ms.
const LONGEST_MS: i64 = 12 * 3_600_000;
/// How exactly the last call is kept, ms.
const SEEN_STEP_MS: i64 = 60_000;

/// 19 MiB, two passes, one lane: the second choice of RFC 9106, 4 needs 64 MiB, too much for a shop's small machine; these
/// are its parameters brought down as 4, step 3 to 5 says (common practice).
fn argon2() -> Argon2<'static> {
    let params = Params::new(19 * 1024, 2, 1, None).unwrap_or_default();
    Argon2::new(Algorithm::Argon2id, Version::V0x13, params)
}

/// A shopkeeper who is logged in.
#[derive(Debug, Clone, PartialEq, Eq)]
pub(crate) struct Session {
    /// Who.
    pub(crate) name: String,
    /// What each form of theirs has to repeat.
    pub(crate) form_secret: String,
}

/// Adds a shopkeeper, or gives one that is there a new password and ends their sessions.
///
/// # Errors
/// A name or password that is none, no random bytes, the database.
pub async fn add(database: &Database, name: &str, password: &str, now: Timestamp) -> Result<(), AddError> {
    let name = sound_name(name)?;
    if !(12..=200).contains(&password.chars().count()) {
        return Err(AddError::Password);
    }
    let hash = argon2().hash_password(password.as_bytes()).map_err(|_| AddError::Hash)?.to_string();
    database
        .run(vec![
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

/// Why nobody is logged in.
#[derive(Debug, thiserror::Error)]
pub(crate) enum LoginError {
    /// Name or password are wrong.
    #[error("name or password are wrong")]
    Wrong,
    /// The database.
    #[error(transparent)]
    Database(#[from] DatabaseError),
    /// No random bytes.
    #[error(transparent)]
    Chance(#[from] NoChance),
}

/// Begins a session and gives its secret; only its hash is kept.
///
/// # Errors
/// A wrong name or password, which take the same time; the database.
pub(crate) async fn log_in(
    database: &Database,
    name: &str,
    password: String,
    now: Timestamp,
) -> Result<String, LoginError> {
    let found = database
        .one(Statement::new("SELECT number, password FROM shopkeepers WHERE name = $1", [name.trim().into()]))
        .await?;
    let known = match found.rows.into_iter().next() {
        Some(mut row) => Some((row.int()?, row.text()?)),
        None => None,
    };
    let number = known.as_ref().map(|(number, _)| *number);
    let kept = known.map(|(_, kept)| kept);
    let verified = tokio::task::spawn_blocking(move || is_it(kept.as_deref(), &password));
    let (Ok(true), Some(number)) = (verified.await, number) else { return Err(LoginError::Wrong) };
    let (session, form_secret) = (secret()?, secret()?);
    database
        .run(vec![
            Statement::new(
                "DELETE FROM sessions WHERE seen_at < $1 OR began_at < $2",
                [(now.0 - IDLE_MS).into(), (now.0 - LONGEST_MS).into()],
            ),
            Statement::new(
                "INSERT INTO sessions (secret_hash, shopkeeper, form_secret, began_at, seen_at)
                 VALUES ($1, $2, $3, $4, $5)",
                [
                    sha256(session.as_bytes()).into(),
                    number.into(),
                    form_secret.into(),
                    now.0.into(),
                    now.0.into(),
                ],
            ),
        ])
        .await?;
    Ok(session)
}

/// Whether a password is the one that is kept. Where none is kept, the work is done all the same, so that the time does
/// not tell which names there are.
fn is_it(kept: Option<&str>, password: &str) -> bool {
    let hash = kept.and_then(|kept| PasswordHash::new(kept).ok());
    match hash {
        Some(hash) => argon2().verify_password(password.as_bytes(), &hash).is_ok(),
        None => {
            let _ = argon2().hash_password(password.as_bytes());
            false
        }
    }
}

/// The session of a secret, unless it is over.
///
/// # Errors
/// The database.
pub(crate) async fn session(
    database: &Database,
    secret: &str,
    now: Timestamp,
) -> Result<Option<Session>, DatabaseError> {
    let hash = sha256(secret.as_bytes());
    let found = database
        .one(Statement::new(
            "SELECT k.name, s.form_secret, s.seen_at FROM sessions s JOIN shopkeepers k ON k.number = s.shopkeeper
             WHERE s.secret_hash = $1 AND s.seen_at > $2 AND s.began_at > $3",
            [hash.into(), (now.0 - IDLE_MS).into(), (now.0 - LONGEST_MS).into()],
        ))
        .await?;
    let Some(mut row) = found.rows.into_iter().next() else { return Ok(None) };
    let session = Session { name: row.text()?, form_secret: row.text()? };
    if row.int()? < now.0 - SEEN_STEP_MS {
        database
            .one(Statement::new(
                "UPDATE sessions SET seen_at = $1 WHERE secret_hash = $2",
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
pub(crate) async fn log_out(database: &Database, secret: &str) -> Result<(), DatabaseError> {
    let hash = sha256(secret.as_bytes());
    database.one(Statement::new("DELETE FROM sessions WHERE secret_hash = $1", [hash.into()])).await?;
    Ok(())
}
