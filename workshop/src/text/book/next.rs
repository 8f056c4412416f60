//! What to measure next, and how to write it down.

use crate::book::{Plan, Task};
use crate::text::page::{Page, STRONG};
use steerwright_core::quantity::{Quantity, Unit};

/// Tasks that are explained; the others are named.
const EXPLAINED: usize = 4;

fn unit(task: &Task) -> &'static str {
    Quantity::from_name(&task.what).map_or(Unit::Mm.name(), |what| what.base_unit().name())
}

/// The call that writes an answer down.
fn call(bike: &str, task: &Task) -> String {
    let bike = bike.replace('"', "\\\"");
    match task.with {
        Some(tool) => {
            format!("steerwright book measure \"{bike}\" {} VALUE {} --with {tool}", task.what, unit(task))
        }
        None => format!("steerwright book see \"{bike}\" {} {}", task.what, task.answers.join("|")),
    }
}

fn explained(page: &mut Page, label: &str, task: &Task) {
    let fallback = format!("{}, about {:.0} min", task.label, task.minutes);
    page.item(label, 6, task.text.as_ref().unwrap_or(&fallback), STRONG);
    page.paragraph(6, &task.place);
    page.paragraph(6, &format!("Note: {}", task.trap));
}

/// What to measure next on a bike, where nobody is there to be asked.
pub(crate) fn next(bike: &str, plan: &Plan) -> String {
    let mut page = Page::new();
    if !plan.tasks.is_empty() {
        let kit = plan.kit.as_ref().map(|kit| format!(" for {kit}")).unwrap_or_default();
        page.heading(&format!("{bike}: measure next{kit}, quickest wins first"));
    }
    for (index, task) in plan.tasks.iter().take(EXPLAINED).enumerate() {
        explained(&mut page, &format!("{}.", index + 1), task);
        page.paragraph(6, &format!("Write it down: {}", call(bike, task)));
    }
    let later: Vec<_> = plan.tasks.iter().skip(EXPLAINED).map(|task| task.what.as_str()).collect();
    if !later.is_empty() {
        page.item("then", 8, &format!("{}.", later.join(", ")), STRONG);
    }
    if let Some(remark) = &plan.remark {
        page.blank();
        page.paragraph(0, remark);
    }
    page.finish()
}

/// One thing to measure, before it is asked for.
pub(crate) fn task(task: &Task) -> String {
    let mut page = Page::new();
    page.blank();
    explained(&mut page, "?", task);
    page.finish()
}

/// The question itself.
pub(crate) fn prompt(task: &Task) -> String {
    let how = match task.with {
        Some(tool) => format!(
            "in {}, by {}; another unit and tool may follow",
            unit(task),
            tool.name().replace('_', " ")
        ),
        None => task.answers.join(", "),
    };
    format!("{} ({how}; Enter skips, q ends): ", task.label)
}
