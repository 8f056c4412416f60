//! The check report as a screen shows it.

use crate::background::off_thread;
use crate::{
    Amount, Archived, Book, CancellationToken, Direction, Dismantling, Ease, ForkPosition, Instrument,
    LocalizedText, ProgressListener, Quantity, Requirement, RequirementState, SteerwrightError, TargetChange,
    Verdict, WorkPlace, WorkSide, WorkTask, guide,
};
use std::sync::Arc;
use steerwright_core::book::{self, BikeId, Reader};
use steerwright_core::catalogue::Catalogue;
use steerwright_core::judgement::Work;
use steerwright_core::quantity::{Estimate, Unit};
use steerwright_core::report::{
    Holds, KitReport, MeasureNext, Options, Report, RequirementReport, SeatChance, caution_id, check,
};

/// The catalogue a bike is checked against and the rider's wish.
#[derive(Debug, Clone, PartialEq, uniffi::Record)]
pub struct CheckOptions {
    /// The maker; absent: the first maker by name that has an active catalogue.
    #[uniffi(default = None)]
    pub maker: Option<String>,
    /// Direction in which the head angle is to change.
    pub direction: Direction,
    /// The rider's specific target, if any.
    #[uniffi(default = None)]
    pub target: Option<TargetChange>,
    /// Check only the kit with this order code.
    #[uniffi(default = None)]
    pub only: Option<String>,
}

/// Summary of a check; `json` is the complete report.
#[derive(Debug, Clone, PartialEq, uniffi::Record)]
pub struct ReportView {
    /// The maker of the kits.
    pub maker: String,
    /// Issue number of the catalogue.
    pub number: u32,
    /// ISO 4217 currency code of the prices.
    pub currency: String,
    /// Direction in which the head angle was to change.
    pub direction: Direction,
    /// Possible sizes of the upper seat, most likely first.
    pub upper_seats: Vec<SeatGuess>,
    /// Possible sizes of the lower seat, most likely first.
    pub lower_seats: Vec<SeatGuess>,
    /// Both ends in the standard headset code, if seats and steerer are known: `IS42/28.6 | IS52/40`.
    pub code: Option<String>,
    /// The kit that is in the bike now, and the effect of removing it.
    pub fitted: Option<LocalizedText>,
    /// Every checked kit, best first.
    pub kits: Vec<KitVerdict>,
    /// Kits that could not be checked.
    pub left_out: Vec<KitLeftOut>,
    /// Measurements that would decide the best kit's verdict, most useful first.
    pub measure_next: Vec<NextView>,
    /// Errors and inconsistencies in the measurements.
    pub readings: Vec<LocalizedText>,
    /// Safety notes to read before tools come out.
    pub cautions: Vec<LocalizedText>,
    /// The complete report (`steerwright.report/1`).
    pub json: String,
}

/// One possible size of a seat.
#[derive(Debug, Clone, PartialEq, uniffi::Record)]
pub struct SeatGuess {
    /// The size, such as `IS42`; absent: not a standard size.
    pub size: Option<String>,
    /// Its probability.
    pub p: f64,
}

/// Check result of one kit.
#[derive(Debug, Clone, PartialEq, uniffi::Record)]
pub struct KitVerdict {
    /// The maker's order code.
    pub sku: String,
    /// The kit's name.
    pub name: String,
    /// The verdict.
    pub verdict: Verdict,
    /// The reason, as a sentence.
    pub text: LocalizedText,
    /// Whether the kit may be ordered; otherwise only a question may be sent to the shop.
    pub may_be_ordered: bool,
    /// Lower bound of the probability that every requirement is met once the listed work is done.
    pub p_low: f64,
    /// Upper bound of the same probability.
    pub p_high: f64,
    /// Difficulty of the installation at this head tube length.
    pub ease: Option<Ease>,
    /// Position of the head tube length in the kit's range: 0 at the short end, 1 at the long end.
    pub range_position: Option<f64>,
    /// Nominal tilt of the kit, degrees, slacker positive.
    pub nominal_tilt: Amount,
    /// Actual tilt in this head tube.
    pub real_tilt: Option<Amount>,
    /// Head angle in the current state; absent if the measurements do not determine it.
    pub head_angle_before: Option<Amount>,
    /// Head angle with the kit.
    pub head_angle_after: Option<Amount>,
    /// `head_angle_after - head_angle_before`, with its own, smaller uncertainty.
    pub head_angle_change: Option<Amount>,
    /// Quantities that were not measured and for which usual values stand in the head angles.
    pub head_angle_assumed: Vec<Quantity>,
    /// For each quantity that the verdict rests on, the range in which the verdict stays the same, tightest first. Only
    /// for the best kit.
    pub holds: Vec<HoldsView>,
    /// The result for each requirement.
    pub requirements: Vec<RequirementView>,
    /// Work required before installation.
    pub work: Vec<WorkView>,
    /// Order codes of parts to order along with the kit.
    pub also_order: Vec<String>,
    /// What to watch for when putting it together.
    pub notes: Vec<LocalizedText>,
    /// Maximum total height of spacers on the steerer.
    pub tallest_spacers: Option<Amount>,
    /// Price as a decimal string.
    pub price: String,
    /// How many are in stock, if the catalogue says.
    pub stock: Option<u32>,
}

