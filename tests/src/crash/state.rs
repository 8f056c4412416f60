//! The contents of a book as text, and its inconsistencies.

use rusqlite::types::ValueRef;
use rusqlite::{Connection, OpenFlags};
use std::collections::BTreeSet;
use std::fmt::Write;
use std::fs;
use std::hash::{DefaultHasher, Hash, Hasher};
use std::path::Path;

use data_encoding::HEXLOWER;
use sha2::{Digest, Sha256};

fn open(path: &Path) -> Connection {
    Connection::open_with_flags(path, OpenFlags::SQLITE_OPEN_READ_WRITE).expect("opens")
}

fn texts(conn: &Connection, sql: &str) -> Vec<String> {
    let mut rows = conn.prepare(sql).expect("a statement");
    rows.query_map([], |row| row.get(0)).expect("rows").collect::<Result<_, _>>().expect("texts")
}

/// The catalogue up to which a request was rejudged. It is updated when due calls are queried, in a transaction before
/// that of the step, and has no visible effect by itself.
const KEPT_UP: &str = "rechecked";

/// The format, every row of every table except [`KEPT_UP`], including the undo journal, and every word of the search
/// index with its positions. Long values are represented by their length and a hash.
pub fn state(path: &Path) -> String {
    let conn = open(path);
    let version: i32 = conn.pragma_query_value(None, "user_version", |row| row.get(0)).expect("a version");
    let mut text = format!("format {version}\n");
    let tables = texts(
        &conn,
        "SELECT name FROM sqlite_schema WHERE type = 'table' AND name NOT LIKE 'bike\\_words%' ESCAPE '\\'
             AND name NOT LIKE 'sqlite\\_%' ESCAPE '\\' ORDER BY name",
    );
    for table in tables {
        let mut rows = conn.prepare(&format!("SELECT * FROM {table} ORDER BY 1, 2")).expect("a statement");
        let columns = rows.column_count();
        let hidden = rows.column_index(KEPT_UP).ok();
        let mut rows = rows.query([]).expect("rows");
        while let Some(row) = rows.next().expect("a row") {
            let _ = write!(text, "{table}:");
            for column in (0..columns).filter(|column| Some(*column) != hidden) {
                let _ = match row.get_ref(column).expect("a value") {
                    ValueRef::Null => write!(text, " -"),
                    ValueRef::Integer(value) => write!(text, " {value}"),
                    ValueRef::Real(value) => write!(text, " {value:?}"),
                    ValueRef::Text(value) | ValueRef::Blob(value) if value.len() > 200 => {
                        let mut hasher = DefaultHasher::new();
                        value.hash(&mut hasher);
                        write!(text, " {} bytes #{:016x}", value.len(), hasher.finish())
                    }
                    ValueRef::Text(value) => write!(text, " {:?}", String::from_utf8_lossy(value)),
                    ValueRef::Blob(value) => write!(text, " {value:02x?}"),
                };
            }
            text.push('\n');
        }
    }
    for word in words(&conn, "main", "bike_words") {
        let _ = writeln!(text, "word: {word}");
    }
    text
}

/// Every word of a full text table, with row and column; positions are omitted, as they follow from the text.
fn words(conn: &Connection, schema: &str, table: &str) -> Vec<String> {
    conn.execute_batch(&format!(
        "DROP TABLE IF EXISTS temp.vocabulary;
         CREATE VIRTUAL TABLE temp.vocabulary USING fts5vocab({schema}, {table}, instance)"
    ))
    .expect("the vocabulary");
    texts(
        conn,
        "SELECT term || ' ' || doc || ' ' || coalesce(col, '') || ' ' || coalesce(offset, '')
                 FROM temp.vocabulary ORDER BY doc, term, col, offset",
    )
}

