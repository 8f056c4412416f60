//! Text output of the photo report.

use super::handling::handling;
use super::page::{Page, QUIET, STRONG, left, right};
use steerwright_core::quantity::{Dimension, quantity_info};
use steerwright_core::report::{PhotoReport, PhotoValue};

pub(crate) fn photo(report: &PhotoReport) -> String {
    let mut page = Page::new();
    page.heading("What the photo shows");
    let rows: Vec<_> = report.values.iter().map(|it| row(it, false)).collect();
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
            &format!("{:.0}, where about {} is usual", fit.chi_square, fit.degrees_of_freedom),
            QUIET,
        );
    }
    if !report.snaps.is_empty() {
        page.heading("Where the marks were placed");
        for snap in &report.snaps {
            page.item(&snap.what, 17, &snap.text, QUIET);
        }
    }
    for doubt in &report.doubts {
        page.item("!", 4, &doubt.text, STRONG);
    }
    if let Some(change) = &report.change {
        page.heading("What has changed since the photo before");
        let rows: Vec<_> = change.values.iter().map(|it| row(it, true)).collect();
        page.table(&[left("quantity"), right("change"), right("")], &rows);
        let shared = if change.same_camera {
            "Errors in what was stated of the bike and the camera are the same in both photos and cancel."
        } else {
            "Errors in what was stated of the bike are the same in both photos and cancel."
        };
        page.paragraph(2, shared);
        if let Some(it) = &change.expected {
            let (_, words) = it.sentence();
            page.paragraph(2, &words);
        }
    }
    let mut text = page.finish();
    if let Some(report) = &report.handling {
        text.push('\n');
        text.push_str(&handling(report));
    }
    text
}

fn row(it: &PhotoValue, signed: bool) -> Vec<String> {
    let half_width = 2.0 * it.u;
    let (value, half_width) = match (it.what.dimension(), signed) {
        (Dimension::Angle, false) => (format!("{:.2}°", it.value), format!("± {half_width:.2}°")),
        (Dimension::Angle, true) => (format!("{:+.2}°", it.value), format!("± {half_width:.2}°")),
        (Dimension::Length, false) => (format!("{:.1} mm", it.value), format!("± {half_width:.1} mm")),
        (Dimension::Length, true) => (format!("{:+.1} mm", it.value), format!("± {half_width:.1} mm")),
    };
    vec![quantity_info(it.what).label.clone(), value, half_width]
}
