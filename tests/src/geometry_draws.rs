//! Monte Carlo over whole bicycles and changes: the independent check of the survey's first-order uncertainties.

use crate::monte_carlo::{Distribution, MonteCarlo};
use rand_xoshiro::Xoshiro256PlusPlus;
use rand_xoshiro::rand_core::SeedableRng;
use steerwright_core::geometry::{
    Bicycle, Change, Changed, Figure, Offsets, UncertainChange, UncertainKit, changed,
};
use steerwright_core::quantity::Estimate;

/// Bicycles before and after their change, drawn from the estimates.
#[derive(Debug)]
pub struct Draws(Vec<Changed>);

impl Draws {
    /// Draws `samples` bicycles and changes. Every number is normal and independent of the others; `u` holds the
    /// standard uncertainty of each field of `bicycle`. The same seed gives the same draws.
    ///
    /// # Panics
    /// If a draw has no stance: the inputs are too uncertain for a mean to make sense.
    pub fn new(bicycle: &Bicycle, u: &Bicycle, change: &UncertainChange, samples: usize, seed: u64) -> Self {
        let mut random = Xoshiro256PlusPlus::seed_from_u64(seed);
        let mut draw = |estimate| Distribution::from(estimate).draw(&mut random);
        let one = |_| {
            let mut field = |get: fn(&Bicycle) -> f64| draw(Estimate::new(get(bicycle), get(u)));
            let bicycle = Bicycle {
                wheelbase: field(|b| b.wheelbase),
                head_angle: field(|b| b.head_angle),
                axle_to_crown: field(|b| b.axle_to_crown),
                fork_offset: field(|b| b.fork_offset),
                lower_stack: field(|b| b.lower_stack),
                head_tube_length: field(|b| b.head_tube_length),
                front_radius: field(|b| b.front_radius),
                rear_radius: field(|b| b.rear_radius),
                chainstay: field(|b| b.chainstay),
                bottom_bracket_height: field(|b| b.bottom_bracket_height),
                seat_angle: field(|b| b.seat_angle),
            };
            let kit = change.kit.map(|kit| match kit {
                UncertainKit::Tilt(tilt) => {
                    Offsets::for_tilt(draw(tilt), bicycle.head_tube_length, 0.0, 0.0).expect("a small tilt")
                }
                UncertainKit::Offsets { upper_plane, lower_plane, upper, lower } => {
                    let [upper_plane, lower_plane, upper, lower] =
                        [upper_plane, lower_plane, upper, lower].map(&mut draw);
                    Offsets { upper_plane, lower_plane, upper, lower }
                }
            });
            let change = Change {
                kit,
                axle_to_crown: change.axle_to_crown.map(&mut draw),
                fork_offset: change.fork_offset.map(&mut draw),
                front_radius: change.front_radius.map(&mut draw),
                rear_radius: change.rear_radius.map(&mut draw),
                lower_stack: change.lower_stack.map(&mut draw),
                front_sag: draw(change.front_sag),
                rear_sag: draw(change.rear_sag),
            };
            changed(&bicycle, &change).expect("a stance")
        };
        Self((0..samples).map(one).collect())
    }

    /// A figure before the change, mm or degrees.
    pub fn before(&self, figure: Figure) -> MonteCarlo {
        self.of(|it| it.before.get(figure))
    }

    /// A figure after the change, mm or degrees.
    pub fn after(&self, figure: Figure) -> MonteCarlo {
        self.of(|it| it.after.get(figure))
    }

    /// After minus before, mm or degrees.
    pub fn difference(&self, figure: Figure) -> MonteCarlo {
        self.of(|it| it.after.get(figure) - it.before.get(figure))
    }

    /// The rotation of the steering axis in the frame, degrees, slacker positive.
    pub fn tilt_deg(&self) -> MonteCarlo {
        self.of(|it| it.tilt_deg)
    }

    /// The turn of the frame on its wheels, degrees, positive where the front rises.
    pub fn pitch_deg(&self) -> MonteCarlo {
        self.of(|it| it.pitch_deg)
    }

    fn of(&self, result: impl Fn(&Changed) -> f64) -> MonteCarlo {
        MonteCarlo::of(self.0.iter().map(result).collect())
    }
}
