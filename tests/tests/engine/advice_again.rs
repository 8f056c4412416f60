//! Measuring again: with a better tool, by repetition, and where readings contradict one another.

use steerwright_core::advice::{Inquiry, OpenKit, Subject, next, wrong};
use steerwright_core::bike::{Bike, Measurement, Observed, demo_bikes_json};
use steerwright_core::catalogue::{Catalogue, demo_catalogue_json};
use steerwright_core::headset::{End, SeatDimension, SeatEvidence, identify};
use steerwright_core::judgement::{BikeKnowledge, Direction, PreparedKit, evidence};
use steerwright_core::quantity::{Estimate, Instrument, Instruments, Quantity, Unit, combine};
use steerwright_core::report::{MeasureNext, Options, check};

fn catalogue() -> Catalogue {
    Catalogue::from_json(demo_catalogue_json().as_bytes(), "catalogue.json").unwrap()
}

/// Hire bike 01 with the fork in, some quantities read otherwise or not at all.
fn bike(without: &[Quantity], rows: &[(Quantity, f64, Instrument)]) -> Bike {
    let (file, text) = demo_bikes_json()[0];
    let mut bike = Bike::from_json(text.as_bytes(), file).unwrap();
    bike.observed = Observed { fork_out: Some(false), ..bike.observed };
    bike.measured
        .retain(|row| !without.contains(&row.what) && rows.iter().all(|(what, ..)| *what != row.what));
    bike.measured.extend(rows.iter().map(|&(what, value, with)| Measurement {
        what,
        value,
        unit: Unit::Mm,
        with,
        plus_minus: None,
        at: None,
        note: None,
    }));
    bike
}

fn list(bike: &Bike, sku: &str) -> Vec<MeasureNext> {
    let options = Options { only: Some(sku.to_owned()), ..Options::default() };
    check(bike, &catalogue(), &Instruments::default(), &options).unwrap().measure_next
}

const BEARING: Quantity = Quantity::UpperBearingOuterDiameter;
const UPPER: [Quantity; 3] =
    [Quantity::UpperBearingInnerDiameter, Quantity::UpperBearingHeight, Quantity::UpperBoreDiameter];

/// 41.5 by steel rule: 41.0 and 41.8 lie 2 and 1.2 standard uncertainties away. A caliper tells in eight minutes what a
/// bore gauge tells with the fork out.
#[test]
fn a_bearing_read_by_rule_is_measured_again_with_a_caliper() {
    let bike = bike(&UPPER, &[(BEARING, 41.5, Instrument::SteelRule)]);
    let list = list(&bike, "TT-4180-15");
    let place = |what: Quantity| list.iter().position(|next| next.what == what.name());
    let again = &list[place(BEARING).unwrap_or_else(|| panic!("{list:#?}"))];
    assert_eq!(again.with, Some(Instrument::Caliper));
    assert!(again.text.contains("your 41.5 mm by steel rule leaves 41.0 and 41.8 mm open"), "{}", again.text);
    assert!(
        again.text.contains("Measure the upper bearing outside diameter again (caliper)"),
        "{}",
        again.text
    );
    assert!(again.text.contains("The chance of judging TT-4180-15 wrongly"), "{}", again.text);
    let gauge = place(Quantity::UpperBoreDiameter).unwrap();
    assert!(place(BEARING) < Some(gauge), "{list:#?}");
    // Read by caliper it is settled which bearing it is, and nobody is asked for it again.
    let bike = bike_with_caliper(&bike);
    assert!(self::list(&bike, "TT-4180-15").iter().all(|next| next.what != BEARING.name()));
}

fn bike_with_caliper(bike: &Bike) -> Bike {
    let mut bike = bike.clone();
    let mut row = bike.measured.last().unwrap().clone();
    (row.value, row.with) = (41.8, Instrument::Caliper);
    bike.measured.push(row);
    bike
}

/// Standard normal numbers from a linear congruential generator, twelve uniform ones each.
struct Normal(u64);

impl Normal {
    fn uniform(&mut self) -> f64 {
        self.0 = self.0.wrapping_mul(6_364_136_223_846_793_005).wrapping_add(1_442_695_040_888_963_407);
        (self.0 >> 11) as f64 / (1u64 << 53) as f64
    }

    fn next(&mut self) -> f64 {
        (0..12).map(|_| self.uniform()).sum::<f64>() - 6.0
    }
}