/// Range of one quantity in which the verdict stays the same.
#[derive(Debug, Clone, PartialEq, uniffi::Record)]
pub struct HoldsView {
    /// The quantity.
    pub what: Quantity,
    /// Its present value.
    pub value: Amount,
    /// Lower end; absent: no change of the verdict at any plausible value below.
    pub from: Option<Amount>,
    /// The verdict below the lower end.
    pub below: Option<Verdict>,
    /// Upper end; absent: no change of the verdict at any plausible value above.
    pub to: Option<Amount>,
    /// The verdict above the upper end.
    pub above: Option<Verdict>,
    /// The same as a sentence.
    pub text: LocalizedText,
}

/// Result for one requirement.
#[derive(Debug, Clone, PartialEq, uniffi::Record)]
pub struct RequirementView {
    /// The requirement.
    pub requirement: Requirement,
    /// The result.
    pub state: RequirementState,
    /// Probability that it is met in the current state; absent if nothing is known.
    pub p: Option<f64>,
    /// Distance to the nearer limit; positive inside the limits.
    pub margin: Option<Amount>,
    /// The result as a sentence.
    pub text: LocalizedText,
}

/// One item of work.
#[derive(Debug, Clone, PartialEq, uniffi::Record)]
pub struct WorkView {
    /// Location of the work.
    pub place: WorkPlace,
    /// Kind of work.
    pub task: WorkTask,
    /// Measured dimension, mm.
    pub from: Option<Amount>,
    /// Target dimension, mm.
    pub to: Option<Amount>,
    /// The side on which it is sufficient to remove material.
    pub side: Option<WorkSide>,
    /// Material to remove if only that side is worked, mm.
    pub remove: Option<Amount>,
    /// The work as a sentence.
    pub text: LocalizedText,
}

/// A kit that was not checked.
#[derive(Debug, Clone, PartialEq, Eq, uniffi::Record)]
pub struct KitLeftOut {
    /// Order code of the kit.
    pub sku: String,
    /// The reason.
    pub english: String,
}

/// One recommended measurement or observation.
#[derive(Debug, Clone, PartialEq, uniffi::Record)]
pub struct NextView {
    /// Name of the quantity or observation in the bike file.
    pub what: String,
    /// Minutes it takes; the first thing in a state of dismantling carries the minutes to reach it.
    pub minutes: f64,
    /// How much it is expected to lower the chance of judging a kit wrongly: the mean over the open kits.
    pub gain: f64,
    /// The reason as a sentence with numbers.
    pub text: LocalizedText,
    /// The kits it helps to decide on, by order code.
    pub of_kits: Vec<String>,
    /// The tool; absent for a thing only looked at.
    pub tool: Option<Instrument>,
    /// How far the bike is taken apart when it is done.
    pub state: Dismantling,
    /// How to bring the bike there from where the thing before left it.
    pub reach: Option<LocalizedText>,
    /// Where the fork has to be for it.
    pub fork: ForkPosition,
    /// Where to place the tool.
    pub place: LocalizedText,
    /// The common mistake.
    pub trap: LocalizedText,
}

/// The best kit for one of several bikes.
#[derive(Debug, Clone, PartialEq, uniffi::Record)]
pub struct BikeVerdict {
    /// The bike.
    pub bike: BikeId,
    /// The bike's name.
    pub name: String,
    /// Order code of the best kit; absent if no kit could be checked.
    pub sku: Option<String>,
    /// That kit's verdict.
    pub verdict: Option<Verdict>,
    /// The verdict as a sentence.
    pub text: Option<LocalizedText>,
    /// The next measurement to take, by its name in the bike file.
    pub measure_next: Option<String>,
}

/// The serde name of a unit variant of a core enum.
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

impl From<Holds> for HoldsView {
    fn from(it: Holds) -> Self {
        let amount = |value: f64, u: f64| match it.unit {
            Unit::Deg => Amount::deg(Estimate::new(value, u)),
            _ => Amount::mm(Estimate::new(value, u)),
        };
        let value = amount(it.value, it.u);
        let [from, to] = [it.from, it.to].map(|turn| turn.map(|turn| amount(turn.at, 0.0)));
        let text = LocalizedText::new(format!("holds.{}", it.what.name()), it.text).amount("value", value);
        let text = text.maybe(from, |text, from| text.amount("from", from));
        let text = text.maybe(to, |text, to| text.amount("to", to));
        let [below, above] = [it.from, it.to].map(|turn| turn.map(|turn| turn.verdict));
        Self { what: it.what, value, from, below, to, above, text }
    }
}

impl From<KitReport> for KitVerdict {
    fn from(it: KitReport) -> Self {
        let angles = it.change.head_angle.as_ref();
        // A usual head angle is no figure of this bike; the change is.
        let measured = angles.filter(|it| !it.assumed.contains(&Quantity::HeadAngle));
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
            head_angle_assumed: angles.map(|it| it.assumed.clone()).unwrap_or_default(),
            holds: it.holds.into_iter().map(Into::into).collect(),
            head_angle_before: measured.map(|it| exact_deg(it.before)),
            head_angle_after: measured.map(|it| exact_deg(it.after)),
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
        let variant = it.variant.as_deref();
        let reach = it.reach.map(|steps| LocalizedText::new(format!("reach.{}", name(&it.state)), steps));
        Self {
            text: text.number("minutes", it.minutes).number("gain", it.gain),
            place: guide::place(&it.what, variant, &it.place),
            trap: guide::trap(&it.what, variant, &it.trap),
            of_kits: it.of_kits,
            state: it.state,
            reach,
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
            fitted: report.fitted.map(|it| LocalizedText::new("fitted", it.text)),
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

/// The catalogue for a check; `None` if no maker has an active one.
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
    /// Checks every bike of the list against one catalogue, on a separate thread.
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
