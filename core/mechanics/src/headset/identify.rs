//! Bayesian identification of the size of a seat from observations and readings.
//!
//! Each size of the table is a class, with its prior weight at that end. One more class, "no standard size", has prior
//! 0.01. A reading m of a dimension with nominal value n, half-width t and standard uncertainty u has the density
//! `Normal(m; n, u^2 + t^2/3)`. Refinements:
//!
//! - A cup holds one of several bearings. For ZS and EC the density of a bearing diameter is the mixture over these.
//! - One reading in a thousand is an outlier (another part, a wrong digit). Without this class of errors one wrong
//!   reading next to two right ones would prove "no standard size".
//! - Bores and cups in use leave the printed limits by wear and ovality, which widens their density.
//! - "No standard size" and outliers have a flat density of 1/60 per mm over 60 mm around the reading, convolved with
//!   the error of the reading. A reading of very large u then changes nothing.
//!
//! The inside diameter and height of a bearing distinguish bearings, and give no information about "no standard size":
//! frames of any size use the same cartridge bearings. There the density is the average over the table.

use super::observation_model::observation_model;
use super::{
    BearingSize, End, ObservedSeat, SeatCode, SeatDimension, SeatEvidence, bearing_size, frame_seat, sizes,
};
use std::sync::LazyLock;
use steerwright_metrology::quantity::Estimate;

/// The probability from which a seat counts as identified.
pub const IDENTIFIED_FROM: f64 = 0.95;

/// A bearing that fits in a size, with the nominal value and standard deviation of its dimensions.
pub(super) struct Variant {
    pub(super) share: f64,
    pub(super) outer: Estimate,
    inner: Estimate,
    height: Estimate,
}

/// A size with the distributions of its dimensions.
pub(super) struct Class {
    pub(super) code: SeatCode,
    weight: [f64; 2],
    pub(super) bore: Estimate,
    pub(super) cup: Option<Estimate>,
    pub(super) variants: Vec<Variant>,
}

/// The classes of the table of sizes.
pub(super) fn classes() -> &'static [Class] {
    static CLASSES: LazyLock<Vec<Class>> = LazyLock::new(|| {
        let worn = &observation_model().worn;
        let widened = |span: Estimate, half_width: f64| span + Estimate::between(-half_width, half_width);
        sizes()
            .iter()
            .map(|size| Class {
                code: size.code,
                weight: [size.weight.upper, size.weight.lower],
                bore: widened(size.bore.estimate(), worn.bore_mm),
                cup: size.cup.as_ref().map(|cup| widened(cup.estimate(), worn.cup_mm)),
                variants: size
                    .bearings
                    .iter()
                    .filter_map(|inside| Some(variant(inside.share, bearing_size(&inside.bearing)?)))
                    .collect(),
            })
            .collect()
    });
    &CLASSES
}

fn variant(share: f64, bearing: &BearingSize) -> Variant {
    Variant {
        share,
        outer: bearing.outer.estimate(),
        inner: bearing.inner.estimate(),
        height: bearing.height.estimate(),
    }
}

/// One class and one bearing in it, with the probability of both together.
#[derive(Debug, Clone, Copy, PartialEq)]
pub(super) struct Hypothesis {
    pub(super) class: usize,
    pub(super) variant: usize,
    pub(super) p: f64,
}

/// The probability of each size.
#[derive(Debug, Clone, PartialEq)]
pub struct Posterior {
    end: End,
    entries: Vec<(Option<SeatCode>, f64)>,
    hypotheses: Vec<Hypothesis>,
}

impl Posterior {
    /// Every size that occurs at this end and "no standard size" (`None`), the most probable first; the
    /// probabilities sum to 1.
    pub fn entries(&self) -> &[(Option<SeatCode>, f64)] {
        &self.entries
    }

    /// The end of the head tube.
    pub fn end(&self) -> End {
        self.end
    }

    /// Probability of one size: seat and style of cup.
    pub fn probability_of(&self, code: SeatCode) -> f64 {
        self.sum(|entry| entry == code)
    }

    /// Probability that a cup or bearing of this code fits the frame. ZS44 and EC44 fit the same bore, so each has the
    /// sum of both.
    pub fn probability_of_frame_seat(&self, code: SeatCode) -> f64 {
        let wanted = frame_seat(code);
        self.sum(|entry| frame_seat(entry) == wanted)
    }

    /// The size, if the probability of its frame seat is at least [`IDENTIFIED_FROM`]; of the sizes with the same frame
    /// seat, the most probable.
    pub fn identified(&self) -> Option<SeatCode> {
        self.entries
            .iter()
            .filter_map(|(code, _)| *code)
            .find(|code| self.probability_of_frame_seat(*code) >= IDENTIFIED_FROM)
    }

    /// Probability of "no standard size".
    pub fn probability_no_standard(&self) -> f64 {
        self.entries.iter().filter(|(code, _)| code.is_none()).map(|(_, p)| p).sum()
    }

    /// The mean of posteriors of one seat by different evidence, each as likely; `None` without any.
    pub fn mean(all: &[Self]) -> Option<Self> {
        let (first, rest) = all.split_first()?;
        let mut mean = first.clone();
        for other in rest {
            for (code, p) in &mut mean.entries {
                *p += other.entries.iter().filter(|(same, _)| same == code).map(|(_, p)| p).sum::<f64>();
            }
            for (hypothesis, same) in mean.hypotheses.iter_mut().zip(&other.hypotheses) {
                hypothesis.p += same.p;
            }
        }
        let n = all.len() as f64;
        mean.entries.iter_mut().for_each(|(_, p)| *p /= n);
        mean.hypotheses.iter_mut().for_each(|hypothesis| hypothesis.p /= n);
        mean.entries.sort_by(|a, b| b.1.total_cmp(&a.1));
        Some(mean)
    }

