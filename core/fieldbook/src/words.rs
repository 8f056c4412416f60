//! The full text index of the search.
//!
//! Triggers keep it in step with the rows, except for new readings with a note: a trigger would reindex the bike for
//! each reading of an import, which takes time in proportion to the square of their number. They are indexed once per
//! action.

use super::error::Inner;
use rusqlite::Connection;

/// Reindexes the bikes that got a reading with a note in an action.
pub(super) fn update_after(conn: &Connection, action: i64) -> Result<(), Inner> {
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

/// Rebuilds the index from the rows.
pub(super) fn rebuild(conn: &Connection) -> Result<(), Inner> {
    conn.execute_batch(
        "INSERT INTO bike_words (bike_words) VALUES ('delete-all');
         INSERT INTO bike_words (rowid, name, owner, tags, notes) SELECT * FROM bike_text;",
    )?;
    Ok(())
}