/// The worth of the further reading against a simulation that goes the long way: a bearing drawn from the sizes as they
/// are before any reading, weighed by how well the first reading fits it, then read with a caliper; both readings
/// combined as a bike file's are, and the seat identified from that.
#[test]
fn the_worth_of_a_further_reading_is_that_of_the_joint_estimate() {
    let bike = bike(&UPPER, &[(BEARING, 41.5, Instrument::SteelRule)]);
    let (catalogue, findings, instruments) = (catalogue(), bike.findings(), Instruments::default());
    let known = BikeKnowledge::new(&bike, &findings);
    let kit = PreparedKit::new(catalogue.kit("TT-4180-15").unwrap(), &catalogue).unwrap();
    let code = kit.end(End::Upper).code;
    let first = Estimate::new(41.5, 0.5);
    let before: SeatEvidence = evidence(&known.with(BEARING, None), End::Upper);
    let takes = |bearing: Estimate| {
        identify(&before.with(SeatDimension::BearingOuter, bearing)).probability_of_frame_seat(code)
    };
    let sizes = identify(&before).predictive(SeatDimension::BearingOuter, 0.0).unwrap().components;
    let mut normal = Normal(7);
    let (mut sum, mut weights, mut squares) = (0.0, 0.0, 0.0);
    for part in &sizes {
        for _ in 0..1_600 {
            let bearing = part.mean + part.sd * normal.next();
            let z = (first.value - bearing) / first.u;
            let weight = part.weight * (-0.5 * z * z).exp();
            let caliper = Estimate::new(bearing + 0.025 * normal.next(), 0.025);
            let joint = combine(&[first, caliper]).unwrap();
            // As sure as the harmonic u says; that the two scatter is no news about the tools here.
            let joint = Estimate::new(joint.estimate.value, 1.0 / (4f64 + 1600.0).sqrt());
            let left = wrong(takes(joint), 0.0);
            sum += weight * left;
            squares += weight * weight;
            weights += weight;
        }
    }
    let risk = wrong(takes(first), 0.0);
    let expected = risk - sum / weights;
    let inquiry = Inquiry {
        known: &known,
        findings: &findings,
        direction: Direction::Slacker,
        instruments: &instruments,
    };
    let list = next(&inquiry, &[OpenKit { sku: "TT-4180-15", kit: &kit, weight: 1.0 }]);
    let found = list.iter().find(|next| next.subject == Subject::Quantity(BEARING)).unwrap();
    // The simulation's own standard deviation is at most 0.5 over the root of the effective number of draws.
    let tolerance = 3.0 * 0.5 * squares.sqrt() / weights;
    assert!(tolerance < 0.04 && (found.risk - risk).abs() < 1e-9, "{tolerance} {found:?}");
    assert!((found.gain - expected).abs() < tolerance, "{} but {expected} ± {tolerance}", found.gain);
    assert!(found.gain > 0.05, "{found:?}");
}

/// A head tube on the kit's limit: after a tape a steel rule, after the rule a long caliper, and after the caliper only
/// the same again, which says that it takes the scatter away and no more.
#[test]
fn a_finer_tool_comes_first_and_repetition_last() {
    let length = Quantity::HeadTubeLength;
    let asked = |with: Instrument| {
        let list = list(&bike(&[], &[(length, 125.0, with)]), "TT-4180-15");
        let next = list.into_iter().find(|next| next.what == length.name()).unwrap();
        (next.with.unwrap(), next.text, next.gain)
    };
    let (tool, text, by_rule) = asked(Instrument::Tape);
    assert_eq!(tool, Instrument::SteelRule);
    assert!(text.contains("your 125 mm by tape leaves the answer open."), "{text}");
    assert!(!text.contains("scatter"), "{text}");
    let (tool, _, _) = asked(Instrument::SteelRule);
    assert_eq!(tool, Instrument::Caliper);
    let (tool, text, by_repetition) = asked(Instrument::Caliper);
    assert_eq!(tool, Instrument::Caliper);
    assert!(text.contains("the same tool again takes only its scatter away"), "{text}");
    // On the limit, u' = r u is worth 1/2 - arccos(sqrt(1 - r^2))/pi; the caliper again leaves sqrt(3/4) of u: 1/6.
    assert!((by_repetition - 1.0 / 6.0).abs() < 1e-4, "{by_repetition}");
    assert!(by_rule > by_repetition);
}

/// Two readings of the bearing that cannot both be right stand before everything else, and say so.
#[test]
fn contradicting_readings_stand_first() {
    let caliper = Instrument::Caliper;
    let rows = [(BEARING, 41.0, caliper), (BEARING, 41.8, caliper)];
    let mut two = bike(&UPPER, &rows);
    // A look that takes a minute and settles a requirement would come first otherwise.
    two.observed.hoses_through_headset = None;
    let asked = list(&two, "TT-4180-15");
    assert_eq!(asked[0].what, BEARING.name(), "{asked:#?}");
    assert!(
        asked[0].text.contains("your 41 mm by caliper and 41.8 mm by caliper contradict one another."),
        "{}",
        asked[0].text
    );
    assert_eq!(asked[1].what, "hoses_through_headset");
    // Two against one: the odd row has to go, and another reading would tell nothing.
    let three = bike(&UPPER, &[rows[0], rows[1], (BEARING, 41.81, caliper)]);
    assert!(list(&three, "TT-4180-15").iter().all(|next| !next.text.contains("contradict")));
}
