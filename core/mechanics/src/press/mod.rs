//! Press fits: whether a cup holds in its bore, and whether the head tube withstands the stress.
//!
//! `interference = cup diameter - bore diameter`. Below 0.02 mm a cup creeps: loose. Above 0.1 mm, or where the hoop
//! stress in the head tube exceeds a third of the yield strength of its alloy: tight. The limits and their sources are
//! in `core/mechanics/data/materials.json`.

mod interference;
pub mod lame;
mod material;

pub use interference::Diameter;
pub use material::{Material, Metal};

use interference::Interference;
use lame::Rings;
use material::table;
use serde::Serialize;
use steerwright_metrology::quantity::{Estimate, propagate};

/// A cup and its bore.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct PressInput {
    /// Outside diameter of the cup.
    pub cup: Diameter,
    /// Diameter of the bore.
    pub bore: Diameter,
    /// Wall of the head tube around the bore, mm; absent: 3 mm ± 1 mm.
    pub wall: Option<Estimate>,
    /// Wall of the cup's pressed skirt, mm; absent: 1.5 mm ± 0.5 mm.
    pub cup_wall: Option<Estimate>,
    /// Material of the head tube; absent or not known: the metal with the lowest allowed interference.
    pub material: Option<Material>,
}

impl PressInput {
    /// Two diameters and nothing else known.
    pub const fn new(cup: Diameter, bore: Diameter) -> Self {
        Self { cup, bore, wall: None, cup_wall: None, material: None }
    }
}

/// The verdict on a press fit.
#[derive(Debug, Clone, Copy, PartialEq, Eq, Hash, Serialize)]
#[serde(rename_all = "snake_case")]
pub enum PressVerdict {
    /// More likely than not the cup would creep.
    Loose,
    /// It holds, and the tube withstands it.
    Right,
    /// More likely than not the stress exceeds what is allowed.
    Tight,
    /// A composite head tube: neither loose nor over 0.1 mm, but its stress is not that of a metal ring. Only the maker
    /// of the frame can decide.
    AskFrameMaker,
}

/// Stress in the head tube, for a metal one.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct Stress {
    /// The metal it was computed for.
    pub metal: Metal,
    /// True if the material is not known and this is the metal with the lowest allowed interference.
    pub assumed: bool,
    /// The wall it was computed with, mm.
    pub wall: Estimate,
    /// Radial pressure between cup and tube, MPa.
    pub pressure_mpa: Estimate,
    /// Greatest hoop stress in the tube, MPa.
    pub hoop_stress_mpa: Estimate,
    /// A third of the metal's yield strength, MPa.
    pub allowed_mpa: f64,
}

/// A press fit, judged.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct PressFit {
    /// Cup minus bore, mm; positive holds.
    pub interference: Estimate,
    /// Interference in the direction where the bore is largest, mm.
    pub smallest: f64,
    /// Interference in the direction where the bore is smallest, mm.
    pub largest: f64,
    /// Whether the bore was measured; if not, it is uniform between its limits.
    pub bore_measured: bool,
    /// The limits of admissible interference, mm. The upper one has the uncertainty of the walls where it follows from
    /// the stress. With a wall so thin that it is below the lower one, no interference is admissible.
    pub admissible: [Estimate; 2],
    /// Probability that the interference is below the lower limit.
    pub p_loose: f64,
    /// Probability that it is above the upper limit.
    pub p_tight: f64,
    /// Probability that it is between the limits.
    pub p_right: f64,
    /// Pressure and stress; none for carbon.
    pub stress: Option<Stress>,
    /// The verdict.
    pub verdict: PressVerdict,
}

/// Why a press fit cannot be judged.
#[derive(Debug, Clone, Copy, PartialEq, thiserror::Error)]
pub enum PressError {
    /// A diameter is outside the range of headsets.
    #[error("{part} diameter: expected 10 to 100 mm, smallest not above largest, and a finite uncertainty")]
    Diameter {
        /// "cup" or "bore".
        part: &'static str,
    },
    /// A wall thickness is outside its domain.
    #[error(
        "{part} wall of {mm} mm: expected from 0.2 to under {below} mm, with an uncertainty no greater than the wall"
    )]
    Wall {
        /// "head tube" or "cup".
        part: &'static str,
        /// The given thickness, mm.
        mm: f64,
        /// The end of the domain, mm.
        below: f64,
    },
}

