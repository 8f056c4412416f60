//! What the user did last, and how to take it back.
//!
//! Beside each table whose changes can be undone lies one of the same columns, `undo_` before its name, filled by
//! triggers: for every action the rows as they were before. Which rows it made is seen by a [`ChangeTracker`] and lies beside
//! the action itself, so that writing down a measurement changes one page of the journal, not two. Undoing puts the rows back, in a transaction
//! that is itself recorded in the same way, which is what redoing works from. All of it is in the database, so it
//! outlives the program.

use super::change_tracker::{ChangeTracker, Rows};
use super::error::Inner;
use super::transact::{Changes, Op, Screen};
use super::{BikeId, Timestamp, words};
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

/// A column that an undo does not put back, so that changing it alone leaves no row in the journal: a bike is touched by
/// everything that is written about it, and being undone is one more touch.
const NOT_KEPT: (&str, &str) = ("bikes", "touched_at");

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
        let watched: Vec<&str> = columns
            .iter()
            .map(|(name, _)| name.as_str())
            .filter(|name| (*table, *name) != NOT_KEPT)
            .collect();
        let watched = watched.join(", ");
        // The first state within an action is the one to go back to; a later change of the same row adds nothing.
        let now = "(SELECT max(key) FROM actions)";
        let first =
            format!("WHERE NOT EXISTS (SELECT 1 FROM undo_{table} WHERE action = {now} AND key = OLD.key)");
        conn.execute_batch(&format!(
            "CREATE TABLE undo_{table} (
                action INTEGER NOT NULL,
                key INTEGER NOT NULL{declared},
                PRIMARY KEY (action, key)
            ) STRICT, WITHOUT ROWID;
            CREATE TRIGGER undo_{table}_update AFTER UPDATE OF {watched} ON {table} BEGIN
                INSERT INTO undo_{table} (action, {names}) SELECT {now}, {old} {first};
            END;
            CREATE TRIGGER undo_{table}_delete AFTER DELETE ON {table} BEGIN
                INSERT INTO undo_{table} (action, {names}) SELECT {now}, {old} {first};
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
pub(super) fn begin(conn: &Connection, op: Op, state: State, now: Timestamp) -> Result<i64, Inner> {
    let number = "(SELECT coalesce(max(key), 0) + 1 FROM actions)";
    let sql = format!(
        "INSERT INTO actions (key, made, row, op, state, at) VALUES ({number}, '', 0, ?1, ?2, ?3) RETURNING key"
    );
    let mut insert = conn.prepare_cached(&sql)?;
    Ok(insert.query_row(params![op.name(), state.name(), now], |row| row.get(0))?)
}

/// Ends an action of the user: one that changed nothing is forgotten, any other takes away what could be redone
/// before it. Returns what changed.
pub(super) fn end(conn: &Connection, action: i64, tracker: &ChangeTracker) -> Result<Changes, Inner> {
    let changes = settle(conn, action, &tracker.take())?.changes();
    if changes.is_empty() {
        forget(conn, Which::One(action))?;
        return Ok(changes);
    }
    let redoable: bool = conn
        .prepare_cached("SELECT EXISTS (SELECT 1 FROM actions WHERE state = 'undone')")?
        .query_row([], |row| row.get(0))?;
    if redoable {
        forget(conn, Which::Undone)?;
    }
    if action % SWEEP == 0 {
        forget(conn, Which::UpTo(action - KEPT))?;
    }
    Ok(changes)
}

/// Writes down which rows an action made, and forgets how they were in the midst of it. Returns what it touched.
fn settle(conn: &Connection, action: i64, rows: &Rows) -> Result<Touched, Inner> {
    for ((place, key), _) in rows.iter().filter(|(_, seen)| seen.made) {
        let table = UNDOABLE.get(*place);
        conn.prepare_cached("INSERT INTO actions (key, made, row) VALUES (?1, ?2, ?3)")?
            .execute(params![action, table, key])?;
    }
    for ((place, key), _) in rows.iter().filter(|(_, seen)| seen.made && seen.again) {
        if let Some(table) = UNDOABLE.get(*place) {
            conn.prepare_cached(&format!("DELETE FROM undo_{table} WHERE action = ?1 AND key = ?2"))?
                .execute([action, *key])?;
        }
    }
    let touched = touched(conn, action, rows)?;
    if touched.made.contains("measurements") {
        words::after(conn, action)?;
    }
    Ok(touched)
}

/// Actions to forget.
enum Which {
    One(i64),
    UpTo(i64),
    Undone,
}

/// Takes actions away with their rows. No foreign key does it: it would run once for each action and table, which
/// takes longer than saving a measurement.
fn forget(conn: &Connection, which: Which) -> Result<(), Inner> {
    let (which, number) = match which {
        Which::One(action) => ("= ?1", Some(action)),
        Which::UpTo(action) => ("<= ?1", Some(action)),
        Which::Undone => ("IN (SELECT key FROM actions WHERE state = 'undone')", None),
    };
    let tables = UNDOABLE.iter().map(|table| format!("DELETE FROM undo_{table} WHERE action {which}"));
    for sql in tables.chain([format!("DELETE FROM actions WHERE key {which}")]) {
        conn.prepare_cached(&sql)?.execute(rusqlite::params_from_iter(number))?;
    }
    Ok(())
}

/// The latest action of a state.
pub(super) fn latest(conn: &Connection, state: State) -> Result<Option<(i64, Op)>, Inner> {
    // From action to action, past the rows that each made.
    let mut row = conn.prepare_cached(
        "WITH RECURSIVE down (key) AS (
            SELECT max(key) FROM actions
            UNION ALL SELECT (SELECT max(key) FROM actions WHERE key < down.key) FROM down WHERE down.key IS NOT NULL
         )
         SELECT a.key, a.op FROM down CROSS JOIN actions AS a
         WHERE a.key = down.key AND a.made = '' AND a.row = 0 AND a.state = ?1 LIMIT 1",
    )?;
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
    now: Timestamp,
    tracker: &ChangeTracker,
) -> Result<Changes, Inner> {
    // Rows come back table by table, so a reference may dangle until all are there.
    conn.pragma_update(None, "defer_foreign_keys", true)?;
    let inverse = begin(conn, op, state, now)?;
    for table in UNDOABLE {
        put_back(conn, table, action)?;
    }
    forget(conn, Which::One(action))?;
    let touched = settle(conn, inverse, &tracker.take())?;
    for (bike, _) in &touched.bikes {
        conn.prepare_cached("UPDATE bikes SET touched_at = ?2 WHERE key = ?1")?
            .execute(params![bike, now])?;
    }
    Ok(touched.changes())
}

