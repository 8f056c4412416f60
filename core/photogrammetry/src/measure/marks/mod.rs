//! Marks set on a photo, `steerwright.marks/1`: positions of parts in the picture and what is known beforehand.
//!
//! Pixels are counted from the outer corner of the upper left pixel, `x` to the right and `y` down, so that the centre
//! of that pixel is `[0.5, 0.5]` and the centre of the picture `[width / 2, height / 2]`. A known number is an
//! estimate, `{"value": 742, "u": 3}`, with its standard uncertainty.

mod read;

use serde::{Deserialize, Serialize};
use steerwright_metrology::quantity::Estimate;

/// The format's name and version.
#[derive(Debug, Clone, Copy, PartialEq, Eq, Default, Serialize, Deserialize, schemars::JsonSchema)]
pub enum MarksSchema {
    /// The first version.
    #[default]
    #[serde(rename = "steerwright.marks/1")]
    V1,
}

/// A position in the picture, pixels.
pub type Pixel = [f64; 2];

/// Marks on one side-on photo of one bike.
#[derive(Debug, Clone, PartialEq, Serialize, Deserialize, schemars::JsonSchema)]
#[serde(deny_unknown_fields)]
pub struct Marks {
    /// The format's name and version.
    pub schema: MarksSchema,
    /// The picture.
    pub image: Image,
    /// What is known of the lens.
    #[serde(default, skip_serializing_if = "Lens::is_empty")]
    pub lens: Lens,
    /// Standard deviation of a mark along each axis, pixels; absent: [`Marks::NOISE_PX`].
    #[serde(default, skip_serializing_if = "Option::is_none")]
    pub noise_px: Option<f64>,
    /// Whether the side with the chainrings is seen (the bike's right); absent: unknown.
    #[serde(default, skip_serializing_if = "Option::is_none")]
    pub shows_drive_side: Option<bool>,
    /// The front wheel.
    pub front: Wheel,
    /// The rear wheel.
    pub rear: Wheel,
    /// How far the front wheel is turned about the steering axis, degrees; absent: 0 with u 1.
    #[serde(default, skip_serializing_if = "Option::is_none")]
    pub front_wheel_turn_deg: Option<Estimate>,
    /// From steering axis forward to the front axle, normal to the axis, mm.
    #[serde(default, skip_serializing_if = "Option::is_none")]
    pub fork_offset_mm: Option<Estimate>,
    /// The middle of the head tube's upper face, on the steering axis.
    #[serde(default, skip_serializing_if = "Option::is_none")]
    pub head_tube_top: Option<Mark>,
    /// The middle of the head tube's lower face, on the steering axis.
    #[serde(default, skip_serializing_if = "Option::is_none")]
    pub head_tube_bottom: Option<Mark>,
    /// The crown race seat, where the fork's crown meets the lower bearing, on the steering axis.
    #[serde(default, skip_serializing_if = "Option::is_none")]
    pub crown: Option<Mark>,
    /// The bottom bracket's axis, usually the middle of the crank's end; absent `beside_mm`: 75 mm.
    #[serde(default, skip_serializing_if = "Option::is_none")]
    pub bottom_bracket: Option<Mark>,
    /// Lines of the fork that run parallel to the steering axis: a stanchion's middle or either of its edges.
    #[serde(default, skip_serializing_if = "Vec::is_empty")]
    pub stanchions: Vec<Line>,
    /// The seat tube's middle or either of its edges.
    #[serde(default, skip_serializing_if = "Option::is_none")]
    pub seat_tube: Option<Line>,
    /// Objects that are straight in the world, wherever they are: each at least three marks. They determine the lens's
    /// distortion.
    #[serde(default, skip_serializing_if = "Vec::is_empty")]
    pub straight: Vec<Vec<Pixel>>,
}

/// The picture's size, upright.
#[derive(Debug, Clone, Copy, PartialEq, Eq, Serialize, Deserialize, schemars::JsonSchema)]
#[serde(deny_unknown_fields)]
pub struct Image {
    /// Width, pixels.
    pub width: u32,
    /// Height, pixels.
    pub height: u32,
}

/// What is known of the lens; everything may be absent.
#[derive(Debug, Clone, Copy, Default, PartialEq, Serialize, Deserialize, schemars::JsonSchema)]
#[serde(deny_unknown_fields)]
pub struct Lens {
    /// 35 mm equivalent focal length: the one that gives the same view on film with a diagonal of 43.267 mm, mm.
    /// Absent: determined from the two wheels.
    #[serde(default, skip_serializing_if = "Option::is_none")]
    pub focal_length_35mm: Option<Estimate>,
    /// Principal point: where the lens's axis meets the picture, pixels. Absent: the centre, with a u of
    /// [`Lens::AXIS_U`] half diagonals along each axis.
    #[serde(default, skip_serializing_if = "Option::is_none")]
    pub axis: Option<Axis>,
    /// Radial distortion `k`: a ray that an ideal lens would put at `p` from the axis appears at
    /// `p (1 + k |p|^2)`, `p` in half diagonals of the picture; a barrel is negative. Absent: 0 with a u of
    /// [`Lens::DISTORTION_U`].
    #[serde(default, skip_serializing_if = "Option::is_none")]
    pub distortion: Option<Estimate>,
}

/// Where the lens's axis meets the picture.
#[derive(Debug, Clone, Copy, PartialEq, Serialize, Deserialize, schemars::JsonSchema)]
#[serde(deny_unknown_fields)]
pub struct Axis {
    /// Position.
    pub at: Pixel,
    /// Its standard uncertainty along each axis, pixels.
    pub u_px: f64,
}