/// Judges a press fit.
///
/// The probabilities follow from the distribution of the interference: a measured diameter is normal, one known by its
/// limits is uniform. Pressure and stress carry the first-order uncertainty of interference and walls.
///
/// # Errors
/// Names the diameter or wall that is out of its domain.
pub fn press_fit(input: &PressInput) -> Result<PressFit, PressError> {
    let distribution = interference(input.cup, input.bore)?;
    let contact = input.bore.estimate().value;
    let wall = head_tube_wall(input.wall)?;
    let cup_wall = self::wall("cup", input.cup_wall, &table().cup_wall, contact / 2.0)?;

    let joint = |metal| Joint { contact, wall, cup_wall, metal };
    let chosen = match input.material {
        Some(Material::Carbon) => None,
        Some(Material::Aluminium) => Some((joint(Metal::Aluminium), false)),
        Some(Material::Steel) => Some((joint(Metal::Steel), false)),
        Some(Material::Titanium) => Some((joint(Metal::Titanium), false)),
        Some(Material::NotKnown) | None => Metal::ALL
            .map(joint)
            .into_iter()
            .min_by(|a, b| a.allowed_interference().value.total_cmp(&b.allowed_interference().value))
            .map(|weakest| (weakest, true)),
    };

    let interference = distribution.estimate();
    let least = Estimate::exact(table().least_interference.mm);
    let greatest = Estimate::exact(table().greatest_interference.mm);
    let upper = chosen
        .map(|(joint, _)| joint.allowed_interference())
        .filter(|allowed_interference| allowed_interference.value < greatest.value)
        .unwrap_or(greatest);
    let p_loose = distribution.below(least);
    let p_tight = distribution.above(upper);
    let verdict = if p_loose > 0.5 {
        PressVerdict::Loose
    } else if p_tight > 0.5 {
        PressVerdict::Tight
    } else if chosen.is_none() {
        PressVerdict::AskFrameMaker
    } else {
        PressVerdict::Right
    };
    let [cup_smallest, cup_largest] = input.cup.range();
    let [bore_smallest, bore_largest] = input.bore.range();
    Ok(PressFit {
        interference,
        smallest: cup_smallest - bore_largest,
        largest: cup_largest - bore_smallest,
        bore_measured: matches!(input.bore, Diameter::Measured { .. }),
        admissible: [least, upper],
        p_loose,
        p_tight,
        p_right: (1.0 - p_loose - p_tight).max(0.0),
        stress: chosen.map(|(joint, assumed)| joint.stress(interference, assumed)),
        verdict,
    })
}

/// The probabilities that a cup is loose and that it is tight, for the limits [`PressFit::admissible`] of a bore.
/// `None` for a diameter outside the range of headsets.
pub fn loose_and_tight(cup: Diameter, bore: Diameter, admissible: [Estimate; 2]) -> Option<[f64; 2]> {
    let [least, most] = admissible;
    let interference = interference(cup, bore).ok()?;
    Some([interference.below(least), interference.above(most)])
}

/// The probability that a cup is loose in a bore. `None` where [`press_fit`] returns an error.
pub fn looseness(cup: Diameter, bore: Diameter, wall: Option<Estimate>) -> Option<f64> {
    head_tube_wall(wall).ok()?;
    Some(interference(cup, bore).ok()?.below(Estimate::exact(table().least_interference.mm)))
}

fn interference(cup: Diameter, bore: Diameter) -> Result<Interference, PressError> {
    for (part, diameter) in [("cup", cup), ("bore", bore)] {
        if !diameter.is_sound() {
            return Err(PressError::Diameter { part });
        }
    }
    Ok(Interference::new(cup, bore))
}

fn head_tube_wall(given: Option<Estimate>) -> Result<Estimate, PressError> {
    wall("head tube", given, &table().head_tube_wall, 30.0)
}

fn wall(
    part: &'static str,
    given: Option<Estimate>,
    assumed: &material::Assumed,
    below: f64,
) -> Result<Estimate, PressError> {
    let wall = given.unwrap_or_else(|| {
        let around_zero = Estimate::between(-assumed.half_width_mm, assumed.half_width_mm);
        Estimate::new(assumed.mm, around_zero.u)
    });
    if wall.is_sound() && wall.value >= 0.2 && wall.value < below && wall.u <= wall.value {
        Ok(wall)
    } else {
        Err(PressError::Wall { part, mm: wall.value, below })
    }
}

/// A cup in a tube of one metal.
#[derive(Clone, Copy)]
struct Joint {
    contact: f64,
    wall: Estimate,
    cup_wall: Estimate,
    metal: Metal,
}

impl Joint {
    fn rings(self, wall: f64, cup_wall: f64) -> Rings {
        Rings {
            outside_mm: self.contact + 2.0 * wall,
            contact_mm: self.contact,
            inside_mm: self.contact - 2.0 * cup_wall,
            outer: self.metal.elastic(),
            inner: table().cup_metal().elastic(),
        }
    }

    fn allowed_mpa(self) -> f64 {
        self.metal.yield_mpa() * table().yield_share.share
    }

    /// Interference at which the hoop stress reaches a third of yield, mm.
    fn allowed_interference(self) -> Estimate {
        self.with_walls(Estimate::exact(0.0), |rings, _| {
            Some(self.allowed_mpa() * rings.compliance()? / rings.hoop_factor()?)
        })
    }

    /// A figure of the two rings with the uncertainty of interference and both walls, to first order.
    fn with_walls(self, interference: Estimate, figure: impl Fn(Rings, f64) -> Option<f64>) -> Estimate {
        propagate(&[interference, self.wall, self.cup_wall], |inputs| match inputs {
            [mm, wall, cup_wall] => figure(self.rings(*wall, *cup_wall), *mm).unwrap_or(f64::NAN),
            _ => f64::NAN,
        })
    }

    fn stress(self, interference: Estimate, assumed: bool) -> Stress {
        // Without interference there is no pressure. Its u is that of the unclamped line: clamped, the slope would be
        // 0, and so would u.
        let pressed = |stress: Estimate| Estimate::new(stress.value.max(0.0), stress.u);
        Stress {
            metal: self.metal,
            assumed,
            wall: self.wall,
            pressure_mpa: pressed(self.with_walls(interference, |rings, mm| Some(mm / rings.compliance()?))),
            hoop_stress_mpa: pressed(
                self.with_walls(interference, |rings, mm| {
                    Some(mm * rings.hoop_factor()? / rings.compliance()?)
                }),
            ),
            allowed_mpa: self.allowed_mpa(),
        }
    }
}