/// Rows of a table in an action: as they were before it, and those that it made.
fn rows_of(table: &str) -> [String; 2] {
    [
        format!("SELECT key FROM undo_{table} WHERE action = ?1"),
        format!("SELECT row FROM actions WHERE key = ?1 AND made = '{table}'"),
    ]
}

fn put_back(conn: &Connection, table: &str, action: i64) -> Result<(), Inner> {
    let [before, made] = rows_of(table);
    let touched: bool = conn
        .prepare_cached(&format!("SELECT EXISTS ({before}) OR EXISTS ({made})"))?
        .query_row([action], |row| row.get(0))?;
    if !touched {
        return Ok(());
    }
    let columns = columns(conn, table)?;
    let names = listed(&columns, "");
    let gone = format!("DELETE FROM {table} WHERE key IN ({made})");
    let changed = format!(
        "UPDATE {table} SET ({names}) =
            (SELECT {names} FROM undo_{table} AS was WHERE was.action = ?1 AND was.key = {table}.key)
         WHERE key IN ({before})"
    );
    let back = format!(
        "INSERT INTO {table} ({names}) SELECT {names} FROM undo_{table} AS was
         WHERE action = ?1 AND NOT EXISTS (SELECT 1 FROM {table} WHERE key = was.key)"
    );
    for sql in [gone, changed, back] {
        conn.prepare_cached(&sql)?.execute([action])?;
    }
    Ok(())
}

/// What an action changed.
struct Touched {
    /// Tables of which it changed or made rows.
    tables: BTreeSet<&'static str>,
    /// Tables of which it made rows.
    made: BTreeSet<&'static str>,
    /// Row number and name of every bike whose rows, before or after, are in the action.
    bikes: BTreeSet<(i64, BikeId)>,
}

