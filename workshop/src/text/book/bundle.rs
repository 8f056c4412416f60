//! What was taken from a bundle, or would be.

use steerwright_core::book::{BundleChange, BundleChangeKind, BundleMerged};
use steerwright_core::input::count;

/// Most changes of one kind that are listed.
const MOST_LISTED: usize = 10;

/// What is new, and who it is from.
fn new(merged: &BundleMerged) -> String {
    let mut text = format!(
        "{} new, {} known already; {} new, {} known already; {} and {} new.",
        count(merged.bikes_added, "bike"),
        merged.bikes_known,
        count(merged.measurements_added, "measurement"),
        merged.measurements_known,
        count(merged.checks_added, "check"),
        count(merged.photos_added, "photo")
    );
    if !merged.people.is_empty() {
        let names: Vec<&str> = merged.people.iter().take(MOST_LISTED).map(String::as_str).collect();
        let more = if merged.people.len() > names.len() { " and others" } else { "" };
        text.push_str(&format!(" New rows are from {}{more}.", names.join(", ")));
    }
    text
}

fn line(change: &BundleChange) -> String {
    let told: Vec<String> =
        change.who.clone().into_iter().chain(change.at.map(|at| at.to_string())).collect();
    let told = if told.is_empty() { String::new() } else { format!(" ({})", told.join(", ")) };
    format!("- {}{told}", change.text)
}

/// One kind of changes as a list.
fn changes(merged: &BundleMerged, kind: BundleChangeKind, preview: bool) -> Option<String> {
    let all: Vec<&BundleChange> = merged.changes.iter().filter(|change| change.kind == kind).collect();
    let taken = all.first()?.taken;
    let (what, option) = match kind {
        BundleChangeKind::Removal => ("struck out, removed or put away there", "--accept-removals"),
        BundleChangeKind::Replacement => ("different there", "--accept-changes"),
    };
    let mut text = match (taken, preview) {
        (true, false) => format!("Taken over, {what}:"),
        (true, true) => format!("Would be taken over, {what}:"),
        (false, false) => format!("Not taken, {what} ({option} takes it):"),
        (false, true) => format!("Would not be taken, {what} ({option} takes it):"),
    };
    for change in all.iter().take(MOST_LISTED) {
        text.push_str(&format!("\n{}", line(change)));
    }
    if all.len() > MOST_LISTED {
        text.push_str(&format!("\n- and {} more", all.len() - MOST_LISTED));
    }
    Some(text)
}

/// What merging did, or would do, in paragraphs.
pub(crate) fn merged(merged: &BundleMerged, preview: bool) -> String {
    let mut parts = vec![new(merged)];
    for kind in [BundleChangeKind::Removal, BundleChangeKind::Replacement] {
        parts.extend(changes(merged, kind, preview));
    }
    if merged.more_changes > 0 {
        parts.push(format!("There are {} more such differences.", merged.more_changes));
    }
    match merged.future_times {
        0 => {}
        1 => parts.push("One time was in the future; it counts as now.".to_owned()),
        times => parts.push(format!("{times} times were in the future; they count as now.")),
    }
    parts.join("\n")
}
