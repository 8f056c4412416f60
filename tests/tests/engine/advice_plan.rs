//! The order of work: states of dismantling, their minutes, and what is done in each.

use std::collections::BTreeSet;
use steerwright_core::advice::{Inquiry, NextMeasurement, OpenKit, Subject, next};
use steerwright_core::bike::{Bike, Findings, Observed, ObservedSeat, demo_bikes_json};
use steerwright_core::catalogue::{Catalogue, demo_catalogue_json};
use steerwright_core::judgement::{BikeKnowledge, Direction, PreparedKit};
use steerwright_core::quantity::{Dismantling, Estimate, Instruments, Quantity};
use steerwright_core::report::{MeasureNext, Options, check};

fn catalogue() -> Catalogue {
    Catalogue::from_json(demo_catalogue_json().as_bytes(), "catalogue.json").unwrap()
}

fn demo_bike(number: usize) -> Bike {
    let (file, text) = demo_bikes_json()[number - 1];
    Bike::from_json(text.as_bytes(), file).unwrap()
}

fn list(bike: &Bike, only: Option<&str>) -> Vec<MeasureNext> {
    let options = Options { only: only.map(str::to_owned), ..Options::default() };
    check(bike, &catalogue(), &Instruments::default(), &options).unwrap().measure_next
}

fn blank(fork_out: Option<bool>) -> Bike {
    Bike { measured: Vec::new(), observed: Observed { fork_out, ..Observed::default() }, ..demo_bike(1) }
}

/// The bikes that leave something to measure, and one of which nothing is known, with the fork in and out.
fn open_lists() -> Vec<Vec<MeasureNext>> {
    let demo = (1..=12).map(demo_bike).chain([blank(None), blank(Some(true))]);
    let lists =
        demo.flat_map(|bike| [None, Some("TT-4180-15"), Some("TT-4456-15")].map(|only| list(&bike, only)));
    lists.filter(|list| !list.is_empty()).collect()
}

/// Everything done in one state stands together, and the way there is told and counted once, with the first of it.
#[test]
fn the_fork_comes_out_once() {
    let lists = open_lists();
    assert!(lists.len() >= 6, "{}", lists.len());
    for list in &lists {
        let mut left: BTreeSet<Dismantling> = BTreeSet::new();
        let fork_out = |state: Dismantling| state.includes(Dismantling::ForkOut);
        for pair in list.windows(2) {
            if pair[0].state != pair[1].state {
                assert!(left.insert(pair[0].state), "{:?} is left twice", pair[0].state);
                assert!(!left.contains(&pair[1].state), "back to {:?}", pair[1].state);
                assert!(pair[1].reach.is_some(), "{:?}", pair[1]);
            } else {
                assert!(pair[1].reach.is_none() && pair[1].minutes <= 30.0, "{:?}", pair[1]);
            }
        }
        let outs = list.windows(2).filter(|pair| !fork_out(pair[0].state) && fork_out(pair[1].state)).count();
        assert!(outs <= 1);
    }
}

/// With the fork in, the first thing that needs it out carries the 15 minutes (less what stem and bearing took before),
/// the others only their own.
#[test]
fn the_first_thing_in_a_state_carries_its_minutes() {
    let list = list(&demo_bike(3), Some("TT-4180-15"));
    let first = list.iter().find(|next| next.state == Dismantling::ForkOut).unwrap();
    assert!(first.reach.as_deref().unwrap().contains("Draw the fork down and out"), "{first:?}");
    assert!(first.text.contains("of them to take the fork out"), "{}", first.text);
    assert!(first.minutes >= 9.0 + 1.0, "{first:?}");
    let minutes: f64 = list.iter().map(|next| next.minutes).sum();
    let own: f64 = list
        .iter()
        .map(|next| match Quantity::from_name(&next.what) {
            Some(what) => steerwright_core::quantity::quantity_info(what).minutes,
            None => 1.0,
        })
        .sum();
    // Bike 03's seats were taken for drop-in: a bore takes 5 minutes instead of 6.
    let drop_in = list.iter().filter(|next| next.variant.as_deref() == Some("drop_in")).count() as f64;
    assert!((minutes - own - 15.0 + drop_in).abs() < 1e-9, "{minutes} in all, {own} of their own: {list:#?}");
    // The same bike with the fork out already has no such minutes.
    let mut out = demo_bike(3);
    out.observed.fork_out = Some(true);
    let list = self::list(&out, Some("TT-4180-15"));
    assert!(!list.is_empty() && list.iter().all(|next| next.reach.is_none()), "{list:#?}");
}

