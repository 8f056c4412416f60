//! Stored checks, and when their kits were fitted and removed.

use super::bundle::limits;
use super::error::Inner;
use super::text::{self, Lines};
use super::{BikeId, BookError, CheckId, Comparison, LogEntry, Timestamp, Work, bikes, log};
use crate::error::Missing as _;
use rusqlite::{Connection, OptionalExtension, Row, params};
use serde::{Deserialize, Serialize};
use steerwright_fit::bike::{Bike, BikeSchema, Findings, FittedKit, Observed};
use steerwright_fit::judgement::Verdict;
use steerwright_fit::report::Report;
use steerwright_metrology::quantity::{Estimate, Instruments, Quantity};

/// Most bytes of a check's bike and report together: a bundle has to carry it, with some room for its other fields.
const MOST_BYTES: usize = limits::CHECK as usize - (64 << 10);

/// A check to store: the bike as it was judged, the report, and the chosen kit.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct NewCheck<'c> {
    /// The bike that was judged; a copy is stored with the check.
    pub bike: &'c Bike,
    /// The report.
    pub report: &'c Report,
    /// The instruments used.
    pub instruments: &'c Instruments,
    /// The chosen kit, if any.
    pub sku: Option<&'c str>,
    /// Who checked.
    pub who: Option<&'c str>,
    /// Free text; may be empty.
    pub note: &'c str,
}

/// A stored check.
#[derive(Debug, Clone, PartialEq, Serialize, Deserialize)]
#[serde(deny_unknown_fields)]
pub struct KeptCheck {
    /// Its id in the book.
    pub id: CheckId,
    /// When it was stored.
    pub made_at: Timestamp,
    /// Who checked.
    pub who: Option<String>,
    /// The maker of the catalogue used.
    pub maker: String,
    /// That catalogue's number.
    pub number: u32,
    /// Version of the engine that judged.
    pub engine: String,
    /// The chosen kit.
    pub sku: Option<String>,
    /// The head angle predicted with it, degrees.
    pub predicted: Option<Estimate>,
    /// Free text.
    pub note: String,
    /// When the kit was fitted.
    pub fitted_at: Option<Timestamp>,
    /// When it was removed.
    pub removed_at: Option<Timestamp>,
    /// The head angle measured with the kit compared with the predicted one, once both exist.
    #[serde(skip_serializing_if = "Option::is_none", skip_deserializing)]
    pub comparison: Option<Comparison>,
    /// The bike as it was judged (`steerwright.bike/1`), byte for byte as it was stored.
    pub bike_json: String,
    /// The report (`steerwright.report/1`), byte for byte as it was stored: a later program may have changed the
    /// format.
    pub report_json: String,
}

impl KeptCheck {
    /// Whether the kit is fitted now.
    pub fn is_fitted(&self) -> bool {
        self.fitted_at.is_some() && self.removed_at.is_none()
    }
}

/// A row as it is stored, without a comparison.
fn kept(row: &Row<'_>) -> rusqlite::Result<KeptCheck> {
    let predicted: Option<f64> = row.get("predicted")?;
    let u: Option<f64> = row.get("predicted_u")?;
    Ok(KeptCheck {
        id: row.get("id")?,
        made_at: row.get("made_at")?,
        who: row.get("who")?,
        maker: row.get("maker")?,
        number: row.get("number")?,
        engine: row.get("engine")?,
        sku: row.get("sku")?,
        predicted: predicted.zip(u).map(|(value, u)| Estimate::new(value, u)),
        note: row.get("note")?,
        fitted_at: row.get("fitted_at")?,
        removed_at: row.get("removed_at")?,
        comparison: None,
        bike_json: row.get("bike_json")?,
        report_json: row.get("report_json")?,
    })
}

/// A check as it is stored, with the key of its bike.
pub(super) fn stored(conn: &Connection, id: CheckId) -> Result<Option<(i64, KeptCheck)>, Inner> {
    let mut found = conn.prepare_cached("SELECT * FROM checks WHERE id = ?1")?;
    Ok(found.query_row([id], |row| Ok((row.get("bike")?, kept(row)?))).optional()?)
}

