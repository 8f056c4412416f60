//! The undo journal.
//!
//! Triggers record every change of the tables in [`UNDOABLE`]: the rows before an action are copied to a table of the
//! same columns, named `undo_` and the table; the keys of the rows that an action inserted are stored in `actions`.
//! Undo restores the rows in a transaction that is recorded in the same manner, which is the basis of redo. The journal
//! is in the database, so it survives the end of the program.

use super::error::Inner;
use super::orders::undo;
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

/// A column that undo does not restore, so changing it alone leaves no row in the journal: every write about a bike
/// updates it, and so does an undo.
const NOT_KEPT: (&str, &str) = ("bikes", "touched_at");

/// The least number of actions that can be undone.
const KEPT: i64 = 100;
/// Older actions are removed once every this many actions: removing one with each action would write more pages than
/// the action.
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

/// A list's names, each with a prefix, joined.
fn listed(columns: &[(String, String)], prefix: &str) -> String {
    columns.iter().map(|(name, _)| format!("{prefix}{name}")).collect::<Vec<_>>().join(", ")
}

/// Creates the journal's tables and triggers from the columns of the tables they record.
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
        let now = "(SELECT max(key) FROM actions)";
        let made = |row: &str| {
            format!("SELECT 1 FROM actions WHERE key = {now} AND made = '{table}' AND row = {row}.key")
        };
        // Undo restores the state before the action, so only the first state is recorded, and none for a row that the
        // action inserted.
        let record = format!(
            "INSERT INTO undo_{table} (action, {names}) SELECT {now}, {old}
             WHERE NOT EXISTS (SELECT 1 FROM undo_{table} WHERE action = {now} AND key = OLD.key)
                 AND NOT EXISTS ({})",
            made("OLD")
        );
        let record_new = format!(
            "INSERT INTO actions (key, made, row) SELECT {now}, '{table}', NEW.key WHERE NOT EXISTS ({})
                 AND NOT EXISTS (SELECT 1 FROM undo_{table} WHERE action = {now} AND key = NEW.key)",
            made("NEW")
        );
        conn.execute_batch(&format!(
            "CREATE TABLE undo_{table} (
                action INTEGER NOT NULL,
                key INTEGER NOT NULL{declared},
                PRIMARY KEY (action, key)
            ) STRICT, WITHOUT ROWID;
            CREATE TRIGGER undo_{table}_insert AFTER INSERT ON {table} BEGIN {record_new}; END;
            CREATE TRIGGER undo_{table}_update AFTER UPDATE OF {watched} ON {table} BEGIN {record}; END;
            CREATE TRIGGER undo_{table}_delete AFTER DELETE ON {table} BEGIN {record}; END;"
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

/// Begins an action; all following writes belong to it.
pub(super) fn begin(conn: &Connection, op: Op, state: State, now: Timestamp) -> Result<i64, Inner> {
    let number = "(SELECT coalesce(max(key), 0) + 1 FROM actions)";
    let sql = format!(
        "INSERT INTO actions (key, made, row, op, state, at) VALUES ({number}, '', 0, ?1, ?2, ?3) RETURNING key"
    );
    let mut insert = conn.prepare_cached(&sql)?;
    Ok(insert.query_row(params![op.name(), state.name(), now], |row| row.get(0))?)
}

/// Ends an action of the user: one that changed nothing is removed, any other removes the actions that could be redone
/// before it. Returns what changed.
pub(super) fn end(conn: &Connection, action: i64) -> Result<Changes, Inner> {
    words::update_after(conn, action)?;
    let changes = touched(conn, action)?.changes();
    if changes.is_empty() && !undo::has_requests(conn, action)? {
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

/// The action that is recorded now.
pub(super) fn current(conn: &Connection) -> Result<i64, Inner> {
    Ok(conn.query_row("SELECT max(key) FROM actions", [], |row| row.get(0))?)
}

/// Removes one action, so that it can no longer be undone or redone.
pub(super) fn forget_one(conn: &Connection, action: i64) -> Result<(), Inner> {
    forget(conn, Which::One(action))
}

/// Of which order requests the bike is taken off.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub(super) enum Unlink {
    /// Of all.
    All,
    /// Of those that are withdrawn and that no shop has.
    Withdrawn,
}

/// What the journal notes an order request under whose bike went; the bike's key follows.
const ORDER_BIKE: &str = "order_bike/";

/// Takes bikes that are about to go off the order requests for them, which stay, and notes that in `action`. `bikes` is
/// the SQL that lists their keys.
pub(super) fn unlink_orders(
    conn: &Connection,
    action: i64,
    bikes: &str,
    params: &[&dyn rusqlite::ToSql],
    which: Unlink,
) -> Result<(), Inner> {
    let withdrawn = match which {
        Unlink::All => "",
        Unlink::Withdrawn => {
            "AND EXISTS (SELECT 1 FROM outbox x WHERE x.key = o.key AND x.state = 'withdrawn' AND NOT x.in_doubt)"
        }
    };
    conn.execute(
        &format!(
            "INSERT INTO actions (key, made, row) SELECT {action}, '{ORDER_BIKE}' || o.bike, o.key FROM orders AS o
             WHERE o.bike IN ({bikes}) {withdrawn}"
        ),
        params,
    )?;
    conn.execute(
        "UPDATE orders SET bike = NULL WHERE key IN
             (SELECT row FROM actions WHERE key = ?1 AND made GLOB ?2 || '*')",
        params![action, ORDER_BIKE],
    )?;
    Ok(())
}

/// Gives order requests their bikes back that an action took off them.
fn link_orders(conn: &Connection, action: i64) -> Result<(), Inner> {
    conn.execute(
        "UPDATE orders SET bike = CAST(substr(a.made, length(?2) + 1) AS INTEGER) FROM actions AS a
         WHERE a.key = ?1 AND a.made GLOB ?2 || '*' AND a.row = orders.key",
        params![action, ORDER_BIKE],
    )?;
    Ok(())
}

/// Actions to remove from the journal.
enum Which {
    One(i64),
    UpTo(i64),
    Undone,
}

/// Removes actions with their rows. A foreign key cascade would do it once for each action and table, which takes
/// longer than saving a measurement.
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
    // Steps from action to action and skips the rows that each inserted.
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

/// Reverts an action under a new action of the opposite state.
pub(super) fn revert(
    conn: &Connection,
    action: i64,
    op: Op,
    state: State,
    now: Timestamp,
) -> Result<Changes, Inner> {
    // Rows are restored table by table, so a reference may dangle until all are restored.
    conn.pragma_update(None, "defer_foreign_keys", true)?;
    let inverse = begin(conn, op, state, now)?;
    let which = if op == Op::DeleteBike { Unlink::All } else { Unlink::Withdrawn };
    let made = format!("SELECT row FROM actions WHERE key = {action} AND made = 'bikes'");
    unlink_orders(conn, inverse, &made, &[], which)?;
    for table in UNDOABLE {
        put_back(conn, table, action)?;
    }
    link_orders(conn, action)?;
    let mut orders = undo::revert(conn, action, inverse, state == State::Undone, now)?;
    forget(conn, Which::One(action))?;
    words::update_after(conn, inverse)?;
    let touched = touched(conn, inverse)?;
    for (bike, _) in &touched.bikes {
        conn.prepare_cached("UPDATE bikes SET touched_at = ?2 WHERE key = ?1")?
            .execute(params![bike, now])?;
    }
    let mut changes = touched.changes();
    changes.0.append(&mut orders);
    Ok(changes)
}

/// Keys of a table's rows in an action: those recorded before it, and those that it inserted.
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

/// Row number and name of every bike whose rows, before or after, are in an action.
pub(super) fn bikes_of(conn: &Connection, action: i64) -> Result<BTreeSet<(i64, BikeId)>, Inner> {
    Ok(touched(conn, action)?.bikes)
}

/// What an action changed.
struct Touched {
    tables: BTreeSet<&'static str>,
    /// Row key and id of every bike whose rows, before or after, are in the action.
    bikes: BTreeSet<(i64, BikeId)>,
}

impl Touched {
    /// The screens that show changed data.
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

fn touched(conn: &Connection, action: i64) -> Result<Touched, Inner> {
    let mut touched = Touched { tables: BTreeSet::new(), bikes: BTreeSet::new() };
    for table in UNDOABLE {
        let [before, made] = rows_of(table);
        let (changed, made): (bool, bool) = conn
            .prepare_cached(&format!("SELECT EXISTS ({before}), EXISTS ({made})"))?
            .query_row([action], |row| Ok((row.get(0)?, row.get(1)?)))?;
        if changed || made {
            touched.tables.insert(table);
        }
        // The bikes of the previous rows, of the present ones, and of the new ones. CROSS JOIN fixes the order of the
        // joins, for which SQLite has no statistics here.
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
