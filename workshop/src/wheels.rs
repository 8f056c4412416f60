//! `steerwright wheels`.

use crate::args::{Heads, Wheels};
use crate::fault::Fault;
use crate::{input, output, text};
use serde::Serialize;
use steerwright_core::photo::{BuiltIn, Limits, upright};
use steerwright_core::photogrammetry::edges::Grey;
use steerwright_core::photogrammetry::guess::{Guess, guess_wheels};
use steerwright_core::photogrammetry::measure::{Ellipse, Image, Lens, Pixel};

#[derive(Serialize)]
struct Told {
    picture: Image,
    guesses: Vec<TwoWheels>,
}

#[derive(Serialize)]
struct TwoWheels {
    number: usize,
    sure: f64,
    /// Left wheel first.
    wheels: [Outline; 2],
}

/// Outer edge of a tyre as an ellipse, pixels and degrees.
#[derive(Serialize)]
struct Outline {
    centre: Pixel,
    major: f64,
    minor: f64,
    turn_deg: f64,
}

impl From<Ellipse> for Outline {
    fn from(it: Ellipse) -> Self {
        Self { centre: it.centre, major: it.major, minor: it.minor, turn_deg: it.turn_deg }
    }
}

pub(crate) fn run(call: &Wheels) -> Result<(), Fault> {
    let limits = Limits::default();
    let (name, bytes) = input::bytes(&call.picture, limits.bytes)?;
    let (pixels, facts) =
        upright(&bytes, &limits, &BuiltIn).map_err(|error| Fault::Input(format!("{name}: {error}.")))?;
    // Converted to pixels of the original file, which the user's marks refer to, not of the smaller working copy.
    let by = f64::from(facts.width) / f64::from(pixels.width);
    let found = Grey::of(&pixels).map(|grey| guess_wheels(&grey)).unwrap_or_default();
    let guesses: Vec<Guess> = found.iter().map(|guess| guess.enlarged(by)).collect();
    let picture = Image { width: facts.width, height: facts.height };
    if let (Some(path), Some(heads)) = (&call.marks, call.heads) {
        let number = usize::from(call.guess);
        let guess =
            guesses.get(number - 1).ok_or_else(|| Fault::Input(too_few(&name, guesses.len(), number)))?;
        let lens = facts.focal_length_35mm.map(Lens::of_exif).unwrap_or_default();
        let marks = guess.rough_marks(picture, lens, heads == Heads::Left);
        output::write_file(path, marks.to_json().as_bytes())?;
        output::remark(&format!(
            "three rough taps on each tyre are written to {}: look where they lie, then add the head tube or a fork leg",
            path.display()
        ));
    }
    if call.json {
        let guesses = guesses.iter().enumerate().map(|(index, guess)| TwoWheels {
            number: index + 1,
            sure: guess.sure,
            wheels: guess.wheels.map(Outline::from),
        });
        output::print_json(&Told { picture, guesses: guesses.collect() })
    } else {
        output::print(&text::wheels(picture, &guesses))
    }
}

fn too_few(name: &str, count: usize, number: usize) -> String {
    match count {
        0 => format!("{name}: no two wheels were found to begin marks with; tap them by hand."),
        1 => format!("{name}: there is one guess, not {number}."),
        _ => format!("{name}: there are {count} guesses, not {number}."),
    }
}
