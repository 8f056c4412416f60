//! The marks in the form used by the computation: every absent field has its default and u, and the picture is mirrored
//! if the bike faces left.

use super::camera::{focal_px, half_diagonal};
use super::marks::{Image, Lens, Line, Mark, Marks, Pixel, Wheel};
use steerwright_metrology::quantity::{Estimate, Quantity, quantity_info};

/// Default tyre width, mm: common practice, no source.
const TYRE_WIDTH: Estimate = Estimate::new(58.0, 5.0);
/// Turn of a front wheel that looks straight, degrees: common practice, no source.
const TURN: Estimate = Estimate::new(0.0, 1.0);
/// Distance of the nearer leg from the plane, mm: common practice, no source.
const LEG: Estimate = Estimate::new(65.0, 5.0);
/// Distance of the crank's end from the plane, mm: common practice, no source.
const CRANK: Estimate = Estimate::new(75.0, 8.0);
/// Distance of parts in the middle of the bike from the wheels' plane, mm: common practice, no source.
const IN_PLANE: Estimate = Estimate::new(0.0, 3.0);
/// Default 35 mm equivalent focal length, mm, and its relative u: half to double covers the main lenses of telephones
/// and everyday zooms. Common practice, no source.
const FOCAL: (f64, f64) = (35.0, 0.5);

/// One wheel.
#[derive(Debug, Clone)]
pub(super) struct WheelInputs {
    pub(super) marks: Vec<Pixel>,
    /// Standard deviation of the marks, pixels.
    pub(super) noise: f64,
    pub(super) radius: Estimate,
    pub(super) width: Estimate,
    /// False if the size is the prior for all bikes.
    pub(super) given: bool,
}

/// A point or a line with its distance from the plane.
#[derive(Debug, Clone)]
pub(super) struct PartInputs {
    pub(super) marks: Vec<Pixel>,
    /// Standard deviation of the marks, pixels.
    pub(super) noise: f64,
    pub(super) beside: Estimate,
}

/// All inputs of one picture. Lengths mm, angles radians, positions pixels.
#[derive(Debug, Clone)]
pub(super) struct SceneInputs {
    pub(super) image: Image,
    /// Whether positions are mirrored: `x` counted from the right edge.
    pub(super) mirrored: bool,
    pub(super) noise: f64,
    /// Natural logarithm of the focal length in pixels.
    pub(super) log_focal: Estimate,
    pub(super) focal_given: bool,
    pub(super) axis: [Estimate; 2],
    pub(super) distortion: Estimate,
    pub(super) front: WheelInputs,
    pub(super) rear: WheelInputs,
    pub(super) turn: Estimate,
    pub(super) offset: Estimate,
    pub(super) offset_given: bool,
    /// Head tube's top and bottom and the crown, in this order.
    pub(super) on_axis: [Option<PartInputs>; 3],
    pub(super) bottom_bracket: Option<PartInputs>,
    pub(super) stanchions: Vec<PartInputs>,
    pub(super) seat_tube: Option<PartInputs>,
    pub(super) straight: Vec<Vec<Pixel>>,
}

