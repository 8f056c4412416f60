//! The steerer's budget compared with a worked example, hand computation, and the properties it must have.
#![allow(clippy::unwrap_used, clippy::indexing_slicing, reason = "a test stops at what is not there")]

use proptest::prelude::*;
use steerwright_core::practice::{Provenance, Rule};
use steerwright_core::quantity::{Estimate, Quantity};
use steerwright_core::steerer::{
    Available, Plan, Readings, SpacersKept, SteererError, available, budget, needed,
};

const CALIPER: f64 = 0.025;
const RULE: f64 = 0.25;

/// A bike measured from outside and with the fork out: 12 + 112 + 10 + 15 + 40 + 5 - 3 = 191 mm.
fn bike() -> Readings {
    let caliper = |value| Some(Estimate::new(value, CALIPER));
    Readings {
        head_tube_length: Some(Estimate::new(112.0, RULE)),
        steerer_length: Some(Estimate::new(191.1, RULE)),
        lower_stack: caliper(12.0),
        upper_stack: caliper(10.0),
        spacers_below: caliper(15.0),
        spacers_above: caliper(5.0),
        stem_clamp_height: caliper(40.0),
        cap_gap: caliper(3.0),
    }
}

fn kit() -> Plan {
    Plan::new(Estimate::exact(14.0), Estimate::exact(9.5), 1.5)
}

/// The share of the head tube that the tilt adds: 1 / cos 1.5 deg - 1 = 0.000342792.
const TILTED: f64 = 0.000_342_792;

/// Worked example of common practice (P: no published source): 10.9 + 16.5 + 25.3 + 40.0 + 110.2 = 202.9, so 203, minus
/// 3 is 200 mm. Unrounded 199.9.
#[test]
fn the_worked_example_of_the_trade() {
    let readings = Readings { head_tube_length: Some(Estimate::exact(110.2)), ..Readings::default() };
    let plan = Plan {
        spacers: SpacersKept::Height(Estimate::exact(25.3)),
        stem_clamp: Some(Estimate::exact(40.0)),
        ..Plan::new(Estimate::exact(10.9), Estimate::exact(16.5), 0.0)
    };
    let to_the_top = needed(&readings, &Plan { recess: 0.0, ..plan }).unwrap();
    assert!((to_the_top.value - 202.9).abs() < 1e-9);
    let cut = needed(&readings, &plan).unwrap();
    assert!((cut.value - 199.9).abs() < 1e-9);
    assert!((cut.value.round() - 200.0).abs() < 1e-9);
}

/// Needed: 14 + 112 x 1.000342792 + 9.5 + 20 + 40 - 3 = 192.538393; its u is that of length, stem and two spacers. From
/// outside 191 mm, so the margin is 191 - 192.538393 = -1.538393; of it, without spacers, 20 - 1.538393 remain.
#[test]
fn a_budget_by_hand() {
    let it = budget(&Readings { steerer_length: None, ..bike() }, &kit()).unwrap();
    let need = it.needed.unwrap();
    assert!((need.value - 192.538_393).abs() < 5e-7, "{}", need.value);
    // root of (0.25 x 1.000342792)^2 + 3 x 0.025^2 = 0.2538067
    assert!((need.u - 0.253_806_7).abs() < 5e-8, "{}", need.u);
    let has = it.available.unwrap();
    assert!((has.value - 191.0).abs() < 1e-9);
    // root of 0.25^2 + 6 x 0.025^2 = 0.2573908
    assert!((has.u - 0.257_390_8).abs() < 5e-8);
    assert!((it.margin.value + 1.538_393).abs() < 5e-7);
    assert!((it.tallest_spacers.unwrap().value - 18.461_607).abs() < 5e-7);
    assert!((it.recess.value - 4.538_393).abs() < 5e-7);
    assert!(it.spacers_to_add_above.abs() < 1e-12);
}

