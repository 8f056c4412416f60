//! Needed and available length of the steerer.

use super::{LinearForm, Missing, SteererError};
use steerwright_metrology::practice::Rule;
use steerwright_metrology::quantity::{Estimate, Quantity};

/// Readings of the bike, mm.
#[derive(Debug, Clone, Copy, Default, PartialEq)]
pub struct Readings {
    /// Head tube from face to face.
    pub head_tube_length: Option<Estimate>,
    /// Crown race seat to cut end, fork out.
    pub steerer_length: Option<Estimate>,
    /// The present headset's lower stack.
    pub lower_stack: Option<Estimate>,
    /// The present headset's upper stack.
    pub upper_stack: Option<Estimate>,
    /// Spacers between headset and stem.
    pub spacers_below: Option<Estimate>,
    /// Spacers above the stem.
    pub spacers_above: Option<Estimate>,
    /// Height of the stem's clamp.
    pub stem_clamp_height: Option<Estimate>,
    /// From the top of stem or top spacer down to the steerer's end.
    pub cap_gap: Option<Estimate>,
}

impl Readings {
    fn of(&self, what: Quantity) -> Option<Estimate> {
        match what {
            Quantity::HeadTubeLength => self.head_tube_length,
            Quantity::SteererLength => self.steerer_length,
            Quantity::LowerStack => self.lower_stack,
            Quantity::UpperStack => self.upper_stack,
            Quantity::SpacersBelow => self.spacers_below,
            Quantity::SpacersAbove => self.spacers_above,
            Quantity::StemClampHeight => self.stem_clamp_height,
            Quantity::CapGap => self.cap_gap,
            _ => None,
        }
    }

    fn sound(&self) -> bool {
        Quantity::ALL.iter().filter_map(|&what| self.of(what)).all(Estimate::is_sound)
    }
}

/// Which spacers are kept.
#[derive(Debug, Clone, Copy, PartialEq)]
pub enum SpacersKept {
    /// All that are on the steerer now, below and above the stem: the handlebar keeps its position.
    All,
    /// Those below the stem.
    Below,
    /// None.
    None,
    /// This height, mm.
    Height(Estimate),
}

impl SpacersKept {
    fn form(self) -> LinearForm {
        let below = LinearForm::default().reading(Quantity::SpacersBelow, 1.0);
        match self {
            Self::All => below.reading(Quantity::SpacersAbove, 1.0),
            Self::Below => below,
            Self::None => LinearForm::default(),
            Self::Height(height) => LinearForm::default().length(height, 1.0),
        }
    }
}

/// How the bike is assembled.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct Plan {
    /// The kit's lower stack, mm.
    pub lower_stack: Estimate,
    /// The kit's upper stack, mm.
    pub upper_stack: Estimate,
    /// The effective tilt, degrees, of either sign.
    pub tilt_deg: f64,
    /// The spacers that are reinstalled.
    pub spacers: SpacersKept,
    /// Another stem's clamp height, mm; absent: the present stem stays.
    pub stem_clamp: Option<Estimate>,
    /// Distance of the steerer's end below the top of stem or top spacer, mm.
    pub recess: f64,
}

impl Plan {
    /// A kit with these stacks and this tilt; everything else stays as it is, and the recess is the usual one
    /// ([`Rule::Recess`]).
    pub fn new(lower_stack: Estimate, upper_stack: Estimate, tilt_deg: f64) -> Self {
        let recess = Rule::Recess.value();
        Self { lower_stack, upper_stack, tilt_deg, spacers: SpacersKept::All, stem_clamp: None, recess }
    }

    fn check(&self) -> Result<(), SteererError> {
        let lengths = [Some(self.lower_stack), Some(self.upper_stack), self.stem_clamp];
        if !lengths.into_iter().flatten().all(Estimate::is_sound) || !self.recess.is_finite() {
            return Err(SteererError::NotFinite("a length of the plan"));
        }
        if let SpacersKept::Height(height) = self.spacers
            && !height.is_sound()
        {
            return Err(SteererError::NotFinite("the height of the spacers"));
        }
        if !self.tilt_deg.is_finite() {
            return Err(SteererError::NotFinite("the tilt"));
        }
        if self.tilt_deg.abs() >= 45.0 {
            return Err(SteererError::Tilt(self.tilt_deg));
        }
        Ok(())
    }
}

