//! Text output for the proposed wheel positions.

use super::page::{Page, QUIET, right};
use steerwright_core::photogrammetry::guess::Guess;
use steerwright_core::photogrammetry::measure::{Ellipse, Image};

pub(crate) fn wheels(picture: Image, guesses: &[Guess]) -> String {
    let mut page = Page::new();
    page.heading("Where the wheels may be");
    if guesses.is_empty() {
        page.paragraph(
            2,
            "No two wheels were found. Tap them by hand, or take the photo from further to the side.",
        );
        return page.finish();
    }
    let place = |it: &Ellipse| format!("{:.0}, {:.0}", it.centre[0], it.centre[1]);
    let rows: Vec<Vec<String>> = guesses
        .iter()
        .enumerate()
        .map(|(index, guess)| {
            let [left, right] = &guess.wheels;
            vec![
                format!("{}", index + 1),
                place(left),
                format!("{:.0}", left.major),
                place(right),
                format!("{:.0}", right.major),
                format!("{:.0} %", 100.0 * guess.sure),
            ]
        })
        .collect();
    let columns = ["guess", "left at", "radius", "right at", "radius", "certainty"].map(right);
    page.table(&columns, &rows);
    let size = format!(
        "Pixels of the picture upright, {} by {}. This is only a guess: check it before you use it.",
        picture.width, picture.height
    );
    page.item("note", 9, &size, QUIET);
    page.finish()
}