/// Inconsistencies of a closed book and its folder: the file's structure, references, the search index against its
/// rows, the journal, photo files against rows, backups, and unexpected files (the folder `out` is for files written by
/// the steps).
pub fn unsound(path: &Path) -> Vec<String> {
    let mut wrong = Vec::new();
    let folder = path.parent().expect("a folder");
    let own = path.file_name().expect("a name").to_string_lossy().into_owned();
    let photos_folder = format!("{own}-photos");
    for entry in fs::read_dir(folder).expect("the folder").flatten() {
        let name = entry.file_name().to_string_lossy().into_owned();
        if name != own
            && name != photos_folder
            && name != "out"
            && !name.starts_with(&format!("{own}.damaged-"))
        {
            if !name.starts_with(&format!("{own}.backup-")) || !name.ends_with(['Z', 'n', 't']) {
                wrong.push(format!("a file is left over: {name}"));
            } else if texts(&open(&entry.path()), "PRAGMA integrity_check") != ["ok"] {
                wrong.push(format!("a backup is not sound: {name}"));
            }
        }
    }
    let conn = open(path);
    let integrity = texts(&conn, "PRAGMA integrity_check");
    wrong.extend(integrity.into_iter().filter(|line| line != "ok").map(|line| format!("integrity: {line}")));
    wrong.extend(texts(
        &conn,
        "SELECT \"table\" || ' ' || rowid || ' -> ' || parent FROM pragma_foreign_key_check",
    ));
    if let Err(error) =
        conn.execute("INSERT INTO bike_words (bike_words, rank) VALUES ('integrity-check', 1)", [])
    {
        wrong.push(format!("search: {error}"));
    }
    let made: String = conn
        .query_row("SELECT sql FROM sqlite_schema WHERE name = 'bike_words'", [], |row| row.get(0))
        .expect("the search's table");
    conn.execute_batch(&made.replace("TABLE bike_words", "TABLE temp.made_anew"))
        .expect("a search made anew");
    conn.execute_batch(
        "INSERT INTO temp.made_anew (rowid, name, owner, tags, notes) SELECT * FROM bike_text",
    )
    .expect("the words");
    let (kept, anew): (BTreeSet<_>, BTreeSet<_>) = (
        words(&conn, "main", "bike_words").into_iter().collect(),
        words(&conn, "temp", "made_anew").into_iter().collect(),
    );
    wrong.extend(kept.symmetric_difference(&anew).map(|word| format!("search: {word}")));
    for table in texts(
        &conn,
        "SELECT name FROM sqlite_schema WHERE type = 'table' AND name LIKE 'undo\\_%' ESCAPE '\\'",
    ) {
        let stray =
            format!("SELECT '{table} ' || action FROM {table} WHERE action NOT IN (SELECT key FROM actions)");
        wrong.extend(texts(&conn, &stray));
    }
    wrong.extend(photos(&conn, &folder.join(&photos_folder)));
    wrong
}

/// Photo rows without their files (including rows that undo would restore and those of unsent order requests), files
/// without such a row, and files that do not match the hash in their name.
fn photos(conn: &Connection, folder: &Path) -> Vec<String> {
    let needed: BTreeSet<String> = texts(
        conn,
        "WITH kept AS (
             SELECT sha256, original_kept, working, thumbnail FROM photos WHERE removed_at IS NULL
             UNION ALL SELECT sha256, original_kept, working, thumbnail FROM undo_photos
                 WHERE removed_at IS NULL)
         SELECT lower(hex(working)) FROM kept UNION SELECT lower(hex(thumbnail)) FROM kept
         UNION SELECT lower(hex(sha256)) FROM kept WHERE original_kept
         UNION SELECT lower(hex(p.sha256)) FROM order_photos p JOIN outbox o ON o.key = p.request
             WHERE o.state NOT IN ('delivered', 'withdrawn')",
    )
    .into_iter()
    .collect();
    let mut there = BTreeSet::new();
    let mut wrong = Vec::new();
    for entry in fs::read_dir(folder).into_iter().flatten().flatten() {
        let name = entry.file_name().to_string_lossy().into_owned();
        let Ok(bytes) = fs::read(entry.path()) else {
            wrong.push(format!("among the photos, but no file: {name}"));
            continue;
        };
        if HEXLOWER.encode(&Sha256::digest(&bytes)) != name {
            wrong.push(format!("a photo file that is not what its name says: {name}"));
        }
        there.insert(name);
    }
    wrong.extend(needed.difference(&there).map(|name| format!("a photo row without its file: {name}")));
    wrong.extend(there.difference(&needed).map(|name| format!("a photo file without a row: {name}")));
    wrong
}
