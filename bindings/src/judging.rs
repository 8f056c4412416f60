//! The report of a check as a screen shows it.

use crate::background::off_thread;
use crate::{
    Amount, Archived, Book, CancellationToken, Direction, Ease, ForkPosition, Instrument, LocalizedText,
    ProgressListener, Requirement, RequirementState, SteerwrightError, TargetChange, Verdict, WorkPlace,
    WorkSide, WorkTask, guide,
};
use std::sync::Arc;
use steerwright_core::book::{self, BikeId, Reader};
use steerwright_core::catalogue::Catalogue;
use steerwright_core::judgement::Work;
use steerwright_core::quantity::Estimate;
use steerwright_core::report::{
    KitReport, MeasureNext, Options, Report, RequirementReport, SeatChance, caution_id, check,
};

/// Which catalogue a bike is judged against, and what is wanted.
#[derive(Debug, Clone, PartialEq, uniffi::Record)]
pub struct CheckOptions {
    /// Whose kits; absent: the first maker by name that has a catalogue in use.
    #[uniffi(default = None)]
    pub maker: Option<String>,
    /// Which way the angle is to move.
    pub direction: Direction,
    /// What the rider wants, if anything in particular.
    #[uniffi(default = None)]
    pub target: Option<TargetChange>,
    /// Only this kit.
    #[uniffi(default = None)]
    pub only: Option<String>,
}

/// What a check found, thin; `json` has all of it.
#[derive(Debug, Clone, PartialEq, uniffi::Record)]
pub struct ReportView {
    /// Whose kits.
    pub maker: String,
    /// Number of the catalogue.
    pub number: u32,
    /// ISO 4217 code of the prices.
    pub currency: String,
    /// Which way the angle was to move.
    pub direction: Direction,
    /// Sizes the upper seat may have, most likely first.
    pub upper_seats: Vec<SeatGuess>,
    /// Sizes the lower seat may have, most likely first.
    pub lower_seats: Vec<SeatGuess>,
    /// Both ends in the trade's code, once seats and steerer are known: `IS42/28.6 | IS52/40`.
    pub code: Option<String>,
    /// Every kit that was looked at, best first.
    pub kits: Vec<KitView>,
    /// Kits that could not be looked at.
    pub left_out: Vec<KitLeftOut>,
    /// What would settle the best kit's verdict soonest, most useful first.
    pub measure_next: Vec<NextView>,
    /// What is wrong or odd in the readings themselves.
    pub readings: Vec<LocalizedText>,
    /// Safety notes to read before tools come out.
    pub cautions: Vec<LocalizedText>,
    /// All of it (`steerwright.report/1`).
    pub json: String,
}

/// One size a seat may have.
#[derive(Debug, Clone, PartialEq, uniffi::Record)]
pub struct SeatGuess {
    /// The size, such as `IS42`; absent: no standard size.
    pub size: Option<String>,
    /// Its probability.
    pub p: f64,
}

/// One kit on this bike.
#[derive(Debug, Clone, PartialEq, uniffi::Record)]
pub struct KitView {
    /// The maker's order code.
    pub sku: String,
    /// The kit's name.
    pub name: String,
    /// The verdict.
    pub verdict: Verdict,
    /// Why, in a sentence.
    pub text: LocalizedText,
    /// Whether it may be ordered; otherwise the shop can only be asked about it.
    pub may_be_ordered: bool,
    /// Lower bound of the probability that every requirement is met, planned work done.
    pub p_low: f64,
    /// Upper bound of the same.
    pub p_high: f64,
    /// How easily it installs at this head tube length.
    pub ease: Option<Ease>,
    /// Place of the head tube in the kit's range: 0 at the short end, 1 at the long end.
    pub range_position: Option<f64>,
    /// The tilt it was made for, degrees, slacker positive.
    pub nominal_tilt: Amount,
    /// The tilt it has in this head tube.
    pub real_tilt: Option<Amount>,
    /// Head angle as the bike stands; absent where the readings do not tell.
    pub head_angle_before: Option<Amount>,
    /// Head angle with the kit.
    pub head_angle_after: Option<Amount>,
    /// What changes, with its own, smaller uncertainty.
    pub head_angle_change: Option<Amount>,
    /// What it asks, one by one.
    pub requirements: Vec<RequirementView>,
    /// Work to do before it goes in.
    pub work: Vec<WorkView>,
    /// Parts to order with it.
    pub also_order: Vec<String>,
    /// What to watch for when putting it together.
    pub notes: Vec<LocalizedText>,
    /// The tallest stack of spacers that still fits on the steerer.
    pub tallest_spacers: Option<Amount>,
    /// Price as a decimal text.
    pub price: String,
    /// How many are in stock, if the catalogue says.
    pub stock: Option<u32>,
}

/// One requirement's answer.
#[derive(Debug, Clone, PartialEq, uniffi::Record)]
pub struct RequirementView {
    /// Which.
    pub requirement: Requirement,
    /// The answer.
    pub state: RequirementState,
    /// Probability that it is met as the bike is; absent where nothing is known.
    pub p: Option<f64>,
    /// Distance to the nearer limit, inside positive.
    pub margin: Option<Amount>,
    /// In a sentence.
    pub text: LocalizedText,
}

