//! A check: one bike against a catalogue.

use super::holds::holds;
use super::kit::{CheckContext, kit_report};
use super::{
    CatalogueRef, FittedReport, LeftOut, Report, ReportSchema, SeatChance, Seats, cautions, wording,
};
use crate::advice::{Inquiry, MeasureNext, OpenKit, measure_for_target, measure_next};
use crate::bike::{Bike, Findings, FittedKit};
use crate::catalogue::{Catalogue, Kit};
use crate::judgement::{
    BikeKnowledge, Direction, Facts, PreparedKit, Shortlist, TargetChange, Verdict, shortlist,
};
use steerwright_mechanics::geometry::{Statement, Survey, survey};
use steerwright_mechanics::headset::{End, ForkSize, FullCode, HalfCode, Posterior, fork_sizes};
use steerwright_metrology::quantity::{Estimate, Instruments, Quantity, quantity_info};
use steerwright_metrology::voice::Voice;

/// Options of a check.
#[derive(Debug, Clone, PartialEq, Default)]
pub struct Options {
    /// Which way the angle is to move; [`TargetChange::HeadAngle`] finds it by itself, either way, where the bike's angle is
    /// known.
    pub direction: Direction,
    /// What the rider wants, if anything in particular.
    pub target: Option<TargetChange>,
    /// Only this kit.
    pub only: Option<String>,
}

/// Why a check could not be made.
#[derive(Debug, Clone, PartialEq, thiserror::Error)]
pub enum CheckError {
    /// The catalogue has no such kit.
    #[error("the catalogue has no kit `{sku}`{}", nearest.as_ref().map(|near| format!("; did you mean `{near}`?")).unwrap_or_default())]
    NoSuchKit {
        /// What was asked for.
        sku: String,
        /// The code most like it.
        nearest: Option<String>,
    },
    /// A target that is no number a bike can have.
    #[error("{what} of {value} degrees; expected {low} to {high}")]
    Target {
        /// What was wished for.
        what: &'static str,
        /// How much.
        value: f64,
        /// The least that makes sense.
        low: f64,
        /// The most that makes sense.
        high: f64,
    },
}

/// Judges every kit of the catalogue against a bike.
///
/// # Errors
/// A kit asked for that is not there, or a target outside what a bike can have. A kit that does not fit is an answer.
pub fn check(
    bike: &Bike,
    catalogue: &Catalogue,
    instruments: &Instruments,
    options: &Options,
) -> Result<Report, CheckError> {
    check_in(Voice::english(), bike, catalogue, instruments, options)
}

/// The same with the sentences of kits, readings and cautions in another language and notation, for showing it. What is
/// stored or sent is in English.
///
/// # Errors
/// As [`check`].
pub fn check_in(
    voice: Voice<'_>,
    bike: &Bike,
    catalogue: &Catalogue,
    instruments: &Instruments,
    options: &Options,
) -> Result<Report, CheckError> {
    sensible(options.target)?;
    let kits = wanted_kits(catalogue, options)?;
    let findings = Findings::new(bike, instruments);
    let known = BikeKnowledge::new(bike, &findings);
    let survey = ScreenedSurvey::new(&findings);
    let direction = match (options.target, survey.screened.head_angle_now()) {
        (Some(TargetChange::HeadAngle(wanted)), Some(now)) if wanted > now.value => Direction::Steeper,
        (Some(TargetChange::HeadAngle(wanted)), Some(now)) if wanted < now.value => Direction::Slacker,
        _ => options.direction,
    };
    let facts = Facts::new(&known, direction);
    let context = CheckContext { voice, known: &known, facts: &facts, survey: &survey, catalogue };

    let mut left_out = Vec::new();
    let (mut looked_at, mut prepared) = (Vec::new(), Vec::new());
    for kit in kits {
        match PreparedKit::for_direction(kit, catalogue, direction) {
            Ok(ready) => {
                looked_at.push(kit);
                prepared.push(ready);
            }
            Err(error) => left_out.push(LeftOut { sku: kit.sku.clone(), text: error.to_string() }),
        }
    }
    let Shortlist { ranked, hopeless } = shortlist(&prepared, &facts, &survey.screened, options.target);
    // Further measurements only help where the first verdict is open. What stands after a settled kit cannot become the
    // best before that one is in doubt.
    let open: Vec<OpenKit<'_>> = ranked
        .iter()
        .take_while(|ranked| ranked.verdict == Verdict::MeasureFirst)
        .filter_map(|ranked| {
            let (kit, prepared) = (looked_at.get(ranked.kit)?, prepared.get(ranked.kit)?);
            Some(OpenKit { sku: &kit.sku, kit: prepared, weight: ranked.bounds.high })
        })
        .collect();
    let inquiry = Inquiry { known: &known, findings: &findings, direction, instruments };
    let mut measure_next = measure_next(&inquiry, &open);
    let mut kits: Vec<_> = ranked
        .iter()
        .map(|ranked| ranked.kit)
        .chain(hopeless.iter().copied())
        .filter_map(|place| Some(kit_report(&context, looked_at.get(place)?, prepared.get(place)?)))
        .collect();
    let best = ranked.first().map(|best| best.kit).or(hopeless.first().copied());
    if let (Some(first), Some(kit)) = (kits.first_mut(), best.and_then(|place| prepared.get(place))) {
        first.holds = holds(voice, &known, direction, kit);
    }
    let mut readings = wording::readings(voice, bike, &findings, &survey);
    readings.extend(wording::tall_lower_stack(voice, &facts, known.get(Quantity::LowerStack)));
    // No one asks for the head angle with a kit that does not fit.
    if let (Some(_), Some(change)) = (
        options.target.filter(|_| !ranked.is_empty()),
        kits.first().and_then(|kit| kit.change.head_angle.as_ref()),
    ) {
        readings.extend(wording::usual_values(voice, &change.assumed));
        let first_sku = kits.first().map(|kit| kit.sku.clone()).unwrap_or_default();
        let listed = |it: &MeasureNext| measure_next.iter().any(|other| other.what == it.what);
        let more: Vec<_> =
            measure_for_target(&change.assumed, &first_sku).into_iter().filter(|it| !listed(it)).collect();
        measure_next.extend(more);
    }
    let fitted = bike.fitted.as_ref().map(|kit| fitted_report(&context, kit));
    let [upper, lower] = &facts.seats;
    Ok(Report {
        schema: ReportSchema::V1,
        engine: env!("CARGO_PKG_VERSION").to_owned(),
        bike: bike.name.clone(),
        owner: bike.owner.clone(),
        catalogue: CatalogueRef {
            maker: catalogue.maker.clone(),
            number: catalogue.number,
            issued: catalogue.issued.clone(),
            currency: catalogue.currency.clone(),
        },
        direction,
        wanted: options.target,
        seats: Seats { upper: chances(upper), lower: chances(lower), code: code(&facts) },
        fitted,
        cautions: cautions::for_report(voice, &known, direction, &kits),
        kits,
        left_out,
        measure_next,
        readings,
    })
}

