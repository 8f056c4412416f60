//! Bikes and kits for properties of verdicts.
//!
//! Bikes are generated near the limits of the kit for which they are judged, so that all four verdicts occur; each
//! property counts its cases and fails if they no longer cover them.

use proptest::prelude::*;
use proptest::sample::select;
use proptest::test_runner::{RngAlgorithm, TestCaseResult, TestRng, TestRunner};
use std::cell::RefCell;
use std::collections::BTreeMap;
use steerwright_core::bike::{Bearings, Bike, BikeSchema, Material, Measurement, Observed, ObservedSeat};
use steerwright_core::catalogue::{BearingSupply, Catalogue, Kit, demo_catalogue_json};
use steerwright_core::headset::{End, Style, bearing_size, size};
use steerwright_core::judgement::{BikeKnowledge, Direction, PreparedKit, TargetChange};
use steerwright_core::quantity::{Instrument, Instruments, Quantity};
use steerwright_core::report::{Options, Report, check};

fn demo() -> Catalogue {
    Catalogue::from_json(demo_catalogue_json().as_bytes(), "catalogue.json").unwrap()
}

/// A bike, the kit it was made for, and the catalogue with that kit.
#[derive(Debug, Clone)]
pub(crate) struct Case {
    pub(crate) bike: Bike,
    pub(crate) kit: Kit,
    pub(crate) catalogue: Catalogue,
    pub(crate) direction: Direction,
}

impl Case {
    pub(crate) fn known(&self) -> BikeKnowledge {
        BikeKnowledge::new(&self.bike, &self.bike.findings())
    }

    pub(crate) fn prepared(&self) -> PreparedKit {
        let kit = PreparedKit::new(&self.kit, &self.catalogue).unwrap();
        match self.direction {
            Direction::Slacker => kit,
            Direction::Steeper => kit.turned_round(),
        }
    }

    pub(crate) fn report(&self, target: Option<TargetChange>) -> Report {
        let options = Options { direction: self.direction, target, only: None };
        check(&self.bike, &self.catalogue, &Instruments::default(), &options).unwrap()
    }
}

/// Distance of a reading from its limit, as a multiple of its uncertainty, positive inside; `None`: not measured. Most
/// are well inside, since with many readings hardly any bike would pass otherwise.
fn place(clear: u32, near: u32, outside: u32, missing: u32) -> impl Strategy<Value = Option<f64>> {
    prop_oneof![
        clear => (4.0..16.0f64).prop_map(Some),
        near => (-2.0..4.0f64).prop_map(Some),
        outside => (-40.0..-2.0f64).prop_map(Some),
        missing => Just(None),
    ]
}

/// One of the demo catalogue's kits with some fields omitted or changed.
fn kit() -> impl Strategy<Value = Kit> {
    let supply = select(vec![BearingSupply::Included, BearingSupply::Reused]);
    (select(demo().kits), any::<[bool; 6]>(), prop::bool::weighted(0.8), supply).prop_map(
        |(kit, [throat, depth, cup, hoses, stop, offset], recess, bearings)| {
            let end = |mut end: steerwright_core::catalogue::KitEnd| {
                end.throat_min_mm = end.throat_min_mm.filter(|_| throat);
                end.bore_depth_min_mm = end.bore_depth_min_mm.filter(|_| depth);
                end.cup_mm = end.cup_mm.filter(|_| cup);
                end.offset_mm = end.offset_mm.filter(|_| offset);
                end.recess_max_mm = end.recess_max_mm.filter(|_| recess);
                end
            };
            let (upper, lower) = (end(kit.upper.clone()), end(kit.lower.clone()));
            Kit { upper, lower, hoses, steering_stop: stop, bearings, reversible: true, ..kit }
        },
    )
}

