//! The head tube cut in the steering plane, with a kit in it.

mod input;
mod parts;
mod profile;
mod words;

pub use input::{
    Deepening, LeastClearance, Relief, ReliefSide, SectionEnd, SectionInput, SectionSeat, SectionSteerer,
};

use super::sheet::{LABEL_WIDTH_MM, Measured, Sheet, words as fixed};
use super::world::{View, World};
use super::{Anchor, BoundingBox, Drawing, DrawingError, Fill, Point, Role};
use profile::{end_shape, steerer, steerer_radius};
use steerwright_mechanics::clearance::Side;
use steerwright_mechanics::headset::End;
use steerwright_metrology::quantity::Quantity;

/// Length of steerer shown above the upper part, and of crown below the seat, mm.
const ABOVE_MM: f64 = 24.0;
const BELOW_MM: f64 = 12.0;
/// Height of the text above and of the enlarged detail with its caption below, mm on the sheet.
const HEAD_MM: f64 = 8.0;
const DETAIL_MM: f64 = 42.0;
const DETAIL_CAPTION_MM: f64 = 6.0;
/// Gap between two views, mm on the sheet.
const GAP_MM: f64 = 4.0;
/// Scale of the detail relative to the world, where it fits.
const DETAIL_SCALE: f64 = 4.0;
/// A tilt less than this is not visible, degrees.
const SEEN_DEG: f64 = 0.05;

/// Derived positions of the section.
struct Shown<'a> {
    input: &'a SectionInput,
    /// Radians, positive when slacker.
    tilt: f64,
    /// Heights of crown race seat and upper end of the visible part, along the head tube.
    bottom_z: f64,
    top_z: f64,
    /// The steerer's outline, see [`steerer`].
    outline: Vec<(f64, f64, bool)>,
}

impl<'a> Shown<'a> {
    fn new(input: &'a SectionInput) -> Self {
        let tilt = input.tilt_deg().to_radians();
        let bottom_z = -input.lower.stack_mm;
        let top_z = input.head_tube_length_mm + input.upper.stack_mm + ABOVE_MM;
        let outline = steerer(&input.steerer, (top_z - bottom_z) / libm::cos(tilt));
        Self { input, tilt, bottom_z, top_z, outline }
    }

    /// The new axis at a height: mm forward of the head tube's axis.
    fn axis_x(&self, z: f64) -> f64 {
        let SectionInput { head_tube_length_mm, upper, lower, .. } = self.input;
        let between = head_tube_length_mm + upper.plane_mm + lower.plane_mm;
        lower.offset_mm + (z + lower.plane_mm) * (upper.offset_mm - lower.offset_mm) / between
    }

    /// A point by its height above the crown race seat along the new axis, and its distance forward of that axis.
    fn on_axis(&self, along: f64, forward: f64) -> (f64, f64) {
        let (sin, cos) = libm::sincos(self.tilt);
        (
            self.axis_x(self.bottom_z) - along * sin + forward * cos,
            self.bottom_z + along * cos + forward * sin,
        )
    }

    /// The steerer's surface on one side at a height: mm forward of the head tube's axis.
    fn surface_x(&self, z: f64, sign: f64) -> f64 {
        let along = (z - self.bottom_z) / libm::cos(self.tilt);
        let radius = steerer_radius(&self.outline, along.max(0.0));
        self.axis_x(z) + sign * radius / libm::cos(self.tilt)
    }
}

/// The head tube cut in the steering plane, front to the right: seats, throats and walls, the kit's parts, the tilted
/// steerer, both axes, the least clearance and the material to remove. The tilt is drawn to scale; the position of
/// least clearance or of work is repeated enlarged. Anything not measured is dashed.
///
/// # Errors
/// A number that is not finite, is outside its field's range, or contradicts another.
pub fn head_tube_section(input: &SectionInput) -> Result<Drawing, DrawingError> {
    input.check()?;
    let shown = Shown::new(input);
    let mut world = World::default();
    parts::draw(&shown, &mut world);

    let widest = End::BOTH.map(|end| end_shape(input, end).outside_radius).into_iter().fold(20.0, f64::max);
    let tall = shown.top_z - shown.bottom_z + BELOW_MM;
    let room_for_labels = 2.0 * (LABEL_WIDTH_MM + 2.0);
    let scale = ((super::SHEET_WIDTH_MM - room_for_labels) / (2.0 * widest)).min(140.0 / tall);
    let main_mm = HEAD_MM + tall * scale;
    let detail = detail_at(&shown);
    let height = main_mm + GAP_MM + detail.map_or(0.0, |_| DETAIL_CAPTION_MM + DETAIL_MM + GAP_MM) + 4.0;
    let mut sheet = Sheet::new(&input.title, &words::description(&shown), height);
    let view = View { origin: Point::new(50.0, HEAD_MM + shown.top_z * scale), scale };
    world.draw(&mut sheet, view);
    axes(&shown, &mut sheet, view);
    directions(&mut sheet);
    dimensions(&shown, &mut sheet, view);
    if let Some(place) = detail {
        draw_detail(&shown, &world, &mut sheet, view, place, main_mm + GAP_MM);
    }
    words::notes(&shown, &mut sheet, view);
    Ok(sheet.finish())
}

fn axes(shown: &Shown, sheet: &mut Sheet, view: View) {
    let ends = [shown.top_z - 1.0, shown.bottom_z - BELOW_MM + 1.0];
    let [old_top, old_bottom] = ends.map(|z| view.at(0.0, z));
    let [new_top, new_bottom] = ends.map(|z| view.at(shown.axis_x(z), z));
    sheet.layer("old axis");
    sheet.line(Role::Axis, old_top, old_bottom);
    sheet.layer("new axis");
    sheet.line(Role::After, new_top, new_bottom);
}

