//! Text output of the handling report.

use super::page::{Page, QUIET, STRONG, left, right};
use steerwright_core::geometry::Figure;
use steerwright_core::quantity::{Estimate, Unit};
use steerwright_core::report::{FigureReport, Handling};

pub(crate) fn handling(report: &Handling) -> String {
    let mut page = Page::new();
    let sag = if report.sagged { ", rider on" } else { "" };
    page.heading(&format!("How {} steers{sag}", report.bike));
    if let (Some(tilt), Some(pitch)) = (report.tilt_deg, report.pitch_deg) {
        let turned =
            format!("the frame turns by {} on its wheels (positive: the front rises)", signed(pitch, "°"));
        if tilt.value.abs() > 1e-9 {
            page.paragraph(
                0,
                &format!(
                    "The steering axis tilts by {} in the frame (slacker positive), and {turned}; the head angle on the \
                     ground changes by both together.",
                    signed(tilt, "°")
                ),
            );
        } else if pitch.value.abs() > 1e-9 {
            page.paragraph(0, &format!("With this change {turned}, and every angle with it."));
        }
    }
    if let Some(target) = report.target {
        let unit = if target.figure.unit() == Unit::Deg { "°" } else { " mm" };
        page.paragraph(
            0,
            &format!(
                "A tilt of {:+.2}° gives a {} of {}{unit}.",
                target.tilt_deg,
                target.figure.name().replace('_', " "),
                target.wanted
            ),
        );
    }
    let still = report.change.values().all(|it| it.value.abs() < 1e-9 && it.u < 1e-9);
    // A change may be known even if the figure is not. Without any change, its row is omitted.
    let rows: Vec<Vec<String>> = Figure::ALL
        .into_iter()
        .filter(|figure| report.before.contains_key(figure) || (!still && report.change.contains_key(figure)))
        .map(|figure| {
            let cell = |figures: &std::collections::BTreeMap<Figure, FigureReport>| {
                figures.get(&figure).map(plain).unwrap_or_default()
            };
            let change = report.change.get(&figure).map(|it| {
                let unit = if it.unit == Unit::Deg { "°" } else { " mm" };
                signed(Estimate::new(it.value, it.u), unit)
            });
            vec![
                figure.name().replace('_', " "),
                cell(&report.before),
                cell(&report.after),
                change.unwrap_or_default(),
            ]
        })
        .collect();
    page.blank();
    if rows.is_empty() {
        page.paragraph(2, "Nothing can be computed from these readings yet.");
    } else {
        if still {
            let rows: Vec<_> = rows.into_iter().map(|row| row.into_iter().take(2).collect()).collect();
            page.table(&[left("figure"), right("as it stands")], &rows);
        } else {
            page.table(&[left("figure"), right("before"), right("after"), right("change")], &rows);
        }
        page.paragraph(2, "± is the expanded uncertainty (k = 2).");
    }
    if !report.assumed.is_empty() {
        let names: Vec<_> = report.assumed.iter().map(|what| what.name()).collect();
        page.paragraph(
            2,
            &format!(
                "Not measured, so that figures with this change use what bikes usually have: {}. Measure them for closer \
                 figures.",
                names.join(", ")
            ),
        );
    }
    if !report.missing.is_empty() {
        page.heading("Not known yet");
        for missing in &report.missing {
            let needs: Vec<_> = missing.needs.iter().map(|what| what.name()).collect();
            page.item(
                &missing.result.name().replace('_', " "),
                26,
                &format!("needs {}", needs.join(", ")),
                QUIET,
            );
        }
    }
    if !report.readings.is_empty() {
        page.heading("About the readings");
        for text in &report.readings {
            page.item("!", 4, &text.text, STRONG);
        }
    }
    if !report.notes.is_empty() {
        page.heading("Notes");
        for text in &report.notes {
            page.item("-", 4, &text.text, QUIET);
        }
    }
    page.finish()
}

fn plain(figure: &FigureReport) -> String {
    let digits = usize::from(figure.u < 5.0) + usize::from(figure.u < 0.05);
    let unit = if figure.unit == Unit::Deg { "°" } else { " mm" };
    format!("{:.digits$} ± {:.digits$}{unit}", figure.value, 2.0 * figure.u)
}

fn signed(change: Estimate, unit: &str) -> String {
    let half_width = change.expanded();
    let digits = if half_width < 0.5 { 2 } else { 1 };
    // Unchanged, or changed by less than the displayed precision.
    if half_width < 0.005 && change.value.abs() < 0.005 {
        return format!("0{unit}");
    }
    if half_width < 0.005 {
        return format!("{:+.digits$}{unit}", change.value);
    }
    format!("{:+.digits$} ± {:.digits$}{unit}", change.value, half_width)
}
