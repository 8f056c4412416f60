//! One kit's part of the report.

use super::check::ScreenedSurvey;
use super::{Change, HeadAngleChange, KitReport, Margin, RequirementReport, TiltReport, wording};
use crate::bike::{FittedKit, Material};
use crate::catalogue::{Catalogue, Kit};
use crate::judgement::requirement::{Question, Rework};
use crate::judgement::{
    Answer, BikeKnowledge, Cutting, Facts, PreparedKit, Requirement, State, judge, spare_bearing,
    steerer_readings, work_in,
};
use steerwright_mechanics::clearance::rim_per_tenth_degree;
use steerwright_mechanics::geometry::{HeadAngle, Survey, UncertainChange, UncertainKit};
use steerwright_mechanics::headset::{End, SeatDimension};
use steerwright_mechanics::steerer::{Plan, SpacersKept, budget};
use steerwright_mechanics::tilt::{Offsets, installed};
use steerwright_metrology::conformity::margin;
use steerwright_metrology::practice::Rule;
use steerwright_metrology::quantity::{Estimate, Quantity, Unit, trimmed};
use steerwright_metrology::sentence::{Sentence, SentenceParam};
use steerwright_metrology::voice::Voice;
use steerwright_words::say;

/// One bike and the catalogue that it is checked against.
pub(super) struct CheckContext<'a> {
    pub(super) voice: Voice<'a>,
    pub(super) known: &'a BikeKnowledge,
    pub(super) facts: &'a Facts,
    pub(super) survey: &'a ScreenedSurvey,
    pub(super) catalogue: &'a Catalogue,
}

/// A head tube that was not measured, for the lean of a kit in it; mm.
pub(super) const USUAL_HEAD_TUBE_MM: f64 = 115.0;

impl CheckContext<'_> {
    /// The head angle before and after this kit. What was not measured is taken as bikes usually are, and named.
    fn head_angle(&self, prepared: &PreparedKit) -> Option<HeadAngleChange> {
        let stack = prepared.end(End::Lower).stack;
        self.head_angle_with(&UncertainChange {
            kit: Some(UncertainKit::installed(prepared.relative_offsets(self.facts))),
            lower_stack: Some(UncertainKit::stack(stack)),
            ..UncertainChange::default()
        })
    }

    /// The head angle before and after the kit in the bike comes out, and a plain headset of this lower stack goes in.
    pub(super) fn head_angle_without(
        &self,
        fitted: &FittedKit,
        lower_stack: Estimate,
    ) -> Option<HeadAngleChange> {
        let length = self.facts.head_tube_length.map_or(USUAL_HEAD_TUBE_MM, |length| length.value);
        let plain = Offsets::NONE.relative_to(&fitted.offsets(), length);
        self.head_angle_with(&UncertainChange {
            kit: Some(UncertainKit::installed(plain)),
            lower_stack: Some(lower_stack),
            ..UncertainChange::default()
        })
    }

    fn head_angle_with(&self, change: &UncertainChange) -> Option<HeadAngleChange> {
        let of = |survey: &Survey, assumed: Vec<Quantity>| {
            let HeadAngle { before, after, difference } = survey.head_angle(change).ok()?;
            let (before, after, difference) = (before?, after?, difference?);
            Some(HeadAngleChange {
                before: before.value,
                after: after.value,
                u: difference.u,
                u_after: after.u,
                assumed,
            })
        };
        let screened = &self.survey.screened;
        of(screened, Vec::new())
            .or_else(|| of(&self.survey.with_usual_values, screened.missing_for_head_angle(change)))
    }
}

pub(super) fn kit_report(context: &CheckContext<'_>, kit: &Kit, prepared: &PreparedKit) -> KitReport {
    let judgement = judge(prepared, context.facts);
    let work = work_in(context.voice, &judgement.answers, prepared, context.facts);
    let here = context
        .facts
        .head_tube_length
        .and_then(|length| installed(prepared.nominal_deg, prepared.range, &prepared.offsets, length).ok());
    let requirements = requirement_reports(context, kit, prepared, &judgement.answers);
    KitReport {
        sku: kit.sku.clone(),
        name: kit.name.clone(),
        verdict: judgement.verdict,
        text: wording::verdict(context.voice, judgement.verdict, &requirements, &work),
        p_low: judgement.bounds.low,
        p_high: judgement.bounds.high,
        ease: here.map(|it| it.ease),
        range_position: here.map(|it| it.range_position),
        tilt_deg: TiltReport {
            nominal: prepared.nominal_deg.copysign(prepared.offsets.total()),
            real: here.map(|it| it.real_deg.value),
            misalignment: here.map(|it| it.misalignment_deg.value),
        },
        also_order: also_order(context, kit, prepared),
        tallest_spacers_mm: tallest_spacers(context, kit, prepared),
        notes: assembly(context, kit, prepared),
        rim_mm_per_tenth_degree_lean: rim(kit, prepared),
        as_fitted: prepared.as_fitted(kit),
        holds: Vec::new(),
        requirements,
        work,
        change: Change { head_angle: context.head_angle(prepared) },
        price: kit.price,
        stock: kit.stock,
    }
}

