//! Reading, checking and writing marks.

use super::{Mark, Marks, Pixel};
use steerwright_input::{FileErrors, Limits, Path, Problems, check_schema, number, parse, pretty, read};
use steerwright_metrology::quantity::Estimate;

impl Marks {
    /// The largest accepted file, in bytes.
    pub const MOST_BYTES: usize = 1 << 20;

    const LIMITS: Limits = Limits { bytes: Self::MOST_BYTES, values: 20_000 };

    /// Reads marks (`steerwright.marks/1`, JSON in UTF-8); `file` is the name used in messages.
    ///
    /// # Errors
    /// Every problem at once: unknown, missing and repeated fields, numbers outside their domain, marks far outside the
    /// picture. A text that is not JSON, or exceeds the limits, gives that one problem.
    pub fn from_json(bytes: &[u8], file: &str) -> Result<Self, FileErrors> {
        let tree = parse(bytes, file, Self::LIMITS)?;
        let problems = Problems::new(file, expects);
        check_schema(&tree, "steerwright.marks/1", &problems);
        if problems.is_empty()
            && let Some(marks) = read::<Self>(&tree, &Path::Root, &problems)
        {
            if problems.is_empty() {
                marks.check_into(&problems);
            }
            if problems.is_empty() {
                return Ok(marks);
            }
        }
        Err(problems.into_errors())
    }

    /// Validates marks that were made in memory as [`Marks::from_json`] validates a file.
    ///
    /// # Errors
    /// Every number outside its domain, at once.
    pub fn check(&self, called: &str) -> Result<(), FileErrors> {
        let problems = Problems::new(called, expects);
        self.check_into(&problems);
        if problems.is_empty() { Ok(()) } else { Err(problems.into_errors()) }
    }

    /// The file's text: indented, fields in a fixed order, a line break at the end. Reading it gives equal marks.
    pub fn to_json(&self) -> String {
        pretty(self)
    }

    fn check_into(&self, problems: &Problems<'_>) {
        let root = Path::Root;
        let image = Path::Field(&root, "image");
        for (name, size) in [("width", self.image.width), ("height", self.image.height)] {
            range(&Path::Field(&image, name), f64::from(size), 64.0, 100_000.0, problems);
        }
        if !problems.is_empty() {
            return;
        }
        if self.pixels().count() > Self::MOST {
            let found = format!("{} marks", self.pixels().count());
            problems.value(&root, found, format!("at most {}", Self::MOST), None);
            return;
        }
        self.check_known(problems);
        self.check_places(problems);
    }

    fn check_known(&self, problems: &Problems<'_>) {
        let root = Path::Root;
        noise(&root, self.noise_px, problems);
        let lens = Path::Field(&root, "lens");
        let focal = Path::Field(&lens, "focal_length_35mm");
        estimate(&focal, self.lens.focal_length_35mm, (8.0, 1_000.0), problems);
        estimate(&Path::Field(&lens, "distortion"), self.lens.distortion, (-0.5, 0.5), problems);
        if let Some(axis) = self.lens.axis {
            let path = Path::Field(&lens, "axis");
            self.place(&Path::Field(&path, "at"), axis.at, problems);
            range(&Path::Field(&path, "u_px"), axis.u_px, 0.0, 100_000.0, problems);
        }
        for (name, wheel) in [("front", &self.front), ("rear", &self.rear)] {
            let path = Path::Field(&root, name);
            estimate(&Path::Field(&path, "diameter_mm"), wheel.diameter_mm, (260.0, 800.0), problems);
            estimate(&Path::Field(&path, "width_mm"), wheel.width_mm, (18.0, 130.0), problems);
        }
        let turn = Path::Field(&root, "front_wheel_turn_deg");
        estimate(&turn, self.front_wheel_turn_deg, (-5.0, 5.0), problems);
        estimate(&Path::Field(&root, "fork_offset_mm"), self.fork_offset_mm, (-100.0, 100.0), problems);
    }