/// One wheel.
#[derive(Debug, Clone, PartialEq, Serialize, Deserialize, schemars::JsonSchema)]
#[serde(deny_unknown_fields)]
pub struct Wheel {
    /// Marks on the tyre's outer edge, at least six, spread all round; three are sufficient for rough taps.
    pub tyre: Vec<Pixel>,
    /// Whether the marks are rough taps, to be placed on the picture's edges before they count.
    #[serde(default, skip_serializing_if = "is_false")]
    pub rough: bool,
    /// Standard deviation of these marks normal to the edge, pixels; absent: that of all marks.
    #[serde(default, skip_serializing_if = "Option::is_none")]
    pub noise_px: Option<f64>,
    /// The tyre's outer diameter, mm.
    #[serde(default, skip_serializing_if = "Option::is_none")]
    pub diameter_mm: Option<Estimate>,
    /// The tyre's width, mm; absent: 58 with a u of 5.
    #[serde(default, skip_serializing_if = "Option::is_none")]
    pub width_mm: Option<Estimate>,
}

/// A marked point of the bike.
#[derive(Debug, Clone, Copy, PartialEq, Serialize, Deserialize, schemars::JsonSchema)]
#[serde(deny_unknown_fields)]
pub struct Mark {
    /// Its position.
    pub at: Pixel,
    /// Distance of the marked part from the wheels' plane towards the camera, mm.
    #[serde(default, skip_serializing_if = "Option::is_none")]
    pub beside_mm: Option<Estimate>,
}

/// Marks along a straight part of the bike that runs parallel to the wheels' plane.
#[derive(Debug, Clone, PartialEq, Serialize, Deserialize, schemars::JsonSchema)]
#[serde(deny_unknown_fields)]
pub struct Line {
    /// The marks, at least two, as far apart as can be.
    pub points: Vec<Pixel>,
    /// Whether the marks are a rough line along the part's middle, to be placed between both its edges in the picture
    /// before they count.
    #[serde(default, skip_serializing_if = "is_false")]
    pub rough: bool,
    /// Standard deviation of these marks normal to the line, pixels; absent: that of all marks.
    #[serde(default, skip_serializing_if = "Option::is_none")]
    pub noise_px: Option<f64>,
    /// Distance of the part from the wheels' plane towards the camera, mm. Absent: a stanchion 65 with a u of 5 (the
    /// nearer leg), a seat tube 0 with a u of 3.
    #[serde(default, skip_serializing_if = "Option::is_none")]
    pub beside_mm: Option<Estimate>,
}

#[expect(clippy::trivially_copy_pass_by_ref, reason = "serde hands over a reference")]
fn is_false(it: &bool) -> bool {
    !it
}

impl Marks {
    /// Default standard deviation of a mark set by hand along each axis, pixels: common practice, no source.
    pub const NOISE_PX: f64 = 2.0;
    /// The most marks one picture may have.
    pub const MOST: usize = 1_000;
    /// The fewest marks on a tyre: five fix an ellipse, the sixth checks it.
    pub const FEWEST_ON_TYRE: usize = 6;
    /// The fewest rough taps on a tyre: three fix a circle.
    pub const FEWEST_TAPS: usize = 3;

    /// True if some marks are rough taps.
    pub fn is_rough(&self) -> bool {
        self.front.rough
            || self.rear.rough
            || self.stanchions.iter().chain(&self.seat_tube).any(|line| line.rough)
    }

    /// The same marks with every rough flag cleared.
    pub fn as_they_are(mut self) -> Self {
        for wheel in [&mut self.front, &mut self.rear] {
            wheel.rough = false;
        }
        for line in self.stanchions.iter_mut().chain(&mut self.seat_tube) {
            line.rough = false;
        }
        self
    }

    /// Every mark of the picture.
    pub fn pixels(&self) -> impl Iterator<Item = Pixel> {
        let points = [self.head_tube_top, self.head_tube_bottom, self.crown, self.bottom_bracket];
        let lines = self.stanchions.iter().chain(&self.seat_tube).flat_map(|line| line.points.iter());
        [&self.front, &self.rear]
            .into_iter()
            .flat_map(|wheel| wheel.tyre.iter())
            .chain(lines)
            .chain(self.straight.iter().flatten())
            .copied()
            .chain(points.into_iter().flatten().map(|mark| mark.at))
    }
}

impl Lens {
    /// Default standard uncertainty of the principal point along each axis, half diagonals of the picture. Common
    /// practice, no source: a picture that was not cropped has its axis near the centre.
    pub const AXIS_U: f64 = 0.01;
    /// Default standard uncertainty of the distortion, in the unit of [`Lens::distortion`]. Common practice, no source:
    /// telephones correct most of it themselves, simple wide lenses have up to 0.1. Marks all round two tyres, or
    /// straight objects, determine it far better, so a narrower default would gain little.
    pub const DISTORTION_U: f64 = 0.05;

    /// Standard uncertainty of a 35 mm equivalent focal length in Exif, a whole number of mm from a maker's data sheet:
    /// relative, and the minimum, mm. Common practice, no source.
    const EXIF_U: (f64, f64) = (0.015, 0.3);

    /// The lens as known from a photo's own file: its 35 mm equivalent focal length, mm. A value outside 8 to 1000 is
    /// ignored.
    pub fn of_exif(focal_length_35mm: f64) -> Self {
        let (share, least) = Self::EXIF_U;
        let believed = (8.0..=1_000.0).contains(&focal_length_35mm);
        let focal = Estimate::new(focal_length_35mm, (share * focal_length_35mm).max(least));
        Self { focal_length_35mm: believed.then_some(focal), ..Self::default() }
    }

    /// True if nothing is known.
    pub fn is_empty(&self) -> bool {
        *self == Self::default()
    }
}
