//! Text output of the demo.

use super::book::order;
use super::page::{Page, left, right};
use super::report::{head_angle, nearest_miss, reason, report, wanted};
use crate::demo::WANTED_DEG;
use std::path::Path;
use steerwright_core::input::count;
use steerwright_core::judgement::{TargetChange, Verdict, Work};
use steerwright_core::orders::OrderScreen;
use steerwright_core::quantity::{Quantity, quantity_info};
use steerwright_core::report::Report;

/// A table of all bikes, then one bike in full, then an order request in the outbox.
pub(crate) fn demo(reports: &[Report], asked: Option<&OrderScreen>, files: Option<&Path>) -> String {
    let mut page = Page::new();
    page.heading(&format!("The Larch Hollow demo crew wants its twelve hire bikes {WANTED_DEG}° slacker"));
    page.paragraph(
        0,
        "Everything here is invented. Each bike was measured, more or less accurately, and is checked against the \
         catalogue of Tarn & Tiller Components.",
    );
    page.blank();
    table(&mut page, reports);
    let mut text = page.finish();
    // Shows the first bike that needs a measurement, because its report has most content.
    let telling = reports
        .iter()
        .find(|report| report.kits.first().is_some_and(|kit| kit.verdict == Verdict::MeasureFirst))
        .or(reports.first());
    if let Some(telling) = telling {
        text.push_str("\nOne of them in full:\n\n");
        text.push_str(&report(telling, false));
    }
    if let Some(asked) = asked {
        let name = &asked.request.bike.name;
        let mut page = Page::new();
        page.paragraph(
            0,
            &format!("The kit for {name} is asked for; the request waits in the crew's outbox:"),
        );
        text.push_str(&format!("\n{}\n", page.finish()));
        let kits = reports.iter().filter(|report| report.bike == *name).flat_map(|report| &report.kits);
        let tightest = kits.filter(|kit| kit.sku == asked.order.sku).find_map(|kit| kit.holds.first());
        text.push_str(&order(1, asked, Some(name), tightest, (None, None), None));
    }
    let mut page = Page::new();
    page.heading("Your own bike");
    let folder = files.map_or("demo-files".to_owned(), |files| files.display().to_string());
    if files.is_none() {
        page.paragraph(2, &format!("steerwright demo --files {folder}"));
    }
    page.paragraph(2, &format!("Edit {folder}/hire-bike-03.json, then:"));
    page.paragraph(
        2,
        &format!("steerwright check {folder}/hire-bike-03.json --catalogue {folder}/catalogue.json"),
    );
    page.paragraph(2, "Or begin with nothing but the bike:");
    page.paragraph(2, "steerwright book new \"My bike\"");
    page.paragraph(2, "steerwright book measure \"My bike\"   (asks for what to measure next)");
    page.paragraph(2, "steerwright book order --help   (to ask a shop for a kit)");
    text.push_str(&format!("\n{}", page.finish()));
    text
}

/// Bikes with their best kits, one line each.
pub(crate) fn fleet(reports: &[Report]) -> String {
    let mut page = Page::new();
    match reports {
        [] => page.paragraph(
            0,
            "The book has no bikes outside the archive; `steerwright book new NAME` begins one.",
        ),
        [first, ..] => {
            let catalogue = &first.catalogue;
            let (maker, number, issued) = (&catalogue.maker, catalogue.number, &catalogue.issued);
            let bikes = count(reports.len(), "bike");
            let wanted = match first.wanted {
                // Which way it is differs from bike to bike.
                Some(TargetChange::HeadAngle(angle)) => format!("a head angle of {angle}°"),
                _ => wanted(first),
            };
            page.paragraph(
                0,
                &format!("{bikes}; {maker}, catalogue {number} of {issued}. Wanted: {wanted}."),
            );
            page.blank();
            table(&mut page, reports);
        }
    }
    page.finish()
}

fn table(page: &mut Page, reports: &[Report]) {
    let rows: Vec<_> = reports.iter().map(row).collect();
    let angle = if wants_an_angle(reports) { "head angle" } else { "change" };
    page.table(&[left("bike"), left("best kit"), left("verdict"), right(angle), left("then")], &rows);
}

/// Whether an angle is wanted and not a change of it.
fn wants_an_angle(reports: &[Report]) -> bool {
    reports.iter().any(|report| matches!(report.wanted, Some(TargetChange::HeadAngle(_))))
}

fn row(report: &Report) -> Vec<String> {
    if let Some(nearest) = nearest_miss(report) {
        let why = reason(nearest);
        let told = [&report.bike, "none", nearest.verdict.words(), "", &format!("{}: {why}", nearest.sku)];
        return told.map(str::to_owned).to_vec();
    }
    let Some(best) = report.kits.first() else { return vec![report.bike.clone()] };
    let change = best.change.head_angle.as_ref().map(|it| format!("{:+.2}°", it.after - it.before));
    let angle = match report.wanted {
        Some(TargetChange::HeadAngle(_)) => head_angle(best),
        _ => change.unwrap_or_default(),
    };
    let then = match best.verdict {
        Verdict::MeasureFirst => match report.measure_next.first() {
            Some(next) => match Quantity::from_name(&next.what) {
                Some(what) => format!("measure {}", quantity_info(what).label),
                None => format!("look at {}", next.what.replace('_', " ")),
            },
            None => String::new(),
        },
        Verdict::GoesInAfterWork => best.work.iter().map(job).collect::<Vec<_>>().join(", "),
        Verdict::GoesIn if !best.also_order.is_empty() => format!("order {}", best.also_order.join(", ")),
        Verdict::GoesIn | Verdict::WillNotGo => String::new(),
    };
    vec![report.bike.clone(), best.sku.clone(), best.verdict.words().to_owned(), angle, then]
}

/// An item of work in two or three words.
fn job(work: &Work) -> String {
    let name = |text: String| text.trim_matches('"').replace('_', " ");
    let place = name(serde_json::to_string(&work.place).unwrap_or_default());
    let task = name(serde_json::to_string(&work.task).unwrap_or_default());
    match (work.from_mm, work.to_mm) {
        (Some(from), Some(to)) => format!("{task} {place} {from:.1} to {to:.1}"),
        _ => format!("{task} {place}"),
    }
}