/// All other observations of a bike.
fn observed(kit: &Kit) -> impl Strategy<Value = Observed> + use<> {
    use prop::option::weighted;
    let look = |style: Style| {
        let right = match style {
            Style::Is => ObservedSeat::DropIn,
            Style::Zs => ObservedSeat::ThinLip,
            Style::Ec => ObservedSeat::ExternalCup,
        };
        weighted(0.9, prop_oneof![9 => Just(right), 1 => Just(ObservedSeat::NotSeen)])
    };
    let material = weighted(
        0.9,
        select(vec![
            Material::Aluminium,
            Material::Steel,
            Material::Titanium,
            Material::Carbon,
            Material::NotKnown,
        ]),
    );
    let bearings = weighted(
        0.9,
        prop_oneof![6 => Just(Bearings::Good), 2 => Just(Bearings::Rough), 1 => Just(Bearings::NotKnown)],
    );
    let seldom = || weighted(0.95, prop::bool::weighted(0.1));
    (
        (look(kit.upper.seat.style), look(kit.lower.seat.style), prop::bool::weighted(0.9)),
        (material, seldom(), seldom(), bearings),
    )
        .prop_map(|((upper_seat, lower_seat, out), (frame_material, hoses, stop, bearings))| Observed {
            upper_seat,
            lower_seat,
            fork_out: Some(out),
            frame_material,
            hoses_through_headset: hoses,
            steering_stop: stop,
            bearings,
            ..Observed::default()
        })
}

pub(crate) fn reading(what: Quantity, value: f64, half_width: f64) -> Measurement {
    let (unit, with, plus_minus) = (what.base_unit(), Instrument::Caliper, Some(half_width));
    Measurement { what, value, unit, with, plus_minus, at: None, note: None }
}

/// At most one reading of each quantity, near the kit's limits.
fn bike_for(kit: &Kit) -> impl Strategy<Value = Bike> + use<> {
    let kit = kit.clone();
    let fixed = prop::collection::vec(place(60, 4, 1, 1), 12);
    let workable = prop::collection::vec(place(20, 3, 4, 1), 6);
    (observed(&kit), fixed, workable, 0.02..1.0f64, any::<[bool; 3]>()).prop_map(
        move |(observed, fixed, workable, half_width, [loose_end, fork_out, far_end])| {
            use Quantity as Q;
            let (mut fixed, mut workable) = (fixed.into_iter(), workable.into_iter());
            let mut measured = Vec::new();
            // A value inside a limit by this many u; a half-width is 2 u.
            let mut near =
                |place: Option<Option<f64>>, what: Quantity, limit: f64, sign: f64, half_width: f64| {
                    let value = limit + sign * place.flatten()? * half_width / 2.0;
                    measured.push(reading(what, value, half_width));
                    Some(value)
                };
            // Diameters are known to hundredths where lengths are to tenths.
            let fine = half_width / 10.0;
            let [short, long] = kit.head_tube_length_mm;
            let (limit, sign) = if far_end { (long, -1.0) } else { (short, 1.0) };
            let length = near(fixed.next(), Q::HeadTubeLength, limit, sign, half_width);
            near(fixed.next(), Q::SteererUpperDiameter, kit.steerer.upper_mm + 0.3, -1.0, 0.02);
            near(fixed.next(), Q::SteererLowerDiameter, kit.steerer.lower_mm - 0.3, 1.0, 0.02);
            for (end, steerer) in [(End::Upper, kit.steerer.upper_mm), (End::Lower, kit.steerer.lower_mm)] {
                let half = kit.end(end);
                let row = size(half.seat).unwrap();
                let bearing = bearing_size(&row.bearings[0].bearing).unwrap().outer.estimate().value;
                let [outer, bore, depth, throat, throat_depth] = match end {
                    End::Upper => [
                        Q::UpperBearingOuterDiameter,
                        Q::UpperBoreDiameter,
                        Q::UpperBoreDepth,
                        Q::UpperThroatDiameter,
                        Q::UpperThroatDepth,
                    ],
                    End::Lower => [
                        Q::LowerBearingOuterDiameter,
                        Q::LowerBoreDiameter,
                        Q::LowerBoreDepth,
                        Q::LowerThroatDiameter,
                        Q::LowerThroatDepth,
                    ],
                };
                if half.seat.style == Style::Is {
                    near(fixed.next(), outer, bearing + 0.08, -1.0, 0.02);
                    near(workable.next(), throat, half.throat_min_mm.unwrap_or(steerer + 4.0), 1.0, fine);
                    near(fixed.next(), throat_depth, 12.0, 1.0, 0.1);
                } else {
                    let cup = half.cup_mm.unwrap_or(row.bore.limits[1] + 0.035);
                    let (limit, sign) = if loose_end { (cup - 0.02, -1.0) } else { (cup - 0.1, 1.0) };
                    near(workable.next(), bore, limit, sign, 0.008);
                    near(workable.next(), depth, half.bore_depth_min_mm.unwrap_or(15.0), 1.0, half_width);
                }
            }
            near(fixed.next(), Q::UpperBearingRecess, kit.upper.recess_max_mm.unwrap_or(3.0), -1.0, fine);
            // For a steerer that is just long enough for the kit, by either method of determining its length; a
            // millimetre for the slanted path through the head tube.
            let stacks = kit.upper.stack_mm + kit.lower.stack_mm;
            if fork_out {
                let length = length.unwrap_or(f64::midpoint(short, long));
                near(fixed.next(), Q::SteererLength, stacks + length + 40.0 - 3.0 + 1.0, 1.0, half_width);
                near(fixed.next(), Q::StemClampHeight, 40.0, -1.0, fine);
                measured.push(reading(Q::LowerStack, 3.0, fine));
            } else {
                // 9 + 3 of the present headset, 5 of spacers above, 3 of gap that may stay.
                near(fixed.next(), Q::SpacersBelow, stacks - 17.0 + 1.0, 1.0, fine);
                let parts = [
                    (Q::SpacersAbove, 5.0),
                    (Q::CapGap, 3.0),
                    (Q::UpperStack, 9.0),
                    (Q::LowerStack, 3.0),
                    (Q::StemClampHeight, 40.0),
                ];
                measured.extend(parts.map(|(what, value)| reading(what, value, fine)));
            }
            // 400 mm from the crown, fork fully compressed: 7 mm a degree.
            let swing = 400.0 * kit.tilt_deg.to_radians().sin() + 1.5;
            if let Some(Some(place)) = fixed.next() {
                let gap = 6.0 + swing + place * half_width / 2.0;
                measured.push(reading(Q::TyreToDownTube, gap, half_width));
            }
            measured.extend([
                reading(Q::SteererTaperStart, 12.0, 1.0),
                reading(Q::SteererTaperEnd, 75.0, 1.0),
                reading(Q::AxleToCrown, 550.0, 2.0),
                reading(Q::ForkTravel, 150.0, 1.0),
            ]);
            Bike {
                schema: BikeSchema::V1,
                name: "near".into(),
                owner: None,
                observed,
                fitted: None,
                measured,
            }
        },
    )
}

