//! Verdicts and requirements in sentences that a rider understands.

use super::RequirementReport;
use super::kit::Bench;
use super::words::{list, millimetres, percent, trimmed, with_digits};
use crate::bike::{Bearings, Bike, Findings, Material};
use crate::catalogue::Kit;
use crate::clearance::{EndParts, HeadTubeParts, SteererParts, measured_room};
use crate::conformity::margin;
use crate::fit::requirement::{Mend, Question};
use crate::fit::{
    Answer, Cutting, PreparedKit, Requirement, State, Verdict, Work, spare_bearing, steerer_parts,
};
use crate::geometry::Survey;
use crate::headset::{End, Posterior, SeatCode, SeatDimension, Style, same_frame_seat, size};
use crate::quantity::{Estimate, Quantity, about};

/// Why the verdict is what it is.
pub(super) fn verdict(verdict: Verdict, requirements: &[RequirementReport], work: &[Work]) -> String {
    let named = |state: State| {
        let found = requirements.iter().filter(|line| line.state == state);
        list(&found.map(|line| label(line.requirement).to_owned()).collect::<Vec<_>>(), "and")
    };
    match verdict {
        Verdict::GoesIn => "Goes in as the bike is.".to_owned(),
        Verdict::GoesInAfterWork => {
            let jobs = if work.len() == 1 { "one job".to_owned() } else { format!("{} jobs", work.len()) };
            format!("Goes in after {jobs}: {}.", named(State::MetAfterWork))
        }
        Verdict::MeasureFirst => match named(State::NotKnown).as_str() {
            "" => "Each requirement is met well enough by itself, but not all of them together; measure the \
                   closest ones more surely."
                .to_owned(),
            open => format!("Not decided yet: {open}."),
        },
        Verdict::WillNotGo => format!("Will not go: {}.", named(State::NotMet)),
    }
}

/// A requirement in two or three words.
pub(super) fn label(requirement: Requirement) -> &'static str {
    match requirement {
        Requirement::UpperSeat => "upper seat",
        Requirement::LowerSeat => "lower seat",
        Requirement::HeadTubeLength => "head tube length",
        Requirement::UpperBoreDepth => "upper bore depth",
        Requirement::LowerBoreDepth => "lower bore depth",
        Requirement::UpperPressFit => "upper press fit",
        Requirement::LowerPressFit => "lower press fit",
        Requirement::UpperThroat => "upper throat",
        Requirement::LowerThroat => "lower throat",
        Requirement::SteererLength => "steerer length",
        Requirement::SteererSize => "steerer size",
        Requirement::BearingRecess => "bearing recess",
        Requirement::Hoses => "hoses",
        Requirement::SteeringStop => "steering stop",
        Requirement::FrameMaterial => "frame material",
        Requirement::DownTubeClearance => "down tube clearance",
        Requirement::BearingCondition => "bearing condition",
    }
}

/// One requirement's answer.
pub(super) fn requirement(bench: &Bench<'_>, kit: &Kit, prepared: &PreparedKit, answer: &Answer) -> String {
    match answer.requirement {
        Requirement::UpperSeat => seat(bench, kit.upper.seat, End::Upper, answer),
        Requirement::LowerSeat => seat(bench, kit.lower.seat, End::Lower, answer),
        Requirement::HeadTubeLength => head_tube_length(answer, kit.head_tube_length_mm),
        Requirement::UpperBoreDepth => bore_depth(End::Upper, answer),
        Requirement::LowerBoreDepth => bore_depth(End::Lower, answer),
        Requirement::UpperPressFit => press_fit(bench, End::Upper, prepared, answer),
        Requirement::LowerPressFit => press_fit(bench, End::Lower, prepared, answer),
        Requirement::UpperThroat => throat(bench, End::Upper, prepared, answer),
        Requirement::LowerThroat => throat(bench, End::Lower, prepared, answer),
        Requirement::SteererLength => steerer_length(bench, answer),
        Requirement::SteererSize => steerer_size(bench, kit, answer),
        Requirement::BearingRecess => bearing_recess(answer),
        Requirement::Hoses => hoses(bench, kit),
        Requirement::SteeringStop => steering_stop(bench, kit),
        Requirement::DownTubeClearance => down_tube(answer),
        Requirement::BearingCondition => bearing_condition(bench, kit),
        Requirement::FrameMaterial => String::new(),
    }
}

