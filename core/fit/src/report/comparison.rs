//! The predicted effect of a kit compared with the measured one.

use serde::{Deserialize, Serialize};
use steerwright_metrology::quantity::Estimate;
use steerwright_metrology::voice::Voice;
use steerwright_words::say;

/// Two results agree if they differ by no more than this many standard uncertainties of their difference: the
/// coverage factor 2 of every `plus_minus` in this program.
const AGREE: f64 = 2.0;

/// The head angle measured with the kit in the bike, against the one predicted; degrees.
#[derive(Debug, Clone, PartialEq, Serialize, Deserialize, schemars::JsonSchema)]
#[serde(deny_unknown_fields)]
pub struct Comparison {
    /// Predicted when the check was made.
    pub predicted: Estimate,
    /// Measured since the kit went in.
    pub installed: Estimate,
    /// Installed minus predicted: independent where the two come from readings on different days of different
    /// set-ups, surer than either where they share what was read with.
    pub difference: Estimate,
    /// |difference| over its standard uncertainty (the normalised difference of ISO 13528, with k = 1).
    pub ratio: f64,
    /// Whether the ratio is at most 2.
    pub agrees: bool,
    /// The same in a sentence.
    pub text: String,
    /// What may have happened where they do not agree.
    #[serde(skip)]
    #[schemars(skip)]
    cause: Cause,
}

impl Comparison {
    /// Compares two head angles in degrees; `before` is the angle without the kit, where it was measured. `None` if a
    /// number is not finite or neither has an uncertainty.
    pub fn new(predicted: Estimate, installed: Estimate, before: Option<Estimate>) -> Option<Self> {
        let moved = before.map(|before| Moved {
            measured: installed.value - before.value,
            predicted: predicted.value - before.value,
        });
        Self::compare(predicted, installed, installed - predicted, moved)
    }

    /// Compares a change that was measured with the one predicted, both from the head angle `before`, degrees. What
    /// the two measurements of the angle share has cancelled in `changed`, so the difference is surer than
    /// [`new`](Self::new) would make it.
    pub fn of_change(
        before: Estimate,
        after: Estimate,
        changed: Estimate,
        predicted: Estimate,
    ) -> Option<Self> {
        let moved = Moved { measured: changed.value, predicted: predicted.value };
        Self::compare(before + predicted, after, changed - predicted, Some(moved))
    }

    fn compare(
        predicted: Estimate,
        installed: Estimate,
        difference: Estimate,
        moved: Option<Moved>,
    ) -> Option<Self> {
        if !(predicted.is_sound() && installed.is_sound() && difference.is_sound() && difference.u > 0.0) {
            return None;
        }
        let ratio = difference.value.abs() / difference.u;
        let agrees = ratio <= AGREE;
        let mut told = Self {
            predicted,
            installed,
            difference,
            ratio,
            agrees,
            text: String::new(),
            cause: Cause::of(moved),
        };
        told.text = told.in_words(Voice::english());
        Some(told)
    }

    /// The comparison in the sentences of a language.
    pub fn in_words(&self, voice: Voice<'_>) -> String {
        let angle = |angle: Estimate| {
            let (value, spread) = (voice.fixed(angle.value, 1), voice.fixed(angle.expanded(), 1));
            say!(voice, "compared-angle", angle = value, spread = spread)
        };
        let both =
            say!(voice, "compared", installed = angle(self.installed), predicted = angle(self.predicted));
        let apart = voice.fixed(self.difference.value.abs(), 1);
        if self.agrees {
            return format!("{both} {}", say!(voice, "compared-agree", apart = apart));
        }
        let way = if self.difference.value < 0.0 { "slacker" } else { "steeper" };
        let verdict =
            say!(voice, "compared-apart", way = way, apart = apart, ratio = voice.fixed(self.ratio, 1));
        format!("{both} {verdict} {}", voice.text(self.cause.id()))
    }
}

/// Two changes of the head angle, degrees, steeper positive.
#[derive(Debug, Clone, Copy)]
struct Moved {
    measured: f64,
    predicted: f64,
}

/// What most likely happened where a change is not the predicted one (common practice, no source).
#[derive(Debug, Clone, Copy, PartialEq, Eq, Default)]
enum Cause {
    WrongWay,
    TooLittle,
    TooMuch,
    #[default]
    Unknown,
}

