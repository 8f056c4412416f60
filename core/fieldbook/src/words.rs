//! The words that the search looks through.
//!
//! Triggers keep them, but for a new reading with a note: see [`super::witness`] for what a trigger there costs all the
//! readings without one.

use super::error::Inner;
use rusqlite::Connection;

/// Makes the words of bikes anew that got a reading with a note in an action.
pub(super) fn after(conn: &Connection, action: i64) -> Result<(), Inner> {
    let bikes: Vec<i64> = conn
        .prepare_cached(
            "SELECT DISTINCT m.bike FROM actions AS a CROSS JOIN measurements AS m ON m.key = a.row
             WHERE a.key = ?1 AND a.made = 'measurements' AND m.note IS NOT NULL",
        )?
        .query_map([action], |row| row.get(0))?
        .collect::<Result<_, _>>()?;
    for bike in bikes {
        conn.prepare_cached("DELETE FROM bike_words WHERE rowid = ?1")?.execute([bike])?;
        conn.prepare_cached(
            "INSERT INTO bike_words (rowid, name, owner, tags, notes) SELECT * FROM bike_text WHERE key = ?1",
        )?
        .execute([bike])?;
    }
    Ok(())
}

/// Makes all of them anew.
pub(super) fn rebuild(conn: &Connection) -> Result<(), Inner> {
    conn.execute_batch(
        "INSERT INTO bike_words (bike_words) VALUES ('delete-all');
         INSERT INTO bike_words (rowid, name, owner, tags, notes) SELECT * FROM bike_text;",
    )?;
    Ok(())
}