/// The survey of a bike's side view with every reading, and without the one in gross error.
///
/// A single wrong number spoils every figure and its uncertainty: figures are computed without the reading that the
/// others single out ([`Survey::suspect`]).
pub struct ScreenedSurvey {
    /// With every reading.
    pub full: Survey,
    /// Without the reading in gross error; equal to `full` where none is singled out.
    pub screened: Survey,
    /// `screened`, and for what it leaves open the usual value of a bike with its spread
    /// ([`expected`](steerwright_metrology::quantity::QuantityInfo::expected)). For ranges that are said to rest on that.
    pub with_usual_values: Survey,
}

impl ScreenedSurvey {
    /// Surveys the estimates of a bike and screens them for one gross error.
    pub fn new(findings: &Findings) -> Self {
        let statements: Vec<_> =
            findings.iter().map(|(what, estimate)| Statement { what, estimate }).collect();
        let full = survey(&statements);
        let screened = full.suspect().map_or_else(|| full.clone(), |wrong| full.without(wrong));
        let usual = screened.undetermined().into_iter().filter_map(|what| {
            let [mean, sd] = quantity_info(what).expected?;
            Some(Statement::new(what, mean, sd))
        });
        let with_usual_values =
            survey(&screened.statements().iter().copied().chain(usual).collect::<Vec<_>>());
        Self { full, screened, with_usual_values }
    }
}

fn fitted_report(context: &CheckContext<'_>, kit: &FittedKit) -> FittedReport {
    // The headset that was in before is not known any more.
    let usual = quantity_info(Quantity::LowerStack).expected.unwrap_or([4.0, 4.0]);
    let [stack, sd] = usual;
    let removed = context.head_angle_without(kit, Estimate::new(stack, sd));
    let back = removed.as_ref().map_or_else(String::new, |it| {
        format!(
            " Taken out, with a plain headset in its place, the head angle goes from {:.1}° to about {:.1}° (± {:.1}°).",
            it.before,
            it.after,
            2.0 * it.u
        )
    });
    let text = format!(
        "{} is in the bike: its seats, and every change below is from the bike as it is now.{back}",
        kit.sku
    );
    FittedReport { sku: kit.sku.clone(), name: kit.name.clone(), removed, text }
}

fn sensible(target: Option<TargetChange>) -> Result<(), CheckError> {
    let (what, value, low, high) = match target {
        None => return Ok(()),
        Some(TargetChange::Change(value)) => ("a change", value, 0.0, 10.0),
        Some(TargetChange::HeadAngle(value)) => ("a head angle", value, 45.0, 90.0),
    };
    if value >= low && value <= high { Ok(()) } else { Err(CheckError::Target { what, value, low, high }) }
}

fn wanted_kits<'a>(catalogue: &'a Catalogue, options: &Options) -> Result<Vec<&'a Kit>, CheckError> {
    let Some(sku) = &options.only else { return Ok(catalogue.kits.iter().collect()) };
    let kit = catalogue.kit(sku).ok_or_else(|| CheckError::NoSuchKit {
        sku: sku.clone(),
        nearest: catalogue.nearest_sku(sku).map(str::to_owned),
    })?;
    Ok(vec![kit])
}

/// The bike's headset as a SHIS code, where both seats and both diameters of the steerer are known.
fn code(facts: &Facts) -> Option<String> {
    let half = |end: End, diameter: Option<Estimate>| {
        let diameter = diameter?.value;
        let named = fork_sizes().iter().filter(|fork| fork.end == end);
        let off = |fork: &&ForkSize| (fork.diameter.estimate().value - diameter).abs();
        let fork = named.min_by(|a, b| off(a).total_cmp(&off(b)))?;
        let is_near = off(&fork) <= facts.rules.steerer_size_tolerance_mm;
        let seat = facts.posterior(end).identified()?;
        is_near.then(|| HalfCode { seat, fork: fork.name(), stack: None })
    };
    let [upper, lower] = facts.steerer_diameters;
    let code = FullCode { upper: half(End::Upper, upper)?, lower: half(End::Lower, lower)? };
    Some(code.to_string())
}

fn chances(posterior: &Posterior) -> Vec<SeatChance> {
    /// Least probability of a size that is listed.
    const LEAST: f64 = 0.001;
    let worth = posterior.entries().iter().filter(|(_, p)| *p >= LEAST);
    worth.map(|&(size, p)| SeatChance { size, p }).collect()
}