/// A requirement of two parts is one line: the part that decides stands for it, with the probability that both
/// are met at least.
fn requirement_reports(
    context: &CheckContext<'_>,
    kit: &Kit,
    prepared: &PreparedKit,
    answers: &[Answer],
) -> Vec<RequirementReport> {
    let mut lines: Vec<(Answer, f64)> = Vec::new();
    for answer in answers {
        match lines.iter_mut().find(|(line, _)| line.requirement == answer.requirement) {
            Some((line, p)) => {
                // `clamp` keeps NaN (not known); `max` does not.
                *p = (*p + answer.p - 1.0).clamp(0.0, 1.0);
                if worse(answer, line) {
                    *line = *answer;
                }
            }
            None => lines.push((*answer, answer.p)),
        }
    }
    let mut reports: Vec<_> = lines
        .iter()
        .map(|(answer, p)| RequirementReport {
            requirement: answer.requirement,
            state: answer.state,
            // One part that fails is enough, whatever the other part is.
            p: Some(*p)
                .filter(|p| !p.is_nan())
                .or_else(|| (answer.state == State::NotMet).then_some(answer.p)),
            margin: margin_of(answer).or_else(|| seat_margin(context, kit, answer.requirement)),
            text: wording::requirement(context, kit, prepared, answer),
        })
        .collect();
    reports.extend(frame_material(context, answers));
    reports
}

/// The part of a requirement that decides: the worse state, then the smaller probability.
fn worse(a: &Answer, b: &Answer) -> bool {
    a.state > b.state || (a.state == b.state && a.p < b.p)
}

fn margin_of(answer: &Answer) -> Option<Margin> {
    let Question::Limit { of, within } = answer.question else { return None };
    let Estimate { value, u } = margin(of, within);
    Some(Margin { value, u, unit: Unit::Mm })
}

/// A seat's margin: how far the most informative reading (bore, else cup, else bearing) lies within the limits of the
/// kit's seat.
fn seat_margin(context: &CheckContext<'_>, kit: &Kit, requirement: Requirement) -> Option<Margin> {
    let end = match requirement {
        Requirement::UpperSeat => End::Upper,
        Requirement::LowerSeat => End::Lower,
        _ => return None,
    };
    let row = steerwright_mechanics::headset::size(kit.end(end).seat)?;
    let within = |limits: [f64; 2], dimension: SeatDimension| {
        let reading = context.known.get(dimension.quantity(end))?;
        let [least, most] = limits;
        let inside = margin(reading, steerwright_metrology::conformity::Limits::between(least, most));
        Some(Margin { value: inside.value, u: inside.u, unit: Unit::Mm })
    };
    let bore = within(row.bore.limits, SeatDimension::Bore);
    let cup = || within(row.cup.as_ref()?.limits, SeatDimension::CupOuter);
    let bearing = || {
        let names = row
            .bearings
            .iter()
            .filter_map(|inside| steerwright_mechanics::headset::bearing_size(&inside.bearing));
        let margins = names.filter_map(|bearing| within(bearing.outer.limits, SeatDimension::BearingOuter));
        margins.max_by(|a, b| a.value.total_cmp(&b.value))
    };
    bore.or_else(cup).or_else(bearing)
}

/// Whether the frame may be cut: asked only of kits for which cutting is or may be needed.
fn frame_material(context: &CheckContext<'_>, answers: &[Answer]) -> Option<RequirementReport> {
    let cuts = || answers.iter().filter(|answer| answer.rework == Rework::Cut);
    cuts().next()?;
    let failing: Vec<&Answer> = cuts().filter(|answer| answer.state != State::Met).collect();
    let worst = failing.iter().map(|answer| answer.p).fold(1.0, f64::min);
    let (state, p) = match (context.facts.cutting, failing.is_empty()) {
        (_, true) | (Cutting::Possible, _) => (State::Met, Some(1.0)),
        (Cutting::NotKnown, false) => (State::NotKnown, None),
        (Cutting::Forbidden, false) => {
            let failed = failing.iter().any(|answer| answer.state == State::NotMet);
            (if failed { State::NotMet } else { State::NotKnown }, failed.then_some(worst))
        }
    };
    let work = failing.iter().any(|answer| !answer.p.is_nan());
    let work = if failing.is_empty() { Some(false) } else { work.then_some(true) };
    Some(RequirementReport {
        requirement: Requirement::FrameMaterial,
        state,
        p,
        margin: None,
        text: wording::frame_material(
            context.voice,
            context.facts.cutting,
            work,
            context.known.observed.frame_material,
        ),
    })
}

