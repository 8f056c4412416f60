//! What an action did, in words that name its bikes and things: for what was undone or redone.

use super::error::Inner;
use super::stored::EnumText;
use super::transact::Op;
use super::{BikeId, journal};
use rusqlite::{Connection, OptionalExtension, params};
use serde::Serialize;
use steerwright_input::number;
use steerwright_metrology::quantity::{Quantity, Unit};
use steerwright_metrology::voice::{self, Voice};
use steerwright_words::say;

/// Things named one by one; more of them are counted.
const NAMED: usize = 3;

/// An action that was undone or redone, or would be next.
#[derive(Debug, Clone, PartialEq, Serialize)]
pub struct ActionSummary {
    /// The action.
    pub op: Op,
    /// The bikes it is about, by name, in the order of the book.
    pub bikes: Vec<(BikeId, String)>,
    /// What it did to them, in a few words each: "head tube length 112 mm", "name: Ash to Birch".
    pub things: Vec<Thing>,
}

impl ActionSummary {
    /// In a sentence without its full stop: `write down a measurement (Hire bike 05): head tube length 112 mm`.
    pub fn description(&self) -> String {
        self.in_words(Voice::english())
    }

    /// The same in another language.
    pub fn in_words(&self, voice: Voice<'_>) -> String {
        let mut text = voice.named("op", self.op.name());
        let names: Vec<&str> = self.bikes.iter().map(|(_, name)| name.as_str()).collect();
        match names.as_slice() {
            [] => {}
            few if few.len() <= NAMED => text.push_str(&format!(" ({})", few.join(", "))),
            many => text.push_str(&format!(" ({})", say!(voice, "counted-bike", count = many.len()))),
        }
        if !self.things.is_empty() {
            let things: Vec<String> = self.things.iter().map(|thing| thing.in_words(voice)).collect();
            text.push_str(&format!(": {}", things.join(", ")));
        }
        text
    }
}