/// One piece of work.
#[derive(Debug, Clone, PartialEq, uniffi::Record)]
pub struct WorkView {
    /// Where.
    pub place: WorkPlace,
    /// What.
    pub task: WorkTask,
    /// The dimension as measured, mm.
    pub from: Option<Amount>,
    /// The dimension it has to reach, mm.
    pub to: Option<Amount>,
    /// The side that is enough to relieve.
    pub side: Option<WorkSide>,
    /// How much comes off that side if only it is relieved, mm.
    pub remove: Option<Amount>,
    /// In a sentence.
    pub text: LocalizedText,
}

/// A kit that was not looked at.
#[derive(Debug, Clone, PartialEq, Eq, uniffi::Record)]
pub struct KitLeftOut {
    /// Which kit.
    pub sku: String,
    /// Why.
    pub english: String,
}

/// One thing to measure or look at next.
#[derive(Debug, Clone, PartialEq, uniffi::Record)]
pub struct NextView {
    /// A quantity's or an observation's name in the bike file.
    pub what: String,
    /// Minutes it takes.
    pub minutes: f64,
    /// How much it is expected to lower the chance of judging the best kit wrongly.
    pub gain: f64,
    /// Why, in a sentence with the numbers.
    pub text: LocalizedText,
    /// The usual tool; absent for a thing only looked at.
    pub tool: Option<Instrument>,
    /// Where the fork has to be for it.
    pub fork: ForkPosition,
    /// Where to put the tool.
    pub place: LocalizedText,
    /// The mistake people make.
    pub trap: LocalizedText,
}

/// The best kit for one bike of many.
#[derive(Debug, Clone, PartialEq, uniffi::Record)]
pub struct BikeVerdict {
    /// The bike.
    pub bike: BikeId,
    /// What its people call it.
    pub name: String,
    /// The kit that comes first; absent where none could be looked at.
    pub sku: Option<String>,
    /// That kit's verdict.
    pub verdict: Option<Verdict>,
    /// In a sentence.
    pub text: Option<LocalizedText>,
    /// What to measure next, by its name in the bike file.
    pub measure_next: Option<String>,
}

/// The serde name of one of the core's words.
pub(crate) fn name(word: &impl serde::Serialize) -> String {
    serde_json::to_value(word).ok().and_then(|it| it.as_str().map(str::to_owned)).unwrap_or_default()
}

fn verdict_text(verdict: Verdict, english: &str, p_low: f64, p_high: f64) -> LocalizedText {
    LocalizedText::new(format!("verdict.{}", name(&verdict)), english)
        .chance("p_low", p_low)
        .chance("p_high", p_high)
}

pub(crate) fn exact_mm(value: f64) -> Amount {
    Amount::mm(Estimate::exact(value))
}

fn exact_deg(value: f64) -> Amount {
    Amount::deg(Estimate::exact(value))
}

impl From<SeatChance> for SeatGuess {
    fn from(SeatChance { size, p }: SeatChance) -> Self {
        Self { size: size.map(|size| size.to_string()), p }
    }
}

impl From<RequirementReport> for RequirementView {
    fn from(it: RequirementReport) -> Self {
        let margin = it.margin.map(Amount::from);
        let id = format!("requirement.{}.{}", it.requirement.name(), name(&it.state));
        let text = LocalizedText::new(id, it.text).maybe(it.p, |text, p| text.chance("p", p));
        let text = text.maybe(margin, |text, margin| text.amount("margin", margin));
        Self { requirement: it.requirement, state: it.state, p: it.p, margin, text }
    }
}

impl From<Work> for WorkView {
    fn from(it: Work) -> Self {
        let [from, to, remove] = [it.from_mm, it.to_mm, it.remove_mm].map(|mm| mm.map(exact_mm));
        let id = format!("work.{}.{}", name(&it.place), name(&it.task));
        let mut text = LocalizedText::new(id, it.text);
        for (name, amount) in [("from", from), ("to", to), ("remove", remove)] {
            text = text.maybe(amount, |text, amount| text.amount(name, amount));
        }
        let text = text.maybe(it.side, |text, side| text.word("side", side.name()));
        Self { place: it.place, task: it.task, from, to, side: it.side, remove, text }
    }
}

