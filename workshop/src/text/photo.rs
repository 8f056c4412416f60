//! The report of a photo.

use super::handling::handling;
use super::page::{Page, QUIET, STRONG, left, right};
use steerwright_core::quantity::{Dimension, Estimate, about};
use steerwright_core::report::PhotoReport;

pub(crate) fn photo(report: &PhotoReport) -> String {
    let mut page = Page::new();
    page.heading("What the photo tells");
    let rows: Vec<_> = report
        .values
        .iter()
        .map(|it| {
            let estimate = Estimate::new(it.value, it.u);
            let (value, half_width) = match it.what.dimension() {
                Dimension::Angle => {
                    (format!("{:.2}°", estimate.value), format!("± {:.2}°", estimate.expanded()))
                }
                Dimension::Length => {
                    (format!("{:.1} mm", estimate.value), format!("± {:.1} mm", estimate.expanded()))
                }
            };
            vec![about(it.what).label.clone(), value, half_width]
        })
        .collect();
    page.table(&[left("quantity"), right("value"), right("")], &rows);
    page.paragraph(2, "± is the expanded uncertainty (k = 2).");
    if let Some(fit) = &report.fit {
        page.heading("How it was seen");
        page.item(
            "camera",
            9,
            &format!(
                "{:.1} m from the bike, {:.0} degrees past square",
                fit.distance_mm / 1000.0,
                fit.oblique_deg
            ),
            QUIET,
        );
        page.item(
            "misfit",
            9,
            &format!("{:.0} (chi-square) where {} is to be expected", fit.chi_square, fit.degrees_of_freedom),
            QUIET,
        );
    }
    if !report.snaps.is_empty() {
        page.heading("Where the taps came to lie");
        for snap in &report.snaps {
            page.item(&snap.what, 17, &snap.says, QUIET);
        }
    }
    for doubt in &report.doubts {
        page.item("!", 4, &doubt.says, STRONG);
    }
    let mut text = page.finish();
    if let Some(report) = &report.handling {
        text.push('\n');
        text.push_str(&handling(report));
    }
    text
}
