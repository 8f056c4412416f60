//! Reading a damaged table around its damage.

use super::error::Inner;
use rusqlite::types::{Value, ValueRef};
use rusqlite::{Connection, ErrorCode, Statement, ffi, params_from_iter};
use std::collections::BTreeSet;

/// What was got out of one table.
pub(super) struct Salvaged {
    /// Rows in the new table.
    pub(super) saved: u64,
    /// Rows that are not, `None` if it is not known how many.
    pub(super) lost: Option<u64>,
}

/// Attempts at damaged places before the rest of a table is given up; a page holds some dozens of rows.
const ATTEMPTS: u32 = 200_000;

/// Whether an error says nothing of the rows, only that they cannot be read now: no room, no right, a device that does
/// not write. What a later attempt may read must not be given up for lost.
pub(super) fn hindered(error: &rusqlite::Error) -> bool {
    let Some(failure) = error.sqlite_error() else { return false };
    match failure.code {
        ErrorCode::CannotOpen
        | ErrorCode::DatabaseBusy
        | ErrorCode::DatabaseLocked
        | ErrorCode::DiskFull
        | ErrorCode::PermissionDenied => true,
        ErrorCode::SystemIoFailure => !matches!(
            failure.extended_code,
            ffi::SQLITE_IOERR_READ | ffi::SQLITE_IOERR_SHORT_READ | ffi::SQLITE_IOERR_CORRUPTFS
        ),
        _ => false,
    }
}

/// What was read, or nothing if damage was in the way.
///
/// # Errors
/// Those that are no damage.
pub(super) fn unless_damaged<T>(read: rusqlite::Result<T>) -> Result<Option<T>, Inner> {
    match read {
        Ok(read) => Ok(Some(read)),
        Err(error) if hindered(&error) => Err(error.into()),
        Err(_) => Ok(None),
    }
}

/// The same, read once more if damage was in the way: a failing device may read at the second attempt what it did not
/// at the first, and a whole table hangs on it.
pub(super) fn read_twice<T>(mut read: impl FnMut() -> rusqlite::Result<T>) -> Result<Option<T>, Inner> {
    match unless_damaged(read())? {
        Some(read) => Ok(Some(read)),
        None => unless_damaged(read()),
    }
}

/// Names of a table's columns that both sides have, `key` among them.
fn shared_columns(old: &Connection, new: &Connection, table: &str) -> Result<Vec<String>, Inner> {
    let names = |conn: &Connection| -> rusqlite::Result<Vec<String>> {
        let mut rows = conn.prepare("SELECT name FROM pragma_table_info(?1) ORDER BY cid")?;
        let rows = rows.query_map([table], |row| row.get(0))?;
        rows.collect()
    };
    let theirs = read_twice(|| names(old))?.unwrap_or_default();
    Ok(names(new)?.into_iter().filter(|name| theirs.contains(name)).collect())
}

/// The keys of all rows as an undamaged index has them; an index is other pages than the rows'.
fn keys_of_index(old: &Connection, table: &str) -> Result<Option<BTreeSet<i64>>, Inner> {
    let keys = |index: &str| -> rusqlite::Result<BTreeSet<i64>> {
        let mut rows = old.prepare(&format!("SELECT key FROM {table} INDEXED BY {index}"))?;
        let rows = rows.query_map([], |row| row.get(0))?;
        rows.collect()
    };
    let indexes = || -> rusqlite::Result<Vec<String>> {
        let mut rows = old.prepare("SELECT name FROM pragma_index_list(?1) WHERE partial = 0")?;
        let rows = rows.query_map([table], |row| row.get(0))?;
        rows.collect()
    };
    for index in read_twice(indexes)?.unwrap_or_default() {
        if let Some(keys) = read_twice(|| keys(&index))? {
            return Ok(Some(keys));
        }
    }
    Ok(None)
}

/// A value as it is stored; text that is no UTF-8 any more keeps what is legible.
fn legible(value: ValueRef<'_>) -> Value {
    match value {
        ValueRef::Text(bytes) => Value::Text(String::from_utf8_lossy(bytes).into_owned()),
        ValueRef::Null => Value::Null,
        ValueRef::Integer(value) => Value::Integer(value),
        ValueRef::Real(value) => Value::Real(value),
        ValueRef::Blob(bytes) => Value::Blob(bytes.to_vec()),
    }
}

