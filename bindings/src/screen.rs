//! Everything about one bike in one call.

use crate::judging::catalogue;
use crate::orders::OrderView;
use crate::{
    Amount, Book, Changes, CheckOptions, HandlingView, LocalizedText, LogLine, NamedDrawing, Observed,
    PhotoView, Quantity, ReportView, SteerwrightError, Theme, guide,
};
use steerwright_core::book::{self, BikeId, CheckId, KeptCheck, NewCheck, Op, PhotoId, Timestamp};
use steerwright_core::report::{Modification, check, handling, pictures};

/// What a bike's screen is to show.
#[derive(Debug, Clone, PartialEq, uniffi::Record)]
pub struct ScreenOptions {
    /// What is judged against which catalogue.
    pub check: CheckOptions,
    /// Whether pictures are drawn.
    #[uniffi(default = true)]
    pub drawings: bool,
    /// Their colours.
    pub theme: Theme,
}

/// A bike with everything a screen shows of it, all of one moment.
#[derive(Debug, Clone, PartialEq, uniffi::Record)]
pub struct BikeScreen {
    /// Its name in the book.
    pub id: BikeId,
    /// What its people call it.
    pub name: String,
    /// Whose it is.
    pub owner: Option<String>,
    /// What was seen.
    pub observed: Observed,
    /// Its tags.
    pub tags: Vec<String>,
    /// Anything worth remembering; lines.
    pub notes: String,
    /// When it was added.
    pub created_at: Timestamp,
    /// When anything of it last changed.
    pub touched_at: Timestamp,
    /// When it was put in the archive, if it is there.
    pub archived_at: Option<Timestamp>,
    /// What the readings say together.
    pub findings: Vec<FindingView>,
    /// Every row of the log, oldest first.
    pub log: Vec<LogLine>,
    /// Kept checks, the latest first.
    pub checks: Vec<KeptView>,
    /// Photos, oldest first.
    pub photos: Vec<PhotoView>,
    /// Order requests, the latest first.
    pub orders: Vec<OrderView>,
    /// Verdicts ranked, what to measure next, safety notes; absent while there is no catalogue.
    pub report: Option<ReportView>,
    /// How it steers as it stands.
    pub handling: HandlingView,
    /// Sections and side views of the best kits, and where the tool goes for everything to measure next.
    pub drawings: Vec<NamedDrawing>,
    /// The bike as its file (`steerwright.bike/1`).
    pub json: String,
}

/// What the readings of one quantity say together.
#[derive(Debug, Clone, PartialEq, uniffi::Record)]
pub struct FindingView {
    /// What of.
    pub what: Quantity,
    /// In plain words.
    pub label: LocalizedText,
    /// The estimate.
    pub amount: Amount,
    /// From how many readings.
    pub readings: u32,
    /// Whether some of them contradict one another.
    pub disagrees: bool,
    /// The photos it rests on.
    pub photos: Vec<PhotoId>,
}

/// A check that was kept.
#[derive(Debug, Clone, PartialEq, uniffi::Record)]
pub struct KeptView {
    /// Its name in the book.
    pub id: CheckId,
    /// When it was kept.
    pub made_at: Timestamp,
    /// Who checked.
    pub who: Option<String>,
    /// Whose catalogue.
    pub maker: String,
    /// That catalogue's number.
    pub number: u32,
    /// The kit that was chosen.
    pub sku: Option<String>,
    /// The head angle predicted with it.
    pub predicted: Option<Amount>,
    /// Anything worth remembering.
    pub note: String,
    /// When the kit went in.
    pub fitted_at: Option<Timestamp>,
    /// When it came out again.
    pub removed_at: Option<Timestamp>,
    /// The head angle measured since against the one predicted.
    pub comparison: Option<LocalizedText>,
    /// The report as it was kept (`steerwright.report/1`).
    pub json: String,
}

/// A check that was kept just now.
#[derive(Debug, Clone, PartialEq, Eq, uniffi::Record)]
pub struct CheckKept {
    /// Its name in the book.
    pub id: CheckId,
    /// Which screens are stale.
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
    /// A bike, archived or not, with everything a screen shows of it. It computes for some milliseconds: call it off the
    /// thread that draws.
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

    /// Judges a bike as it stands and keeps the check with it; `sku` is the kit that was chosen, if one was.
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

    /// Notes that the chosen kit went in now, in place of any other.
    pub fn fit_kit(&self, check: CheckId) -> Result<Changes, SteerwrightError> {
        Ok(self.change(Op::FitKit, |work| work.fit_kit(check))?.changes.into())
    }

    /// Notes that the kit came out.
    pub fn remove_kit(&self, check: CheckId) -> Result<Changes, SteerwrightError> {
        Ok(self.change(Op::RemoveKit, |work| work.remove_kit(check))?.changes.into())
    }
}