/// From outside, the head tube enters both sides and cancels to 0.000342792 of itself; stem and spacers that stay
/// cancel completely. The remainder is both old stacks and the gap: root of 3 x 0.025^2 + (0.25 x 0.000342792)^2 =
/// 0.0433014. Two independent sums would give the root of 0.2538067^2 + 0.2573908^2 = 0.36.
#[test]
fn what_both_sides_share_cancels() {
    let it = budget(&Readings { steerer_length: None, ..bike() }, &kit()).unwrap();
    assert!((it.margin.u - 0.043_301_4).abs() < 5e-8, "{}", it.margin.u);
    assert!((it.margin.u - 3f64.sqrt() * CALIPER).abs() < 1e-6);
    // Without the kept spacers, both of them count: five readings by caliper.
    assert!((it.tallest_spacers.unwrap().u - 5f64.sqrt() * CALIPER).abs() < 1e-6);
    // With the fork out, head tube, stem and spacers enter one side only.
    let out = budget(&Readings { cap_gap: None, ..bike() }, &kit()).unwrap();
    assert_eq!(out.routes[0].way, Available::Measured);
    assert!(
        (out.margin.u - (RULE * RULE * (1.0 + (1.0 + TILTED).powi(2)) + 3.0 * CALIPER * CALIPER).sqrt())
            .abs()
            < 1e-6
    );
}

/// Terms that cancel need not be measured: the margin is known without stem and spacers, while the sums are not.
#[test]
fn what_cancels_need_not_be_measured() {
    let sparse = Readings {
        steerer_length: None,
        spacers_below: None,
        spacers_above: None,
        stem_clamp_height: None,
        ..bike()
    };
    let it = budget(&sparse, &kit()).unwrap();
    let full = budget(&Readings { steerer_length: None, ..bike() }, &kit()).unwrap();
    assert!((it.margin.value - full.margin.value).abs() < 1e-9);
    assert_eq!((it.needed, it.available, it.tallest_spacers), (None, None, None));
    // Another stem does not cancel with the present one.
    let other = Plan { stem_clamp: Some(Estimate::exact(35.0)), ..kit() };
    let Err(SteererError::Missing(missing)) = budget(&sparse, &other) else {
        panic!("the present stem is needed")
    };
    assert_eq!(missing.fork_in, [Quantity::StemClampHeight]);
}

/// Nothing measured: both methods name what they need, and only that.
#[test]
fn what_is_missing_is_named_for_both_ways() {
    let Err(SteererError::Missing(missing)) = budget(&Readings::default(), &kit()) else {
        panic!("nothing is known")
    };
    assert_eq!(
        missing.fork_out,
        [
            Quantity::HeadTubeLength,
            Quantity::SpacersBelow,
            Quantity::SpacersAbove,
            Quantity::StemClampHeight,
            Quantity::SteererLength
        ]
    );
    assert_eq!(
        missing.fork_in,
        [Quantity::HeadTubeLength, Quantity::UpperStack, Quantity::LowerStack, Quantity::CapGap]
    );
    assert!(missing.to_string().contains("cap_gap"));
    let Err(SteererError::Missing(one)) =
        available(&Readings { cap_gap: None, ..bike() }, Available::FromOutside)
    else {
        panic!("the gap is needed")
    };
    assert_eq!(one.fork_in, [Quantity::CapGap]);
}

/// Both methods known: the one of smaller uncertainty is used, which from outside is three caliper readings; methods
/// that differ by 0.1 mm agree within u, those that differ by 3 mm are reported.
#[test]
fn both_ways_known() {
    let it = budget(&bike(), &kit()).unwrap();
    assert_eq!(
        it.routes.iter().map(|it| it.way).collect::<Vec<_>>(),
        [Available::FromOutside, Available::Measured]
    );
    assert!((it.margin.value + 1.538_393).abs() < 5e-7);
    assert!((it.routes[1].margin.value + 1.438_393).abs() < 5e-7);
    assert_eq!(it.disagreement, None);
    let wrong = Readings { steerer_length: Some(Estimate::new(194.0, RULE)), ..bike() };
    let difference = budget(&wrong, &kit()).unwrap().disagreement.unwrap();
    assert!((difference.value - 3.0).abs() < 1e-9);
    assert!((difference.u - (2.0 * RULE * RULE + 6.0 * CALIPER * CALIPER).sqrt()).abs() < 1e-9);
    // A gap guessed by eye and a steerer measured by caliper: now the fork-out method has the smaller uncertainty.
    let guessed = Readings {
        cap_gap: Some(Estimate::new(3.0, 1.0)),
        steerer_length: Some(Estimate::new(191.1, CALIPER)),
        ..bike()
    };
    assert_eq!(budget(&guessed, &kit()).unwrap().routes[0].way, Available::Measured);
}

