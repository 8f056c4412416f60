//! Text output of the level report.

use super::page::{Page, QUIET, STRONG, left, right};
use steerwright_core::level::{Bearing, Level};
use steerwright_core::quantity::Estimate;
use steerwright_core::report::{LevelReport, degrees};

pub(crate) fn level(report: &LevelReport) -> String {
    let mut page = Page::new();
    let what = report.level.what.name().replace('_', " ");
    match (&report.before, report.change) {
        (Some(before), Some(change)) => {
            page.heading(&format!("The {what} changed by {}", signed(change)));
            let ends = format!("from {} to {}", degrees(before.angle), degrees(report.level.angle));
            let sharing = match report.correlation {
                Some(r) if r > 0.005 => {
                    "; the phone's own errors are in both and largely cancel in the change".to_owned()
                }
                _ => String::new(),
            };
            page.paragraph(2, &format!("{ends}{sharing}."));
            if let Some(comparison) = &report.comparison {
                page.blank();
                page.paragraph(2, &comparison.text);
            }
            session(&mut page, "Before", before);
            session(&mut page, "After", &report.level);
        }
        _ => {
            page.heading(&format!("The {what} is {}", degrees(report.level.angle)));
            session(&mut page, "Readings", &report.level);
        }
    }
    let row = &report.measurement;
    page.heading("For the bike file");
    let half_width = row.plus_minus.unwrap_or_default();
    page.paragraph(
        2,
        &format!("{} {} {}, plus_minus {half_width}, with {}", row.what, row.value, row.unit, row.with),
    );
    page.blank();
    page.paragraph(2, "± is the expanded uncertainty (k = 2).");
    page.finish()
}

fn session(page: &mut Page, title: &str, level: &Level) {
    page.heading(title);
    let rows: Vec<_> = level
        .readings
        .iter()
        .map(|reading| {
            vec![
                reading.reading.to_string(),
                stood(reading.bearing).to_owned(),
                format!("{:.2}°", reading.elevation),
                reading.samples.to_string(),
                format!("{:+.1}", reading.normalised),
            ]
        })
        .collect();
    let columns = [right("reading"), left("bike stood"), right("edge"), right("samples"), right("misfit")];
    page.table(&columns, &rows);
    page.item("floor", 9, &format!("slopes by {}", signed(level.slope)), QUIET);
    for (bearing, lean) in Bearing::ALL.into_iter().zip(level.lean) {
        if let Some(lean) = lean {
            let way = stood(bearing);
            page.item("lean", 9, &format!("{} to the right, standing {way}", signed(lean)), QUIET);
        }
    }
    for doubt in &level.doubts {
        page.item("!", 4, &doubt.to_string(), STRONG);
    }
}

fn stood(bearing: Bearing) -> &'static str {
    match bearing {
        Bearing::OneWay => "one way",
        Bearing::OtherWay => "the other way",
    }
}

fn signed(angle: Estimate) -> String {
    format!("{:+.2} ± {:.2}°", angle.value, angle.expanded())
}
