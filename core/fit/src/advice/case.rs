//! Which of the guide's instructions fit a bike.

use super::value::seen;
use crate::bike::{Material, Observable, ObservedSeat, observing};
use crate::judgement::{BikeKnowledge, Facts};
use steerwright_mechanics::headset::{End, Style};
use steerwright_metrology::quantity::{Instruction, Quantity, SeatCase, quantity_info};

/// What a reading asks of the bike, and how it is told.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct Guidance {
    /// State, minutes and texts.
    pub instruction: Instruction,
    /// The name of these texts among the guide's; absent for the row's own.
    pub variant: Option<&'static str>,
}

/// How to measure a quantity on this bike: by what is known of its seat and its material.
pub fn of_quantity(what: Quantity, known: &BikeKnowledge, facts: &Facts) -> Guidance {
    let row = quantity_info(what);
    let case = seat_case(end_of(what), known, facts).filter(|case| row.cases.contains_key(case));
    Guidance { instruction: row.instruction(case), variant: case.map(SeatCase::name) }
}

/// How to look at something on this bike, with the fork in or out.
pub(super) fn of_look(look: Observable, fork_out: bool) -> Guidance {
    let row = observing(look);
    let variant = row.fork_out.as_ref().filter(|_| fork_out).map(|_| "fork_out");
    Guidance { instruction: row.instruction(fork_out), variant }
}

/// Whether the next look at a seat is one with the fork out: it is out, or the look with it in is done.
pub(super) fn looks_with_fork_out(known: &BikeKnowledge, end: End) -> bool {
    known.observed.fork_out == Some(true) || seen(&known.observed, end)
}

/// What is known of a seat, as far as the guide's texts depend on it; `None` where it was not looked at, or where the
/// readings speak against what was seen. A cup is only called one in metal if the material was looked at.
pub fn seat_case(end: End, known: &BikeKnowledge, facts: &Facts) -> Option<SeatCase> {
    /// Below this probability a look counts as mistaken.
    const BELIEVED: f64 = 0.5;
    let looked = match end {
        End::Upper => known.observed.upper_seat,
        End::Lower => known.observed.lower_seat,
    };
    let drop_in: f64 = facts.posterior(end).entries().iter().fold(0.0, |sum, (code, p)| {
        let is_drop_in = code.is_some_and(|code| code.style == Style::Is);
        if is_drop_in { sum + p } else { sum }
    });
    let cup = 1.0 - drop_in - facts.posterior(end).probability_no_standard();
    let (lip, external) = (SeatCase::ThinLipMetal, SeatCase::ExternalCupMetal);
    let (in_metal, believed) = match looked? {
        ObservedSeat::DropIn => return (drop_in >= BELIEVED).then_some(SeatCase::DropIn),
        ObservedSeat::ThinLip => (lip, cup),
        ObservedSeat::ExternalCup => (external, cup),
        ObservedSeat::NotSeen => return None,
    };
    let case = match known.observed.frame_material {
        Some(Material::Aluminium | Material::Steel | Material::Titanium) => in_metal,
        Some(Material::Carbon) => SeatCase::CupCarbon,
        Some(Material::NotKnown) | None => SeatCase::CupUnknownMaterial,
    };
    (believed >= BELIEVED).then_some(case)
}

/// The end of the head tube that a quantity is measured at; the wall is measured at the upper one.
fn end_of(what: Quantity) -> End {
    if what.name().starts_with("lower_") { End::Lower } else { End::Upper }
}