impl Touched {
    /// Which screens show something of it.
    fn changes(self) -> Changes {
        let of_table = |table: &&str| match *table {
            "bikes" | "bike_tags" => Some(Screen::BikeList),
            "photos" | "photo_marks" => Some(Screen::Photos),
            "makers" | "catalogues" | "catalogue_files" => Some(Screen::Catalogues),
            "settings" => Some(Screen::Settings),
            _ => None,
        };
        // The list shows, and sorts by, when a bike was last touched.
        let list = (!self.bikes.is_empty()).then_some(Screen::BikeList);
        let screens = self.tables.iter().filter_map(of_table).chain(list);
        Changes(screens.chain(self.bikes.iter().map(|(_, id)| Screen::Bike(*id))).collect())
    }
}

fn touched(conn: &Connection, action: i64, rows: &Rows) -> Result<Touched, Inner> {
    let mut touched = Touched { tables: BTreeSet::new(), made: BTreeSet::new(), bikes: BTreeSet::new() };
    for (place, table) in UNDOABLE.iter().enumerate() {
        let of_table = || rows.range((place, i64::MIN)..=(place, i64::MAX)).map(|(_, seen)| seen);
        let made = of_table().any(|seen| seen.made);
        // A change that the journal does not keep left nothing in it.
        let changed = of_table().any(|seen| !seen.made)
            && conn
                .prepare_cached(&format!("SELECT EXISTS (SELECT 1 FROM undo_{table} WHERE action = ?1)"))?
                .query_row([action], |row| row.get(0))?;
        if changed || made {
            touched.tables.insert(table);
        }
        if made {
            touched.made.insert(table);
        }
        // The bikes of the rows as they were, as they are, and of those that are new. The order of the joins is
        // given, as statistics that SQLite does not have would give it.
        let queries: [&str; 3] = match *table {
            "bikes" => [
                "SELECT key, id FROM undo_bikes WHERE action = ?1",
                "SELECT b.key, b.id FROM undo_bikes AS u CROSS JOIN bikes AS b ON b.key = u.key
                 WHERE u.action = ?1",
                "SELECT b.key, b.id FROM actions AS a CROSS JOIN bikes AS b ON b.key = a.row
                 WHERE a.key = ?1 AND a.made = 'bikes'",
            ],
            "bike_tags" | "photos" | "checks" | "measurements" => [
                "SELECT b.key, b.id FROM undo_{table} AS u CROSS JOIN bikes AS b ON b.key = u.bike
                 WHERE u.action = ?1",
                "SELECT b.key, b.id FROM undo_{table} AS u CROSS JOIN {table} AS t ON t.key = u.key
                 CROSS JOIN bikes AS b ON b.key = t.bike WHERE u.action = ?1",
                "SELECT b.key, b.id FROM actions AS a CROSS JOIN {table} AS t ON t.key = a.row
                 CROSS JOIN bikes AS b ON b.key = t.bike WHERE a.key = ?1 AND a.made = '{table}'",
            ],
            "photo_marks" => [
                "SELECT b.key, b.id FROM undo_photo_marks AS u CROSS JOIN photos AS p ON p.key = u.photo
                 CROSS JOIN bikes AS b ON b.key = p.bike WHERE u.action = ?1",
                "SELECT b.key, b.id FROM undo_photo_marks AS u CROSS JOIN photo_marks AS t ON t.key = u.key
                 CROSS JOIN photos AS p ON p.key = t.photo CROSS JOIN bikes AS b ON b.key = p.bike
                 WHERE u.action = ?1",
                "SELECT b.key, b.id FROM actions AS a CROSS JOIN photo_marks AS t ON t.key = a.row
                 CROSS JOIN photos AS p ON p.key = t.photo CROSS JOIN bikes AS b ON b.key = p.bike
                 WHERE a.key = ?1 AND a.made = 'photo_marks'",
            ],
            _ => continue,
        };
        for (sql, _) in queries.iter().zip([changed, changed, made]).filter(|(_, any)| *any) {
            let mut rows = conn.prepare_cached(&sql.replace("{table}", table))?;
            let rows = rows.query_map([action], |row| Ok((row.get(0)?, row.get(1)?)))?;
            for row in rows {
                touched.bikes.insert(row?);
            }
        }
    }
    Ok(touched)
}