    fn check_places(&self, problems: &Problems<'_>) {
        let root = Path::Root;
        for (name, wheel) in [("front", &self.front), ("rear", &self.rear)] {
            let path = Path::Field(&root, name);
            let fewest = if wheel.rough { Self::FEWEST_TAPS } else { Self::FEWEST_ON_TYRE };
            // So few marks are usually taps that were not flagged as rough.
            let taps = !wheel.rough && wheel.tyre.len() >= Self::FEWEST_TAPS;
            let or = if taps { RATHER_ROUGH } else { "" };
            self.places(&Path::Field(&path, "tyre"), &wheel.tyre, (fewest, or), problems);
            noise(&path, wheel.noise_px, problems);
        }
        for (name, mark) in self.named() {
            if let Some(mark) = mark {
                let path = Path::Field(&root, name);
                self.place(&Path::Field(&path, "at"), mark.at, problems);
                estimate(&Path::Field(&path, "beside_mm"), mark.beside_mm, (-200.0, 200.0), problems);
            }
        }
        let stanchions = Path::Field(&root, "stanchions");
        let lines = self.stanchions.iter().enumerate().map(|(i, line)| (Path::Place(&stanchions, i), line));
        for (path, line) in
            lines.chain(self.seat_tube.iter().map(|line| (Path::Field(&root, "seat_tube"), line)))
        {
            self.places(&Path::Field(&path, "points"), &line.points, (2, ""), problems);
            noise(&path, line.noise_px, problems);
            estimate(&Path::Field(&path, "beside_mm"), line.beside_mm, (-200.0, 200.0), problems);
        }
        let straight = Path::Field(&root, "straight");
        for (i, points) in self.straight.iter().enumerate() {
            self.places(&Path::Place(&straight, i), points, (3, ""), problems);
        }
    }

    /// The marked points with their names in the file.
    pub(in crate::measure) fn named(&self) -> [(&'static str, Option<Mark>); 4] {
        [
            ("head_tube_top", self.head_tube_top),
            ("head_tube_bottom", self.head_tube_bottom),
            ("crown", self.crown),
            ("bottom_bracket", self.bottom_bracket),
        ]
    }

    fn places(
        &self,
        path: &Path<'_>,
        points: &[Pixel],
        (fewest, or): (usize, &str),
        problems: &Problems<'_>,
    ) {
        if points.len() < fewest {
            let found = format!("{} long", points.len());
            problems.value(path, found, format!("at least {fewest} marks{or}"), None);
        }
        for (i, point) in points.iter().enumerate() {
            self.place(&Path::Place(path, i), *point, problems);
        }
    }

    /// A mark may be slightly outside the picture, up to about half a wheel, but not further.
    fn place(&self, path: &Path<'_>, [x, y]: Pixel, problems: &Problems<'_>) {
        let (width, height) = (f64::from(self.image.width), f64::from(self.image.height));
        for (i, (value, size)) in [(x, width), (y, height)].into_iter().enumerate() {
            range(&Path::Place(path, i), value, -size, 2.0 * size, problems);
        }
    }
}

fn range(path: &Path<'_>, value: f64, low: f64, high: f64, problems: &Problems<'_>) {
    if !(low..=high).contains(&value) {
        problems.value(path, number(value), format!("{} to {}", number(low), number(high)), None);
    }
}

fn noise(path: &Path<'_>, noise: Option<f64>, problems: &Problems<'_>) {
    if let Some(noise) = noise {
        range(&Path::Field(path, "noise_px"), noise, 0.01, 100.0, problems);
    }
}

fn estimate(path: &Path<'_>, estimate: Option<Estimate>, (low, high): (f64, f64), problems: &Problems<'_>) {
    if let Some(Estimate { value, u }) = estimate {
        range(&Path::Field(path, "value"), value, low, high, problems);
        range(&Path::Field(path, "u"), u, 0.0, high - low, problems);
    }
}

/// Alternative meaning of a short list of marks on a tyre.
const RATHER_ROUGH: &str =
    ", or \"rough\": true beside them if they are rough taps to be placed on the picture's edges";

/// Expected values of each field, in words.
fn expects(field: &str) -> Option<String> {
    let words = match field {
        "schema" => "\"steerwright.marks/1\"",
        "image" => "the picture's width and height",
        "width" | "height" => "a whole number of pixels",
        "lens" => "what is known of the lens",
        "axis" => "a place and its u_px",
        "noise_px" | "u_px" => "a number of pixels",
        "shows_drive_side" | "rough" => "true or false",
        "front" | "rear" => "a wheel: marks on its tyre, its diameter and width",
        "tyre" => "a list of at least six places [x, y] on the tyre's outer edge",
        "points" => "a list of places [x, y]",
        "straight" => "a list of lines, each a list of at least three places [x, y]",
        "stanchions" => "a list of lines",
        "seat_tube" => "a line: its points",
        "head_tube_top" | "head_tube_bottom" | "crown" | "bottom_bracket" => "a mark: its place `at`",
        "at" => "a place [x, y] in pixels",
        "diameter_mm" | "width_mm" | "beside_mm" | "fork_offset_mm" | "focal_length_35mm" => {
            "a value and its standard uncertainty u, mm"
        }
        "front_wheel_turn_deg" => "a value and its standard uncertainty u, degrees",
        "distortion" => "a value and its standard uncertainty u",
        "value" | "u" => "a number",
        _ => return None,
    };
    Some(words.to_owned())
}

impl Marks {
    /// The format's JSON Schema (2020-12). It covers fields, types and enumerations; [`Marks::from_json`] checks the
    /// domains of numbers.
    pub fn json_schema() -> schemars::Schema {
        schemars::schema_for!(Self)
    }
}