/// How the length of the steerer is determined.
#[derive(Debug, Clone, Copy, PartialEq, Eq, PartialOrd, Ord, Hash)]
pub enum Available {
    /// Measured directly, fork out.
    Measured,
    /// From the parts on it and the gap under the cap, fork in.
    FromOutside,
}

impl Available {
    /// Both methods.
    pub const BOTH: [Self; 2] = [Self::Measured, Self::FromOutside];

    fn form(self) -> LinearForm {
        match self {
            Self::Measured => LinearForm::default().reading(Quantity::SteererLength, 1.0),
            Self::FromOutside => LinearForm::default()
                .reading(Quantity::LowerStack, 1.0)
                .reading(Quantity::HeadTubeLength, 1.0)
                .reading(Quantity::UpperStack, 1.0)
                .reading(Quantity::SpacersBelow, 1.0)
                .reading(Quantity::StemClampHeight, 1.0)
                .reading(Quantity::SpacersAbove, 1.0)
                .reading(Quantity::CapGap, -1.0),
        }
    }
}

/// The steerer's length by one method, mm.
///
/// # Errors
/// [`SteererError::Missing`] names what this method still needs, in both lists; unsound readings.
pub fn available(readings: &Readings, way: Available) -> Result<Estimate, SteererError> {
    sound(readings)?;
    finite(way.form().estimate(|what| readings.of(what)).map_err(both)?)
}

/// The steerer's length that the plan needs, mm.
///
/// # Errors
/// [`SteererError::Missing`] names what is still needed, in both lists; unsound readings or plan.
pub fn needed(readings: &Readings, plan: &Plan) -> Result<Estimate, SteererError> {
    sound(readings)?;
    plan.check()?;
    finite(need(plan).sum(&plan.spacers.form(), 1.0).estimate(|what| readings.of(what)).map_err(both)?)
}

fn finite(sum: Estimate) -> Result<Estimate, SteererError> {
    if sum.is_sound() { Ok(sum) } else { Err(SteererError::NotFinite("a sum of the readings")) }
}

fn both(missing: Vec<Quantity>) -> SteererError {
    SteererError::Missing(Missing { fork_out: missing.clone(), fork_in: missing })
}

fn sound(readings: &Readings) -> Result<(), SteererError> {
    if readings.sound() { Ok(()) } else { Err(SteererError::NotFinite("a reading")) }
}

/// What the plan needs without any spacer.
fn need(plan: &Plan) -> LinearForm {
    let parts = LinearForm::default()
        .length(plan.lower_stack, 1.0)
        .reading(Quantity::HeadTubeLength, 1.0 / plan.tilt_deg.to_radians().cos())
        .length(plan.upper_stack, 1.0)
        .length(Estimate::exact(plan.recess), -1.0);
    match plan.stem_clamp {
        Some(other) => parts.length(other, 1.0),
        None => parts.reading(Quantity::StemClampHeight, 1.0),
    }
}

/// The budget by one method of determining the steerer's length; lengths in mm.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct Route {
    /// How the length is determined.
    pub way: Available,
    /// Available minus needed. Terms common to both cancel, so it may be known where they are not.
    pub margin: Estimate,
    /// The tallest spacers that still fit, below and above the stem together; below zero the steerer is too short
    /// without any. Absent where the spacers on the bike enter it and were not measured.
    pub tallest_spacers: Option<Estimate>,
}

