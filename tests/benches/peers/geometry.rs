//! The side view before and after a change, of many bicycles and by Monte Carlo, against NumPy columns.

use crate::subject::Subject;
use std::hint::black_box;
use steerwright_core::geometry::{
    Bicycle, Change, ChangedColumns, Columns, Figure, Offsets, UncertainChange, UncertainKit, changed_many,
    spread,
};
use steerwright_core::quantity::Estimate;

/// Enough for a fleet; the columns of both sides stay in the processor's cache.
const COUNT: usize = 4096;
const SAMPLES: usize = 100_000;

const BIKE: Bicycle = Bicycle {
    wheelbase: 1220.0,
    head_angle: 66.0,
    axle_to_crown: 555.0,
    fork_offset: 44.0,
    lower_stack: 12.0,
    head_tube_length: 115.0,
    front_radius: 372.0,
    rear_radius: 372.0,
    chainstay: 435.0,
    bottom_bracket_height: 340.0,
    seat_angle: 76.0,
};

const BIKE_U: Bicycle = Bicycle {
    wheelbase: 1.0,
    head_angle: 0.1,
    axle_to_crown: 1.0,
    fork_offset: 0.5,
    lower_stack: 0.25,
    head_tube_length: 0.25,
    front_radius: 1.0,
    rear_radius: 1.0,
    chainstay: 0.5,
    bottom_bracket_height: 0.5,
    seat_angle: 0.1,
};

/// 1.5 degrees between planes 5 mm outside both faces.
fn kit() -> Offsets {
    let half = 125.0 * 1.5f64.to_radians().tan() / 2.0;
    Offsets { upper_plane: 5.0, lower_plane: 5.0, upper: -half, lower: half }
}

/// The same bicycles as `tests/peers/geometry.py many` makes.
pub(crate) fn many() -> Subject {
    let mut columns = Columns::with_capacity(COUNT);
    for i in 0..COUNT {
        let share = (i % 1000) as f64 / 1000.0;
        let bicycle = Bicycle { wheelbase: 1200.0 + 50.0 * share, head_angle: 64.0 + 2.0 * share, ..BIKE };
        let change = Change { kit: Some(kit()), lower_stack: Some(14.0), ..Change::default() };
        columns.push(&bicycle, &change);
    }
    let mut out = ChangedColumns::default();
    changed_many(&columns, &mut out);
    let check = out.after(Figure::Trail).iter().sum();
    Subject {
        name: "geometry: changed_many",
        aim: 2.0,
        ours: Box::new(move || {
            for _ in 0..10 {
                changed_many(black_box(&columns), &mut out);
                black_box(&mut out);
            }
            10 * COUNT as u64
        }),
        check: Some(check),
        peer_script: "geometry.py",
        peer_args: vec!["many".to_owned(), COUNT.to_string()],
    }
}

/// Sixteen uncertain numbers, thirty-two results with their intervals. The draws differ, so the sums do too.
pub(crate) fn monte_carlo() -> Subject {
    let Offsets { upper_plane, lower_plane, upper, lower } = kit();
    let change = UncertainChange {
        kit: Some(UncertainKit::Offsets {
            upper_plane: Estimate::new(upper_plane, 0.05),
            lower_plane: Estimate::new(lower_plane, 0.05),
            upper: Estimate::new(upper, 0.02),
            lower: Estimate::new(lower, 0.02),
        }),
        lower_stack: Some(Estimate::new(14.0, 0.1)),
        ..UncertainChange::default()
    };
    Subject {
        name: "geometry: spread",
        aim: 2.5,
        ours: Box::new(move || {
            let found = spread(black_box(&BIKE), &BIKE_U, &change, SAMPLES, 1);
            assert!(black_box(found).is_ok());
            SAMPLES as u64
        }),
        check: None,
        peer_script: "geometry.py",
        peer_args: vec!["monte_carlo".to_owned(), SAMPLES.to_string()],
    }
}
