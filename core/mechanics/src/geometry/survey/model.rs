//! Readings as functions of the eleven numbers of a bicycle.

use super::Statement;
use crate::geometry::Bicycle;
use crate::geometry::bicycle::{DEEPEST, FLATTEST, SHORTEST};
use crate::geometry::error::LONGEST;
use steerwright_metrology::quantity::Quantity;

/// How many numbers determine a side view.
pub(super) const UNKNOWNS: usize = 11;

/// The quantity that states each unknown directly, in the order of [`pack`].
pub(super) const DIRECT: [Quantity; UNKNOWNS] = [
    Quantity::Wheelbase,
    Quantity::HeadAngle,
    Quantity::AxleToCrown,
    Quantity::ForkOffset,
    Quantity::LowerStack,
    Quantity::HeadTubeLength,
    Quantity::FrontTyreDiameter,
    Quantity::RearTyreDiameter,
    Quantity::ChainstayLength,
    Quantity::BottomBracketHeight,
    Quantity::SeatAngle,
];

/// The approximate spread between bikes in each unknown, mm and degrees. It scales the unknowns, and does not enter a
/// result that the readings determine.
pub(super) const SPREAD: [f64; UNKNOWNS] = [50.0, 2.0, 40.0, 5.0, 5.0, 20.0, 15.0, 15.0, 15.0, 15.0, 2.0];

/// Two different bicycles to start from. A result that the readings determine is the same from both; one that depends
/// on the start is withheld.
pub(super) const STARTS: [Bicycle; 2] = [
    Bicycle {
        wheelbase: 1220.0,
        head_angle: 65.5,
        axle_to_crown: 550.0,
        fork_offset: 44.0,
        lower_stack: 12.0,
        head_tube_length: 115.0,
        front_radius: 372.0,
        rear_radius: 368.0,
        chainstay: 435.0,
        bottom_bracket_height: 340.0,
        seat_angle: 76.0,
    },
    Bicycle {
        wheelbase: 1085.0,
        head_angle: 70.5,
        axle_to_crown: 460.0,
        fork_offset: 49.0,
        lower_stack: 4.0,
        head_tube_length: 152.0,
        front_radius: 338.0,
        rear_radius: 345.0,
        chainstay: 451.0,
        bottom_bracket_height: 296.0,
        seat_angle: 72.5,
    },
];

pub(super) fn pack(b: &Bicycle) -> [f64; UNKNOWNS] {
    [
        b.wheelbase,
        b.head_angle,
        b.axle_to_crown,
        b.fork_offset,
        b.lower_stack,
        b.head_tube_length,
        b.front_radius,
        b.rear_radius,
        b.chainstay,
        b.bottom_bracket_height,
        b.seat_angle,
    ]
}

pub(super) fn unpack(x: &[f64; UNKNOWNS]) -> Bicycle {
    let [
        wheelbase,
        head_angle,
        axle_to_crown,
        fork_offset,
        lower_stack,
        head_tube_length,
        front_radius,
        rear_radius,
        chainstay,
        bottom_bracket_height,
        seat_angle,
    ] = *x;
    Bicycle {
        wheelbase,
        head_angle,
        axle_to_crown,
        fork_offset,
        lower_stack,
        head_tube_length,
        front_radius,
        rear_radius,
        chainstay,
        bottom_bracket_height,
        seat_angle,
    }
}

/// True if `what` is a quantity of the side view.
pub(super) fn bears(what: Quantity) -> bool {
    DIRECT.contains(&what)
        || matches!(
            what,
            Quantity::BottomBracketDrop | Quantity::Reach | Quantity::Stack | Quantity::FrontCentre
        )
}

/// The value of each statement for a bicycle, mm and degrees; NaN outside the domain.
pub(super) fn readings(statements: &[Statement], bicycle: &Bicycle) -> Vec<f64> {
    let Ok(view) = bicycle.side_view() else { return vec![f64::NAN; statements.len()] };
    statements
        .iter()
        .map(|statement| match statement.what {
            Quantity::Wheelbase => view.wheelbase,
            Quantity::HeadAngle => view.head_angle,
            Quantity::AxleToCrown => bicycle.axle_to_crown,
            Quantity::ForkOffset => bicycle.fork_offset,
            Quantity::LowerStack => bicycle.lower_stack,
            Quantity::HeadTubeLength => bicycle.head_tube_length,
            Quantity::FrontTyreDiameter => 2.0 * bicycle.front_radius,
            Quantity::RearTyreDiameter => 2.0 * bicycle.rear_radius,
            Quantity::ChainstayLength => bicycle.chainstay,
            Quantity::BottomBracketHeight => view.bottom_bracket_height,
            Quantity::BottomBracketDrop => bicycle.rear_radius - view.bottom_bracket_height,
            Quantity::SeatAngle => view.seat_angle,
            Quantity::Reach => view.reach,
            Quantity::Stack => view.stack,
            Quantity::FrontCentre => view.front_centre,
            _ => f64::NAN,
        })
        .collect()
}

/// The start: `nominal` with the unknowns that were read directly, if that is a valid bicycle.
pub(super) fn start(statements: &[Statement], nominal: &Bicycle) -> Bicycle {
    let mut x = pack(nominal);
    for statement in statements {
        let value = statement.estimate.value;
        for (unknown, direct) in x.iter_mut().zip(DIRECT) {
            if direct == statement.what {
                let is_diameter = matches!(direct, Quantity::FrontTyreDiameter | Quantity::RearTyreDiameter);
                *unknown = if is_diameter { value / 2.0 } else { value };
            }
        }
    }
    let stated = unpack(&x);
    if stated.check().is_ok() { stated } else { *nominal }
}

/// True if some bicycle can have the reading.
pub(super) fn is_usable(statement: &Statement) -> bool {
    let value = statement.estimate.value;
    let range = match statement.what {
        Quantity::HeadAngle | Quantity::SeatAngle => FLATTEST..=90.0,
        Quantity::ForkOffset | Quantity::BottomBracketDrop | Quantity::Reach | Quantity::Stack => {
            -LONGEST..=LONGEST
        }
        Quantity::LowerStack => DEEPEST..=LONGEST,
        _ => 2.0 * SHORTEST..=LONGEST,
    };
    statement.estimate.is_sound() && range.contains(&value)
}
