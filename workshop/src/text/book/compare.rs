//! Text output for the comparison before and after installation.

use super::value::{angle, digits, estimate, when};
use crate::book::Compared;
use crate::text::page::{Page, left, right};
use steerwright_core::quantity::{Dimension, Estimate, Quantity, quantity_info};

/// What each kit that was in the bike did, against what was predicted.
pub(crate) fn compare(name: &str, kits: &[Compared]) -> String {
    let mut page = Page::new();
    page.heading(name);
    if kits.is_empty() {
        page.paragraph(
            0,
            "No kit was in this bike yet. `steerwright book keep BIKE --kit SKU` keeps a check, and \
                          `book fitted BIKE` notes that its kit went in.",
        );
    }
    for kit in kits {
        let sku = kit.kit.as_deref().unwrap_or("a kit");
        let until = match kit.removed_at {
            Some(at) => format!("from {} to {}", when(kit.fitted_at), when(at)),
            None => format!("since {}", when(kit.fitted_at)),
        };
        page.heading(&format!("{sku}, in {until} (check {})", kit.number));
        match (&kit.comparison, kit.predicted) {
            (Some(comparison), _) => page.paragraph(2, &comparison.text),
            (None, Some(foreseen)) => page.paragraph(
                2,
                &format!(
                    "Head angle predicted: {}. It was not measured with the kit in yet.",
                    angle(foreseen)
                ),
            ),
            (None, None) => {
                page.paragraph(2, "No head angle was predicted: the bike's own was not measured before.")
            }
        }
        if kit.measured.is_empty() {
            continue;
        }
        page.blank();
        let rows: Vec<_> = kit
            .measured
            .iter()
            .map(|both| {
                let value = |it: Option<Estimate>| it.map_or("-".to_owned(), |it| estimate(both.what, it));
                let change = both.change.map_or("-".to_owned(), |change| signed(both.what, change));
                vec![
                    quantity_info(both.what).label.clone(),
                    value(both.before),
                    value(Some(both.after)),
                    change,
                ]
            })
            .collect();
        page.table(&[left("quantity"), right("before"), right("with the kit"), right("change")], &rows);
        page.paragraph(2, "± is the expanded uncertainty (k = 2).");
    }
    page.finish()
}

fn signed(what: Quantity, change: Estimate) -> String {
    let half_width = change.expanded();
    let digits = digits(half_width);
    let sign = if what.dimension() == Dimension::Angle { "°" } else { " mm" };
    format!("{:+.digits$} ± {half_width:.digits$}{sign}", change.value)
}
