//! The pictures of a report.

use steerwright_drawing::{
    BikePoints, Deepening, Drawing, LeastClearance, NumberLineInput, NumberLineRow, Relief, ReliefSide,
    SectionEnd, SectionInput, SectionSeat, SectionSteerer, SideViewInput, StretchEnd, head_tube_section_in,
    number_line_in, side_view_in, tool_place_in,
};
use steerwright_fit::bike::{Bike, Findings};
use steerwright_fit::catalogue::{Catalogue, Kit};
use steerwright_fit::judgement::{
    BikeKnowledge, Facts, Place, PreparedKit, Task, Verdict, Work, clearance_parts,
};
use steerwright_fit::report::{Handling, KitReport, Report, ScreenedSurvey, Turn};
use steerwright_mechanics::clearance::{Side, measured_clearance};
use steerwright_mechanics::geometry::{self, SideView, Survey, changed};
use steerwright_mechanics::headset::{End, IDENTIFIED_FROM, Style, size};
use steerwright_metrology::quantity::{Instruments, Quantity};
use steerwright_metrology::voice::Voice;
use steerwright_words::say;

/// Inputs of the pictures of one bike.
struct Bench<'a> {
    known: &'a BikeKnowledge,
    facts: &'a Facts,
    survey: &'a Survey,
}

/// Number of kits with pictures of their own.
const KITS: usize = 2;

/// For the best kits a section of the head tube and a side view, as far as the readings allow; for the best of them how
/// far its verdict holds; for each next measurement a picture of the tool's position. Each has a name of letters, digits and hyphens.
pub fn pictures(
    bike: &Bike,
    catalogue: &Catalogue,
    instruments: &Instruments,
    report: &Report,
) -> Vec<(String, Drawing)> {
    pictures_in(Voice::english(), bike, catalogue, instruments, report)
}

/// The same in another language.
pub fn pictures_in(
    voice: Voice<'_>,
    bike: &Bike,
    catalogue: &Catalogue,
    instruments: &Instruments,
    report: &Report,
) -> Vec<(String, Drawing)> {
    let findings = Findings::new(bike, instruments);
    let known = BikeKnowledge::new(bike, &findings);
    let survey = ScreenedSurvey::new(&findings);
    let facts = Facts::new(&known, report.direction);
    let bench = Bench { known: &known, facts: &facts, survey: &survey.screened };
    let asked_for_one = report.kits.len() == 1;
    let shown =
        report.kits.iter().filter(|kit| asked_for_one || kit.verdict != Verdict::WillNotGo).take(KITS);
    let mut drawings = Vec::new();
    for (index, line) in shown.enumerate() {
        let Some(kit) = catalogue.kit(&line.sku) else { continue };
        let Ok(prepared) = PreparedKit::for_direction(kit, catalogue, report.direction) else { continue };
        let title = say!(voice, "drawn-bike-with-kit", bike = bike.name, kit = kit.sku);
        let section = section_input(&bench, kit, &prepared, &line.work, &title);
        if let Some(Ok(drawing)) = section.as_ref().map(|input| head_tube_section_in(voice, input)) {
            drawings.push((format!("section-{}", file_name(&kit.sku)), drawing));
        }
        if let Some(Ok(drawing)) =
            kit_side_view(&bench, kit, &prepared, &title).as_ref().map(|input| side_view_in(voice, input))
        {
            drawings.push((format!("side-view-{}", file_name(&kit.sku)), drawing));
        }
        if index == 0
            && let Ok(drawing) = number_line_in(voice, &number_lines(voice, line, &title))
        {
            drawings.push((format!("holds-{}", file_name(&kit.sku)), drawing));
        }
    }
    for next in &report.measure_next {
        if let Some(what) = Quantity::from_name(&next.what) {
            drawings.push((format!("where-{}", file_name(what.name())), tool_place_in(voice, what)));
        }
    }
    drawings
}

/// The side view of a handling report; `None` while it is not fully known.
pub fn side_view_picture(report: &Handling) -> Option<Drawing> {
    side_view_picture_in(Voice::english(), report)
}

/// The same in another language.
pub fn side_view_picture_in(voice: Voice<'_>, report: &Handling) -> Option<Drawing> {
    let [before, after] = report.views.as_deref()?;
    let changed = report.change.values().any(|figure| figure.value.abs() > 1e-9);
    let input = SideViewInput {
        title: report.bike.clone(),
        before: points(before),
        after: changed.then(|| points(after)),
    };
    side_view_in(voice, &input).ok()
}

/// Replaces all characters except letters, digits and hyphens, so that any order code gives a valid file name.
fn file_name(text: &str) -> String {
    let plain = |character: char| if character.is_ascii_alphanumeric() { character } else { '-' };
    text.chars().map(plain).collect()
}

fn kit_side_view(bench: &Bench<'_>, kit: &Kit, prepared: &PreparedKit, title: &str) -> Option<SideViewInput> {
    let change = geometry::Change {
        kit: Some(prepared.relative_offsets(bench.facts)),
        lower_stack: Some(kit.lower.stack_mm),
        ..geometry::Change::default()
    };
    let done = changed(&bench.survey.bicycle()?, &change).ok()?;
    Some(SideViewInput {
        title: title.to_owned(),
        before: points(&done.before),
        after: Some(points(&done.after)),
    })
}

