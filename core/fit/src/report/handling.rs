//! Steering geometry before and after a change, `steerwright.handling/1`.

use super::check::ScreenedSurvey;
use super::kit::USUAL_HEAD_TUBE_MM;
use super::wording;
use crate::bike::{Bike, Findings};
use serde::{Deserialize, Serialize};
use std::collections::BTreeMap;
use steerwright_mechanics::geometry::{
    Comparison, Figure, FigureEstimates, GeometryError, SideView, Survey, UncertainChange, UncertainKit,
    changed, tilt_for,
};
use steerwright_mechanics::tilt::Offsets;
use steerwright_metrology::quantity::{Estimate, Instruments, Quantity, Unit};
use steerwright_metrology::sentence::Sentence;
use steerwright_metrology::voice::Voice;

/// The format's name and version.
#[derive(Debug, Clone, Copy, PartialEq, Eq, Default, Serialize, Deserialize, schemars::JsonSchema)]
pub enum HandlingSchema {
    /// The first version.
    #[default]
    #[serde(rename = "steerwright.handling/1")]
    V1,
}

/// How a bike steers, before and after.
#[derive(Debug, Clone, PartialEq, Serialize, Deserialize, schemars::JsonSchema)]
#[serde(deny_unknown_fields)]
pub struct Handling {
    /// The format's name and version.
    pub schema: HandlingSchema,
    /// Version of the engine that computed it.
    pub engine: String,
    /// The bike's name.
    pub bike: String,
    /// Whether the rider's sag was taken off.
    pub sagged: bool,
    /// As it stands.
    pub before: BTreeMap<Figure, FigureReport>,
    /// After the change; equal to `before` without one.
    pub after: BTreeMap<Figure, FigureReport>,
    /// After less before; errors that both share cancel.
    pub change: BTreeMap<Figure, FigureReport>,
    /// How much the steering axis turns in the frame, degrees, slacker positive.
    #[serde(default, skip_serializing_if = "Option::is_none")]
    pub tilt_deg: Option<Estimate>,
    /// How much the frame turns on its wheels, degrees, positive where the front rises.
    #[serde(default, skip_serializing_if = "Option::is_none")]
    pub pitch_deg: Option<Estimate>,
    /// Quantities that were not measured and are taken as bikes usually are, in the figures of `after` and `change` that
    /// are known no other way; measuring them narrows those.
    #[serde(default, skip_serializing_if = "Vec::is_empty")]
    pub assumed: Vec<Quantity>,
    /// The figure that was asked for, and the tilt that gives it.
    #[serde(default, skip_serializing_if = "Option::is_none")]
    pub target: Option<Target>,
    /// What could not be computed, and what it needs.
    pub missing: Vec<MissingFigure>,
    /// What is wrong or odd in the readings themselves.
    #[serde(default, skip_serializing_if = "Vec::is_empty")]
    pub readings: Vec<Sentence>,
    /// What an adviser would add; never an error.
    #[serde(default, skip_serializing_if = "Vec::is_empty")]
    pub notes: Vec<Sentence>,
    /// The side views themselves, where every number is known; for drawing, not part of the file.
    #[serde(skip)]
    #[schemars(skip)]
    pub views: Option<Box<[SideView; 2]>>,
}

/// One figure.
#[derive(Debug, Clone, Copy, PartialEq, Serialize, Deserialize, schemars::JsonSchema)]
#[serde(deny_unknown_fields)]
pub struct FigureReport {
    /// Its value.
    pub value: f64,
    /// Its standard uncertainty.
    pub u: f64,
    /// The unit of both.
    pub unit: Unit,
}

/// A wanted figure, and the tilt of the steering axis that gives it.
#[derive(Debug, Clone, Copy, PartialEq, Serialize, Deserialize, schemars::JsonSchema)]
#[serde(deny_unknown_fields)]
pub struct Target {
    /// Which figure.
    pub figure: Figure,
    /// Its wanted value, mm or degrees.
    pub wanted: f64,
    /// The tilt, degrees, slacker positive.
    pub tilt_deg: f64,
}

/// A figure that could not be computed.
#[derive(Debug, Clone, PartialEq, Eq, Serialize, Deserialize, schemars::JsonSchema)]
#[serde(deny_unknown_fields)]
pub struct MissingFigure {
    /// Which.
    pub result: Figure,
    /// Readings that together would give it.
    pub needs: Vec<Quantity>,
}