/// Needed against available; lengths in mm.
#[derive(Debug, Clone, PartialEq)]
pub struct Budget {
    /// What the plan needs; absent where a reading for it is missing, though the margin may be known.
    pub needed: Option<Estimate>,
    /// The available length, by the method of smaller uncertainty; absent where a reading for it is missing.
    pub available: Option<Estimate>,
    /// Available minus needed, by the method of smaller uncertainty; below zero: too short for the plan.
    pub margin: Estimate,
    /// The tallest spacers that still fit, by the method of smaller uncertainty. Below zero the steerer is too short
    /// without any, and removing spacers does not help.
    pub tallest_spacers: Option<Estimate>,
    /// How far the steerer's end protrudes above its planned position: add spacers of this height above the stem, or
    /// cut this length off; 0 if it does not.
    pub spacers_to_add_above: f64,
    /// Resulting distance of the steerer's end below the top of stem or top spacer, before spacers are added; below
    /// zero it protrudes.
    pub recess: Estimate,
    /// Every method that gives a margin, the one of smallest uncertainty first.
    pub routes: Vec<Route>,
    /// Disagreement of the methods (fork out minus fork in), where both are known and it exceeds 3 u: one of the
    /// readings is wrong.
    pub disagreement: Option<Estimate>,
}

/// Compares the length that the plan needs with the available length.
///
/// # Errors
/// [`SteererError::Missing`] if neither method gives a margin, with what each still needs; unsound readings or plan.
pub fn budget(readings: &Readings, plan: &Plan) -> Result<Budget, SteererError> {
    sound(readings)?;
    plan.check()?;
    let of = |what| readings.of(what);
    let bare = need(plan);
    let kept = plan.spacers.form();
    let full = bare.clone().sum(&kept, 1.0);
    let route = |way: Available| {
        let has = way.form();
        Ok(Route {
            way,
            margin: has.clone().sum(&full, -1.0).estimate(of)?,
            tallest_spacers: has.sum(&bare, -1.0).estimate(of).ok(),
        })
    };
    let mut routes = match (route(Available::Measured), route(Available::FromOutside)) {
        (Ok(out), Ok(inside)) => vec![out, inside],
        (Ok(only), Err(_)) | (Err(_), Ok(only)) => vec![only],
        (Err(fork_out), Err(fork_in)) => return Err(SteererError::Missing(Missing { fork_out, fork_in })),
    };
    routes.sort_by(|a, b| a.margin.u.total_cmp(&b.margin.u));
    let between = Available::Measured.form().sum(&Available::FromOutside.form(), -1.0).estimate(of).ok();
    let Some(&best) = routes.first() else {
        return Err(SteererError::NotFinite("a sum of the readings"));
    };
    let (needed, available) = (full.estimate(of).ok(), best.way.form().estimate(of).ok());
    let recess = Estimate::exact(plan.recess) - best.margin;
    let sums = routes.iter().flat_map(|route| [Some(route.margin), route.tallest_spacers]);
    for sum in sums.chain([needed, available, between, Some(recess)]).flatten() {
        finite(sum)?;
    }
    Ok(Budget {
        needed,
        available,
        margin: best.margin,
        tallest_spacers: best.tallest_spacers,
        spacers_to_add_above: best.margin.value.max(0.0),
        recess,
        routes,
        disagreement: between.filter(|it| it.value.abs() > 3.0 * it.u),
    })
}

/// A workshop rule that a budget violates; the [`Rule`] has number and source.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct Note {
    /// The rule.
    pub rule: Rule,
    /// The value in the budget, mm.
    pub has: f64,
    /// The limit of the rule, mm.
    pub limit: f64,
}

impl Budget {
    /// The workshop rules that this budget violates: the depth of the steerer's end, and the height of spacers under
    /// the stem of a carbon steerer (`spacers_below` as planned, mm).
    pub fn notes(&self, carbon: bool, spacers_below: Option<f64>) -> Vec<Note> {
        let over = |rule: Rule, has: f64| {
            let limit = rule.value();
            (has > limit).then_some(Note { rule, has, limit })
        };
        let recess = over(Rule::RecessLimit, self.recess.value).or(over(Rule::Recess, self.recess.value));
        let spacers = spacers_below.filter(|_| carbon);
        let spacers = spacers.and_then(|height| over(Rule::CarbonSpacersLimit, height));
        recess.into_iter().chain(spacers).collect()
    }
}
