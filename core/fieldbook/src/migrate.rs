//! Migrations: from an older format to the newest one, step by step.

use super::error::Inner;
use super::journal;
use rusqlite::{Connection, TransactionBehavior};
use std::path::Path;

/// Marks a file as a field book (`PRAGMA application_id`): "SWfb" in ASCII.
pub(super) const APPLICATION_ID: i32 = i32::from_be_bytes(*b"SWfb");

/// One migration, from a format to the next.
pub(super) struct Step {
    /// The SQL. It may rely on the step before and must keep every row.
    pub(super) sql: &'static str,
    /// Tables whose changes can be undone from this format on.
    pub(super) undoable: &'static [&'static str],
}

/// The formats: the first step makes format 1 from nothing, the next makes 2 from 1, and so on. A step is never changed
/// once it was released.
pub(super) const STEPS: &[Step] = &[Step { sql: include_str!("schema.sql"), undoable: journal::UNDOABLE }];

/// The number of the newest format of a chain.
pub(super) fn newest(steps: &[Step]) -> i32 {
    i32::try_from(steps.len()).unwrap_or(i32::MAX)
}

/// The format of an open database.
pub(super) fn version(conn: &Connection) -> Result<i32, Inner> {
    Ok(conn.pragma_query_value(None, "user_version", |row| row.get(0))?)
}

/// Migrates a database from its format to that of the last of `steps`; returns the format it had.
///
/// Each step commits together with its number, so a program killed at any point leaves a known format. A step empties
/// the undo journal, as its rows have the old columns.
pub(super) fn migrate_to_newest(conn: &mut Connection, path: &Path, steps: &[Step]) -> Result<i32, Inner> {
    // A step may recreate a table under its old name. SQLite would then count every reference to it as broken, so
    // references are checked as a whole at the end of each step instead (its manual, ALTER TABLE, 7).
    let enforced: bool = conn.pragma_query_value(None, "foreign_keys", |row| row.get(0))?;
    conn.pragma_update(None, "foreign_keys", false)?;
    let result = run_steps(conn, path, steps);
    conn.pragma_update(None, "foreign_keys", enforced)?;
    result
}

fn run_steps(conn: &mut Connection, path: &Path, steps: &[Step]) -> Result<i32, Inner> {
    let known = newest(steps);
    let was = version(conn)?;
    for step in steps.iter().skip(usize::try_from(was).unwrap_or(0)) {
        let tx = conn.transaction_with_behavior(TransactionBehavior::Immediate)?;
        let from = version(&tx)?;
        if from > known {
            return Err(Inner::NewerFile { path: path.to_owned(), found: from, known });
        }
        let place = usize::try_from(from).map_err(|_| Inner::Stored(format!("format number {from}")))?;
        // Another program may have migrated further between two steps.
        let expected = steps.get(place);
        if !expected.is_some_and(|expected| std::ptr::eq(expected, step)) {
            continue;
        }
        journal::take_down(&tx)?;
        tx.execute_batch(step.sql)?;
        journal::set_up(&tx, step.undoable)?;
        let dangling: i64 =
            tx.query_row("SELECT count(*) FROM pragma_foreign_key_check", [], |row| row.get(0))?;
        if dangling > 0 {
            return Err(Inner::Stored(format!("{dangling} references lead nowhere after step {}", from + 1)));
        }
        tx.pragma_update(None, "application_id", APPLICATION_ID)?;
        tx.pragma_update(None, "user_version", from + 1)?;
        tx.commit()?;
    }
    let found = version(conn)?;
    if found > known {
        return Err(Inner::NewerFile { path: path.to_owned(), found, known });
    }
    Ok(was)
}
