//! Which rows a transaction changed, as SQLite itself reports them.
//!
//! Triggers on every new row could write the same into the undo journal. But then each statement that makes a row
//! changes more than one, for which SQLite keeps a way back from the statement alone: of a reading's saving that took
//! more than half.

use super::error::Inner;
use rusqlite::Connection;
use rusqlite::hooks::Action;
use std::collections::BTreeMap;
use std::sync::{Arc, Mutex, PoisonError};

/// What became of a row in a transaction.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub(super) struct RowChange {
    /// Whether it was not there before; a row that was deleted and came back was.
    pub(super) made: bool,
    /// Whether more than one thing was done to it.
    pub(super) again: bool,
}

/// Rows by the place of their table among those watched, and key.
pub(super) type Rows = BTreeMap<(usize, i64), RowChange>;

/// Sees every row of some tables that one connection makes, changes or deletes.
#[derive(Debug)]
pub(super) struct ChangeTracker(Arc<Mutex<Rows>>);

impl ChangeTracker {
    /// Watches `tables` from now on; the rows of other tables and databases are passed over.
    pub(super) fn of(conn: &mut Connection, tables: &'static [&'static str]) -> Result<Self, Inner> {
        let rows = Arc::new(Mutex::new(Rows::new()));
        let seen = Arc::clone(&rows);
        conn.update_hook(Some(move |action, database: &str, table: &str, key| {
            let place = tables.iter().position(|watched| *watched == table);
            if let Some(place) = place.filter(|_| database == "main") {
                let mut rows = seen.lock().unwrap_or_else(PoisonError::into_inner);
                rows.entry((place, key))
                    .and_modify(|row| row.again = true)
                    .or_insert(RowChange { made: action == Action::SQLITE_INSERT, again: false });
            }
        }))?;
        Ok(Self(rows))
    }

    /// What was seen since the last call.
    pub(super) fn take(&self) -> Rows {
        std::mem::take(&mut self.0.lock().unwrap_or_else(PoisonError::into_inner))
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn rows_are_seen_by_what_was_first_done_to_them() {
        let mut conn = Connection::open_in_memory().unwrap();
        conn.execute_batch(
            "CREATE TABLE a (key INTEGER PRIMARY KEY, value);
             CREATE TABLE b (key INTEGER PRIMARY KEY, value);
             CREATE TABLE other (key INTEGER PRIMARY KEY);
             INSERT INTO a VALUES (1, 1), (2, 2), (3, 3);
             CREATE TEMP TABLE b_of_mine (key INTEGER PRIMARY KEY);",
        )
        .unwrap();
        let tracker = ChangeTracker::of(&mut conn, &["a", "b"]).unwrap();
        conn.execute_batch(
            "UPDATE a SET value = 5 WHERE key = 1;
             DELETE FROM a WHERE key = 2; INSERT INTO a VALUES (2, 7);
             INSERT INTO b VALUES (4, 4), (5, 5); UPDATE b SET value = 6 WHERE key = 5;
             INSERT INTO other VALUES (9); INSERT INTO b_of_mine VALUES (9);",
        )
        .unwrap();
        let seen = |made, again| RowChange { made, again };
        let expected = Rows::from([
            ((0, 1), seen(false, false)),
            ((0, 2), seen(false, true)),
            ((1, 4), seen(true, false)),
            ((1, 5), seen(true, true)),
        ]);
        assert_eq!(tracker.take(), expected);
        assert_eq!(tracker.take(), Rows::new());
    }
}
