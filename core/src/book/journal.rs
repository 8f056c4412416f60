//! What the user did last, and how to take it back.
//!
//! Beside each table whose changes can be undone lies one of the same columns, `undo_` before its name, filled by
//! triggers: for every action and row the row as it was before, or that there was none. Undoing puts those rows back,
//! in a transaction that is itself recorded in the same way, which is what redoing works from. All of it is in the
//! database, so it outlives the program.

use super::error::Inner;
use super::transact::{Changes, Op, Screen};
use super::{BikeId, Moment};
use rusqlite::{Connection, OptionalExtension, params};
use std::collections::BTreeSet;

/// Tables whose changes can be undone.
pub(super) const UNDOABLE: &[&str] = &[
    "bikes",
    "bike_tags",
    "photos",
    "checks",
    "measurements",
    "photo_marks",
    "makers",
    "catalogues",
    "catalogue_files",
    "settings",
];

/// So many actions can be undone, at least.
const KEPT: i64 = 100;
/// Older ones go only at every so many actions: taking one away with each would write more pages than the action does.
const SWEEP: i64 = 32;

/// Whether an action can be undone or redone.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub(super) enum State {
    Done,
    Undone,
}

impl State {
    fn name(self) -> &'static str {
        match self {
            Self::Done => "done",
            Self::Undone => "undone",
        }
    }
}

/// Columns of a table, `key` first, and their types as declared.
fn columns(conn: &Connection, table: &str) -> Result<Vec<(String, String)>, Inner> {
    let mut rows = conn.prepare("SELECT name, type FROM pragma_table_info(?1) ORDER BY cid")?;
    let rows = rows.query_map([table], |row| Ok((row.get(0)?, row.get(1)?)))?;
    Ok(rows.collect::<Result<_, _>>()?)
}

/// Names of a list joined with a prefix before each.
fn listed(columns: &[(String, String)], prefix: &str) -> String {
    columns.iter().map(|(name, _)| format!("{prefix}{name}")).collect::<Vec<_>>().join(", ")
}

/// Makes the journal's tables and triggers from the shapes of the tables they watch.
pub(super) fn set_up(conn: &Connection, tables: &[&str]) -> Result<(), Inner> {
    for table in tables {
        let columns = columns(conn, table)?;
        let (names, old) = (listed(&columns, ""), listed(&columns, "OLD."));
        let declared: Vec<String> = columns
            .iter()
            .filter(|(name, _)| name != "key")
            .map(|(name, kind)| format!(", {name} {kind}"))
            .collect();
        let declared = declared.concat();
        // The first state within an action is the one to go back to; a later change of the same row adds nothing.
        let now = "(SELECT max(key) FROM actions)";
        let first = |row: &str| {
            format!("WHERE NOT EXISTS (SELECT 1 FROM undo_{table} WHERE action = {now} AND key = {row}.key)")
        };
        let (first_new, first_old) = (first("NEW"), first("OLD"));
        conn.execute_batch(&format!(
            "CREATE TABLE undo_{table} (
                action INTEGER NOT NULL REFERENCES actions (key) ON DELETE CASCADE,
                key INTEGER NOT NULL,
                present INTEGER NOT NULL{declared},
                PRIMARY KEY (action, key)
            ) STRICT, WITHOUT ROWID;
            CREATE TRIGGER undo_{table}_insert AFTER INSERT ON {table} BEGIN
                INSERT INTO undo_{table} (action, present, key) SELECT {now}, 0, NEW.key {first_new};
            END;
            CREATE TRIGGER undo_{table}_update AFTER UPDATE ON {table} BEGIN
                INSERT INTO undo_{table} (action, present, {names}) SELECT {now}, 1, {old} {first_old};
            END;
            CREATE TRIGGER undo_{table}_delete AFTER DELETE ON {table} BEGIN
                INSERT INTO undo_{table} (action, present, {names}) SELECT {now}, 1, {old} {first_old};
            END;"
        ))?;
    }
    Ok(())
}

/// Removes the journal's tables, triggers and actions, if there are any.
pub(super) fn take_down(conn: &Connection) -> Result<(), Inner> {
    let names: Vec<(String, String)> = {
        let mut objects = conn.prepare(
            "SELECT type, name FROM sqlite_schema
             WHERE name LIKE 'undo\\_%' ESCAPE '\\' AND type IN ('table', 'trigger') ORDER BY type DESC",
        )?;
        let rows = objects.query_map([], |row| Ok((row.get(0)?, row.get(1)?)))?;
        rows.collect::<Result<_, _>>()?
    };
    for (kind, name) in names {
        conn.execute_batch(&format!("DROP {kind} {name}"))?;
    }
    if conn.table_exists(None, "actions")? {
        conn.execute_batch("DELETE FROM actions")?;
    }
    Ok(())
}

/// Begins an action; what is written from now on belongs to it.
pub(super) fn begin(conn: &Connection, op: Op, state: State, now: Moment) -> Result<i64, Inner> {
    conn.prepare_cached("INSERT INTO actions (op, state, at) VALUES (?1, ?2, ?3)")?.execute(params![
        op.name(),
        state.name(),
        now
    ])?;
    Ok(conn.last_insert_rowid())
}