/// The ids of a bike's checks, the earliest first.
pub(super) fn ids(conn: &Connection, bike: i64) -> Result<Vec<CheckId>, Inner> {
    let mut rows = conn.prepare_cached("SELECT id FROM checks WHERE bike = ?1 ORDER BY made_at, key")?;
    let rows = rows.query_map([bike], |row| row.get(0))?;
    Ok(rows.collect::<Result<_, _>>()?)
}

/// The checks of a bike, the latest first, each compared with the readings taken with its kit.
pub(super) fn of_bike(
    conn: &Connection,
    bike: i64,
    log: &[LogEntry],
    instruments: &Instruments,
) -> Result<Vec<KeptCheck>, Inner> {
    let mut rows =
        conn.prepare_cached("SELECT * FROM checks WHERE bike = ?1 ORDER BY made_at DESC, key DESC")?;
    let rows = rows.query_map([bike], kept)?;
    let mut checks: Vec<KeptCheck> = rows.collect::<Result<_, _>>()?;
    for check in &mut checks {
        let installed = installed(check.id, log, instruments);
        let before = serde_json::from_str(&check.bike_json)
            .ok()
            .and_then(|bike| Findings::new(&bike, instruments).get(Quantity::HeadAngle));
        check.comparison =
            check.predicted.zip(installed).and_then(|(was, is)| Comparison::new(was, is, before));
    }
    Ok(checks)
}

/// The check whose kit is fitted.
pub(super) fn fitted(conn: &Connection, bike: i64) -> Result<Option<CheckId>, Inner> {
    let mut row = conn.prepare_cached(
        "SELECT id FROM checks WHERE bike = ?1 AND fitted_at IS NOT NULL AND removed_at IS NULL
         ORDER BY fitted_at DESC, key DESC LIMIT 1",
    )?;
    Ok(row.query_row([bike], |row| row.get(0)).optional()?)
}

/// The kit that is in the bike: that of a check, as its report describes it, or else `own`, which it was added with. A
/// report of an older program may lack it.
pub(super) fn fitted_kit(
    conn: &Connection,
    bike: i64,
    own: Option<FittedKit>,
) -> Result<Option<FittedKit>, Inner> {
    let mut row = conn.prepare_cached(
        "SELECT sku, report_json FROM checks WHERE bike = ?1 AND fitted_at IS NOT NULL AND removed_at IS NULL
         ORDER BY fitted_at DESC, key DESC LIMIT 1",
    )?;
    let found: Option<(String, String)> =
        row.query_row([bike], |row| Ok((row.get(0)?, row.get(1)?))).optional()?;
    let Some((sku, report)) = found else { return Ok(own) };
    let report: Option<Report> = serde_json::from_str(&report).ok();
    let kit = report.and_then(|report| report.kits.into_iter().find(|kit| kit.sku == sku));
    Ok(kit.map(|kit| kit.as_fitted))
}

/// The head angle from readings taken with that check's kit fitted.
fn installed(check: CheckId, log: &[LogEntry], instruments: &Instruments) -> Option<Estimate> {
    let readings = log.iter().filter(|row| row.since == Some(check) && row.struck.is_none());
    let measured = readings.map(|row| row.measurement.clone()).filter(|it| it.what == Quantity::HeadAngle);
    let bike = Bike {
        schema: BikeSchema::V1,
        name: String::new(),
        owner: None,
        observed: Observed::default(),
        fitted: None,
        measured: measured.collect(),
    };
    Findings::new(&bike, instruments).get(Quantity::HeadAngle)
}

/// The head angle predicted with a kit, as the report has it; none where the bike's own angle was not measured.
fn predicted(checked: &NewCheck<'_>, sku: &str) -> Result<Option<Estimate>, Inner> {
    let kit = checked.report.kits.iter().find(|kit| kit.sku == sku);
    let kit = kit.ok_or_else(|| {
        Inner::rule("check.no_such_kit", format!("the check did not look at a kit `{sku}`")).with("sku", sku)
    })?;
    let change = kit.change.head_angle.as_ref();
    let known = change.filter(|change| !change.assumed.contains(&Quantity::HeadAngle));
    Ok(known.map(|change| Estimate::new(change.after, change.u_after)))
}