/// What is done to the bike; lengths in mm.
#[derive(Debug, Clone, Copy, PartialEq, Default)]
pub struct Modification {
    /// A plain tilt, degrees, slacker positive.
    pub tilt_deg: Option<f64>,
    /// Whatever tilt gives this figure this value, mm or degrees, in place of the two others.
    pub target: Option<(Figure, f64)>,
    /// A kit's offsets, already turned the right way round.
    pub kit: Option<Offsets>,
    /// Another fork's length.
    pub axle_to_crown: Option<f64>,
    /// Another fork's offset.
    pub fork_offset: Option<f64>,
    /// Another front tyre's outside diameter, measured or by its size ([`overall_diameter`](steerwright_mechanics::geometry::overall_diameter)).
    pub front_tyre: Option<Estimate>,
    /// Another rear tyre's outside diameter, likewise.
    pub rear_tyre: Option<Estimate>,
    /// Another lower stack.
    pub lower_stack: Option<f64>,
    /// With the rider on, as far as the bike's own sag was measured.
    pub sag: bool,
}

/// Why there is no handling report.
#[derive(Debug, Clone, PartialEq, thiserror::Error)]
pub enum HandlingError {
    /// Sag was asked for but not measured.
    #[error("the bike has no measured sag; expected `fork_sag`, `rear_sag` or both among its measurements")]
    NoSag,
    /// The tilt for a wanted figure needs the whole side view.
    #[error(
        "the tilt for a wanted {figure} needs the whole side view; expected measurements of {}",
        names(needs)
    )]
    NotKnown {
        /// What was wanted.
        figure: Figure,
        /// What is missing for it.
        needs: Vec<Quantity>,
    },
    /// The change cannot be made to this bike.
    #[error(transparent)]
    Geometry(#[from] GeometryError),
}

fn names(quantities: &[Quantity]) -> String {
    quantities.iter().map(|what| what.name()).collect::<Vec<_>>().join(", ")
}

impl Modification {
    /// A kit counts from the axis of the kit that is in the bike.
    fn change(&self, bike: &Bike, findings: &Findings) -> Result<UncertainChange, HandlingError> {
        let exact = |value: Option<f64>| value.map(Estimate::exact);
        let half = |diameter: Option<Estimate>| diameter.map(|diameter| diameter * 0.5);
        let tilt = self.tilt_deg.map(|tilt| UncertainKit::Tilt(Estimate::exact(tilt)));
        let none = Estimate::exact(0.0);
        let (front_sag, rear_sag) = if self.sag {
            let sags = (findings.get(Quantity::ForkSag), findings.get(Quantity::RearSag));
            if sags == (None, None) {
                return Err(HandlingError::NoSag);
            }
            (sags.0.unwrap_or(none), sags.1.unwrap_or(none))
        } else {
            (none, none)
        };
        Ok(UncertainChange {
            kit: self.kit.map(|kit| UncertainKit::installed(from_now(kit, bike, findings))).or(tilt),
            axle_to_crown: exact(self.axle_to_crown),
            fork_offset: exact(self.fork_offset),
            front_radius: half(self.front_tyre),
            rear_radius: half(self.rear_tyre),
            lower_stack: if self.kit.is_some() {
                self.lower_stack.map(UncertainKit::stack)
            } else {
                exact(self.lower_stack)
            },
            front_sag,
            rear_sag,
        })
    }
}

/// Offsets of a kit from the bike's present steering axis. Without a head tube length the usual one gives the lean of
/// the kit that is in.
fn from_now(kit: Offsets, bike: &Bike, findings: &Findings) -> Offsets {
    let length = findings.get(Quantity::HeadTubeLength).map_or(USUAL_HEAD_TUBE_MM, |length| length.value);
    bike.fitted.as_ref().map_or(kit, |fitted| kit.relative_to(&fitted.offsets(), length))
}