/// The size as a person meets it: drop-in or pressed cup.
fn kind(code: SeatCode) -> &'static str {
    match code.style {
        Style::Is => "a drop-in seat",
        Style::Zs | Style::Ec => "a pressed cup",
    }
}

fn seat(bench: &Bench<'_>, wanted: SeatCode, end: End, answer: &Answer) -> String {
    let posterior = bench.facts.posterior(end);
    let end_name = end.name();
    let likely = likeliest(posterior);
    match answer.state {
        State::Met | State::MetAfterWork => match likely.first() {
            Some((Some(found), _)) if *found != wanted && same_frame_seat(*found, wanted) => format!(
                "The {end_name} seat is the bore of a {found} ({}), and {wanted} goes in the same bore.",
                percent(answer.p)
            ),
            _ => format!("The {end_name} seat is {wanted} ({}), as the kit needs.", percent(answer.p)),
        },
        State::NotMet => {
            let found = match likely.first() {
                Some((Some(found), p)) => {
                    format!("The {end_name} seat is {found}, {} ({})", kind(*found), percent(*p))
                }
                _ => format!("The {end_name} seat has no standard size"),
            };
            let trap = bearing_trap(bench, wanted, end).unwrap_or_default();
            format!("{found}; the kit needs {wanted}, {}.{trap}", kind(wanted))
        }
        State::NotKnown => {
            let candidates: Vec<_> = likely
                .iter()
                .take(3)
                .map(|(size, p)| match size {
                    Some(code) => format!("{code} ({})", percent(*p)),
                    None => format!("no standard size ({})", percent(*p)),
                })
                .collect();
            format!("The kit needs {wanted}; the {end_name} seat may be {}.", list(&candidates, "or"))
        }
    }
}

/// Sizes worth naming, the likeliest first.
fn likeliest(posterior: &Posterior) -> Vec<(Option<SeatCode>, f64)> {
    posterior.entries().iter().copied().filter(|(_, p)| *p >= 0.01).collect()
}

/// Bearings sold under one name can measure another: say it where a reading shows it.
fn bearing_trap(bench: &Bench<'_>, wanted: SeatCode, end: End) -> Option<String> {
    let reading = bench.known.get(SeatDimension::BearingOuter.quantity(end))?;
    let row = size(wanted).filter(|row| row.code.style == Style::Is)?;
    let bearing = crate::headset::bearing_size(&row.bearings.first()?.bearing)?;
    let [least, most] = bearing.outer.limits;
    let nominal = f64::midpoint(least, most);
    let gap = (reading.value - nominal).abs();
    // Only near misses are a trap; a 52 is not taken for a 41.
    (gap > 0.3 && gap < 2.0).then(|| {
        format!(
            " Its bearing measures {}; a bearing for {wanted} measures {} mm.",
            millimetres(reading),
            trimmed(nominal, 1)
        )
    })
}

fn limit(answer: &Answer) -> Option<(Estimate, Estimate, f64, f64)> {
    let Question::Limit { of, within } = answer.question else { return None };
    Some((of, margin(of, within), within.lower, within.upper))
}

/// "over 99 % sure", for a limit that is not clear of doubt.
fn doubt(answer: &Answer) -> String {
    format!("chance that it is enough: {}", percent(answer.p))
}

fn head_tube_length(answer: &Answer, [shortest, longest]: [f64; 2]) -> String {
    let range = format!("{}–{} mm", trimmed(shortest, 1), trimmed(longest, 1));
    let Some((length, spare, ..)) = limit(answer) else {
        return format!("The kit is for head tubes of {range}; this one was not measured.");
    };
    let length_text = millimetres(length);
    match answer.state {
        State::Met | State::MetAfterWork => format!(
            "The head tube of {length_text} lies within the kit's {range}, {} mm from the nearer end.",
            trimmed(spare.value, 1)
        ),
        State::NotKnown => format!(
            "The head tube of {length_text} is too near an end of the kit's {range} to tell ({}).",
            doubt(answer)
        ),
        State::NotMet => {
            let how = if length.value > longest { "longer" } else { "shorter" };
            format!(
                "The head tube of {length_text} is {} mm {how} than the kit's {range} allow.",
                trimmed(-spare.value, 1)
            )
        }
    }
}