fn text_of(value: &impl Serialize) -> Result<String, Inner> {
    serde_json::to_string(value).map_err(|error| Inner::Stored(error.to_string()))
}

fn keep(work: &mut Work<'_>, bike: BikeId, checked: &NewCheck<'_>) -> Result<CheckId, Inner> {
    let who = text::who(checked.who)?;
    text::check("the note", checked.note, text::NOTE, Lines::Many)?;
    let key = bikes::key_of(work.tx(), bike)?;
    let predicted = checked.sku.map(|sku| predicted(checked, sku)).transpose()?.flatten();
    let id = CheckId(work.fresh_id());
    let report = checked.report;
    let (bike_json, report_json) = (text_of(checked.bike)?, text_of(report)?);
    // Both are texts in the JSON of a bundle, which escapes their quotes.
    let packed = [&bike_json, &report_json].map(|json| json.len() + json.matches(['"', '\\']).count());
    if packed.iter().sum::<usize>() > MOST_BYTES {
        let kits = report.kits.len();
        let reason = format!(
            "with the reports on {kits} kits this check is too large to keep; keep one with fewer kits, or of one kit alone"
        );
        return Err(Inner::rule("check.too_large", reason).with("kits", kits));
    }
    work.tx()
        .prepare_cached(
            "INSERT INTO checks (id, bike, made_at, who, maker, number, engine, sku, predicted, predicted_u,
                 bike_json, report_json, note)
             VALUES (?1, ?2, ?3, ?4, ?5, ?6, ?7, ?8, ?9, ?10, ?11, ?12, ?13)",
        )?
        .execute(params![
            id,
            key,
            work.now(),
            who,
            report.catalogue.maker,
            report.catalogue.number,
            report.engine,
            checked.sku,
            predicted.map(|it| it.value),
            predicted.map(|it| it.u),
            bike_json,
            report_json,
            checked.note
        ])?;
    bikes::touch(work, key)?;
    Ok(id)
}

/// The verdict on the chosen kit when the check was made; `None` where its report cannot be read any more.
fn verdict(conn: &Connection, key: i64) -> Result<Option<Verdict>, Inner> {
    let (sku, report): (Option<String>, String) = conn
        .prepare_cached("SELECT sku, report_json FROM checks WHERE key = ?1")?
        .query_row([key], |row| Ok((row.get(0)?, row.get(1)?)))?;
    let report: Option<Report> = serde_json::from_str(&report).ok();
    Ok(sku
        .zip(report)
        .and_then(|(sku, report)| report.kits.iter().find(|kit| kit.sku == sku).map(|kit| kit.verdict)))
}

/// Row key, bike, whether a kit was chosen, whether it is fitted.
fn find(conn: &Connection, id: CheckId) -> Result<(i64, i64, bool, bool), Inner> {
    let found = conn
        .prepare_cached(
            "SELECT key, bike, sku IS NOT NULL, fitted_at IS NOT NULL AND removed_at IS NULL FROM checks WHERE id = ?1",
        )?
        .query_row([id], |row| Ok((row.get(0)?, row.get(1)?, row.get(2)?, row.get(3)?)))
        .optional()?;
    found.ok_or_else(|| id.missing())
}

fn fit(work: &mut Work<'_>, id: CheckId, despite: Option<&str>) -> Result<(), Inner> {
    let (key, bike, chosen, fitted) = find(work.tx(), id)?;
    if !chosen {
        return Err(Inner::rule("check.no_kit_chosen", "no kit was chosen when this check was kept"));
    }
    if fitted {
        return Err(Inner::rule("check.kit_is_in", "this check's kit is in the bike already"));
    }
    match (verdict(work.tx(), key)?, despite) {
        (Some(verdict @ (Verdict::WillNotGo | Verdict::MeasureFirst)), None) => {
            let word = if verdict == Verdict::WillNotGo { "does not fit" } else { "is not decided" };
            let what = format!("by this check the kit {word}; expected a reason why it is in all the same");
            let verdict = if verdict == Verdict::WillNotGo { "will_not_go" } else { "measure_first" };
            return Err(Inner::rule("check.does_not_fit", what).with("verdict", verdict));
        }
        (_, Some(reason)) => {
            let reason = text::needed("the reason", reason, text::NOTE, Lines::One)?;
            work.tx()
                .prepare_cached(
                    "UPDATE checks SET note = trim(note || char(10) || ?2, char(10)) WHERE key = ?1",
                )?
                .execute(params![key, format!("In all the same: {reason}")])?;
        }
        _ => {}
    }
    // The previous kit had to be removed first.
    take_out_own(work, bike)?;
    work.tx()
        .prepare_cached(
            "UPDATE checks SET removed_at = ?2 WHERE bike = ?1 AND fitted_at IS NOT NULL AND removed_at IS NULL",
        )?
        .execute(params![bike, work.now()])?;
    work.tx()
        .prepare_cached("UPDATE checks SET fitted_at = ?2, removed_at = NULL WHERE key = ?1")?
        .execute(params![key, work.now()])?;
    bikes::touch(work, bike)
}