impl SceneInputs {
    /// From validated marks.
    pub(super) fn new(marks: &Marks) -> Self {
        let image = marks.image;
        let mirrored = faces_left(marks);
        let width = f64::from(image.width);
        let noise = marks.noise_px.unwrap_or(Marks::NOISE_PX);
        let place = |[x, y]: Pixel| if mirrored { [width - x, y] } else { [x, y] };
        let places = |list: &[Pixel]| list.iter().copied().map(place).collect::<Vec<_>>();
        let point = |mark: Option<Mark>, usual: Estimate| {
            mark.map(|mark| PartInputs {
                marks: vec![place(mark.at)],
                noise,
                beside: mark.beside_mm.unwrap_or(usual),
            })
        };
        let line = |line: &Line, usual: Estimate| PartInputs {
            marks: places(&line.points),
            noise: line.noise_px.unwrap_or(noise),
            beside: line.beside_mm.unwrap_or(usual),
        };
        let wheel = |wheel: &Wheel, what: Quantity| WheelInputs {
            marks: places(&wheel.tyre),
            noise: wheel.noise_px.unwrap_or(noise),
            radius: wheel.diameter_mm.unwrap_or_else(|| expected(what)) * 0.5,
            width: wheel.width_mm.unwrap_or(TYRE_WIDTH),
            given: wheel.diameter_mm.is_some(),
        };
        let half = half_diagonal(image);
        let [x, y] = marks.lens.axis.map_or([width / 2.0, f64::from(image.height) / 2.0], |axis| axis.at);
        let axis_u = marks.lens.axis.map_or(Lens::AXIS_U * half, |axis| axis.u_px);
        let [x, y] = place([x, y]);
        let log_focal = match marks.lens.focal_length_35mm {
            Some(Estimate { value, u }) => Estimate::new(focal_px(image, value).ln(), u / value),
            None => Estimate::new(focal_px(image, FOCAL.0).ln(), FOCAL.1),
        };
        let turn = marks.front_wheel_turn_deg.unwrap_or(TURN);
        Self {
            image,
            mirrored,
            noise,
            log_focal,
            focal_given: marks.lens.focal_length_35mm.is_some(),
            axis: [Estimate::new(x, axis_u), Estimate::new(y, axis_u)],
            distortion: marks.lens.distortion.unwrap_or(Estimate::new(0.0, Lens::DISTORTION_U)),
            front: wheel(&marks.front, Quantity::FrontTyreDiameter),
            rear: wheel(&marks.rear, Quantity::RearTyreDiameter),
            turn: Estimate::new(turn.value.to_radians(), turn.u.to_radians()),
            offset: marks.fork_offset_mm.unwrap_or_else(|| expected(Quantity::ForkOffset)),
            offset_given: marks.fork_offset_mm.is_some(),
            on_axis: [
                point(marks.head_tube_top, IN_PLANE),
                point(marks.head_tube_bottom, IN_PLANE),
                point(marks.crown, IN_PLANE),
            ],
            bottom_bracket: point(marks.bottom_bracket, CRANK),
            stanchions: marks.stanchions.iter().map(|part| line(part, LEG)).collect(),
            seat_tube: marks.seat_tube.as_ref().map(|part| line(part, IN_PLANE)),
            straight: marks.straight.iter().map(|points| places(points)).collect(),
        }
    }

    /// Whether anything on or parallel to the steering axis is marked.
    pub(super) fn has_axis(&self) -> bool {
        self.on_axis.iter().any(Option::is_some) || !self.stanchions.is_empty()
    }

    /// A position in the coordinates of the original picture.
    pub(super) fn as_given(&self, [x, y]: Pixel) -> Pixel {
        if self.mirrored { [f64::from(self.image.width) - x, y] } else { [x, y] }
    }
}

/// The prior for all bikes.
fn expected(what: Quantity) -> Estimate {
    match quantity_info(what).expected {
        Some([value, u]) => Estimate::new(value, u),
        None => Estimate::between(quantity_info(what).plausible[0], quantity_info(what).plausible[1]),
    }
}

pub(super) fn middle(points: &[Pixel]) -> Pixel {
    let n = points.len().max(1) as f64;
    let (x, y) = points.iter().fold((0.0, 0.0), |(sx, sy), [x, y]| (sx + x, sy + y));
    [x / n, y / n]
}

/// Whether the bike heads left once the picture is upright. It is decided by a mark above the line between the axles:
/// however the picture is rotated, on a bike that heads right such a mark is on the left of the direction from rear to
/// front axle.
fn faces_left(marks: &Marks) -> bool {
    let (rear, front) = (middle(&marks.rear.tyre), middle(&marks.front.tyre));
    let line = |line: &Line| middle(&line.points);
    let above = marks
        .head_tube_top
        .or(marks.head_tube_bottom)
        .or(marks.crown)
        .map(|mark| mark.at)
        .or_else(|| marks.stanchions.first().map(line))
        .or_else(|| marks.seat_tube.as_ref().map(line));
    let ([rx, ry], [fx, fy]) = (rear, front);
    match above {
        // `y` points down, so a negative cross product is a turn to the left as seen.
        Some([x, y]) => (fx - rx) * (y - ry) - (fy - ry) * (x - rx) > 0.0,
        None => fx < rx,
    }
}
