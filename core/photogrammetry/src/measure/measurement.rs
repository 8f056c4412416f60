//! The result of measuring a photo.

use super::adjust::{Fit, best};
use super::camera::Camera;
use super::judge;
use super::known::SceneInputs;
use super::marks::{Image, Marks, Pixel};
use super::numbers::{Sensitivity, numbers, sensitivities, with_covariance};
use super::overlay::overlay;
use super::plane::Plane;
use super::refusal::{Doubt, Refusal, WheelEnd};
use super::scene::Scene;
use super::start::starts;
use nalgebra::DMatrix;
use steerwright_drawing::Drawing;
use steerwright_metrology::quantity::Measurement;
use steerwright_metrology::quantity::{Dimension, Estimate, Instrument, Quantity, quantity_info};

/// The result of measuring a photo with marks.
#[derive(Debug, Clone)]
pub struct PhotoMeasurement {
    /// The numbers, mm and degrees.
    pub values: Vec<(Quantity, Estimate)>,
    /// Their covariance, in the order of `values`.
    pub covariance: DMatrix<f64>,
    /// The size of the picture to which the marks belong.
    pub image: Image,
    /// The estimated camera, for the original picture.
    pub camera: Camera,
    /// The bike's plane.
    pub plane: Plane,
    /// The sum of squared residuals, each over its standard deviation.
    pub chi_square: f64,
    /// Number of redundant observations.
    pub degrees_of_freedom: usize,
    /// An overlay for the picture that shows the result.
    pub overlay: Drawing,
    /// Warnings about the result.
    pub doubts: Vec<Doubt>,
    /// Sensitivities of the values, in their order, to errors of the given inputs.
    pub(super) sensitivities: Vec<Sensitivity>,
}

/// Uncertainties are enlarged if the probability of the misfit is below this, one good picture in a hundred.
const SCATTERED: f64 = 0.01;
/// A normalised residual that is reported as a doubt; among a hundred good marks one in 150 pictures has one.
const STANDS_OUT: f64 = 4.0;
/// From this angle a view counts as oblique, degrees.
const OBLIQUE: f64 = 30.0;
/// Results with a larger u are withheld: an angle, degrees, and a length, mm.
const VAGUE: (f64, f64) = (3.0, 60.0);

/// Measures a bike on a photo.
///
/// # Errors
/// A [`Refusal`] with the reason and its remedy.
pub fn measure(marks: &Marks) -> Result<PhotoMeasurement, Refusal> {
    marks.check("marks").map_err(|problems| Refusal::Marks { problems })?;
    if marks.is_rough() {
        return Err(Refusal::Rough);
    }
    let known = SceneInputs::new(marks);
    let (front, rear) = judge::ellipses(&known)?;
    let fit = best(&starts(&known, &front, &rear), &known).ok_or(Refusal::Unexplained)?;
    judge::judge(&fit, &known)?;
    let values = |scene: &Scene| numbers(scene, &known).into_iter().map(|(_, value)| value).collect();
    let (_, covariance) = with_covariance(&fit, &known, values).ok_or(Refusal::Unexplained)?;
    let mut sensitivities = sensitivities(&fit, &known, values).ok_or(Refusal::Unexplained)?;
    let scattered = fit.probability() < SCATTERED;
    let factor = if scattered { fit.misfit().max(1.0) } else { 1.0 };
    let covariance = covariance * (factor * factor);
    let mut doubts = doubts(marks, &known, &fit);
    if scattered {
        doubts.push(Doubt::Scatter { factor });
    }
    let given: Vec<(usize, Quantity, Estimate)> = numbers(&fit.scene, &known)
        .into_iter()
        .zip(covariance.diagonal().iter())
        .enumerate()
        .map(|(i, ((what, value), variance))| (i, what, Estimate::new(value, variance.max(0.0).sqrt())))
        .filter(|(_, what, estimate)| {
            let clear = estimate.is_sound() && estimate.u <= vague(*what);
            if !clear {
                doubts.push(Doubt::NotTold { label: quantity_info(*what).label.clone() });
            }
            clear
        })
        .collect();
    let places: Vec<usize> = given.iter().map(|(i, ..)| *i).collect();
    let covariance = covariance.select_rows(&places).select_columns(&places);
    for sensitivity in &mut sensitivities {
        sensitivity.moves =
            places.iter().filter_map(|place| sensitivity.moves.get(*place).copied()).collect();
    }
    let values: Vec<(Quantity, Estimate)> =
        given.into_iter().map(|(_, what, estimate)| (what, estimate)).collect();
    let plane = Plane::new(&fit.scene, &known);
    let [x, y] = known.as_given(fit.scene.camera.axis);
    Ok(PhotoMeasurement {
        overlay: overlay(&fit.scene, &known, &plane, &values),
        values,
        covariance,
        image: marks.image,
        camera: Camera { axis: [x, y], ..fit.scene.camera },
        plane,
        chi_square: fit.solution.chi_square,
        degrees_of_freedom: fit.solution.degrees_of_freedom(),
        doubts,
        sensitivities,
    })
}