/// The upper seat shows once stem, cover and bearing are off; the lower one from below. Neither needs the fork out, as long
/// as nobody has looked yet.
#[test]
fn looking_at_a_seat_leaves_the_fork_in() {
    let mut bike = demo_bike(1);
    bike.observed = Observed { fork_out: Some(false), upper_seat: None, lower_seat: None, ..bike.observed };
    bike.measured.retain(|row| !row.what.name().contains("bore"));
    let list = list(&bike, Some("TT-4180-15"));
    for (what, state, minutes) in
        [("upper_seat", Dismantling::UpperBearingOut, 7.0), ("lower_seat", Dismantling::Assembled, 1.0)]
    {
        let look = list.iter().find(|next| next.what == what).unwrap_or_else(|| panic!("{what}: {list:#?}"));
        assert_eq!((look.state, look.variant.as_deref()), (state, None), "{look:?}");
        assert!((look.minutes - minutes).abs() < 1e-12, "{look:?}");
    }
    // Seen with the fork in: only a look with it out tells more.
    bike.observed.upper_seat = Some(ObservedSeat::ThinLip);
    let list = self::list(&bike, Some("TT-4180-15"));
    let look = list.iter().find(|next| next.what == "upper_seat").unwrap_or_else(|| panic!("{list:#?}"));
    assert_eq!((look.state, look.variant.as_deref()), (Dismantling::ForkOut, Some("fork_out")));
}

fn kit() -> PreparedKit {
    let demo = catalogue();
    PreparedKit::new(demo.kit("TT-4180-15").unwrap(), &demo).unwrap()
}

fn order(known: &BikeKnowledge) -> Vec<NextMeasurement> {
    let (findings, instruments) = (Findings::default(), Instruments::default());
    let bike =
        Inquiry { known, findings: &findings, direction: Direction::Slacker, instruments: &instruments };
    next(&bike, &[OpenKit { sku: "K", kit: &kit(), weight: 1.0 }])
}

/// Two throats on their limits are worth 0.484 each. One alone, with 15 minutes for the fork and 2 of its own, is worth
/// 0.0285 a minute; both together 0.968 in 19 minutes, 0.0509. A head tube whose reading is worth between the two a
/// minute comes before a single throat, and after a pair.
#[test]
fn what_shares_a_state_is_worth_it_together() {
    let bike = demo_bike(1);
    let known = BikeKnowledge::new(&bike, &bike.findings());
    let known = known.seeing(Observed { fork_out: Some(false), ..known.observed.clone() });
    // 126.0 of at most 125, u 1: p = 0.1587.
    let known = known
        .with(Quantity::HeadTubeLength, Some(Estimate::new(126.0, 1.0)))
        .with(Quantity::UpperThroatDiameter, Some(Estimate::new(34.0, 0.5)));
    let both = known.with(Quantity::LowerThroatDiameter, Some(Estimate::new(44.0, 0.5)));
    let of = |list: &[NextMeasurement], what| {
        list.iter().position(|next| next.subject == Subject::Quantity(what)).unwrap()
    };
    let one = order(&known);
    let (length, throat) = (of(&one, Quantity::HeadTubeLength), of(&one, Quantity::UpperThroatDiameter));
    let worth = one[length].gain / 3.0;
    assert!((0.0285..0.0509).contains(&worth), "{worth}");
    assert!(length < throat);
    assert!((one[throat].minutes - 17.0).abs() < 1e-12);
    let two = order(&both);
    let length = of(&two, Quantity::HeadTubeLength);
    let throats = [of(&two, Quantity::UpperThroatDiameter), of(&two, Quantity::LowerThroatDiameter)];
    assert!(throats.iter().all(|throat| *throat < length), "{throats:?} {length}");
    let mut minutes = throats.map(|throat| two[throat].minutes);
    minutes.sort_by(f64::total_cmp);
    assert!((minutes[0] - 2.0).abs() < 1e-12 && (minutes[1] - 17.0).abs() < 1e-12, "{minutes:?}");
    // The head tube is measured as the bike stands then.
    assert_eq!(two[length].state, Dismantling::ForkOut);
    assert!((two[length].minutes - 3.0).abs() < 1e-12);
}

/// What needs the fork in, on a bike whose fork is out, stands last and says that the fork goes back in.
#[test]
fn what_needs_the_fork_in_stands_last_once_it_is_out() {
    let bike = demo_bike(1);
    let known = BikeKnowledge::new(&bike, &bike.findings());
    let seen = Observed { hoses_through_headset: None, steering_stop: None, ..known.observed.clone() };
    let known = known.seeing(seen).with(Quantity::UpperThroatDiameter, Some(Estimate::new(34.0, 0.5)));
    let list = order(&known);
    let [throat, looks @ ..] = list.as_slice() else { panic!("{list:?}") };
    assert_eq!(throat.subject, Subject::Quantity(Quantity::UpperThroatDiameter));
    assert_eq!(looks.len(), 2, "{looks:?}");
    assert_eq!((looks[0].refit, looks[1].refit), (true, false));
    assert!(
        looks.iter().all(|look| look.state == Dismantling::Assembled && (look.minutes - 1.0).abs() < 1e-12)
    );
}

/// Two readings that tell the same are not both a reason to go on: the bore gauge, worth as much as the caliper on
/// the same bearing, does not stand right behind it while other requirements are open.
#[test]
fn what_tells_the_same_comes_last_in_its_state() {
    let list = list(&demo_bike(3), Some("TT-4180-15"));
    let place = |what: &str| list.iter().position(|next| next.what == what).unwrap();
    assert!(place("upper_throat_diameter") < place("upper_bore_diameter"), "{list:#?}");
    assert!(place("lower_throat_diameter") < place("lower_bore_diameter"), "{list:#?}");
}