/// "rear" and "front" with arrows, at the top.
fn directions(sheet: &mut Sheet) {
    sheet.layer("directions");
    for (side, anchor, word_x, from, to) in
        [(Side::Rear, Anchor::Start, 9.0, 8.0, 2.0), (Side::Front, Anchor::End, 91.0, 92.0, 98.0)]
    {
        let (from, to) = (Point::new(from, 4.0), Point::new(to, 4.0));
        sheet.fine_line(Role::Note, from, to);
        let back = (from - to).unit() * 1.8;
        let half = back.left() * 0.3;
        sheet.surface(Role::Note, Fill::Solid, vec![to, to + back + half, to + back - half]);
        sheet.text(fixed(Role::Note, Point::new(word_x, 5.1), anchor, side.name()));
    }
}

fn dimensions(shown: &Shown, sheet: &mut Sheet, view: View) {
    let input = shown.input;
    sheet.layer("dimensions");
    let length = input.head_tube_length_mm;
    let [upper, lower] = End::BOTH.map(|end| -end_shape(input, end).outside_radius);
    let line_x = upper.min(lower) - 5.0 / view.scale;
    sheet.length_along(
        Role::Dimension,
        (view.at(lower, 0.0), view.at(upper, length)),
        (view.at(line_x, 0.0), view.at(line_x, length)),
        1.0,
        &words::mm("head tube", length),
        Some(Measured { value: length, scale: view.scale }),
    );
    sheet.opening(Quantity::HeadTubeLength.name());
    let tilt = input.tilt_deg();
    if tilt.abs() < SEEN_DEG {
        return;
    }
    // The arc is drawn at the end farther from the crossing of the axes, so that it is as wide as possible.
    let crossing = shown.axis_x(0.0) / libm::tan(shown.tilt);
    let ends = [(shown.top_z - 5.0, 90.0), (shown.bottom_z - BELOW_MM + 3.0, 270.0)];
    let far = |(z, _): &(f64, f64)| (z - crossing).abs();
    if let Some((z, start)) = ends.into_iter().max_by(|one, two| far(one).total_cmp(&far(two))) {
        let radius = (z - crossing).abs() * view.scale;
        let centre = view.at(0.0, crossing);
        let label =
            format!("tilt\u{a0}{:.2}° {}", tilt.abs(), if tilt > 0.0 { "slacker" } else { "steeper" });
        sheet.angle(Role::After, centre, radius, (start, tilt), &label, Some(tilt.abs()));
    }
}

/// Centre of the enlarged detail: the position of least clearance, else of the first work.
fn detail_at(shown: &Shown) -> Option<(f64, f64)> {
    if let Some(LeastClearance { z_mm, side, clearance_mm, .. }) = shown.input.least_clearance {
        return Some((shown.surface_x(z_mm, side.sign()) + side.sign() * clearance_mm / 2.0, z_mm));
    }
    if let Some(deepening) = shown.input.deepening.first() {
        let middle = f64::midpoint(deepening.from_mm, deepening.to_mm);
        let z = match deepening.end {
            End::Upper => shown.input.head_tube_length_mm - middle,
            End::Lower => middle,
        };
        return Some((end_shape(shown.input, deepening.end).bore_radius, z));
    }
    let relief = shown.input.relief.first()?;
    let throat = end_shape(shown.input, relief.end).throat?;
    let middle = f64::midpoint(throat.near, throat.far);
    let z = match relief.end {
        End::Upper => shown.input.head_tube_length_mm - middle,
        End::Lower => middle,
    };
    let sign = if relief.side == ReliefSide::Rear { -1.0 } else { 1.0 };
    Some((sign * throat.radius, z))
}

fn draw_detail(shown: &Shown, world: &World, sheet: &mut Sheet, main: View, place: (f64, f64), top: f64) {
    let window = BoundingBox {
        min: Point::new(30.0, top + DETAIL_CAPTION_MM),
        max: Point::new(70.0, top + DETAIL_CAPTION_MM + DETAIL_MM),
    };
    let view = View::centred(DETAIL_SCALE, place, window.centre());
    world.draw_in(sheet, view, window, "detail");
    sheet.layer("detail frame");
    let corners = |extent: BoundingBox| {
        let BoundingBox { min, max } = extent;
        vec![min, Point::new(max.x, min.y), max, Point::new(min.x, max.y)]
    };
    sheet.polygon(Role::Note, Fill::None, corners(window));
    // The same window in the main view.
    let half = (window.max - window.min) * (0.5 * main.scale / DETAIL_SCALE);
    let (x, z) = place;
    let centre = main.at(x, z);
    sheet.polygon(Role::Note, Fill::None, corners(BoundingBox { min: centre - half, max: centre + half }));
    let caption = format!("the marked place, enlarged {:.0} times", DETAIL_SCALE / main.scale);
    sheet.text(fixed(Role::Note, Point::new(50.0, top + DETAIL_CAPTION_MM - 1.6), Anchor::Middle, &caption));
    if let Some(clearance) = shown.input.least_clearance {
        let from = view.at(shown.surface_x(clearance.z_mm, clearance.side.sign()), clearance.z_mm);
        let to = from + Point::new(clearance.side.sign() * clearance.clearance_mm * view.scale, 0.0);
        let aside = Point::new(0.0, -7.0);
        let label = words::least_clearance(&clearance);
        sheet.layer("least room");
        sheet.length_along(
            Role::Clearance,
            (from, to),
            (from + aside, to + aside),
            1.0,
            &label,
            Some(Measured { value: clearance.clearance_mm.abs(), scale: view.scale }),
        );
    }
    words::relief_notes(shown, sheet, view, window);
    words::deepening_notes(shown, sheet, view, window);
}
