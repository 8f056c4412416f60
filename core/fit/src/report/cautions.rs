//! Cautions before work starts (`core/fit/data/cautions.json`).

use super::KitReport;
use crate::bike::Material;
use crate::judgement::{BikeKnowledge, Direction, Verdict};
use serde::Deserialize;
use std::sync::LazyLock;
use steerwright_metrology::voice::Voice;

/// When a caution is shown.
#[derive(Debug, Clone, Copy, PartialEq, Eq, Deserialize)]
#[serde(rename_all = "snake_case")]
enum When {
    Always,
    Cutting,
    Pressing,
    CarbonFrame,
    CarbonSteerer,
    Hoses,
    SteeringStop,
    DualCrown,
    Steepening,
}

#[derive(Debug, Deserialize)]
#[serde(deny_unknown_fields)]
struct Caution {
    id: String,
    when: When,
    #[serde(skip)]
    text: String,
    #[cfg_attr(not(test), expect(dead_code, reason = "for whoever reads the table"))]
    source: String,
}

fn table() -> &'static [Caution] {
    static TABLE: LazyLock<Vec<Caution>> = LazyLock::new(|| {
        let mut rows: Vec<Caution> =
            steerwright_input::embedded::table(include_str!("../../data/cautions.json"));
        for row in &mut rows {
            row.text = Voice::english().named("beware", &row.id);
        }
        rows
    });
    &TABLE
}

/// The id of the caution with this text; the id stays when the text changes. `None` for a text that is not in the table.
pub fn caution_id(text: &str) -> Option<&'static str> {
    table().iter().find(|caution| caution.text == text).map(|caution| caution.id.as_str())
}

/// The cautions for this bike and the kits that may go in.
pub(super) fn for_report(
    voice: Voice<'_>,
    known: &BikeKnowledge,
    direction: Direction,
    kits: &[KitReport],
) -> Vec<String> {
    let open = || kits.iter().filter(|kit| kit.verdict != Verdict::WillNotGo);
    let observed = &known.observed;
    let applies = |when| match when {
        When::Always => true,
        When::Cutting => open().any(|kit| kit.work.iter().any(|work| work.task.cuts())),
        When::Pressing => open().any(KitReport::is_pressed),
        When::CarbonFrame => observed.frame_material == Some(Material::Carbon),
        When::CarbonSteerer => observed.steerer_material == Some(Material::Carbon),
        When::Hoses => observed.hoses_through_headset == Some(true),
        When::SteeringStop => observed.steering_stop == Some(true),
        When::DualCrown => observed.dual_crown == Some(true),
        When::Steepening => direction == Direction::Steeper,
    };
    table()
        .iter()
        .filter(|caution| applies(caution.when))
        .map(|caution| voice.named("beware", &caution.id))
        .collect()
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn every_caution_speaks_and_names_its_source() {
        assert!(table().iter().any(|caution| caution.when == When::Always));
        let ids: std::collections::BTreeSet<&str> = table().iter().map(|it| it.id.as_str()).collect();
        assert_eq!(ids.len(), table().len());
        for caution in table() {
            assert_eq!(caution_id(&caution.text), Some(caution.id.as_str()), "a text stands there once");
            assert!(caution.text.ends_with('.') && !caution.source.is_empty(), "{caution:?}");
        }
    }
}
