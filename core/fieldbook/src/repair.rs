//! Making salvaged rows into a book that the program can read.

use super::error::Inner;
use super::stored::{Json, Word};
use super::{BikeId, Lost, Recovery, SignatureStatus, Timestamp, recover};
use rusqlite::types::{FromSql, ValueRef};
use rusqlite::{Connection, OptionalExtension, params};
use sha2::{Digest, Sha256};
use steerwright_fit::bike::Observed;
use steerwright_metrology::quantity::{Instrument, Instruments, Quantity, Unit};
use steerwright_photogrammetry::measure::Marks;

/// Counts rows of a table that were saved at first and had to go.
fn lose(recovery: &mut Recovery, table: &str, rows: u64) {
    if rows == 0 {
        return;
    }
    if let Some(saved) = recovery.saved.iter_mut().find(|saved| saved.table == table) {
        saved.rows = saved.rows.saturating_sub(rows);
    }
    match recovery.lost.iter_mut().find(|lost| lost.table == table) {
        Some(lost) => lost.rows = lost.rows.map(|before| before + rows),
        None => recovery.lost.push(Lost { table: table.to_owned(), rows: Some(rows) }),
    }
}

type Reads = fn(ValueRef<'_>) -> bool;

fn reads<T: FromSql>(value: ValueRef<'_>) -> bool {
    T::column_result(value).is_ok()
}

/// Keys of the rows whose value in a column the program cannot read.
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

/// Columns that hold more than SQLite itself can check. A row goes if the program cannot read one of these.
const NEEDED: [(&str, &str, Reads); 8] = [
    ("measurements", "what", reads::<Word<Quantity>>),
    ("measurements", "unit", reads::<Word<Unit>>),
    ("measurements", "tool", reads::<Word<Instrument>>),
    ("settings", "value", reads::<Json<Instruments>>),
    ("catalogues", "signature_status", reads::<Word<SignatureStatus>>),
    ("catalogues", "number", reads::<u32>),
    ("photo_marks", "marks", reads::<Json<Marks>>),
    ("recoveries", "report", reads::<Json<Recovery>>),
];

/// What the program cannot read although SQLite finds nothing wrong with it; takes time in proportion to the book.
pub(super) fn complaint(conn: &Connection) -> Result<Option<String>, Inner> {
    for (table, column, legible) in
        NEEDED.into_iter().chain([("bikes", "observed", reads::<Json<Observed>> as Reads)])
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

/// Takes away rows that would stop a screen from being shown: a word that is none of the format's any more.
pub(super) fn unreadable(conn: &Connection, recovery: &mut Recovery) -> Result<(), Inner> {
    for (table, column, legible) in NEEDED {
        // The rows lie in a book of the damaged one's format, which may be an older one.
        if !conn.table_exists(None, table)? {
            continue;
        }
        for key in illegible(conn, table, column, legible)? {
            let gone = conn.execute(&format!("DELETE FROM {table} WHERE key = ?1"), [key])?;
            lose(recovery, table, u64::try_from(gone).unwrap_or(0));
        }
    }
    // A bike is worth more than what was seen on it.
    for key in illegible(conn, "bikes", "observed", reads::<Json<Observed>>)? {
        conn.execute("UPDATE bikes SET observed = '{}' WHERE key = ?1", [key])?;
    }
    damaged_files(conn, recovery)?;
    if conn.table_exists(None, "orders")? {
        orders(conn, recovery)?;
    }
    Ok(())
}

/// Takes away order requests whose frozen text is not what was frozen. One whose way through the outbox was lost counts
/// as perhaps sent: its key keeps a shop that has it from taking it twice.
fn orders(conn: &Connection, recovery: &mut Recovery) -> Result<(), Inner> {
    let mut bad: Vec<i64> = Vec::new();
    {
        let mut rows = conn.prepare("SELECT key, body, sha256 FROM orders")?;
        let mut rows = rows.query([])?;
        while let Some(row) = rows.next()? {
            let sound = row.get_ref(1)?.as_bytes().is_ok_and(|body| {
                let hash = Sha256::digest(body);
                row.get_ref(2).is_ok_and(|it| it.as_blob().is_ok_and(|it| it == hash.as_slice()))
            });
            if !sound {
                bad.push(row.get(0)?);
            }
        }
    }
    for key in bad {
        // What refers to it goes with it, as what refers to nothing does.
        conn.execute("DELETE FROM orders WHERE key = ?1", [key])?;
        lose(recovery, "orders", 1);
    }
    conn.execute(
        "INSERT INTO outbox (key, state, in_doubt, tries, next_at, calls, rechecked, changed_at)
         SELECT key, iif(erased_at IS NULL, 'in_doubt', 'withdrawn'), 1, 0, 0, 0, number, made_at FROM orders
         WHERE key NOT IN (SELECT key FROM outbox)",
        [],
    )?;
    if conn.table_exists(None, "order_shops")? {
        shops(conn)?;
    }
    Ok(())
}

/// Where it was lost which shop has a request, that is the present one if there never was another. Otherwise it is not
/// known, and the request says so.
fn shops(conn: &Connection) -> Result<(), Inner> {
    conn.execute_batch(
        "UPDATE outbox SET shop = NULL WHERE shop NOT IN (SELECT key FROM order_shops);
         CREATE TEMP VIEW only_shop AS SELECT base, token FROM main.shops WHERE (SELECT count(DISTINCT base) FROM (
             SELECT base FROM main.shops UNION SELECT base FROM main.order_shops UNION SELECT base FROM main.agreements)) = 1;
         INSERT OR IGNORE INTO order_shops (base, token) SELECT base, token FROM only_shop;
         UPDATE outbox SET shop = (SELECT key FROM order_shops WHERE (base, token) = (SELECT base, token FROM only_shop))
         WHERE shop IS NULL AND (in_doubt OR state IN ('underway', 'in_doubt', 'delivered'));
         DELETE FROM order_shops WHERE key NOT IN (SELECT shop FROM outbox WHERE shop IS NOT NULL);
         DROP VIEW only_shop;",
    )?;
    Ok(())
}

/// Takes away catalogues whose bytes are not those that were imported.
fn damaged_files(conn: &Connection, recovery: &mut Recovery) -> Result<(), Inner> {
    let mut bad: Vec<i64> = Vec::new();
    {
        let mut rows = conn.prepare(
            "SELECT c.key, c.sha256, f.bytes FROM catalogues c LEFT JOIN catalogue_files f ON f.key = c.key",
        )?;
        let mut rows = rows.query([])?;
        while let Some(row) = rows.next()? {
            let sound = row.get_ref(2)?.as_blob().is_ok_and(|bytes| {
                let hash = Sha256::digest(bytes);
                row.get_ref(1).is_ok_and(|it| it.as_blob().is_ok_and(|it| it == hash.as_slice()))
            });
            if !sound {
                bad.push(row.get(0)?);
            }
        }
    }
    for key in bad {
        let files = conn.execute("DELETE FROM catalogue_files WHERE key = ?1", [key])?;
        lose(recovery, "catalogue_files", u64::try_from(files).unwrap_or(0));
        conn.execute("DELETE FROM catalogues WHERE key = ?1", [key])?;
        lose(recovery, "catalogues", 1);
    }
    Ok(())
}

/// Mends references to rows that were lost: readings and checks of a bike that is gone get a bike to stand in for it,
/// a reference that may be absent becomes absent, and a row that is nothing without the other goes.
pub(super) fn dangling(
    conn: &Connection,
    recovery: &mut Recovery,
    mut fresh: impl FnMut() -> BikeId,
    now: Timestamp,
) -> Result<(), Inner> {
    // Taking a row away can leave another without its own, so again until nothing dangles; each round ends some.
    loop {
        let broken: Vec<(String, i64, String, i64)> = {
            let mut rows = conn.prepare("PRAGMA foreign_key_check")?;
            let rows = rows.query_map([], |row| Ok((row.get(0)?, row.get(1)?, row.get(2)?, row.get(3)?)))?;
            rows.collect::<Result<_, _>>()?
        };
        if broken.is_empty() {
            return Ok(());
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
                stand_in(conn, &table, &column, key, fresh(), now)?;
            } else if optional {
                conn.execute(&format!("UPDATE {table} SET {column} = NULL WHERE key = ?1"), [key])?;
            } else {
                let gone = conn.execute(&format!("DELETE FROM {table} WHERE key = ?1"), [key])?;
                lose(recovery, &table, u64::try_from(gone).unwrap_or(0));
            }
        }
    }
}

/// Makes a bike for a row whose own could not be read, once for all its rows.
fn stand_in(
    conn: &Connection,
    table: &str,
    column: &str,
    key: i64,
    id: BikeId,
    now: Timestamp,
) -> Result<(), Inner> {
    let bike: Option<i64> = conn
        .query_row(&format!("SELECT {column} FROM {table} WHERE key = ?1"), [key], |row| row.get(0))
        .optional()?
        .flatten();
    if let Some(bike) = bike {
        conn.execute(
            "INSERT OR IGNORE INTO bikes (key, id, name, observed, notes, name_sort, owner_sort, created_at, touched_at)
             VALUES (?1, ?2, ?3, '{}', '', ?4, ?5, ?6, ?6)",
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
    Ok(())
}