fn number_lines(voice: Voice<'_>, line: &KitReport, title: &str) -> NumberLineInput {
    let end = |turn: Option<Turn>| {
        turn.map(|turn| StretchEnd { at: turn.at, beyond: voice.text(turn.verdict.id()) })
    };
    let rows = line.holds.iter().map(|holds| NumberLineRow {
        label: voice.quantity(holds.what),
        unit: holds.unit,
        value: holds.value,
        u: holds.u,
        from: end(holds.from),
        to: end(holds.to),
    });
    NumberLineInput {
        title: say!(voice, "drawn-how-far", title = title),
        holds: voice.text(line.verdict.id()),
        rows: rows.collect(),
    }
}

fn points(view: &SideView) -> BikePoints {
    let place = |point: geometry::Point| [point.x, point.y];
    BikePoints {
        rear_axle: place(view.rear_axle),
        front_axle: place(view.front_axle),
        bottom_bracket: Some(place(view.bottom_bracket)),
        head_tube_top: place(view.upper_face),
        head_tube_bottom: place(view.lower_face),
        crown: place(view.crown_race),
        head_angle_deg: view.head_angle,
        seat_angle_deg: Some(view.seat_angle),
    }
}

fn section_input(
    bench: &Bench<'_>,
    kit: &Kit,
    prepared: &PreparedKit,
    work: &[Work],
    title: &str,
) -> Option<SectionInput> {
    let get = |what| bench.known.get(what).map(|estimate| estimate.value);
    // The clearance model has no cup: a pressed cup's skirt would narrow it.
    let pressed = prepared.ends.iter().any(|half| half.pressed);
    let found =
        clearance_parts(bench.known, prepared).filter(|_| !pressed).and_then(|(head_tube, steerer)| {
            // The position of least clearance does not depend on the required clearance.
            let found = measured_clearance(&head_tube, &steerer, &prepared.offsets, 0.0).ok()?;
            Some(LeastClearance {
                z_mm: found.clearance.at_z,
                side: found.clearance.side,
                clearance_mm: found.clearance.least,
                needed_mm: prepared.end(found.clearance.end).running_clearance,
            })
        });
    Some(SectionInput {
        title: title.to_owned(),
        head_tube_length_mm: get(Quantity::HeadTubeLength)?,
        upper: section_end(bench, kit, prepared, End::Upper),
        lower: section_end(bench, kit, prepared, End::Lower),
        tube_inside_diameter_mm: None,
        steerer: SectionSteerer {
            upper_diameter_mm: get(Quantity::SteererUpperDiameter).unwrap_or(kit.steerer.upper_mm),
            lower_diameter_mm: get(Quantity::SteererLowerDiameter),
            taper_start_mm: get(Quantity::SteererTaperStart),
            taper_end_mm: get(Quantity::SteererTaperEnd),
        },
        least_clearance: found,
        relief: work.iter().filter_map(relief).collect(),
        deepening: work.iter().filter_map(deepening).collect(),
    })
}

fn section_end(bench: &Bench<'_>, kit: &Kit, prepared: &PreparedKit, end: End) -> SectionEnd {
    let get = |what| bench.known.get(what).map(|estimate| estimate.value);
    let [bore, depth, throat, throat_depth] = match end {
        End::Upper => [
            Quantity::UpperBoreDiameter,
            Quantity::UpperBoreDepth,
            Quantity::UpperThroatDiameter,
            Quantity::UpperThroatDepth,
        ],
        End::Lower => [
            Quantity::LowerBoreDiameter,
            Quantity::LowerBoreDepth,
            Quantity::LowerThroatDiameter,
            Quantity::LowerThroatDepth,
        ],
    };
    let half = kit.end(end);
    let is_sure = bench.facts.posterior(end).probability_of_frame_seat(half.seat) >= IDENTIFIED_FROM;
    // A seat of known size has the bore of that size, measured or not.
    let by_size = || size(half.seat).filter(|_| is_sure).map(|row| row.bore.estimate().value);
    let offsets = &prepared.offsets;
    let (plane, offset) = match end {
        End::Upper => (offsets.upper_plane, offsets.upper),
        End::Lower => (offsets.lower_plane, offsets.lower),
    };
    let bore_diameter = get(bore).or_else(by_size);
    let wall = get(Quantity::HeadTubeWall);
    SectionEnd {
        seat: if half.seat.style == Style::Is { SectionSeat::DropIn } else { SectionSeat::Pressed },
        bore_diameter_mm: bore_diameter,
        bore_depth_mm: get(depth),
        throat_diameter_mm: get(throat),
        throat_depth_mm: get(throat_depth),
        outside_diameter_mm: bore_diameter.zip(wall).map(|(bore, wall)| bore + 2.0 * wall),
        stack_mm: half.stack_mm,
        plane_mm: plane,
        offset_mm: offset,
    }
}

fn deepening(work: &Work) -> Option<Deepening> {
    let end = match (work.task, work.place) {
        (Task::Deepen, Place::UpperBore) => End::Upper,
        (Task::Deepen, Place::LowerBore) => End::Lower,
        _ => return None,
    };
    let (from_mm, to_mm) = (work.from_mm?, work.to_mm?);
    // Measured as deep enough, only not surely.
    (to_mm > from_mm).then_some(Deepening { end, from_mm, to_mm })
}

fn relief(work: &Work) -> Option<Relief> {
    if work.task != Task::Open {
        return None;
    }
    let end = match work.place {
        Place::UpperThroat => End::Upper,
        Place::LowerThroat => End::Lower,
        Place::UpperBore | Place::LowerBore | Place::Bearings => return None,
    };
    let side = match work.side {
        Some(Side::Front) => ReliefSide::Front,
        Some(Side::Rear) => ReliefSide::Rear,
        None => ReliefSide::Around,
    };
    Some(Relief {
        end,
        side,
        depth_mm: work.remove_mm.filter(|mm| *mm > 0.0)?,
        by_maker_figure: work.only_by_maker_figure,
    })
}
