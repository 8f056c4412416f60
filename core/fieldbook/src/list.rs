//! The list of bikes: search, order, pages.

use super::error::Inner;
use super::stored::JsonText;
use super::{BikeId, BookError, Reader, Timestamp};
use rusqlite::{Connection, params_from_iter, types::Value};
use serde::{Deserialize, Serialize};

/// Most bikes on one page.
const MOST: usize = 500;
/// Most words of a search; further ones are ignored.
const WORDS: usize = 12;
/// Most characters of a word; further ones are ignored.
const LETTERS: usize = 40;
/// Up to this many hits are sorted; with more, the list is read in its order until a page is full.
const FEW: usize = 300;

/// The order of the list.
#[derive(Debug, Clone, Copy, PartialEq, Eq, Default, Serialize, Deserialize)]
#[serde(rename_all = "snake_case")]
pub enum Sort {
    /// By name, without regard to case and accents, numbers by value.
    #[default]
    Name,
    /// By owner, then name; bikes without owner last.
    Owner,
    /// Most recently changed first.
    Touched,
}

/// Filter on archived bikes.
#[derive(Debug, Clone, Copy, PartialEq, Eq, Default)]
pub enum Archived {
    /// Not archived.
    #[default]
    Not,
    /// Archived only.
    Only,
    /// All.
    Too,
}

/// Query of the bike list.
#[derive(Debug, Clone, PartialEq, Eq)]
pub struct BikeQuery {
    /// Words, each of which must be a prefix of a word of name, owner, tags or notes. Any text is valid; an empty one
    /// finds every bike.
    pub text: String,
    /// Only bikes with this tag.
    pub tag: Option<String>,
    /// The archive filter.
    pub archived: Archived,
    /// The order.
    pub sort: Sort,
    /// End of the previous page.
    pub after: Option<Cursor>,
    /// Bikes on a page, 1 to 500.
    pub limit: usize,
}

impl Default for BikeQuery {
    /// The first fifty bikes by name.
    fn default() -> Self {
        Self {
            text: String::new(),
            tag: None,
            archived: Archived::Not,
            sort: Sort::Name,
            after: None,
            limit: 50,
        }
    }
}

/// The end of a page. If a bike is added or changed in the meantime, every other bike is still on exactly one page.
#[derive(Debug, Clone, PartialEq, Eq, Serialize, Deserialize)]
pub struct Cursor(At);

#[derive(Debug, Clone, PartialEq, Eq, Serialize, Deserialize)]
#[serde(rename_all = "snake_case")]
enum At {
    Name(String, i64),
    Owner(String, String, i64),
    Touched(i64, i64),
}

/// A row of the list.
#[derive(Debug, Clone, PartialEq, Eq, Serialize)]
pub struct BikeRow {
    /// Its id in the book.
    pub id: BikeId,
    /// Its name.
    pub name: String,
    /// Its owner.
    pub owner: Option<String>,
    /// Its tags.
    pub tags: Vec<String>,
    /// Readings in its log that are not struck out.
    pub measured: u32,
    /// When it last changed in any way.
    pub touched_at: Timestamp,
    /// When it was archived, if it is.
    pub archived_at: Option<Timestamp>,
}

/// A page of the list.
#[derive(Debug, Clone, PartialEq, Eq, Serialize)]
pub struct BikePage {
    /// The bikes.
    pub rows: Vec<BikeRow>,
    /// Start of the next page; absent on the last page.
    pub next: Option<Cursor>,
}

/// The user's words as a full text query; `None` if there are none.
///
/// Each word becomes a quoted prefix, in which only the quote itself has a meaning. Characters other than letters and
/// digits separate words, as in the index.
fn words(text: &str) -> Option<String> {
    let words: Vec<String> = text
        .split(|c: char| c.is_whitespace() || c.is_control() || c == '"')
        .filter(|word| !word.is_empty())
        .take(WORDS)
        .map(|word| format!("\"{}\" *", word.chars().take(LETTERS).collect::<String>()))
        .collect();
    (!words.is_empty()).then(|| words.join(" "))
}

/// Row keys of the bikes that match a query, if they are few.
fn few(conn: &Connection, query: &str) -> Result<Option<Vec<i64>>, Inner> {
    let mut rows = conn.prepare_cached("SELECT rowid FROM bike_words WHERE bike_words MATCH ?1 LIMIT ?2")?;
    let most = i64::try_from(FEW + 1).unwrap_or(i64::MAX);
    let rows = rows.query_map((query, most), |row| row.get(0))?;
    let keys: Vec<i64> = rows.collect::<Result<_, _>>()?;
    Ok((keys.len() <= FEW).then_some(keys))
}