impl From<KitReport> for KitView {
    fn from(it: KitReport) -> Self {
        let angles = it.change.head_angle;
        Self {
            text: verdict_text(it.verdict, &it.text, it.p_low, it.p_high),
            may_be_ordered: steerwright_core::protocol::wire::OrderRequest::may_be_ordered(it.verdict),
            sku: it.sku,
            name: it.name,
            verdict: it.verdict,
            p_low: it.p_low,
            p_high: it.p_high,
            ease: it.ease,
            range_position: it.range_position,
            nominal_tilt: exact_deg(it.tilt_deg.nominal),
            real_tilt: it.tilt_deg.real.map(exact_deg),
            head_angle_before: angles.map(|it| exact_deg(it.before)),
            head_angle_after: angles.map(|it| exact_deg(it.after)),
            head_angle_change: angles.map(|it| Amount::deg(Estimate::new(it.after - it.before, it.u))),
            requirements: it.requirements.into_iter().map(Into::into).collect(),
            work: it.work.into_iter().map(Into::into).collect(),
            also_order: it.also_order,
            notes: it.notes.into_iter().map(Into::into).collect(),
            tallest_spacers: it.tallest_spacers_mm.map(Amount::mm),
            price: it.price.to_string(),
            stock: it.stock,
        }
    }
}

impl From<MeasureNext> for NextView {
    fn from(it: MeasureNext) -> Self {
        let text = LocalizedText::new(format!("next.{}", it.what), it.text);
        Self {
            text: text.number("minutes", it.minutes).number("gain", it.gain),
            place: guide::place(&it.what, &it.place),
            trap: guide::trap(&it.what, &it.trap),
            what: it.what,
            minutes: it.minutes,
            gain: it.gain,
            tool: it.with,
            fork: it.fork,
        }
    }
}

impl ReportView {
    pub(crate) fn new(report: Report) -> Result<Self, SteerwrightError> {
        let json = serde_json::to_string(&report).map_err(SteerwrightError::internal)?;
        let seats = |seats: Vec<SeatChance>| seats.into_iter().map(Into::into).collect();
        let left_out = report.left_out.into_iter();
        Ok(Self {
            maker: report.catalogue.maker,
            number: report.catalogue.number,
            currency: report.catalogue.currency,
            direction: report.direction,
            upper_seats: seats(report.seats.upper),
            lower_seats: seats(report.seats.lower),
            code: report.seats.code,
            kits: report.kits.into_iter().map(Into::into).collect(),
            left_out: left_out.map(|it| KitLeftOut { sku: it.sku, english: it.text }).collect(),
            measure_next: report.measure_next.into_iter().map(Into::into).collect(),
            readings: report.readings.into_iter().map(Into::into).collect(),
            cautions: report
                .cautions
                .into_iter()
                .map(|it| LocalizedText::new(format!("caution.{}", caution_id(&it).unwrap_or("other")), it))
                .collect(),
            json,
        })
    }
}

/// The catalogue that a check is made against; none if there is none yet.
pub(crate) fn catalogue(reader: &Reader, maker: Option<&str>) -> Result<Option<Catalogue>, SteerwrightError> {
    if let Some(maker) = maker {
        return Ok(Some(reader.catalogue(maker, None)?));
    }
    let makers = reader.makers()?;
    let first = makers.iter().find(|maker| maker.catalogues.iter().any(|it| it.in_use));
    Ok(first.map(|maker| reader.catalogue(&maker.maker, None)).transpose()?)
}

impl CheckOptions {
    pub(crate) fn options(&self) -> Options {
        Options { direction: self.direction, target: self.target, only: self.only.clone() }
    }
}

#[uniffi::export]
impl Book {
    /// Judges every bike of the list against one catalogue, off the calling thread.
    #[uniffi::method(default(listener = None, cancellation = None))]
    pub async fn judge_bikes(
        self: Arc<Self>,
        options: CheckOptions,
        listener: Option<Arc<dyn ProgressListener>>,
        cancellation: Option<Arc<CancellationToken>>,
    ) -> Result<Vec<BikeVerdict>, SteerwrightError> {
        off_thread(listener, cancellation, move |progress| {
            self.read(|reader| {
                let Some(catalogue) = catalogue(reader, options.maker.as_deref())? else {
                    return Err(SteerwrightError::refused("check.no_catalogue", "there is no catalogue yet"));
                };
                let instruments = reader.instruments()?;
                let mut bikes = Vec::new();
                let mut query = book::BikeQuery { archived: Archived::Not, limit: 500, ..Default::default() };
                loop {
                    let page = reader.bikes(&query)?;
                    bikes.extend(page.rows.into_iter().map(|row| row.id));
                    match page.next {
                        Some(next) => query.after = Some(next),
                        None => break,
                    }
                }
                let of = bikes.len() as u64;
                let mut verdicts = Vec::new();
                for (done, bike) in bikes.into_iter().enumerate() {
                    progress.step(done as u64, of)?;
                    let record = reader.bike_screen(bike)?.record;
                    let report = check(&record.bike, &catalogue, &instruments, &options.options())?;
                    let best = report.kits.first();
                    verdicts.push(BikeVerdict {
                        bike,
                        name: record.bike.name,
                        sku: best.map(|kit| kit.sku.clone()),
                        verdict: best.map(|kit| kit.verdict),
                        text: best.map(|kit| verdict_text(kit.verdict, &kit.text, kit.p_low, kit.p_high)),
                        measure_next: report.measure_next.first().map(|next| next.what.clone()),
                    });
                }
                progress.step(of, of)?;
                Ok(verdicts)
            })
        })
        .await
    }
}
