//! All data of one bike in one call.

use crate::judging::catalogue;
use crate::orders::OrderView;
use crate::{
    Amount, Book, Changes, CheckOptions, HandlingView, LocalizedText, LogRow, NamedDrawing, Observed,
    Quantity, ReportView, SteerwrightError, StoredPhoto, Theme, guide,
};
use steerwright_core::book::{self, BikeId, CheckId, KeptCheck, NewCheck, Op, PhotoId, Timestamp};
use steerwright_core::report::{Modification, check, handling, pictures};

/// Content of a bike's screen.
#[derive(Debug, Clone, PartialEq, uniffi::Record)]
pub struct ScreenOptions {
    /// Options of the check.
    pub check: CheckOptions,
    /// Whether drawings are included.
    #[uniffi(default = true)]
    pub drawings: bool,
    /// Colour theme of the drawings.
    pub theme: Theme,
}

/// All data of a bike screen, from one snapshot of the book.
#[derive(Debug, Clone, PartialEq, uniffi::Record)]
pub struct BikeScreen {
    /// Id in the book.
    pub id: BikeId,
    /// The bike's name.
    pub name: String,
    /// The owner's name.
    pub owner: Option<String>,
    /// Observations.
    pub observed: Observed,
    /// Its tags.
    pub tags: Vec<String>,
    /// Free-text notes; may have several lines.
    pub notes: String,
    /// When it was added.
    pub created_at: Timestamp,
    /// When the bike or anything that belongs to it last changed.
    pub touched_at: Timestamp,
    /// When it was archived; absent if it is not archived.
    pub archived_at: Option<Timestamp>,
    /// Combined estimates from the readings.
    pub findings: Vec<FindingView>,
    /// All rows of the log, oldest first.
    pub log: Vec<LogRow>,
    /// Stored checks, latest first.
    pub checks: Vec<KeptView>,
    /// Photos, oldest first.
    pub photos: Vec<StoredPhoto>,
    /// Order requests, latest first.
    pub orders: Vec<OrderView>,
    /// Verdicts ranked, what to measure next, safety notes; absent while there is no catalogue.
    pub report: Option<ReportView>,
    /// Handling figures in the current state.
    pub handling: HandlingView,
    /// Sections and side views of the best kits, and the tool position for every recommended measurement.
    pub drawings: Vec<NamedDrawing>,
    /// The bike as a bike file (`steerwright.bike/1`).
    pub json: String,
}

/// Combined estimate from the readings of one quantity.
#[derive(Debug, Clone, PartialEq, uniffi::Record)]
pub struct FindingView {
    /// The quantity.
    pub what: Quantity,
    /// Plain name.
    pub label: LocalizedText,
    /// The estimate.
    pub amount: Amount,
    /// Number of readings.
    pub readings: u32,
    /// Whether some readings contradict each other.
    pub disagrees: bool,
    /// Photos that contributed readings.
    pub photos: Vec<PhotoId>,
}

/// A stored check.
#[derive(Debug, Clone, PartialEq, uniffi::Record)]
pub struct KeptView {
    /// Id in the book.
    pub id: CheckId,
    /// When the check was made.
    pub made_at: Timestamp,
    /// The person who made the check.
    pub who: Option<String>,
    /// The maker of the catalogue.
    pub maker: String,
    /// Issue number of the catalogue.
    pub number: u32,
    /// Order code of the chosen kit.
    pub sku: Option<String>,
    /// The head angle predicted with it.
    pub predicted: Option<Amount>,
    /// Free-text note.
    pub note: String,
    /// When the kit was installed.
    pub fitted_at: Option<Timestamp>,
    /// When the kit was removed.
    pub removed_at: Option<Timestamp>,
    /// The head angle measured since against the one predicted.
    pub comparison: Option<LocalizedText>,
    /// The report as stored (`steerwright.report/1`).
    pub json: String,
}

/// Result of storing a check.
#[derive(Debug, Clone, PartialEq, Eq, uniffi::Record)]
pub struct CheckKept {
    /// Id in the book.
    pub id: CheckId,
    /// Stale screens.
    pub changes: Changes,
}

impl From<KeptCheck> for KeptView {
    fn from(it: KeptCheck) -> Self {
        let comparison = it.comparison.map(|it| {
            let id = if it.agrees { "comparison.agrees" } else { "comparison.differs" };
            LocalizedText::new(id, it.text)
                .amount("predicted", Amount::deg(it.predicted))
                .amount("installed", Amount::deg(it.installed))
                .amount("difference", Amount::deg(it.difference))
        });
        Self {
            id: it.id,
            made_at: it.made_at,
            who: it.who,
            maker: it.maker,
            number: it.number,
            sku: it.sku,
            predicted: it.predicted.map(Amount::deg),
            note: it.note,
            fitted_at: it.fitted_at,
            removed_at: it.removed_at,
            comparison,
            json: it.report_json,
        }
    }
}

