//! Over many simulated sessions the truth is within 2 u as often as expected.

use super::phone::{Draw, Sensor, session};
use steerwright_core::level::{Doubt, LevelPriors, Phones, change};

/// Sensors, floors, leans and handling drawn from the priors; 1200 pairs of sessions. The share of a normal within two
/// standard deviations is 95.45 %, and that of 1200 draws has a standard deviation of 0.6 %: 2 % is over three of them.
/// The mean of the squared errors over u squared is 1 with a standard deviation of 0.041.
#[test]
fn twice_u_holds_the_truth_95_times_in_100() {
    const SESSIONS: usize = 1200;
    let known = LevelPriors::default();
    let mut draw = Draw::new(2026);
    let mut errors = Vec::new();
    let mut widths = Vec::new();
    let (mut alarms, mut apart) = (0, 0.0);
    for _ in 0..SESSIONS {
        let sensor = Sensor::drawn(&mut draw, &known);
        let (angle, moved) = (67.0 + draw.normal(3.0), draw.normal(1.0));
        let (one, two) = (draw.normal(known.floor), draw.normal(known.floor));
        let before = session(&mut draw, &sensor, &known, angle, one);
        let mut later = sensor.clone();
        later.zero = later.zero.map(|zero| zero + draw.normal(known.wander));
        let after = session(&mut draw, &later, &known, angle + moved, two);
        let alone = before.level(&known).unwrap();
        let both = change(&before, &after, Phones::Same, &known).unwrap();
        errors.push([
            (alone.angle.value - angle) / alone.angle.u,
            (alone.slope.value - one) / alone.slope.u,
            (both.change.value - moved) / both.change.u,
        ]);
        widths.push(alone.angle.expanded());
        alarms += usize::from(alone.doubts.iter().any(|doubt| matches!(doubt, Doubt::Disagree { .. })));
        apart += both.before.angle.u.hypot(both.after.angle.u) / both.change.u;
    }
    for (place, name) in ["angle", "slope", "change"].into_iter().enumerate() {
        let within = errors.iter().filter(|it| it[place].abs() <= 2.0).count() as f64 / SESSIONS as f64;
        let square = errors.iter().map(|it| it[place].powi(2)).sum::<f64>() / SESSIONS as f64;
        println!("{name}: within 2 u {:.1} %, mean square {square:.3}", 100.0 * within);
        assert!((within - 0.95).abs() <= 0.02, "{name}: {within}");
        assert!((square - 1.0).abs() <= 0.15, "{name}: {square}");
    }
    widths.sort_by(f64::total_cmp);
    let share = |part: usize| widths[SESSIONS * part / 100];
    println!(
        "2 u {:.2}, {:.2}, {:.2} (5, 50, 95 %), change surer by {:.2}",
        share(5),
        share(50),
        share(95),
        apart / SESSIONS as f64
    );
    // Ten readings give the angle to a quarter of a degree (k = 2), and somewhat worse for a bike with a less certain
    // lean.
    assert!(share(50) < 0.25 && share(95) < 0.3, "{} {}", share(50), share(95));
    // One session in a hundred is falsely flagged; the limit is one in a hundred by construction.
    assert!(alarms <= SESSIONS / 40, "{alarms}");
    // Common errors cancel: the change is more certain than from two independent angles.
    assert!(apart / SESSIONS as f64 > 1.2, "{apart}");
}