/// The bike before and after a modification, as far as its readings tell.
///
/// # Errors
/// Sag asked for and not measured, or a change that leaves the bike no stance.
pub fn handling(
    bike: &Bike,
    instruments: &Instruments,
    modification: &Modification,
) -> Result<Handling, HandlingError> {
    let findings = Findings::new(bike, instruments);
    let survey = ScreenedSurvey::new(&findings);
    let mut change = modification.change(bike, &findings)?;
    let target = modification
        .target
        .map(|(figure, wanted)| aim(&survey.screened, &change, figure, wanted))
        .transpose()?;
    if let Some(target) = target {
        change.kit = Some(UncertainKit::Tilt(Estimate::exact(target.tilt_deg)));
    }
    let Comparison { before, mut after, mut difference, tilt_deg, pitch_deg } =
        survey.screened.compare(&change)?;
    let mut assumed = Vec::new();
    if change != UncertainChange::default() {
        assumed = survey.screened.missing_for_head_angle(&change);
        if !assumed.is_empty() {
            let usual = survey.with_usual_values.compare(&change)?;
            for (known, usual) in [(&mut after, usual.after), (&mut difference, usual.difference)] {
                for (figure, estimate) in usual.figures {
                    known.figures.entry(figure).or_insert(estimate);
                }
            }
        }
    }
    let missing = before
        .missing
        .iter()
        .map(|missing| MissingFigure { result: missing.result, needs: missing.needs.clone() });
    let views = survey.screened.bicycle().and_then(|bicycle| {
        let done = changed(&bicycle, &exactly(&change, bicycle.head_tube_length)?).ok()?;
        Some(Box::new([done.before, done.after]))
    });
    Ok(Handling {
        schema: HandlingSchema::V1,
        engine: env!("CARGO_PKG_VERSION").to_owned(),
        bike: bike.name.clone(),
        sagged: modification.sag,
        missing: missing.collect(),
        notes: notes(&after),
        before: figures(before),
        after: figures(after),
        change: figures(difference),
        tilt_deg,
        pitch_deg,
        assumed,
        target,
        readings: wording::readings(Voice::english(), bike, &findings, &survey),
        views,
    })
}

/// The tilt that gives a wanted figure with everything else that changes.
fn aim(
    survey: &Survey,
    change: &UncertainChange,
    figure: Figure,
    wanted: f64,
) -> Result<Target, HandlingError> {
    /// Largest tilt searched, degrees; no kit tilts further.
    const TILTS: [f64; 2] = [-5.0, 5.0];
    let bicycle =
        survey.bicycle().ok_or_else(|| HandlingError::NotKnown { figure, needs: survey.undetermined() })?;
    let plain = UncertainChange { kit: None, ..*change };
    let change = exactly(&plain, bicycle.head_tube_length).unwrap_or_default();
    Ok(Target { figure, wanted, tilt_deg: tilt_for(&bicycle, &change, figure, wanted, TILTS)? })
}

fn figures(outlook: FigureEstimates) -> BTreeMap<Figure, FigureReport> {
    let report = |(figure, estimate): (Figure, Estimate)| {
        (figure, FigureReport { value: estimate.value, u: estimate.u, unit: figure.unit() })
    };
    outlook.figures.into_iter().map(report).collect()
}

/// The change at its best estimate, for drawing.
fn exactly(
    change: &UncertainChange,
    head_tube_length: f64,
) -> Option<steerwright_mechanics::geometry::Change> {
    let value = |estimate: Option<Estimate>| estimate.map(|estimate| estimate.value);
    let kit = match change.kit {
        None => None,
        Some(UncertainKit::Tilt(tilt)) => {
            Some(Offsets::for_tilt(tilt.value, head_tube_length, 0.0, 0.0).ok()?)
        }
        Some(UncertainKit::Offsets { upper_plane, lower_plane, upper, lower }) => Some(Offsets {
            upper_plane: upper_plane.value,
            lower_plane: lower_plane.value,
            upper: upper.value,
            lower: lower.value,
        }),
    };
    Some(steerwright_mechanics::geometry::Change {
        kit,
        axle_to_crown: value(change.axle_to_crown),
        fork_offset: value(change.fork_offset),
        front_radius: value(change.front_radius),
        rear_radius: value(change.rear_radius),
        lower_stack: value(change.lower_stack),
        front_sag: change.front_sag.value,
        rear_sag: change.rear_sag.value,
    })
}

/// Advice on the result. Many good bikes do not follow it, so it is never an error.
fn notes(after: &FigureEstimates) -> Vec<Sentence> {
    let mut notes = Vec::new();
    if after.get(Figure::WheelFlop).is_some() {
        notes.push(Sentence::new(
            "handling.wheel_flop",
            "Wheel flop is a factor for comparing bikes, not how far the axle really drops.",
        ));
    }
    notes
}