fn bore_depth(end: End, answer: &Answer) -> String {
    let name = end.name();
    let Some((depth, spare, least, _)) = limit(answer) else {
        return format!("The {name} bore's depth was not measured.");
    };
    let (depth, needed) = (millimetres(depth), trimmed(least, 1));
    match answer.state {
        State::Met => format!("The {name} bore is {depth} deep, the cup needs {needed} mm."),
        State::MetAfterWork => format!(
            "The {name} bore is {depth} deep and the cup needs {needed} mm; it has to be reamed {} mm deeper.",
            trimmed((-spare.value).max(0.0), 1)
        ),
        State::NotKnown => format!(
            "The {name} bore is {depth} deep and the cup needs {needed} mm: too close to tell ({}).",
            doubt(answer)
        ),
        State::NotMet => {
            format!(
                "The {name} bore is only {depth} deep; the cup needs {needed} mm, and it cannot be made deeper."
            )
        }
    }
}

fn press_fit(bench: &Bench<'_>, end: End, prepared: &PreparedKit, answer: &Answer) -> String {
    let name = end.name();
    let cup = prepared.end(end).cup().map(|cup| cup.estimate().value);
    let bore = bench.facts.bore(end).map(|bore| bore.estimate());
    let (Some(cup), Some(bore)) = (cup, bore) else {
        return match answer.state {
            State::NotKnown => {
                format!("The {name} bore's diameter was not measured, and the cup's is not known.")
            }
            _ => format!(
                "The {name} bore was not measured; one within its size's limits holds the cup. Measure it before \
                 pressing."
            ),
        };
    };
    let interference = cup - bore.value;
    let sizes = format!(
        "a cup of {} mm in a bore of {} has {} mm of interference",
        trimmed(cup, 2),
        millimetres(bore),
        trimmed(interference, 2)
    );
    match (answer.state, answer.mend) {
        (State::Met, _) => format!("At the {name} end {sizes}: it holds and the tube bears it."),
        (State::MetAfterWork, _) => {
            format!("At the {name} end {sizes}: too tight, the bore has to be reamed.")
        }
        (State::NotMet, Mend::Forbidden) => {
            format!("At the {name} end {sizes}: too loose. A cup that can move is dangerous.")
        }
        (State::NotMet, _) => {
            format!("At the {name} end {sizes}: too tight, and this frame may not be reamed.")
        }
        (State::NotKnown, _) => format!("At the {name} end {sizes}: measure the bore more surely."),
    }
}

fn throat(bench: &Bench<'_>, end: End, prepared: &PreparedKit, answer: &Answer) -> String {
    let name = end.name();
    let Some((diameter, spare, least, _)) = limit(answer) else {
        return match bench.facts.throat_needed(end, prepared) {
            Some(least) => format!(
                "The {name} throat was not measured; the tilted steerer needs {} mm.",
                trimmed(least, 1)
            ),
            None => format!(
                "The kit states no {name} throat; it follows from head tube length, the steerer's two diameters and \
                 where its taper ends."
            ),
        };
    };
    let (diameter, needed) = (millimetres(diameter), trimmed(least, 1));
    let short = trimmed((-spare.value).max(0.0), 1);
    let room = least_room(bench, end, prepared).unwrap_or_default();
    match answer.state {
        State::Met => {
            format!(
                "The {name} throat of {diameter} passes the tilted steerer, which needs {needed} mm.{room}"
            )
        }
        State::MetAfterWork => format!(
            "The {name} throat of {diameter} is {short} mm narrower than the {needed} mm the tilted steerer needs; the \
             metal can be opened.{room}"
        ),
        State::NotKnown if bench.facts.cutting == Cutting::NotKnown => format!(
            "The {name} throat of {diameter} may be too narrow for the {needed} mm the tilted steerer needs; whether \
             it can be opened depends on what the head tube is made of.{room}"
        ),
        State::NotKnown => format!(
            "The {name} throat of {diameter} is too close to the {needed} mm the tilted steerer needs to tell ({}).",
            doubt(answer)
        ),
        State::NotMet => format!(
            "The {name} throat of {diameter} is {short} mm narrower than the {needed} mm the tilted steerer needs, and it \
             may not be opened.{room}"
        ),
    }
}