pub(crate) fn case() -> impl Strategy<Value = Case> {
    let direction = prop_oneof![4 => Just(Direction::Slacker), 1 => Just(Direction::Steeper)];
    (kit(), prop::bool::weighted(0.6), direction).prop_flat_map(|(kit, spares, direction)| {
        let mut catalogue = demo();
        if !spares {
            catalogue.bearings.clear();
        }
        for listed in &mut catalogue.kits {
            if listed.sku == kit.sku {
                *listed = kit.clone();
            }
        }
        bike_for(&kit).prop_map(move |bike| Case {
            bike,
            kit: kit.clone(),
            catalogue: catalogue.clone(),
            direction,
        })
    })
}

/// Runs a property over this many cases.
pub(crate) fn over_cases<T: std::fmt::Debug>(
    cases: u32,
    strategy: impl Strategy<Value = T>,
    property: impl Fn(T) -> TestCaseResult,
) {
    let config = ProptestConfig { cases, failure_persistence: None, ..ProptestConfig::default() };
    // The same cases in every run: their coverage is asserted as well, and must not depend on chance.
    let chance = TestRng::deterministic_rng(RngAlgorithm::ChaCha);
    TestRunner::new_with_rng(config, chance)
        .run(&strategy, property)
        .unwrap_or_else(|error| panic!("{error}"));
}

/// Counts of occurrences.
#[derive(Default)]
pub(crate) struct CaseCounter(RefCell<BTreeMap<String, usize>>);

impl CaseCounter {
    pub(crate) fn saw(&self, what: impl std::fmt::Debug) {
        *self.0.borrow_mut().entry(format!("{what:?}")).or_default() += 1;
    }

    #[track_caller]
    pub(crate) fn at_least(&self, what: &str, least: usize) {
        let seen = self.0.borrow().get(what).copied().unwrap_or(0);
        assert!(seen >= least, "{what} seen {seen} times only: {:?}", self.0.borrow());
    }
}
