//! Reading the readable rows of a damaged table.

use super::error::Inner;
use rusqlite::types::{Value, ValueRef};
use rusqlite::{Connection, ErrorCode, Statement, ffi, params_from_iter};
use std::collections::BTreeSet;

/// The result of reading one table.
#[derive(Default)]
pub(super) struct Salvaged {
    /// Keys of the rows copied to the new table.
    pub(super) found: BTreeSet<i64>,
    /// Keys of all rows according to the readable indexes, if there are any.
    pub(super) indexed: Option<BTreeSet<i64>>,
    /// Something could not be read, or a row was rejected by the new table.
    pub(super) damage: bool,
}

impl Salvaged {
    /// A table of which nothing could be read.
    fn nothing() -> Self {
        Self { damage: true, ..Self::default() }
    }

    /// Whether the damaged table has a row of this key that could not be used, or may have one.
    pub(super) fn may_lack(&self, key: i64) -> bool {
        self.found.contains(&key) || self.indexed.as_ref().map_or(self.damage, |keys| keys.contains(&key))
    }

    /// Number of the table's rows that are not in `present`; `None` if it is unknown.
    pub(super) fn lost(&self, present: &BTreeSet<i64>) -> Option<usize> {
        match &self.indexed {
            Some(indexed) => Some(indexed.union(&self.found).filter(|key| !present.contains(key)).count()),
            None if self.damage => None,
            None => Some(self.found.difference(present).count()),
        }
    }
}

/// Attempts at damaged ranges before the rest of a table is given up. A page has some dozens of rows.
const ATTEMPTS: u32 = 200_000;

/// Whether an error says nothing about the rows, only that they cannot be read now: no space, no permission, a device
/// that does not write. A later attempt may read them, so they must not count as lost.
pub(super) fn is_obstacle(error: &rusqlite::Error) -> bool {
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

/// The read value, or `None` if it is damaged.
///
/// # Errors
/// Those of [`is_obstacle`].
pub(super) fn unless_damaged<T>(read: rusqlite::Result<T>) -> Result<Option<T>, Inner> {
    match read {
        Ok(read) => Ok(Some(read)),
        Err(error) if is_obstacle(&error) => Err(error.into()),
        Err(_) => Ok(None),
    }
}

/// As [`unless_damaged`], with a second attempt: a failing device may succeed at the second, and a whole table depends
/// on it.
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

/// The keys of all rows according to the readable indexes. An index has pages of its own.
fn indexed_keys(old: &Connection, table: &str) -> Result<Option<BTreeSet<i64>>, Inner> {
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
    let mut all = None;
    for index in read_twice(indexes)?.unwrap_or_default() {
        if let Some(keys) = read_twice(|| keys(&index))? {
            all.get_or_insert_with(BTreeSet::new).extend(keys);
        }
    }
    Ok(all)
}

/// A value as it is stored; text that is not UTF-8 is converted lossily.
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
    found: BTreeSet<i64>,
    /// Something could not be read or was rejected.
    damage: bool,
}

impl Copying<'_> {
    /// Copies the rows of a range of keys up to the first that cannot be read. Returns the key to continue from, or
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
                            self.found.insert(key);
                        }
                        // The row is readable, but damage made it one that the book cannot store.
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

/// Copies the readable rows of a table, with their keys, into the same table of a new book. `old` is absent if nothing
/// of the damaged file can be read.
pub(super) fn table(old: Option<&Connection>, new: &Connection, table: &str) -> Result<Salvaged, Inner> {
    let Some(old) = old else { return Ok(Salvaged::nothing()) };
    let columns = shared_columns(old, new, table)?;
    let Some(key_at) = columns.iter().position(|name| name == "key") else {
        return Ok(Salvaged::nothing());
    };
    let indexed = indexed_keys(old, table)?;
    let names = columns.join(", ");
    let marks = vec!["?"; columns.len()].join(", ");
    let read = format!("SELECT {names} FROM {table} NOT INDEXED WHERE key BETWEEN ?1 AND ?2 ORDER BY key");
    let Some(read) = read_twice(|| old.prepare(&read))? else {
        return Ok(Salvaged::nothing());
    };
    let write = new.prepare(&format!("INSERT INTO {table} ({names}) VALUES ({marks})"))?;
    let mut copying =
        Copying { read, write, columns: columns.len(), key_at, found: BTreeSet::new(), damage: false };
    // If the last key can be determined neither from the rows nor from an index: no book has more rows than this.
    let last = read_twice(|| {
        old.query_row(&format!("SELECT max(key) FROM {table}"), [], |row| row.get::<_, Option<i64>>(0))
    })?;
    let last_indexed = indexed.as_ref().map(|indexed| indexed.last().copied().unwrap_or(0));
    let last = match (last, last_indexed) {
        (Some(last), last_indexed) => last.max(last_indexed).unwrap_or(0),
        (None, Some(last_indexed)) => last_indexed,
        (None, None) => 1 << 32,
    };
    let mut ranges = vec![(1, last)];
    let mut attempts = 0;
    while let Some((low, high)) = ranges.pop() {
        // Between damaged ranges only keys that an index has are looked for.
        let is_indexed = |keys: &BTreeSet<i64>| keys.range(low..=high).next().is_some();
        if low > high || (copying.damage && indexed.as_ref().is_some_and(|keys| !is_indexed(keys))) {
            continue;
        }
        let Some(from) = copying.range(low, high)? else { continue };
        copying.damage = true;
        attempts += 1;
        if attempts > ATTEMPTS {
            break;
        }
        if from > low {
            // Rows were read before the damage; the remaining range begins with it.
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
    Ok(Salvaged { found: copying.found, indexed, damage: copying.damage })
}
