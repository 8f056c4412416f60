//! The tilt of a kit in a head tube, compared with numbers computed by hand and the properties it must have.

use proptest::prelude::*;
use steerwright_core::quantity::Estimate;
use steerwright_core::tilt::{Ease, Offsets, TiltError, installed};

const RANGE: [f64; 2] = [100.0, 125.0];

/// By hand: the middle of 100 to 125 is 112.5, planes 4 and 3 make the span 119.5, tan 1.5 deg = 0.026185922, so E =
/// 3.1292176 mm and each end is off by 1.5646088 mm (to half the last digit).
#[test]
fn an_even_split_from_the_middle_of_the_range() {
    let offsets = Offsets::from_range(1.5, RANGE, 4.0, 3.0).unwrap();
    assert!((offsets.total() - 3.129_217_6).abs() < 5e-8);
    assert!((offsets.upper + 1.564_608_8).abs() < 5e-8);
    assert!((offsets.lower - 1.564_608_8).abs() < 5e-8);
}

/// In a head tube of 100 mm the same kit has a span of 107: atan(3.1292176 / 107) = 1.675139 deg; in 125 mm
/// atan(3.1292176 / 132) = 1.358011 deg.
#[test]
fn a_shorter_head_tube_gives_more_tilt() {
    let offsets = Offsets::from_range(1.5, RANGE, 4.0, 3.0).unwrap();
    for (length, tilt, position, ease) in [
        (100.0, 1.675_139, 0.0, Ease::Fiddly),
        (125.0, 1.358_011, 1.0, Ease::Fiddly),
        (112.5, 1.5, 0.5, Ease::Easy),
    ] {
        let it = installed(1.5, RANGE, &offsets, Estimate::exact(length)).unwrap();
        assert!((it.real_deg.value - tilt).abs() < 5e-7, "{length} mm: {}", it.real_deg.value);
        assert!((it.misalignment_deg.value - (1.5 - tilt)).abs() < 5e-7);
        assert!((it.range_position - position).abs() < 1e-12);
        assert_eq!(it.ease, ease);
    }
}

/// The middle half is easy, the outer quarters are fiddly, the rest is outside: 106.25 and 118.75 mm are the
/// boundaries.
#[test]
fn ease_follows_the_quarters_of_the_range() {
    let offsets = Offsets::from_range(1.5, RANGE, 4.0, 3.0).unwrap();
    let ease = |length| installed(1.5, RANGE, &offsets, Estimate::exact(length)).unwrap().ease;
    assert_eq!(ease(99.9), Ease::Outside);
    assert_eq!(ease(106.2), Ease::Fiddly);
    assert_eq!(ease(106.25), Ease::Easy);
    assert_eq!(ease(118.75), Ease::Easy);
    assert_eq!(ease(118.8), Ease::Fiddly);
    assert_eq!(ease(125.1), Ease::Outside);
}

/// From one stated offset the other follows; two are used as stated, and a contradiction with tilt and range is
/// detected.
#[test]
fn stated_offsets_are_kept() {
    let total = Offsets::from_range(1.5, RANGE, 4.0, 3.0).unwrap().total();
    let complete = |upper, lower| Offsets::complete(1.5, RANGE, 4.0, 3.0, upper, lower).unwrap();
    let upper_only = complete(Some(-1.0), None);
    assert!((upper_only.upper + 1.0).abs() < 1e-12 && (upper_only.lower - (total - 1.0)).abs() < 1e-12);
    let lower_only = complete(None, Some(2.5));
    assert!((lower_only.lower - 2.5).abs() < 1e-12 && (lower_only.upper - (2.5 - total)).abs() < 1e-12);
    assert!(complete(None, None).agrees_with(1.5, RANGE));
    assert!(complete(Some(-1.5), Some(1.5)).agrees_with(1.5, RANGE));
    // 2 mm in all give 1.5 degrees in a head tube of 69.4 mm, far outside the range.
    let contradiction = complete(Some(-1.0), Some(1.0));
    assert!((contradiction.total() - 2.0).abs() < 1e-12);
    assert!((contradiction.length_for(1.5).unwrap() - 69.4).abs() < 0.05);
    assert!(!contradiction.agrees_with(1.5, RANGE));
    // Machined in reverse: it would steepen.
    assert!(!complete(Some(1.5), Some(-1.5)).agrees_with(1.5, RANGE));
}