fn remove(work: &mut Work<'_>, id: CheckId) -> Result<(), Inner> {
    let (key, bike, _, fitted) = find(work.tx(), id)?;
    if !fitted {
        return Err(Inner::rule("check.kit_is_not_in", "this check's kit is not in the bike"));
    }
    work.tx()
        .prepare_cached("UPDATE checks SET removed_at = ?2 WHERE key = ?1")?
        .execute(params![key, work.now()])?;
    bikes::touch(work, bike)
}

/// Takes out the kit that the bike was added with; whether there was one. Readings of what a kit changes were taken with
/// it, so they are struck out.
fn take_out_own(work: &mut Work<'_>, bike: i64) -> Result<bool, Inner> {
    let taken = work
        .tx()
        .prepare_cached(
            "UPDATE bikes SET fitted = NULL, observed_at = ?2 WHERE key = ?1 AND fitted IS NOT NULL",
        )?
        .execute(params![bike, work.now()])?
        > 0;
    if taken {
        for row in log::of_bike(work.tx(), bike, None)? {
            if row.since.is_none() && row.struck.is_none() && log::changes_with_a_kit(row.measurement.what) {
                log::strike(work, row.id, None, "taken with the kit that was in then")?;
            }
        }
    }
    Ok(taken)
}

fn remove_any(work: &mut Work<'_>, id: BikeId) -> Result<(), Inner> {
    let bike = bikes::key_of(work.tx(), id)?;
    if let Some(check) = fitted(work.tx(), bike)? {
        return remove(work, check);
    }
    if !take_out_own(work, bike)? {
        return Err(Inner::rule("bike.no_kit_in", "there is no kit in this bike"));
    }
    bikes::touch(work, bike)
}

impl Work<'_> {
    /// Stores a check with its bike.
    ///
    /// # Errors
    /// No such bike, or the chosen kit is not in the report.
    pub fn keep_check(&mut self, bike: BikeId, checked: &NewCheck<'_>) -> Result<CheckId, BookError> {
        self.step(|work| keep(work, bike, checked))
    }

    /// Records that the chosen kit is fitted now and replaces any other. Readings recorded from now on count as taken
    /// with it. Earlier ones of quantities that a kit changes ([`changes_with_a_kit`](super::changes_with_a_kit)) are
    /// no longer valid.
    ///
    /// A kit that does not fit by its check, or is not decided, is fitted only with a reason: `despite` goes into the
    /// check's note.
    ///
    /// # Errors
    /// No such check, no kit was chosen, it is fitted already, or it does not fit and no reason is given.
    pub fn fit_kit(&mut self, check: CheckId, despite: Option<&str>) -> Result<(), BookError> {
        self.step(|work| fit(work, check, despite))
    }

    /// Records that the kit was removed and the bike is in its original state.
    ///
    /// # Errors
    /// No such check, or its kit is not fitted.
    pub fn remove_kit(&mut self, check: CheckId) -> Result<(), BookError> {
        self.step(|work| remove(work, check))
    }

    /// Records that the kit that is in the bike was removed: that of a check, or the one that the bike was added with.
    /// Readings taken with the latter, of quantities that a kit changes, are struck out.
    ///
    /// # Errors
    /// No such bike, or there is no kit in it.
    pub fn remove_kit_of_bike(&mut self, bike: BikeId) -> Result<(), BookError> {
        self.step(|work| remove_any(work, bike))
    }
}
