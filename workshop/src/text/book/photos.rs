//! Text output for photos.

use super::value::when;
use crate::text::page::{Page, left, right};
use steerwright_core::book::ShownPhoto;

/// The photos of a bike, or those without a bike.
pub(crate) fn photos(of: &str, photos: &[ShownPhoto]) -> String {
    let mut page = Page::new();
    page.heading(&format!("Photos of {of}"));
    if photos.is_empty() {
        page.paragraph(0, "There are none yet; `steerwright book photo add BIKE FILE` adds one.");
    } else {
        photo_rows(&mut page, photos);
    }
    page.finish()
}

pub(super) fn photo_rows(page: &mut Page, photos: &[ShownPhoto]) {
    let rows: Vec<_> = (1..)
        .zip(photos)
        .map(|(number, photo): (usize, _)| {
            let row = &photo.row;
            let mut remarks = Vec::new();
            if photo.working_file.is_none() {
                remarks.push("THE FILE IS MISSING".to_owned());
            }
            if !row.original_kept {
                remarks.push("original not kept".to_owned());
            }
            if let Some(marks) = row.marks.last() {
                remarks.push(format!("measured {}", when(marks.set_at)));
            }
            remarks.extend(Some(row.note.replace('\n', " ")).filter(|note| !note.is_empty()));
            vec![
                number.to_string(),
                row.taken_at.clone().unwrap_or_else(|| "not known".to_owned()),
                format!("{} x {}", row.width, row.height),
                row.kind.clone(),
                remarks.join("; "),
            ]
        })
        .collect();
    let columns = [right("photo"), left("taken"), right("pixels"), left("kind"), left("remarks")];
    page.table(&columns, &rows);
}