    pub(super) fn hypotheses(&self) -> &[Hypothesis] {
        &self.hypotheses
    }

    fn sum(&self, wanted: impl Fn(SeatCode) -> bool) -> f64 {
        self.entries.iter().filter(|(code, _)| code.is_some_and(&wanted)).map(|(_, p)| p).sum()
    }
}

/// The posterior over all sizes; the prior without evidence. Finite for any evidence.
pub fn identify(evidence: &SeatEvidence) -> Posterior {
    let observation_model = observation_model();
    let outer = evidence.reading(SeatDimension::BearingOuter);
    let inner = evidence.reading(SeatDimension::BearingInner);
    let height = evidence.reading(SeatDimension::BearingHeight);
    let bore = evidence.reading(SeatDimension::Bore);
    let cup = evidence.reading(SeatDimension::CupOuter);
    let seen = |code: SeatCode| {
        let p =
            observation_model.probability(evidence.observed?, evidence.fork_out == Some(true), code.style)?;
        Some(p.ln())
    };
    // A half that sits in the frame tells its seat, but for the rate of slips: another kit was fitted than was noted.
    let fits = |code: Option<SeatCode>| match evidence.fitted {
        Some(fitted) if code.is_none_or(|code| frame_seat(code) != frame_seat(fitted)) => {
            observation_model.slip.rate.ln()
        }
        _ => 0.0,
    };
    let is_seen = evidence.observed.is_some_and(|seen| seen != ObservedSeat::NotSeen);

    let present = || classes().iter().enumerate().filter(|(_, class)| class.weight_at(evidence.end) > 0.0);
    let total: f64 = present().map(|(_, class)| class.weight_at(evidence.end)).sum();

    // Logarithms throughout: the product of densities of several readings of large uncertainty would underflow.
    let mut hypotheses = Vec::new();
    let mut neutral = f64::NEG_INFINITY;
    for (index, class) in present() {
        let prior = (class.weight_at(evidence.end) / total).ln();
        let frame = fits(Some(class.code))
            + seen(class.code).unwrap_or(0.0)
            + near(bore, Some(class.bore))
            + near(cup, class.cup);
        for (place, variant) in class.variants.iter().enumerate() {
            let which = prior + variant.share.ln();
            let cartridge = near(inner, Some(variant.inner)) + near(height, Some(variant.height));
            neutral = add_logarithms(neutral, which + cartridge);
            let p = which + cartridge + near(outer, Some(variant.outer)) + frame;
            hypotheses.push(Hypothesis { class: index, variant: place, p });
        }
    }

    let none = observation_model.no_standard.prior;
    for hypothesis in &mut hypotheses {
        hypothesis.p += (1.0 - none).ln();
    }
    let odd = [outer, bore, cup].into_iter().flatten().map(flat).sum::<f64>()
        + if is_seen { -(ObservedSeat::SEEN.len() as f64).ln() } else { 0.0 }
        + fits(None)
        + neutral
        + none.ln();

    let all = hypotheses.iter().fold(odd, |sum, hypothesis| add_logarithms(sum, hypothesis.p));
    for hypothesis in &mut hypotheses {
        hypothesis.p = (hypothesis.p - all).exp();
    }
    let mut entries: Vec<(Option<SeatCode>, f64)> = present()
        .map(|(index, class)| {
            let own = hypotheses.iter().filter(|hypothesis| hypothesis.class == index);
            (Some(class.code), own.map(|hypothesis| hypothesis.p).sum())
        })
        .collect();
    entries.push((None, (odd - all).exp()));
    entries.sort_by(|a, b| b.1.total_cmp(&a.1));
    Posterior { end: evidence.end, entries, hypotheses }
}

impl Class {
    fn weight_at(&self, end: End) -> f64 {
        let [upper, lower] = self.weight;
        match end {
            End::Upper => upper,
            End::Lower => lower,
        }
    }
}

/// Logarithm of the density of a reading of a part with the distribution `nominal`; zero without a reading. Where there
/// is no such part (a drop-in seat has no cup), the reading is an outlier.
fn near(reading: Option<Estimate>, nominal: Option<Estimate>) -> f64 {
    let Some(reading) = reading else { return 0.0 };
    let slip = observation_model().slip.rate;
    let slipped = flat(reading) + slip.ln();
    match nominal {
        None => slipped,
        Some(nominal) => {
            let sd = reading.u.hypot(nominal.u);
            let z = (reading.value - nominal.value) / sd;
            let density = -0.5 * z * z - sd.ln() - 0.5 * std::f64::consts::TAU.ln();
            add_logarithms(density + (1.0 - slip).ln(), slipped)
        }
    }
}

/// Logarithm of the flat density of 1/60 per mm over 60 mm around the reading, convolved with its error: `erf(30 / (u
/// sqrt(2))) / 60`.
fn flat(reading: Estimate) -> f64 {
    let width = observation_model().no_standard.flat_mm;
    if reading.u <= 0.0 {
        return -width.ln();
    }
    // erf keeps its relative precision for a very large u.
    let share = libm::erf(width / 2.0 / reading.u / std::f64::consts::SQRT_2);
    share.max(f64::MIN_POSITIVE).ln() - width.ln()
}

/// Logarithm of the sum of two numbers given by their logarithms.
fn add_logarithms(a: f64, b: f64) -> f64 {
    let (large, small) = if a >= b { (a, b) } else { (b, a) };
    if large == f64::NEG_INFINITY { large } else { large + (small - large).exp().ln_1p() }
}