/// Bearings to order with a kit that takes the bike's own, if those are rough or of another size.
fn also_order(context: &CheckContext<'_>, kit: &Kit, prepared: &PreparedKit) -> Vec<String> {
    if kit.bearings != crate::catalogue::BearingSupply::Reused
        || context.facts.bearings_go_back(prepared) != Some(false)
    {
        return Vec::new();
    }
    let spare = |end: End| {
        let measured = context.known.get(SeatDimension::BearingOuter.quantity(end));
        Some(spare_bearing(kit, end, measured, context.catalogue)?.sku.clone())
    };
    End::BOTH.into_iter().filter_map(spare).collect()
}

fn tallest_spacers(context: &CheckContext<'_>, kit: &Kit, prepared: &PreparedKit) -> Option<Estimate> {
    let exact = Estimate::exact;
    let stacks = Plan::new(exact(kit.lower.stack_mm), exact(kit.upper.stack_mm), prepared.nominal_deg);
    let plan = Plan { spacers: SpacersKept::None, ..stacks };
    budget(&steerer_readings(context.known), &plan).ok().map(|budget| budget.margin)
}

/// Notes for assembly, from the steerer's budget.
fn assembly(context: &CheckContext<'_>, kit: &Kit, prepared: &PreparedKit) -> Vec<Sentence> {
    /// Less than this is taken up by the recess.
    const FELT_MM: f64 = 0.5;
    let exact = Estimate::exact;
    let plan = Plan::new(exact(kit.lower.stack_mm), exact(kit.upper.stack_mm), prepared.nominal_deg);
    let readings = steerer_readings(context.known);
    let Ok(budget) = budget(&readings, &plan) else { return Vec::new() };
    let voice = context.voice;
    let mut notes = Vec::new();
    let tallest = budget.tallest_spacers.map_or(0.0, |tallest| tallest.value);
    if budget.margin.value > FELT_MM {
        let higher = budget.margin.value;
        let text = say!(voice, "note-stands-higher", higher = voice.fixed_length(higher, 0));
        notes.push(Sentence::new("note.stands_higher", text).with("higher", SentenceParam::mm(higher)));
    } else if budget.margin.value < -FELT_MM && tallest >= 0.0 {
        let less = (-budget.margin.value).ceil();
        let (less_text, tallest_text) = (voice.fixed_length(less, 0), voice.fixed_length(tallest, 0));
        let text = say!(voice, "note-leave-spacers-out", less = less_text, tallest = tallest_text);
        let said = Sentence::new("note.leave_spacers_out", text);
        notes.push(said.with("less", SentenceParam::mm(less)).with("tallest", SentenceParam::mm(tallest)));
    }
    let carbon = context.known.observed.steerer_material == Some(Material::Carbon);
    let below = readings.spacers_below.map(|below| below.value);
    for note in budget.notes(carbon, below) {
        if note.rule == Rule::CarbonSpacersLimit {
            let (has, limit) = (voice.fixed_length(note.has, 0), voice.fixed_length(note.limit, 0));
            let text = say!(voice, "note-carbon-spacers", has = has, limit = limit);
            let said = Sentence::new("note.carbon_spacers", text);
            notes.push(
                said.with("has", SentenceParam::mm(note.has)).with("limit", SentenceParam::mm(note.limit)),
            );
        }
    }
    if budget.disagreement.is_some() {
        notes.push(Sentence::new("note.steerer_disagrees", voice.text("note-steerer-disagrees")));
    }
    notes
}

/// The rim of a tilted cup is taken where its seat is: the code's whole-millimetre name is near enough for a mark
/// read by eye.
fn rim(kit: &Kit, prepared: &PreparedKit) -> Option<f64> {
    let rim = f64::from(kit.upper.seat.name_mm);
    let mm = rim_per_tenth_degree(rim, prepared.nominal_deg).ok()?;
    trimmed(mm, 2).parse().ok()
}