/// A thing that an action did something to. As JSON it is its English words.
#[derive(Debug, Clone, PartialEq, Serialize)]
#[serde(into = "String")]
pub enum Thing {
    /// By a name or words that are the same in every language, such as an order code.
    Named(String),
    /// A reading.
    Reading {
        /// The quantity.
        what: Quantity,
        /// The number in `unit`.
        value: f64,
        /// Its unit.
        unit: Unit,
    },
    /// More of one kind than are named one by one: how many, and the kind's noun in English.
    Counted(usize, &'static str),
    /// The bike's name or owner; `None` for nobody.
    Renamed {
        /// `name` or `owner`.
        field: &'static str,
        /// Before.
        was: Option<String>,
        /// Now.
        is: Option<String>,
    },
    /// A request to a shop, or what the shop is told about one.
    Asked {
        /// `request`, `withdrawn` for one that was withdrawn, or the kind of the message.
        what: String,
        /// How many of the kit.
        quantity: u32,
        /// The kit.
        sku: String,
    },
    /// What was seen, by the names of the file format; `None` for nothing.
    Seen {
        /// The observation.
        what: String,
        /// Before.
        was: Option<String>,
        /// Now.
        is: Option<String>,
    },
    /// The notes.
    Notes,
    /// What is wanted of the bike.
    Wanted,
    /// A tag that was added.
    TagAdded(String),
    /// A tag that was removed.
    TagRemoved(String),
}

impl Thing {
    /// In a few words.
    pub fn in_words(&self, voice: Voice<'_>) -> String {
        match self {
            Self::Named(name) => name.clone(),
            Self::Reading { what, value, unit } => {
                format!("{} {} {unit}", voice.quantity(*what), voice.mark(number(*value)))
            }
            Self::Counted(count, noun) => {
                voice.with(&voice::id("counted", noun), &[("count", (*count).into())])
            }
            Self::Renamed { field, was, is } => {
                let [was, is] = [was, is].map(|it| it.clone().unwrap_or_else(|| voice.text("thing-nobody")));
                say!(voice, "thing-renamed", field = *field, was = was, is = is)
            }
            Self::Asked { what, quantity, sku } => {
                say!(voice, "thing-asked", what = what, quantity = quantity.to_string(), sku = sku)
            }
            Self::Seen { what, was, is } => {
                let [was, is] = [was, is]
                    .map(|it| voice.named("saw-value", it.as_ref().map_or("not_known", String::as_str)));
                say!(voice, "thing-seen", what = voice.named("saw", what), was = was, is = is)
            }
            Self::Notes => voice.text("thing-notes"),
            Self::Wanted => voice.text("thing-wanted"),
            Self::TagAdded(tag) => say!(voice, "thing-tag-added", tag = tag),
            Self::TagRemoved(tag) => say!(voice, "thing-tag-removed", tag = tag),
        }
    }
}

impl From<Thing> for String {
    fn from(thing: Thing) -> Self {
        thing.in_words(Voice::english())
    }
}

/// An action as it is before it is reverted: its rows hold what it did.
pub(super) fn of_action(conn: &Connection, action: i64, op: Op) -> Result<ActionSummary, Inner> {
    let mut bikes = Vec::new();
    for (key, id) in journal::bikes_of(conn, action)? {
        bikes.push((id, name(conn, action, key)?));
    }
    // The request holds the bike's name; the journal has no row of the bike.
    for (id, name) in ordered(conn, action)? {
        if !bikes.iter().any(|(known, _)| *known == id) {
            bikes.push((id, name));
        }
    }
    let things = match op {
        // The bike's own name says what was added or deleted.
        Op::AddBike | Op::DeleteBike | Op::ArchiveBike | Op::RestoreBike => Vec::new(),
        Op::EditBike => edited(conn, action)?,
        Op::KeepCheck | Op::FitKit | Op::RemoveKit => {
            let checks = rows(conn, action, "checks", "coalesce(t.sku, 'no kit chosen')")?;
            // Without a check it is the kit that the bike was added with.
            let own = if checks.is_empty() { own_kits(conn, action)? } else { Vec::new() };
            listed([checks, own].concat(), "check")
        }
        Op::AddPhoto | Op::EditPhoto | Op::RemovePhoto => {
            let shown = "t.width || ' by ' || t.height || ' pixels' || iif(t.note = '', '', ', \"' || t.note || '\"')";
            listed(rows(conn, action, "photos", shown)?, "photo")
        }
        Op::ImportCatalogue | Op::PinMaker => listed(rows(conn, action, "makers", "t.name")?, "maker"),
        Op::Order => requests(conn, action)?,
        Op::ChangeSettings => Vec::new(),
        Op::AddMeasurement | Op::StrikeOut | Op::BringBack | Op::MeasurePhoto | Op::Import => {
            listed(readings(conn, action)?, "measurement")
        }
    };
    Ok(ActionSummary { op, bikes, things })
}

fn listed(things: Vec<Thing>, noun: &'static str) -> Vec<Thing> {
    if things.len() <= NAMED { things } else { vec![Thing::Counted(things.len(), noun)] }
}

/// The bike's name now, or as it was if it is gone.
fn name(conn: &Connection, action: i64, key: i64) -> Result<String, Inner> {
    let now = conn.query_row("SELECT name FROM bikes WHERE key = ?1", [key], |row| row.get(0)).optional()?;
    if let Some(now) = now {
        return Ok(now);
    }
    let was = "SELECT name FROM undo_bikes WHERE action = ?1 AND key = ?2";
    Ok(conn.query_row(was, params![action, key], |row| row.get(0)).optional()?.unwrap_or_default())
}

/// SQL for the rows of a table that an action made or changed, as they are now, and for those that it took away, as they
/// were: undoing made them go, and redoing brings them back.
fn touched(table: &str, shown: &str) -> String {
    format!(
        "SELECT t.key AS key, {shown} FROM {table} AS t WHERE t.key IN
             (SELECT row FROM actions WHERE key = ?1 AND made = '{table}'
              UNION SELECT key FROM undo_{table} WHERE action = ?1)
         UNION ALL
         SELECT t.key AS key, {shown} FROM undo_{table} AS t WHERE t.action = ?1
             AND NOT EXISTS (SELECT 1 FROM {table} AS kept WHERE kept.key = t.key)
         ORDER BY key"
    )
}

/// A text of each row of a table that an action is about.
fn rows(conn: &Connection, action: i64, table: &str, shown: &str) -> Result<Vec<Thing>, Inner> {
    let mut rows = conn.prepare(&touched(table, shown))?;
    let rows = rows.query_map([action], |row| Ok(Thing::Named(row.get(1)?)))?;
    Ok(rows.collect::<Result<_, _>>()?)
}

/// The kits that an action took out of bikes that had been added with them.
fn own_kits(conn: &Connection, action: i64) -> Result<Vec<Thing>, Inner> {
    let sku = "coalesce(json_extract(u.fitted, '$.sku'), json_extract(b.fitted, '$.sku'))";
    let mut rows = conn.prepare(&format!(
        "SELECT {sku} FROM undo_bikes AS u CROSS JOIN bikes AS b ON b.key = u.key
         WHERE u.action = ?1 AND u.fitted IS NOT b.fitted"
    ))?;
    let rows = rows.query_map([action], |row| Ok(Thing::Named(row.get(0)?)))?;
    Ok(rows.collect::<Result<_, _>>()?)
}

fn readings(conn: &Connection, action: i64) -> Result<Vec<Thing>, Inner> {
    let mut rows = conn.prepare(&touched("measurements", "t.what, t.value, t.unit"))?;
    let rows = rows.query_map([action], |row| {
        let (EnumText::<Quantity>(what), EnumText::<Unit>(unit)) = (row.get(1)?, row.get(3)?);
        Ok(Thing::Reading { what, value: row.get(2)?, unit })
    })?;
    Ok(rows.collect::<Result<_, _>>()?)
}

/// What an edit changed.
fn edited(conn: &Connection, action: i64) -> Result<Vec<Thing>, Inner> {
    let mut things = Vec::new();
    let mut rows = conn.prepare(
        "SELECT u.name, b.name, u.owner, b.owner, u.notes <> b.notes,
             u.observed, b.observed, u.wanted IS NOT b.wanted
         FROM undo_bikes AS u CROSS JOIN bikes AS b ON b.key = u.key WHERE u.action = ?1",
    )?;
    let mut rows = rows.query([action])?;
    while let Some(row) = rows.next()? {
        for (field, at) in [("name", 0), ("owner", 2)] {
            let (was, is): (Option<String>, Option<String>) = (row.get(at)?, row.get(at + 1)?);
            if was != is {
                things.push(Thing::Renamed { field, was, is });
            }
        }
        if row.get(4)? {
            things.push(Thing::Notes);
        }
        if row.get(7)? {
            things.push(Thing::Wanted);
        }
        things.extend(seen(&row.get::<_, String>(5)?, &row.get::<_, String>(6)?));
    }
    for (how, sql) in [
        (
            Thing::TagAdded as fn(String) -> Thing,
            "SELECT tag FROM bike_tags WHERE key IN (SELECT row FROM actions WHERE key = ?1 AND made = 'bike_tags')",
        ),
        (
            Thing::TagRemoved,
            "SELECT tag FROM undo_bike_tags AS u WHERE action = ?1
                 AND NOT EXISTS (SELECT 1 FROM bike_tags AS t WHERE t.key = u.key)",
        ),
    ] {
        let mut tags = conn.prepare(sql)?;
        let tags = tags.query_map([action], |row| row.get::<_, String>(0))?;
        for tag in tags {
            things.push(how(tag?));
        }
    }
    Ok(things)
}

/// The observations that differ.
fn seen(was: &str, is: &str) -> Vec<Thing> {
    type Fields = serde_json::Map<String, serde_json::Value>;
    let read = |text: &str| serde_json::from_str::<Fields>(text).unwrap_or_default();
    let (was, is) = (read(was), read(is));
    let name = |value: Option<&serde_json::Value>| match value? {
        serde_json::Value::Bool(yes) => Some(if *yes { "yes" } else { "no" }.to_owned()),
        serde_json::Value::String(word) => Some(word.clone()),
        other => Some(other.to_string()),
    };
    let fields: std::collections::BTreeSet<&String> = was.keys().chain(is.keys()).collect();
    let changed = fields.into_iter().filter(|field| was.get(*field) != is.get(*field));
    changed
        .map(|field| Thing::Seen { what: field.clone(), was: name(was.get(field)), is: name(is.get(field)) })
        .collect()
}

/// The bikes of the order requests of an action.
fn ordered(conn: &Connection, action: i64) -> Result<Vec<(BikeId, String)>, Inner> {
    let mut rows = conn.prepare(
        "SELECT b.id, b.name FROM actions AS a CROSS JOIN orders AS o ON o.key = a.row
         CROSS JOIN bikes AS b ON b.key = o.bike
         WHERE a.key = ?1 AND a.made IN ('orders', 'orders_withdrawn')
         UNION
         SELECT b.id, b.name FROM actions AS a CROSS JOIN order_messages AS m ON m.key = a.row
         CROSS JOIN orders AS o ON o.key = m.request CROSS JOIN bikes AS b ON b.key = o.bike
         WHERE a.key = ?1 AND a.made = 'order_messages'",
    )?;
    let rows = rows.query_map([action], |row| Ok((row.get(0)?, row.get(1)?)))?;
    Ok(rows.collect::<Result<_, _>>()?)
}

fn requests(conn: &Connection, action: i64) -> Result<Vec<Thing>, Inner> {
    let mut rows = conn.prepare(
        "SELECT iif(a.made = 'orders', 'request', 'withdrawn'), o.quantity, o.sku
         FROM actions AS a CROSS JOIN orders AS o ON o.key = a.row
         WHERE a.key = ?1 AND a.made IN ('orders', 'orders_withdrawn')
         UNION ALL
         SELECT m.kind, o.quantity, o.sku
         FROM actions AS a CROSS JOIN order_messages AS m ON m.key = a.row CROSS JOIN orders AS o ON o.key = m.request
         WHERE a.key = ?1 AND a.made = 'order_messages'",
    )?;
    let rows = rows.query_map([action], |row| {
        Ok(Thing::Asked { what: row.get(0)?, quantity: row.get(1)?, sku: row.get(2)? })
    })?;
    Ok(rows.collect::<Result<_, _>>()?)
}