/// Ends an action of the user: one that changed nothing is forgotten, any other takes away what could be redone
/// before it. Returns what changed.
pub(super) fn end(conn: &Connection, action: i64) -> Result<Changes, Inner> {
    let changes = changes(conn, action)?;
    if changes.is_empty() {
        conn.prepare_cached("DELETE FROM actions WHERE key = ?1")?.execute([action])?;
    } else {
        conn.prepare_cached("DELETE FROM actions WHERE state = 'undone' AND key < ?1")?.execute([action])?;
        if action % SWEEP == 0 {
            conn.prepare_cached("DELETE FROM actions WHERE key <= ?1")?.execute([action - KEPT])?;
        }
    }
    Ok(changes)
}

/// The latest action of a state.
pub(super) fn latest(conn: &Connection, state: State) -> Result<Option<(i64, Op)>, Inner> {
    let mut row =
        conn.prepare_cached("SELECT key, op FROM actions WHERE state = ?1 ORDER BY key DESC LIMIT 1")?;
    let found: Option<(i64, String)> =
        row.query_row([state.name()], |row| Ok((row.get(0)?, row.get(1)?))).optional()?;
    found
        .map(|(key, op)| {
            let known = Op::from_name(&op).ok_or_else(|| Inner::Stored(format!("an action called {op:?}")));
            Ok((key, known?))
        })
        .transpose()
}

/// Takes an action back under a new one of the opposite state.
pub(super) fn turn_back(
    conn: &Connection,
    action: i64,
    op: Op,
    state: State,
    now: Moment,
) -> Result<Changes, Inner> {
    // Rows come back table by table, so a reference may dangle until all are there.
    conn.pragma_update(None, "defer_foreign_keys", true)?;
    let inverse = begin(conn, op, state, now)?;
    for table in UNDOABLE {
        put_back(conn, table, action)?;
    }
    conn.prepare_cached("DELETE FROM actions WHERE key = ?1")?.execute([action])?;
    changes(conn, inverse)
}

fn put_back(conn: &Connection, table: &str, action: i64) -> Result<(), Inner> {
    let touched: bool = conn
        .prepare_cached(&format!("SELECT EXISTS (SELECT 1 FROM undo_{table} WHERE action = ?1)"))?
        .query_row([action], |row| row.get(0))?;
    if !touched {
        return Ok(());
    }
    let columns = columns(conn, table)?;
    let names = listed(&columns, "");
    let gone = format!(
        "DELETE FROM {table} WHERE key IN (SELECT key FROM undo_{table} WHERE action = ?1 AND present = 0)"
    );
    let changed = format!(
        "UPDATE {table} SET ({names}) =
            (SELECT {names} FROM undo_{table} AS was WHERE was.action = ?1 AND was.key = {table}.key)
         WHERE key IN (SELECT key FROM undo_{table} WHERE action = ?1 AND present = 1)"
    );
    let back = format!(
        "INSERT INTO {table} ({names}) SELECT {names} FROM undo_{table} AS was
         WHERE action = ?1 AND present = 1 AND NOT EXISTS (SELECT 1 FROM {table} WHERE key = was.key)"
    );
    for sql in [gone, changed, back] {
        conn.prepare_cached(&sql)?.execute([action])?;
    }
    Ok(())
}

/// Which screens show something that an action changed.
fn changes(conn: &Connection, action: i64) -> Result<Changes, Inner> {
    let mut screens = BTreeSet::new();
    for table in UNDOABLE {
        let touched: bool = conn
            .prepare_cached(&format!("SELECT EXISTS (SELECT 1 FROM undo_{table} WHERE action = ?1)"))?
            .query_row([action], |row| row.get(0))?;
        if !touched {
            continue;
        }
        match *table {
            "bikes" | "bike_tags" => screens.insert(Screen::BikeList),
            "photos" | "photo_marks" => screens.insert(Screen::Photos),
            "makers" | "catalogues" | "catalogue_files" => screens.insert(Screen::Catalogues),
            "settings" => screens.insert(Screen::Settings),
            _ => false,
        };
        screens.extend(bikes_touched(conn, table, action)?.into_iter().map(Screen::Bike));
    }
    Ok(Changes(screens))
}

/// The bikes whose rows, before or after, are in the action.
fn bikes_touched(conn: &Connection, table: &str, action: i64) -> Result<Vec<BikeId>, Inner> {
    let sql = match table {
        "bikes" => "SELECT id FROM undo_bikes WHERE action = ?1 AND id IS NOT NULL
             UNION SELECT id FROM bikes WHERE key IN (SELECT key FROM undo_bikes WHERE action = ?1)"
            .to_owned(),
        "bike_tags" | "photos" | "checks" | "measurements" => format!(
            "SELECT id FROM bikes WHERE key IN (
                SELECT bike FROM undo_{table} WHERE action = ?1
                UNION SELECT bike FROM {table}
                    WHERE key IN (SELECT key FROM undo_{table} WHERE action = ?1))"
        ),
        "photo_marks" => "SELECT id FROM bikes WHERE key IN (
                SELECT bike FROM photos WHERE key IN (
                    SELECT photo FROM undo_photo_marks WHERE action = ?1
                    UNION SELECT photo FROM photo_marks
                        WHERE key IN (SELECT key FROM undo_photo_marks WHERE action = ?1)))"
            .to_owned(),
        _ => return Ok(Vec::new()),
    };
    let mut rows = conn.prepare_cached(&sql)?;
    let rows = rows.query_map([action], |row| row.get(0))?;
    Ok(rows.collect::<Result<_, _>>()?)
}