/// The rules: 4.54 mm of recess is over the practice's 3 and under the standard's 5 (F: ISO 4210-2:2014, 4.7.4, read
/// through a national adoption); two mm more stack is over both. Carbon steerers: about 30 mm of spacers (P).
#[test]
fn rules_of_the_trade_are_notes() {
    let notes = budget(&bike(), &kit()).unwrap().notes(false, Some(45.0));
    assert_eq!(notes.iter().map(|it| it.rule).collect::<Vec<_>>(), [Rule::Recess]);
    let taller = Plan { upper_stack: Estimate::exact(11.5), ..kit() };
    let notes = budget(&bike(), &taller).unwrap().notes(true, Some(45.0));
    assert_eq!(
        notes.iter().map(|it| it.rule).collect::<Vec<_>>(),
        [Rule::RecessLimit, Rule::CarbonSpacersLimit]
    );
    assert!((notes[0].limit - 5.0).abs() < 1e-12 && (notes[0].has - 6.538_393).abs() < 5e-7);
    assert!((notes[1].limit - 30.0).abs() < 1e-12 && (notes[1].has - 45.0).abs() < 1e-12);
    assert_eq!(Rule::RecessLimit.row().provenance, Provenance::Read);
    let lower = Plan { lower_stack: Estimate::exact(10.0), ..kit() };
    let it = budget(&bike(), &lower).unwrap();
    assert_eq!(it.notes(true, Some(30.0)), []);
    // 4 mm less stack: the steerer is 2.46 mm above its planned position.
    assert!((it.spacers_to_add_above - 2.461_607).abs() < 5e-7);
}

#[test]
fn what_makes_no_sense_is_refused_with_its_reason() {
    let reading = Readings { cap_gap: Some(Estimate::new(3.0, -1.0)), ..bike() };
    assert_eq!(budget(&reading, &kit()), Err(SteererError::NotFinite("a reading")));
    assert_eq!(budget(&bike(), &Plan { tilt_deg: 45.0, ..kit() }), Err(SteererError::Tilt(45.0)));
    let infinite = Plan { stem_clamp: Some(Estimate::exact(f64::INFINITY)), ..kit() };
    assert!(matches!(budget(&bike(), &infinite), Err(SteererError::NotFinite(_))));
    let huge = Readings {
        lower_stack: Some(Estimate::exact(1.7e308)),
        upper_stack: Some(Estimate::exact(1.7e308)),
        ..bike()
    };
    assert!(matches!(budget(&huge, &kit()), Err(SteererError::NotFinite(_))));
    assert!(matches!(available(&huge, Available::FromOutside), Err(SteererError::NotFinite(_))));
}

/// The same invalid values with uncertainties that are not negative, so that more of them are accepted.
fn scaled(readings: Readings) -> Readings {
    let sized = |it: Option<Estimate>| it.map(|it| Estimate::new(it.value, it.u.abs()));
    Readings {
        head_tube_length: sized(readings.head_tube_length),
        steerer_length: sized(readings.steerer_length),
        lower_stack: sized(readings.lower_stack),
        upper_stack: sized(readings.upper_stack),
        spacers_below: sized(readings.spacers_below),
        spacers_above: sized(readings.spacers_above),
        stem_clamp_height: sized(readings.stem_clamp_height),
        cap_gap: sized(readings.cap_gap),
    }
}

fn moved(mut readings: Readings, which: usize, by: f64) -> Readings {
    let all = [
        &mut readings.head_tube_length,
        &mut readings.steerer_length,
        &mut readings.lower_stack,
        &mut readings.upper_stack,
        &mut readings.spacers_below,
        &mut readings.spacers_above,
        &mut readings.stem_clamp_height,
        &mut readings.cap_gap,
    ];
    for (place, reading) in all.into_iter().enumerate() {
        if let Some(reading) = reading
            && which == place
        {
            reading.value += by;
        }
    }
    readings
}