fn page(conn: &Connection, query: &BikeQuery) -> Result<BikePage, Inner> {
    if !(1..=MOST).contains(&query.limit) {
        return Err(Inner::rule(
            "list.page_size",
            format!("a page has 1 to {MOST} bikes, not {}", query.limit),
        )
        .with("most", MOST));
    }
    let (mut wheres, mut values): (Vec<&str>, Vec<Value>) = (Vec::new(), Vec::new());
    match query.archived {
        Archived::Not => wheres.push("archived_at IS NULL"),
        Archived::Only => wheres.push("archived_at IS NOT NULL"),
        Archived::Too => {}
    }
    let mut walk = true;
    if let Some(words) = words(&query.text) {
        if let Some(keys) = few(conn, &words)? {
            walk = false;
            let keys = serde_json::to_string(&keys).map_err(|error| Inner::Stored(error.to_string()))?;
            wheres.push("key IN (SELECT value FROM json_each(?))");
            values.push(keys.into());
        } else {
            // The plus makes SQLite use the sort order's index instead of the hits.
            wheres.push("+key IN (SELECT rowid FROM bike_words WHERE bike_words MATCH ?)");
            values.push(words.into());
        }
    }
    if let Some(tag) = &query.tag {
        wheres.push("+key IN (SELECT bike FROM bike_tags WHERE tag = ?)");
        values.push(tag.trim().to_owned().into());
    }
    let (index, order) = match query.sort {
        Sort::Name => ("bikes_by_name", "name_sort, key"),
        Sort::Owner => ("bikes_by_owner", "owner_sort, name_sort, key"),
        Sort::Touched => ("bikes_by_touch", "touched_at DESC, key DESC"),
    };
    match (query.sort, query.after.as_ref().map(|cursor| &cursor.0)) {
        (_, None) => {}
        (Sort::Name, Some(At::Name(name, key))) => {
            wheres.push("(name_sort, key) > (?, ?)");
            values.extend([name.clone().into(), (*key).into()]);
        }
        (Sort::Owner, Some(At::Owner(owner, name, key))) => {
            wheres.push("(owner_sort, name_sort, key) > (?, ?, ?)");
            values.extend([owner.clone().into(), name.clone().into(), (*key).into()]);
        }
        (Sort::Touched, Some(At::Touched(at, key))) => {
            wheres.push("(touched_at, key) < (?, ?)");
            values.extend([(*at).into(), (*key).into()]);
        }
        _ => return Err(Inner::rule("list.other_order", "the page before was in another order")),
    }
    let wheres = if wheres.is_empty() { "1".to_owned() } else { wheres.join(" AND ") };
    let by = if walk { format!("INDEXED BY {index}") } else { "NOT INDEXED".to_owned() };
    // One more row than the page shows whether there is another page.
    let (most, limit) = (query.limit, query.limit + 1);
    let mut rows = conn.prepare_cached(&format!(
        "SELECT key, id, name, owner, touched_at, archived_at, name_sort, owner_sort,
             (SELECT json_group_array(tag) FROM (SELECT tag FROM bike_tags WHERE bike = bikes.key ORDER BY tag)),
             (SELECT count(*) FROM measurements WHERE bike = bikes.key AND struck_at IS NULL)
         FROM bikes {by} WHERE {wheres} ORDER BY {order} LIMIT {limit}"
    ))?;
    let rows = rows.query_map(params_from_iter(values), |row| {
        let key: i64 = row.get(0)?;
        let JsonText(tags) = row.get(8)?;
        let (name_sort, owner_sort): (String, String) = (row.get(6)?, row.get(7)?);
        let touched_at: Timestamp = row.get(4)?;
        let at = match query.sort {
            Sort::Name => At::Name(name_sort, key),
            Sort::Owner => At::Owner(owner_sort, name_sort, key),
            Sort::Touched => At::Touched(touched_at.0, key),
        };
        let line = BikeRow {
            id: row.get(1)?,
            name: row.get(2)?,
            owner: row.get(3)?,
            tags,
            measured: row.get(9)?,
            touched_at,
            archived_at: row.get(5)?,
        };
        Ok((line, at))
    })?;
    let found: Vec<(BikeRow, At)> = rows.collect::<Result<_, _>>()?;
    let more = found.len() > most;
    let next = found.get(most - 1).filter(|_| more).map(|(_, at)| Cursor(at.clone()));
    let rows = found.into_iter().take(most).map(|(row, _)| row).collect();
    Ok(BikePage { rows, next })
}

impl Reader {
    /// A page of the list of bikes.
    ///
    /// # Errors
    /// A page size of 0 or over 500, or a cursor of another order.
    pub fn bikes(&self, query: &BikeQuery) -> Result<BikePage, BookError> {
        self.read(|conn| page(conn, query))
    }

    /// Every tag with the number of bikes that have it, in alphabetical order, including archived bikes.
    ///
    /// # Errors
    /// Only those of reading.
    pub fn tags(&self) -> Result<Vec<(String, u64)>, BookError> {
        self.read(|conn| {
            let mut rows = conn.prepare_cached(
                "SELECT min(tag COLLATE BINARY), count(*) FROM bike_tags GROUP BY tag ORDER BY tag",
            )?;
            let rows = rows.query_map([], |row| Ok((row.get(0)?, row.get(1)?)))?;
            Ok(rows.collect::<Result<_, _>>()?)
        })
    }
}