#[test]
fn what_makes_no_sense_is_refused_with_its_reason() {
    let offsets = Offsets::from_range(1.5, RANGE, 4.0, 3.0).unwrap();
    let length = Estimate::exact(112.0);
    assert_eq!(installed(-1.0, RANGE, &offsets, length), Err(TiltError::Tilt(-1.0)));
    assert_eq!(installed(1.5, [125.0, 100.0], &offsets, length), Err(TiltError::Range(125.0, 100.0)));
    assert_eq!(installed(1.5, [110.0, 110.0], &offsets, length), Err(TiltError::Range(110.0, 110.0)));
    let inside = Offsets { upper_plane: -60.0, lower_plane: -60.0, ..offsets };
    assert_eq!(installed(1.5, RANGE, &inside, length), Err(TiltError::Span(-8.0)));
    assert!(matches!(
        installed(1.5, RANGE, &offsets, Estimate::new(112.0, -1.0)),
        Err(TiltError::NotFinite(_))
    ));
    assert!(matches!(
        Offsets::complete(1.5, RANGE, 4.0, 3.0, Some(f64::NAN), None),
        Err(TiltError::NotFinite(_))
    ));
}

/// The three words of the report.
#[test]
fn ease_is_written_in_the_reports_words() {
    for ease in [Ease::Easy, Ease::Fiddly, Ease::Outside] {
        assert_eq!(serde_json::to_value(ease).unwrap(), ease.name());
    }
    assert_eq!(Ease::at(f64::NAN), Ease::Outside);
}

proptest! {
    /// Rotated by 180 degrees, a kit steepens by exactly what it slackened, with the same ease of installation.
    #[test]
    fn turned_round_it_steepens_as_much(
        tilt in 0.25..3.0f64, length in 80.0..160.0f64, upper_plane in -10.0..15.0f64, lower_plane in -10.0..15.0f64,
    ) {
        let offsets = Offsets::from_range(tilt, RANGE, upper_plane, lower_plane).unwrap();
        let slack = installed(tilt, RANGE, &offsets, Estimate::new(length, 0.5)).unwrap();
        let steep = installed(tilt, RANGE, &offsets.mirrored(), Estimate::new(length, 0.5)).unwrap();
        prop_assert!((slack.real_deg.value + steep.real_deg.value).abs() < 1e-12);
        prop_assert!(slack.real_deg.value > 0.0);
        prop_assert!((slack.misalignment_deg.value - steep.misalignment_deg.value).abs() < 1e-12);
        prop_assert_eq!(slack.ease, steep.ease);
    }

    /// The shorter the head tube, the more tilt.
    #[test]
    fn tilt_grows_as_the_head_tube_shortens(
        tilt in 0.25..3.0f64, length in 80.0..160.0f64, shorter in 0.1..20.0f64,
    ) {
        let offsets = Offsets::from_range(tilt, RANGE, 4.0, 3.0).unwrap();
        prop_assert!(offsets.tilt_deg(length - shorter).unwrap() > offsets.tilt_deg(length).unwrap());
    }

    /// The stated uncertainty is the first-order effect of the head tube length: half the difference between moves of
    /// +u and -u, up to the contribution of the third derivative, which is u^2 / span^2 of it (under 1e-4 here).
    #[test]
    fn uncertainty_is_that_of_the_head_tube_length(
        tilt in 0.25..3.0f64, length in 80.0..160.0f64, u in 0.01..0.8f64,
    ) {
        let offsets = Offsets::from_range(tilt, RANGE, 4.0, 3.0).unwrap();
        let it = installed(tilt, RANGE, &offsets, Estimate::new(length, u)).unwrap();
        let half = (offsets.tilt_deg(length - u).unwrap() - offsets.tilt_deg(length + u).unwrap()) / 2.0;
        prop_assert!(half > 0.0);
        prop_assert!((it.real_deg.u - half).abs() <= 1e-4 * half);
    }

    /// Making offsets for a tilt and reading the tilt back returns it, and so does the length.
    #[test]
    fn for_tilt_and_back(tilt in 0.1..10.0f64, length in 60.0..200.0f64, plane in -10.0..15.0f64) {
        let offsets = Offsets::for_tilt(tilt, length, plane, plane).unwrap();
        prop_assert!((offsets.tilt_deg(length).unwrap() - tilt).abs() < 1e-12);
        prop_assert!((offsets.length_for(tilt).unwrap() - length).abs() < 1e-9);
        let back = Offsets::for_tilt(-tilt, length, plane, plane).unwrap();
        prop_assert_eq!(back, offsets.mirrored());
    }

    /// Arbitrary bits give a finite answer, or a reason.
    #[test]
    fn nothing_panics(
        tilt in any::<f64>(), low in any::<f64>(), high in any::<f64>(), planes in any::<[f64; 2]>(),
        stated in any::<[Option<f64>; 2]>(), length in any::<f64>(), u in any::<f64>(),
    ) {
        let [upper_plane, lower_plane] = planes;
        let [upper, lower] = stated;
        let complete = Offsets::complete(tilt, [low, high], upper_plane, lower_plane, upper, lower);
        if let Ok(offsets) = complete
            && let Ok(it) = installed(tilt, [low, high], &offsets, Estimate::new(length, u))
        {
            prop_assert!(it.real_deg.is_sound() && it.misalignment_deg.is_sound());
        }
    }
}