struct Copying<'c> {
    read: Statement<'c>,
    write: Statement<'c>,
    columns: usize,
    key_at: usize,
    saved: BTreeSet<i64>,
    /// Something could not be read or did not fit.
    damage: bool,
}

impl Copying<'_> {
    /// Copies the rows of a range of keys up to the first that cannot be read. Returns the key to go on from, or
    /// `None` if the range is done.
    fn range(&mut self, low: i64, high: i64) -> Result<Option<i64>, Inner> {
        let mut next = low;
        let Some(mut rows) = unless_damaged(self.read.query([low, high]))? else { return Ok(Some(next)) };
        loop {
            match unless_damaged(rows.next())? {
                Some(None) => return Ok(None),
                None => return Ok(Some(next)),
                Some(Some(row)) => {
                    let values: Result<Vec<Value>, _> =
                        (0..self.columns).map(|at| row.get_ref(at).map(legible)).collect();
                    let (Ok(values), Ok(key)) = (values, row.get::<_, i64>(self.key_at)) else {
                        return Ok(Some(next));
                    };
                    next = key.saturating_add(1);
                    match self.write.execute(params_from_iter(values)) {
                        Ok(_) => {
                            self.saved.insert(key);
                        }
                        // The row can be read, but damage made it one that the book cannot hold.
                        Err(error)
                            if error.sqlite_error_code() == Some(ErrorCode::ConstraintViolation)
                                || error.sqlite_error_code() == Some(ErrorCode::TypeMismatch) =>
                        {
                            self.damage = true;
                        }
                        Err(error) => return Err(error.into()),
                    }
                }
            }
        }
    }
}

/// Copies what can be read of a table, with its keys, into the same table of a new book.
pub(super) fn table(old: &Connection, new: &Connection, table: &str) -> Result<Salvaged, Inner> {
    let columns = shared_columns(old, new, table)?;
    let Some(key_at) = columns.iter().position(|name| name == "key") else {
        return Ok(Salvaged { saved: 0, lost: None });
    };
    let known = keys_of_index(old, table)?;
    let names = columns.join(", ");
    let marks = vec!["?"; columns.len()].join(", ");
    let read = format!("SELECT {names} FROM {table} NOT INDEXED WHERE key BETWEEN ?1 AND ?2 ORDER BY key");
    let Some(read) = read_twice(|| old.prepare(&read))? else {
        return Ok(Salvaged { saved: 0, lost: None });
    };
    let write = new.prepare(&format!("INSERT INTO {table} ({names}) VALUES ({marks})"))?;
    let mut copying =
        Copying { read, write, columns: columns.len(), key_at, saved: BTreeSet::new(), damage: false };
    // Where the last key can be told neither from the rows nor from an index, no book has more rows than this.
    let last = read_twice(|| {
        old.query_row(&format!("SELECT max(key) FROM {table}"), [], |row| row.get::<_, Option<i64>>(0))
    })?;
    let indexed = known.as_ref().map(|known| known.last().copied().unwrap_or(0));
    let last = match (last, indexed) {
        (Some(last), indexed) => last.max(indexed).unwrap_or(0),
        (None, Some(indexed)) => indexed,
        (None, None) => 1 << 32,
    };
    let mut ranges = vec![(1, last)];
    let mut attempts = 0;
    while let Some((low, high)) = ranges.pop() {
        if known.as_ref().is_some_and(|known| low > high || known.range(low..=high).next().is_none()) {
            continue;
        }
        let Some(from) = copying.range(low, high)? else { continue };
        copying.damage = true;
        attempts += 1;
        if attempts > ATTEMPTS {
            break;
        }
        if from > low {
            // Rows were read before the damage; what is left begins with it.
            ranges.push((from, high));
        } else if low < high {
            let middle = i64::midpoint(low, high);
            ranges.push((middle + 1, high));
            ranges.push((low, middle));
        } else {
            // One row; read once more before it is given up.
            copying.range(low, high)?;
        }
    }
    let saved = u64::try_from(copying.saved.len()).unwrap_or(u64::MAX);
    let lost = match known {
        Some(known) => Some(known.difference(&copying.saved).count()),
        None if copying.damage => None,
        None => Some(0),
    };
    Ok(Salvaged { saved, lost: lost.and_then(|lost| u64::try_from(lost).ok()) })
}