proptest! {
    /// Budgets are linear: one reading moved twice as far moves both methods' margins twice as far, by the difference
    /// of its two weights.
    #[test]
    fn linear(which in 0..8usize, by in -20.0..20.0f64, tilt in -3.0..3.0f64) {
        let plan = Plan { tilt_deg: tilt, ..kit() };
        let margin = |readings: &Readings, way| {
            let it = budget(readings, &plan).unwrap();
            it.routes.iter().find(|it| it.way == way).unwrap().margin.value
        };
        let tilted = 1.0 / tilt.to_radians().cos();
        let out = [-tilted, 1.0, 0.0, 0.0, -1.0, -1.0, -1.0, 0.0][which];
        let inside = [1.0 - tilted, 0.0, 1.0, 1.0, 0.0, 0.0, 0.0, -1.0][which];
        for (way, weight) in [(Available::Measured, out), (Available::FromOutside, inside)] {
            for times in [1.0, 2.0] {
                let change = margin(&moved(bike(), which, times * by), way) - margin(&bike(), way);
                prop_assert!((change - weight * times * by).abs() < 1e-9);
            }
        }
    }

    /// The margin's uncertainty is the root of the weighted squares of the readings, never that of two independent
    /// sums.
    #[test]
    fn never_less_sure_than_two_independent_sums(u in proptest::array::uniform8(0.0..2.0f64), tilt in 0.0..3.0f64) {
        let [length, steerer, lower, upper, below, above, stem, gap] = u;
        let with = |reading: Option<Estimate>, u| reading.map(|it| Estimate::new(it.value, u));
        let it = bike();
        let readings = Readings {
            head_tube_length: with(it.head_tube_length, length),
            steerer_length: with(it.steerer_length, steerer),
            lower_stack: with(it.lower_stack, lower),
            upper_stack: with(it.upper_stack, upper),
            spacers_below: with(it.spacers_below, below),
            spacers_above: with(it.spacers_above, above),
            stem_clamp_height: with(it.stem_clamp_height, stem),
            cap_gap: with(it.cap_gap, gap),
        };
        let plan = Plan { tilt_deg: tilt, ..kit() };
        let need = needed(&readings, &plan).unwrap();
        for route in budget(&readings, &plan).unwrap().routes {
            let has = available(&readings, route.way).unwrap();
            prop_assert!((route.margin.value - (has.value - need.value)).abs() < 1e-9);
            prop_assert!(route.margin.u <= has.u.hypot(need.u) + 1e-9);
            if route.way == Available::Measured {
                // A steerer measured directly has no common terms.
                prop_assert!((route.margin.u - has.u.hypot(need.u)).abs() < 1e-9);
            }
        }
    }

    /// Arbitrary bits give a finite answer or a reason.
    #[test]
    fn nothing_panics(
        values in any::<[Option<(f64, f64)>; 8]>(), stacks in any::<[f64; 4]>(), tilt in -46.0..46.0f64,
        recess in any::<f64>(), which in 0..4usize,
    ) {
        let [length, steerer, lower, upper, below, above, stem, gap] =
            values.map(|it| it.map(|(value, u)| Estimate::new(value, u)));
        let readings = Readings {
            head_tube_length: length, steerer_length: steerer, lower_stack: lower, upper_stack: upper,
            spacers_below: below, spacers_above: above, stem_clamp_height: stem, cap_gap: gap,
        };
        let [lower, upper, stem, spacers] = stacks.map(Estimate::exact);
        let plan = Plan {
            lower_stack: lower, upper_stack: upper, tilt_deg: tilt, recess,
            spacers: [SpacersKept::All, SpacersKept::Below, SpacersKept::None, SpacersKept::Height(spacers)][which],
            stem_clamp: (which > 1).then_some(stem),
        };
        for readings in [readings, scaled(readings)] {
            let Ok(it) = budget(&readings, &plan) else { continue };
            let all = [Some(it.margin), Some(it.recess), it.needed, it.available, it.tallest_spacers, it.disagreement];
            prop_assert!(all.into_iter().flatten().all(Estimate::is_sound));
            prop_assert!(it.routes.iter().all(|route| route.margin.is_sound()));
        }
    }
}