impl Cause {
    fn of(moved: Option<Moved>) -> Self {
        /// A change under this share of the predicted one counts as none.
        const NONE: f64 = 0.25;
        match moved {
            Some(Moved { measured, predicted }) if predicted != 0.0 => match measured / predicted {
                share if share < -NONE => Self::WrongWay,
                share if share < 1.0 => Self::TooLittle,
                _ => Self::TooMuch,
            },
            _ => Self::Unknown,
        }
    }

    fn id(self) -> &'static str {
        match self {
            Self::WrongWay => "compared-wrong-way",
            Self::TooLittle => "compared-too-little",
            Self::TooMuch => "compared-too-much",
            Self::Unknown => "compared-unknown",
        }
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    /// By hand: 65.4 with u 0.1 against 65.2 with u 0.15 is 0.2 with u sqrt(0.0325) = 0.18028, ratio 1.1094.
    #[test]
    fn within_and_without() {
        let close = Comparison::new(Estimate::new(65.2, 0.15), Estimate::new(65.4, 0.1), None).unwrap();
        assert!((close.ratio - 1.109_400_392).abs() < 1e-8, "{close:?}");
        assert!(close.agrees);
        assert_eq!(
            close.text,
            "Measured with the kit in: 65.4° ± 0.2°; predicted: 65.2° ± 0.3°. \
             They agree: 0.2° apart, within what the two readings leave open."
        );
        let far = Comparison::new(Estimate::new(65.2, 0.15), Estimate::new(64.5, 0.1), None).unwrap();
        // 0.7 / 0.180278 = 3.88290.
        assert!((far.ratio - 3.882_901_374).abs() < 1e-8 && !far.agrees, "{far:?}");
        assert!(far.text.contains("0.7° slacker than predicted, 3.9 times"), "{}", far.text);
    }

    /// By hand: 66.4 before, foreseen -1.2 with u 0.05, measured -1.4 with u 0.06, is 0.2 with u 0.0781025, ratio 2.5607.
    #[test]
    fn a_change_is_surer_than_its_ends() {
        let [before, after] = [Estimate::new(66.4, 0.2), Estimate::new(65.0, 0.2)];
        let [changed, foreseen] = [Estimate::new(-1.4, 0.06), Estimate::new(-1.2, 0.05)];
        let told = Comparison::of_change(before, after, changed, foreseen).unwrap();
        assert!((told.ratio - 2.560_737_6).abs() < 1e-6 && !told.agrees, "{told:?}");
        assert!((told.predicted.value - 65.2).abs() < 1e-9, "{told:?}");
        assert!(told.text.contains("0.2° slacker than predicted, 2.6 times"), "{}", told.text);
        // The same ends without what they share.
        assert!(Comparison::new(before + foreseen, after, None).unwrap().agrees);
    }

    /// The limit itself still agrees: 0.5 apart with u 0.25.
    #[test]
    fn at_the_limit_and_beyond_numbers() {
        let at = Comparison::new(Estimate::new(65.0, 0.25), Estimate::exact(65.5), None).unwrap();
        assert!(at.agrees && (at.ratio - 2.0).abs() < 1e-12);
        let beyond = Comparison::new(Estimate::new(65.0, 0.25), Estimate::exact(65.501), None).unwrap();
        assert!(!beyond.agrees);
        assert_eq!(Comparison::new(Estimate::exact(65.0), Estimate::exact(65.0), None), None);
        assert_eq!(Comparison::new(Estimate::new(f64::NAN, 0.1), Estimate::exact(65.0), None), None);
        assert_eq!(Comparison::new(Estimate::new(65.0, f64::INFINITY), Estimate::exact(65.0), None), None);
    }

    /// From 66.0°, predicted -1.0°: what may have happened depends on what the angle did.
    #[test]
    fn a_wrong_change_says_what_may_have_happened() {
        let text = |installed: f64| {
            let [predicted, before] = [65.0, 66.0].map(|angle| Estimate::new(angle, 0.1));
            Comparison::new(predicted, Estimate::new(installed, 0.1), Some(before)).unwrap().text
        };
        for (installed, part) in [
            (67.0, "turned round by half a turn"),
            (66.0, "lined up with the frame's middle"),
            (65.5, "lined up with the frame's middle"),
            (64.0, "moved more than it should"),
        ] {
            assert!(text(installed).contains(part), "{installed}: {}", text(installed));
        }
        assert!(text(65.05).contains("They agree"));
        let unknown = Comparison::new(Estimate::new(65.0, 0.1), Estimate::new(66.0, 0.1), None).unwrap();
        assert!(unknown.text.contains("turned round or not lined up"), "{}", unknown.text);
    }
}