/// What the clearance model finds near that end, where enough was measured; it explains, the maker's figure rules.
fn least_room(bench: &Bench<'_>, end: End, prepared: &PreparedKit) -> Option<String> {
    let (head_tube, steerer) = clearance_parts(bench, prepared)?;
    let clearance = prepared.end(end).running_clearance;
    let found = measured_room(&head_tube, &steerer, &prepared.offsets, clearance).ok()?;
    (found.room.end == end).then(|| {
        format!(
            " By the readings the steerer's least room is {}, on the {} side {} mm above the lower face.",
            millimetres(found.least),
            found.room.side.name(),
            trimmed(found.room.at_z, 0)
        )
    })
}

/// Head tube and steerer as the clearance model wants them.
pub(super) fn clearance_parts(
    bench: &Bench<'_>,
    prepared: &PreparedKit,
) -> Option<(HeadTubeParts, SteererParts)> {
    let get = |what| bench.known.get(what);
    let head_tube = HeadTubeParts {
        length: get(Quantity::HeadTubeLength)?,
        lower: EndParts {
            bore_diameter: get(Quantity::LowerBoreDiameter),
            bore_depth: get(Quantity::LowerBoreDepth),
            throat_diameter: get(Quantity::LowerThroatDiameter),
            throat_depth: get(Quantity::LowerThroatDepth),
            throat_length: None,
        },
        upper: EndParts {
            bore_diameter: get(Quantity::UpperBoreDiameter),
            bore_depth: get(Quantity::UpperBoreDepth),
            throat_diameter: get(Quantity::UpperThroatDiameter),
            throat_depth: get(Quantity::UpperThroatDepth),
            throat_length: None,
        },
        inside_diameter: None,
    };
    let lower_stack = Estimate::exact(prepared.end(End::Lower).stack);
    Some((head_tube, SteererParts { lower_stack, ..steerer_parts(bench.known)? }))
}

fn steerer_length(bench: &Bench<'_>, answer: &Answer) -> String {
    let Some((left, ..)) = limit(answer) else {
        let missing: Vec<_> = Requirement::SteererLength
            .reads()
            .iter()
            .filter(|what| **what != Quantity::SteererLength && bench.known.get(**what).is_none())
            .map(|what| about(*what).label.clone())
            .collect();
        return format!(
            "Whether the steerer is long enough is not known. With the fork in, measure {}; or its length with the \
             fork out.",
            list(&missing, "and")
        );
    };
    match answer.state {
        State::Met | State::MetAfterWork => {
            format!("The steerer reaches, with {} left for spacers.", millimetres(left))
        }
        State::NotKnown => format!(
            "The steerer is close to too short even without spacers: {} left ({}).",
            millimetres(left),
            doubt(answer)
        ),
        State::NotMet => format!(
            "The steerer is {} mm too short even without spacers, and a steerer cannot be lengthened.",
            trimmed(-left.value, 1)
        ),
    }
}

fn steerer_size(bench: &Bench<'_>, kit: &Kit, answer: &Answer) -> String {
    let [upper, lower] = bench.facts.steerer_diameters;
    let wanted = format!(
        "{} mm at the upper bearing and {} mm at the crown",
        trimmed(kit.steerer.upper_mm, 1),
        trimmed(kit.steerer.lower_mm, 1)
    );
    let found = match (upper, lower) {
        (None, None) => return format!("The kit takes a steerer of {wanted}; this one was not measured."),
        (Some(upper), None) => {
            format!("{} at the upper bearing, not measured at the crown", millimetres(upper))
        }
        (None, Some(lower)) => {
            format!("{} at the crown, not measured at the upper bearing", millimetres(lower))
        }
        (Some(upper), Some(lower)) => format!("{} and {}", millimetres(upper), millimetres(lower)),
    };
    match answer.state {
        State::Met | State::MetAfterWork => format!("The steerer's {found} match the kit's {wanted}."),
        State::NotKnown | State::NotMet => {
            format!("The kit takes a steerer of {wanted}; this one has {found}.")
        }
    }
}

