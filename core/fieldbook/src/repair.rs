//! Repair of unreadable rows and dangling references in a book that is being recovered.

use super::error::Inner;
use super::stored::{EnumText, JsonText};
use super::{BikeId, Recovery, SignatureStatus, Timestamp, open, recover};
use rusqlite::types::{FromSql, ValueRef};
use rusqlite::{Connection, OptionalExtension, params};
use sha2::{Digest, Sha256};
use std::collections::BTreeSet;
use steerwright_fit::bike::{FittedKit, Observed};
use steerwright_metrology::quantity::{Instrument, Instruments, Quantity, Unit};
use steerwright_photogrammetry::measure::Marks;

type Reads = fn(ValueRef<'_>) -> bool;

fn reads<T: FromSql>(value: ValueRef<'_>) -> bool {
    T::column_result(value).is_ok()
}

/// Keys of the rows whose value in a column cannot be parsed.
fn illegible(conn: &Connection, table: &str, column: &str, legible: Reads) -> Result<Vec<i64>, Inner> {
    let mut keys = Vec::new();
    let mut rows = conn.prepare(&format!("SELECT key, {column} FROM {table}"))?;
    let mut rows = rows.query([])?;
    while let Some(row) = rows.next()? {
        if !legible(row.get_ref(1)?) {
            keys.push(row.get(0)?);
        }
    }
    Ok(keys)
}

/// Columns whose content SQLite cannot check. A row is removed if the program cannot parse one of these.
const NEEDED: [(&str, &str, Reads); 8] = [
    ("measurements", "what", reads::<EnumText<Quantity>>),
    ("measurements", "unit", reads::<EnumText<Unit>>),
    ("measurements", "tool", reads::<EnumText<Instrument>>),
    ("settings", "value", reads::<JsonText<Instruments>>),
    ("catalogues", "signature_status", reads::<EnumText<SignatureStatus>>),
    ("catalogues", "number", reads::<u32>),
    ("photo_marks", "marks", reads::<JsonText<Marks>>),
    ("recoveries", "report", reads::<JsonText<Recovery>>),
];

/// The first problem of a book: what SQLite finds, or else what the program cannot parse. Takes time in proportion to
/// the book's size.
pub(super) fn first_problem(conn: &Connection) -> Result<Option<String>, Inner> {
    match open::examine(conn)?.into_iter().next() {
        Some(problem) => Ok(Some(problem)),
        None => first_unreadable(conn),
    }
}

/// Columns of a bike that the program parses, and what stands for one that it cannot parse: the bike itself is kept.
const OF_A_BIKE: [(&str, Reads, &str); 2] = [
    ("observed", reads::<JsonText<Observed>>, "'{}'"),
    ("fitted", reads::<Option<JsonText<FittedKit>>>, "NULL"),
];

/// The first value that the program cannot parse although SQLite finds no problem.
fn first_unreadable(conn: &Connection) -> Result<Option<String>, Inner> {
    for (table, column, legible) in
        NEEDED.into_iter().chain(OF_A_BIKE.map(|(column, legible, _)| ("bikes", column, legible)))
    {
        if let Some(key) = illegible(conn, table, column, legible)?.first() {
            return Ok(Some(format!("{column} of row {key} in {table} cannot be read")));
        }
    }
    for table in recover::tables(conn)? {
        let mut rows = conn.prepare(&format!("SELECT * FROM {table}"))?;
        let columns = rows.column_count();
        let mut rows = rows.query([])?;
        while let Some(row) = rows.next()? {
            for column in 0..columns {
                if let ValueRef::Text(bytes) = row.get_ref(column)?
                    && std::str::from_utf8(bytes).is_err()
                {
                    return Ok(Some(format!("{table} holds text that is no UTF-8")));
                }
            }
        }
    }
    Ok(None)
}

/// Removes rows with a column that the program cannot parse, and those whose content does not match the stored hash. A
/// bike's unreadable observations or kit are replaced by the backup's, if the database `backup` is attached, or
/// cleared.
pub(super) fn remove_unreadable(conn: &Connection, with_backup: bool) -> Result<(), Inner> {
    for (table, column, legible) in NEEDED {
        for key in illegible(conn, table, column, legible)? {
            conn.execute(&format!("DELETE FROM {table} WHERE key = ?1"), [key])?;
        }
    }
    for (column, legible, cleared) in OF_A_BIKE {
        for key in illegible(conn, "bikes", column, legible)? {
            conn.execute(&format!("UPDATE bikes SET {column} = {cleared} WHERE key = ?1"), [key])?;
            if with_backup {
                conn.execute(
                    &format!(
                        "UPDATE bikes SET {column} = was.{column} FROM backup.bikes AS was
                         WHERE bikes.key = ?1 AND was.key = bikes.key AND was.id = bikes.id"
                    ),
                    [key],
                )?;
            }
        }
    }
    let catalogues =
        "SELECT c.key, f.bytes, c.sha256 FROM catalogues c LEFT JOIN catalogue_files f ON f.key = c.key";
    for key in changed_contents(conn, catalogues)? {
        conn.execute("DELETE FROM catalogue_files WHERE key = ?1", [key])?;
        conn.execute("DELETE FROM catalogues WHERE key = ?1", [key])?;
    }
    // Rows that refer to these are removed by `dangling`, unless the backup has the request.
    for key in changed_contents(conn, "SELECT key, body, sha256 FROM orders")? {
        conn.execute("DELETE FROM orders WHERE key = ?1", [key])?;
    }
    let messages = "SELECT key, body, sha256 FROM order_messages WHERE body IS NOT NULL";
    for key in changed_contents(conn, messages)? {
        conn.execute("DELETE FROM order_messages WHERE key = ?1", [key])?;
    }
    Ok(())
}

/// Keys of the rows of a query (key, content, SHA-256) whose content does not match the hash.
fn changed_contents(conn: &Connection, query: &str) -> Result<Vec<i64>, Inner> {
    let mut keys = Vec::new();
    let mut rows = conn.prepare(query)?;
    let mut rows = rows.query([])?;
    while let Some(row) = rows.next()? {
        let sound = row.get_ref(1)?.as_bytes().is_ok_and(|content| {
            let hash = Sha256::digest(content);
            row.get_ref(2).is_ok_and(|it| it.as_blob().is_ok_and(|it| it == hash.as_slice()))
        });
        if !sound {
            keys.push(row.get(0)?);
        }
    }
    Ok(keys)
}

/// Repairs references to lost rows: readings and checks of a lost bike get a placeholder bike, an optional reference
/// becomes absent, and a row that is meaningless without the other is removed. Returns the keys of the placeholder
/// bikes.
pub(super) fn dangling(
    conn: &Connection,
    mut fresh: impl FnMut() -> BikeId,
    now: Timestamp,
) -> Result<BTreeSet<i64>, Inner> {
    let mut placeholders = BTreeSet::new();
    // Removing a row can leave other references dangling, so this repeats until none is; each round removes some.
    loop {
        let broken: Vec<(String, i64, String, i64)> = {
            let mut rows = conn.prepare("PRAGMA main.foreign_key_check")?;
            let rows = rows.query_map([], |row| Ok((row.get(0)?, row.get(1)?, row.get(2)?, row.get(3)?)))?;
            rows.collect::<Result<_, _>>()?
        };
        if broken.is_empty() {
            return Ok(placeholders);
        }
        for (table, key, parent, reference) in broken {
            let (column, optional): (String, bool) = conn.query_row(
                "SELECT f.\"from\", NOT t.\"notnull\" AND NOT t.pk
                 FROM pragma_foreign_key_list(?1) f JOIN pragma_table_info(?1) t ON t.name = f.\"from\"
                 WHERE f.id = ?2",
                params![table, reference],
                |row| Ok((row.get(0)?, row.get(1)?)),
            )?;
            if parent == "bikes" && !matches!(table.as_str(), "bike_tags" | "orders") {
                placeholders.extend(placeholder(conn, &table, &column, key, fresh(), now)?);
            } else if optional {
                conn.execute(&format!("UPDATE {table} SET {column} = NULL WHERE key = ?1"), [key])?;
            } else {
                conn.execute(&format!("DELETE FROM {table} WHERE key = ?1"), [key])?;
            }
        }
    }
}

/// Inserts a placeholder bike for a row whose own could not be read, once for all its rows; returns its key.
fn placeholder(
    conn: &Connection,
    table: &str,
    column: &str,
    key: i64,
    id: BikeId,
    now: Timestamp,
) -> Result<Option<i64>, Inner> {
    let bike: Option<i64> = conn
        .query_row(&format!("SELECT {column} FROM {table} WHERE key = ?1"), [key], |row| row.get(0))
        .optional()?
        .flatten();
    if let Some(bike) = bike {
        conn.execute(
            "INSERT OR IGNORE INTO bikes (key, id, name, observed, observed_at, notes, name_sort, owner_sort, created_at,
                 touched_at)
             VALUES (?1, ?2, ?3, '{}', ?6, '', ?4, ?5, ?6, ?6)",
            params![
                bike,
                id,
                format!("Bike {bike} (its own data could not be read)"),
                super::sort_key::sort_key("Bike that could not be read"),
                super::sort_key::LAST,
                now
            ],
        )?;
    }
    Ok(bike)
}