fn findings(screen: &book::BikeScreen) -> Vec<FindingView> {
    let finding = |(what, it): (Quantity, steerwright_core::quantity::Estimate)| FindingView {
        what,
        label: guide::label(what),
        amount: Amount { value: it.value, u: it.u, unit: what.base_unit() },
        readings: u32::try_from(screen.findings.readings(what).len()).unwrap_or(u32::MAX),
        disagrees: screen.findings.disagreements().iter().any(|it| it.what == what),
        photos: screen.photos_behind(what),
    };
    screen.findings.iter().map(finding).collect()
}

#[uniffi::export]
impl Book {
    /// All screen data of a bike, archived or not. It computes for some milliseconds: call it outside the UI thread.
    pub fn bike_screen(&self, id: BikeId, options: ScreenOptions) -> Result<BikeScreen, SteerwrightError> {
        self.read(|reader| {
            let screen = reader.bike_screen(id)?;
            let instruments = reader.instruments()?;
            let bike = &screen.record.bike;
            let steers = handling(bike, &instruments, &Modification::default())?;
            let (mut report, mut drawings) = (None, Vec::new());
            if let Some(catalogue) = catalogue(reader, options.check.maker.as_deref())? {
                let found = check(bike, &catalogue, &instruments, &options.check.options())?;
                if options.drawings {
                    drawings = pictures(bike, &catalogue, &instruments, &found)
                        .into_iter()
                        .map(|(name, drawing)| NamedDrawing::new(name, drawing, options.theme))
                        .collect();
                }
                report = Some(ReportView::new(found)?);
            }
            let mut steers_view = HandlingView::new(&steers, options.theme)?;
            if !options.drawings {
                steers_view.side_view = None;
            }
            let orders = reader.orders(Some(id))?;
            Ok(BikeScreen {
                id,
                findings: findings(&screen),
                json: bike.to_json(),
                name: bike.name.clone(),
                owner: bike.owner.clone(),
                observed: bike.observed.clone(),
                tags: screen.record.tags,
                notes: screen.record.notes,
                created_at: screen.record.created_at,
                touched_at: screen.record.touched_at,
                archived_at: screen.record.archived_at,
                log: screen.log.into_iter().map(Into::into).collect(),
                checks: screen.checks.into_iter().map(Into::into).collect(),
                photos: screen.photos.into_iter().map(Into::into).collect(),
                orders: orders.into_iter().map(Into::into).collect(),
                report,
                handling: steers_view,
                drawings,
            })
        })
    }

    /// Checks a bike in its current state and stores the result. `sku` is the chosen kit, if any.
    #[uniffi::method(default(sku = None, who = None, note = ""))]
    pub fn keep_check(
        &self,
        bike: BikeId,
        options: CheckOptions,
        sku: Option<String>,
        who: Option<String>,
        note: String,
    ) -> Result<CheckKept, SteerwrightError> {
        let (judged, report, instruments) = self.read(|reader| {
            let Some(catalogue) = catalogue(reader, options.maker.as_deref())? else {
                return Err(SteerwrightError::refused("check.no_catalogue", "there is no catalogue yet"));
            };
            let instruments = reader.instruments()?;
            let judged = reader.bike_screen(bike)?.record.bike;
            let report = check(&judged, &catalogue, &instruments, &options.options())?;
            Ok((judged, report, instruments))
        })?;
        let checked = NewCheck {
            bike: &judged,
            report: &report,
            instruments: &instruments,
            sku: sku.as_deref(),
            who: who.as_deref(),
            note: &note,
        };
        let done = self.change(Op::KeepCheck, |work| work.keep_check(bike, &checked))?;
        Ok(CheckKept { id: done.output, changes: done.changes.into() })
    }

    /// Records that the chosen kit is now installed, in place of any other. A kit that does not fit by its check, or is
    /// not decided, is installed only with a reason: `despite`.
    #[uniffi::method(default(despite = None))]
    pub fn fit_kit(&self, check: CheckId, despite: Option<String>) -> Result<Changes, SteerwrightError> {
        Ok(self.change(Op::FitKit, |work| work.fit_kit(check, despite.as_deref()))?.changes.into())
    }

    /// Records that the kit was removed.
    pub fn remove_kit(&self, check: CheckId) -> Result<Changes, SteerwrightError> {
        Ok(self.change(Op::RemoveKit, |work| work.remove_kit(check))?.changes.into())
    }

    /// Records that the kit that is in the bike was removed: that of a check, or the one that the bike was added with
    /// (`fitted` in its file).
    pub fn remove_kit_of_bike(&self, bike: BikeId) -> Result<Changes, SteerwrightError> {
        Ok(self.change(Op::RemoveKit, |work| work.remove_kit_of_bike(bike))?.changes.into())
    }
}