fn bearing_recess(answer: &Answer) -> String {
    let Some((depth, _, _, most)) = limit(answer) else {
        return "How deep the upper bearing sits below the face was not measured.".to_owned();
    };
    let (depth, most) = (millimetres(depth), trimmed(most, 1));
    match answer.state {
        State::Met | State::MetAfterWork => {
            format!("The upper bearing sits {depth} below the face; the kit allows {most} mm.")
        }
        State::NotKnown => {
            format!(
                "The upper bearing sits {depth} below the face, too close to the {most} mm allowed to tell."
            )
        }
        State::NotMet => format!(
            "The upper bearing sits {depth} below the face, deeper than the {most} mm the kit reaches."
        ),
    }
}

fn hoses(bench: &Bench<'_>, kit: &Kit) -> String {
    match (bench.facts.hoses, kit.hoses) {
        (Some(false), _) => "No hoses run through the headset.",
        (_, true) => "The kit leaves room for hoses through the headset.",
        (Some(true), false) => "Hoses run through the headset, and the kit has no room for them.",
        (None, false) => "Look whether hoses run through the headset: the kit has no room for them.",
    }
    .to_owned()
}

fn steering_stop(bench: &Bench<'_>, kit: &Kit) -> String {
    match (bench.facts.steering_stop, kit.steering_stop) {
        (Some(false), _) => "The bike has no steering stop.",
        (_, true) => "A steering stop goes on working with the kit.",
        (Some(true), false) => "The bike has a steering stop, which would not work with the kit.",
        (None, false) => "Look for a steering stop: it would not work with the kit.",
    }
    .to_owned()
}

fn down_tube(answer: &Answer) -> String {
    let Some((left, spare, least, _)) = limit(answer) else {
        return "Whether the tyre clears the down tube with a steeper angle is not known: measure the gap with the fork \
                pushed to its end, and the fork's length."
            .to_owned();
    };
    let (gap, least) = (millimetres(left), trimmed(least, 1));
    match answer.state {
        State::Met | State::MetAfterWork => {
            format!(
                "With the fork pushed to its end, {gap} stay between tyre and down tube; {least} mm are enough."
            )
        }
        State::NotKnown => format!(
            "With the fork pushed to its end, {gap} would stay between tyre and down tube: too close to the {least} mm \
             needed to tell."
        ),
        State::NotMet => format!(
            "With the fork pushed to its end, only {gap} would stay between tyre and down tube, {} mm less than needed.",
            trimmed(-spare.value, 1)
        ),
    }
}

fn bearing_condition(bench: &Bench<'_>, kit: &Kit) -> String {
    match bench.facts.bearings {
        Some(Bearings::Good) => "The bike's own bearings are good and go back in.".to_owned(),
        Some(Bearings::Rough) => {
            let spares = End::BOTH.map(|end| {
                let measured = bench.known.get(SeatDimension::BearingOuter.quantity(end));
                spare_bearing(kit, end, measured, bench.catalogue).map(|bearing| bearing.sku.clone())
            });
            match spares {
                [Some(upper), Some(lower)] => format!(
                    "The kit takes over the bike's bearings, and they are rough: order {upper} (upper) and {lower} \
                     (lower) with it."
                ),
                _ => "The kit takes over the bike's bearings, and they are rough; the catalogue has none that fit both \
                      seats."
                    .to_owned(),
            }
        }
        Some(Bearings::NotKnown) | None => {
            "The kit takes over the bike's bearings: turn the fork in the stand and feel whether they are rough."
                .to_owned()
        }
    }
}

