//! Shopkeepers: the people who log in and answer. Passwords are argon2id hashes (RFC 9106).

use crate::audit;
use crate::crypto::{RandomnessError, new_token, sha256};
use crate::database::{Database, DatabaseError, Row, Statement};
use crate::senders::{AccountError, changed, validated_name};
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
    /// The shopkeeper's number.
    pub(crate) number: i64,
    /// Whether the shopkeeper is an owner.
    pub(crate) owner: bool,
    /// The token required in each form of the session, against cross-site request forgery.
    pub(crate) csrf_token: String,
}

/// Adds a shopkeeper. If the name exists, replaces the password and ends the existing sessions.
///
/// # Errors
/// An invalid name or password, no random bytes, or the database.
pub async fn add(
    database: &Database,
    name: &str,
    password: &str,
    now: Timestamp,
) -> Result<(), AccountError> {
    let name = validated_name(name)?;
    let hash = hashed(password)?;
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
            audit::note(audit::COMMAND_LINE, "added shopkeeper, or gave a new password to", name, now),
        ])
        .await?;
    Ok(())
}

fn hashed(password: &str) -> Result<String, AccountError> {
    if !(12..=200).contains(&password.chars().count()) {
        return Err(AccountError::Password);
    }
    Ok(argon2().hash_password(password.as_bytes()).map_err(|_| AccountError::Hash)?.to_string())
}

/// Makes a shopkeeper an owner, who sees the state of things, or takes that back.
///
/// # Errors
/// No shopkeeper has the name; the database.
pub async fn set_owner(
    database: &Database,
    name: &str,
    owner: bool,
    now: Timestamp,
) -> Result<(), AccountError> {
    let name = name.trim();
    let set = Statement::new(
        "UPDATE shopkeepers SET owner = $1 WHERE name = $2",
        [i64::from(owner).into(), name.into()],
    );
    let did = if owner { "made an owner of shopkeeper" } else { "made no owner of shopkeeper" };
    let noted = audit::note(audit::COMMAND_LINE, did, name, now);
    changed(database, vec![set.expecting_one_row(), noted], missing(name)).await
}

fn missing(name: &str) -> AccountError {
    AccountError::Missing("shopkeeper", name.to_owned())
}

/// Gives a shopkeeper another name. What is noted of the past keeps the one before.
///
/// # Errors
/// An invalid or taken name, no shopkeeper of the name, or the database.
pub async fn rename(database: &Database, name: &str, to: &str, now: Timestamp) -> Result<(), AccountError> {
    let (name, to) = (name.trim(), validated_name(to)?);
    let taken = Statement::new("SELECT number FROM shopkeepers WHERE name = $1", [to.into()]);
    if name != to && database.run_one(taken).await?.count > 0 {
        return Err(AccountError::Taken(to.to_owned()));
    }
    let rename = |sql| Statement::new(sql, [to.into(), name.into()]);
    let statements = vec![
        rename("UPDATE shopkeepers SET name = $1 WHERE name = $2").expecting_one_row(),
        rename("UPDATE requests SET in_hand = $1 WHERE in_hand = $2"),
        audit::note(audit::COMMAND_LINE, "renamed shopkeeper", format!("{name}, now {to}"), now),
    ];
    changed(database, statements, missing(name)).await
}

/// Removes a shopkeeper and ends the sessions. What the person answered stays.
///
/// # Errors
/// No shopkeeper has the name; the database.
pub async fn remove(database: &Database, name: &str, now: Timestamp) -> Result<(), AccountError> {
    let name = name.trim();
    let statements = vec![
        Statement::new("DELETE FROM shopkeepers WHERE name = $1", [name.into()]).expecting_one_row(),
        Statement::new("UPDATE requests SET in_hand = NULL WHERE in_hand = $1", [name.into()]),
        audit::note(audit::COMMAND_LINE, "removed shopkeeper", name, now),
    ];
    changed(database, statements, missing(name)).await
}

/// A shopkeeper as a list shows it.
#[derive(Debug, Clone, PartialEq, Eq)]
pub struct ShopkeeperSummary {
    /// The name.
    pub name: String,
    /// When the person was added.
    pub added_at: Timestamp,
    /// Whether the person sees the state of things.
    pub owner: bool,
    /// When a session that has not ended was last used.
    pub seen_at: Option<Timestamp>,
}

/// All shopkeepers, by name.
///
/// # Errors
/// The database.
pub async fn list(database: &Database) -> Result<Vec<ShopkeeperSummary>, DatabaseError> {
    let found = database
        .run_one(Statement::new(
            "SELECT k.name, k.added_at, k.owner, max(s.last_seen_at)
             FROM shopkeepers k LEFT JOIN sessions s ON s.shopkeeper = k.number
             GROUP BY k.number, k.name, k.added_at, k.owner ORDER BY k.name",
            [],
        ))
        .await?;
    let summary = |mut row: Row| {
        Ok(ShopkeeperSummary {
            name: row.text()?,
            added_at: Timestamp(row.int()?),
            owner: row.int()? != 0,
            seen_at: row.maybe_int()?.map(Timestamp),
        })
    };
    found.rows.into_iter().map(summary).collect()
}

/// Changes a shopkeeper's own password, which has to be given, and ends the person's other sessions.
///
/// # Errors
/// [`LoginError::Wrong`] if the present password is wrong; [`AccountError::Password`] in
/// [`LoginError::Account`] if the new one is too short or too long; the other errors.
pub(crate) async fn change_password(
    database: &Database,
    session: &Session,
    token: &str,
    present: String,
    new: String,
    now: Timestamp,
) -> Result<(), LoginError> {
    let name = session.name.as_str();
    let found = database
        .run_one(Statement::new("SELECT password FROM shopkeepers WHERE name = $1", [name.into()]))
        .await?;
    let stored = found.rows.into_iter().next().map(|mut row| row.text()).transpose()?;
    let hash = tokio::task::spawn_blocking(move || match verify(stored.as_deref(), &present)? {
        true => Ok(hashed(&new)?),
        false => Err(LoginError::Wrong),
    });
    let hash = hash.await??;
    database
        .transaction(vec![
            Statement::new(
                "UPDATE shopkeepers SET password = $1 WHERE name = $2",
                [hash.into(), name.into()],
            )
            .expecting_one_row(),
            Statement::new(
                "DELETE FROM sessions WHERE token_hash <> $1
                 AND shopkeeper = (SELECT number FROM shopkeepers WHERE name = $2)",
                [sha256(token.as_bytes()).into(), name.into()],
            ),
            audit::note(name, "changed the own password", name, now),
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
    /// The new password cannot be used.
    #[error(transparent)]
    Account(#[from] AccountError),
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
            "SELECT k.name, k.number, k.owner, s.csrf_token, s.last_seen_at FROM sessions s JOIN shopkeepers k ON k.number = s.shopkeeper
             WHERE s.token_hash = $1 AND s.last_seen_at > $2 AND s.created_at > $3",
            [hash.into(), (now.0 - SESSION_IDLE_MS).into(), (now.0 - SESSION_MAX_MS).into()],
        ))
        .await?;
    let Some(mut row) = found.rows.into_iter().next() else { return Ok(None) };
    let session =
        Session { name: row.text()?, number: row.int()?, owner: row.int()? != 0, csrf_token: row.text()? };
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