fn vague(what: Quantity) -> f64 {
    match what.dimension() {
        Dimension::Angle => VAGUE.0,
        Dimension::Length => VAGUE.1,
    }
}

fn doubts(marks: &Marks, known: &SceneInputs, fit: &Fit) -> Vec<Doubt> {
    let mut doubts = Vec::new();
    // Seen from its right side, a bike heads right.
    if marks.shows_drive_side.is_some_and(|drive_side| drive_side == known.mirrored) {
        doubts.push(Doubt::Mirrored);
    }
    for (wheel, given) in [(WheelEnd::Front, known.front.given), (WheelEnd::Rear, known.rear.given)] {
        if !given {
            doubts.push(Doubt::DiameterAssumed { wheel });
        }
    }
    if !known.offset_given && known.has_axis() {
        doubts.push(Doubt::OffsetAssumed);
    }
    if !known.focal_given {
        doubts.push(Doubt::FocalFound);
    }
    let degrees = fit.scene.obliquity().to_degrees();
    if degrees > OBLIQUE {
        doubts.push(Doubt::Oblique { degrees });
    }
    if let Some((row, normalised, _)) = fit.worst()
        && normalised.abs() > STANDS_OUT
    {
        doubts.push(Doubt::MarkOff { which: row.to_string(), normalised: normalised.abs() });
    }
    doubts
}

impl PhotoMeasurement {
    /// A number by its quantity.
    pub fn get(&self, what: Quantity) -> Option<Estimate> {
        self.values.iter().find(|(other, _)| *other == what).map(|(_, estimate)| *estimate)
    }

    /// The numbers as readings for the bike's file: value and twice the standard uncertainty, to a hundredth. Numbers
    /// outside a bike's plausible range are omitted, and so are those that follow from the others: readings in a bike's
    /// file count as independent, so the same marks must not be counted twice.
    pub fn measurements(&self) -> Vec<Measurement> {
        use Quantity as Q;
        let all = |whats: &[Quantity]| whats.iter().all(|what| self.get(*what).is_some());
        let follows = |what: Quantity| match what {
            // Chainstay and height determine the bottom bracket; the wheelbase determines the front axle.
            Q::FrontCentre => all(&[Q::Wheelbase, Q::ChainstayLength, Q::BottomBracketHeight]),
            Q::BottomBracketDrop => all(&[Q::BottomBracketHeight]),
            // From the front axle up the steering axis to the head tube's top.
            Q::Reach | Q::Stack => all(&[
                Q::Wheelbase,
                Q::ChainstayLength,
                Q::BottomBracketHeight,
                Q::HeadAngle,
                Q::AxleToCrown,
                Q::LowerStack,
                Q::HeadTubeLength,
            ]),
            _ => false,
        };
        let hundredths = |value: f64| (value * 100.0).round() / 100.0;
        self.values
            .iter()
            .filter(|(what, _)| !follows(*what))
            .map(|(what, estimate)| Measurement {
                what: *what,
                value: hundredths(estimate.value),
                unit: what.base_unit(),
                with: Instrument::Photo,
                plus_minus: Some(hundredths(estimate.expanded()).max(0.01)),
                at: None,
                note: None,
            })
            .filter(|reading| reading.check("photo").is_ok())
            .collect()
    }

    /// The position of a point of the bike's plane in the original picture: `x` forward of the rear wheel's contact,
    /// `y` up from the ground, mm.
    pub fn pixel(&self, place: [f64; 2]) -> Option<Pixel> {
        self.plane.pixel(place)
    }
}