/// Whether the frame may be cut where the other requirements ask for it.
pub(super) fn frame_material(cutting: Cutting, nothing_to_cut: bool, material: Option<Material>) -> String {
    let name = match material {
        Some(Material::Aluminium) => "aluminium",
        Some(Material::Steel) => "steel",
        Some(Material::Titanium) => "titanium",
        Some(Material::Carbon) => "carbon",
        Some(Material::NotKnown) | None => "an unknown material",
    };
    match (cutting, nothing_to_cut) {
        (_, true) => "Nothing has to be cut.".to_owned(),
        (Cutting::Possible, false) => format!("The head tube is {name}: a trained mechanic can cut it."),
        (Cutting::Forbidden, false) => {
            "The head tube is carbon: no cutting without the frame maker's written consent.".to_owned()
        }
        (Cutting::NotKnown, false) => {
            "Something may have to be cut: find out first what the head tube is made of.".to_owned()
        }
    }
}

/// What is odd in the readings themselves: two that disagree, a sheet with a wrong number.
pub(super) fn readings(bike: &Bike, findings: &Findings, survey: &Survey) -> Vec<String> {
    let mut lines: Vec<String> = findings
        .disagreements()
        .iter()
        .map(|pair| {
            let unit = pair.what.base_unit();
            let [first, second] = pair.readings;
            format!(
                "Two readings of the {} disagree: {} (row {}, {}) and {} (row {}, {}) {unit}. Measure it again and strike \
                 the wrong one out.",
                about(pair.what).label,
                with_digits(first.estimate),
                first.index + 1,
                first.with.name().replace('_', " "),
                with_digits(second.estimate),
                second.index + 1,
                second.with.name().replace('_', " "),
            )
        })
        .collect();
    lines.extend(sheet(survey));
    let unusable = findings.unusable();
    if !unusable.is_empty() {
        let rows: Vec<_> = unusable
            .iter()
            .filter_map(|&index| {
                Some(format!("{} (row {})", about(bike.measured.get(index)?.what).label, index + 1))
            })
            .collect();
        lines.push(format!("Left out, since its tool or unit cannot measure it: {}.", list(&rows, "and")));
    }
    lines
}

/// Whether the side view's numbers agree, and which one does not.
fn sheet(survey: &Survey) -> Option<String> {
    let suspects = survey.suspects();
    let p = survey.probability();
    match suspects {
        [] => p.filter(|p| *p < 0.01).map(|p| {
            format!(
                "The side view's numbers contradict each other (chance of that by measuring errors alone: {}), and no \
                 single one explains it.",
                percent(p)
            )
        }),
        [wrong] => {
            let rest = survey.without(*wrong);
            let stated = survey.residuals().iter().find(|residual| residual.stated.what == *wrong)?;
            let unit = wrong.base_unit();
            let instead = expected_without(&rest, *wrong)
                .map(|value| format!("; the other numbers put it at {} {unit}", with_digits(value)))
                .unwrap_or_default();
            Some(format!(
                "The {} of {} {unit} contradicts the other numbers of the side view{instead}. Measure it again.",
                about(*wrong).label,
                with_digits(stated.stated.estimate),
            ))
        }
        several => {
            let names: Vec<_> = several.iter().map(|what| about(*what).label.clone()).collect();
            Some(format!(
                "One of these numbers contradicts the others, and they cannot tell which: {}. Measure the easiest of them \
                 again.",
                list(&names, "or")
            ))
        }
    }
}

/// What the rest of the readings say of a quantity that the side view shows directly.
fn expected_without(rest: &Survey, what: Quantity) -> Option<Estimate> {
    let figure = crate::geometry::Figure::ALL.into_iter().find(|figure| figure.name() == what.name())?;
    rest.before().get(figure)
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn what_must_not_be_cut_is_said_plainly() {
        assert!(
            frame_material(Cutting::Forbidden, false, Some(Material::Carbon)).contains("written consent")
        );
        assert_eq!(
            frame_material(Cutting::Forbidden, true, Some(Material::Carbon)),
            "Nothing has to be cut."
        );
    }
}
