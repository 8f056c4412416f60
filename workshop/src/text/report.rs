//! Text output of the check report.

use super::page::{Page, QUIET, STRONG, left, right};
use steerwright_core::judgement::{Direction, Requirement, State, TargetChange, Verdict};
use steerwright_core::quantity::Quantity;
use steerwright_core::report::{Holds, KitReport, Report, RequirementReport, SeatChance, Turn, percent};

/// Number of kits shown in full by default.
const IN_FULL: usize = 2;

/// Number of recommended measurements explained in full; the others are only named.
const EXPLAINED: usize = 4;

/// Wording that depends on where readings are entered: the introduction of a name, and the closing advice.
struct Way {
    name: &'static str,
    closing: &'static str,
}

const FILE: Way =
    Way { name: "In the bike's file it is", closing: "Add each reading to the bike's file and check again." };
const BOOK: Way = Way {
    name: "In the book it is",
    closing: "Write each reading down with `steerwright book measure`, what you saw with `steerwright book see`, and \
              check again.",
};

/// The report in full: what fits, what to do, what to measure, safety notes.
pub(crate) fn report(report: &Report, everything: bool) -> String {
    full(report, everything, &FILE)
}

/// The same report for a bike of the field book.
pub(crate) fn report_of_book(report: &Report, everything: bool) -> String {
    full(report, everything, &BOOK)
}

fn full(report: &Report, everything: bool, way: &Way) -> String {
    let mut page = Page::new();
    let owner = report.owner.as_ref().map(|owner| format!(", {owner}")).unwrap_or_default();
    page.heading(&format!("{}{owner}", report.bike));
    let catalogue = &report.catalogue;
    page.paragraph(
        0,
        &format!(
            "{}, catalogue {} of {}. Wanted: {}.",
            catalogue.maker,
            catalogue.number,
            catalogue.issued,
            wanted(report)
        ),
    );
    // What is wrong with the readings puts everything after it in question.
    if !report.readings.is_empty() {
        page.heading("About the readings");
        for text in &report.readings {
            page.item("!", 4, &text.text, STRONG);
        }
    }
    if let Some(fitted) = &report.fitted {
        page.heading("In the bike");
        page.paragraph(2, &fitted.text);
    }
    page.heading("Seats");
    page.item("upper", 10, &chances(&report.seats.upper), QUIET);
    page.item("lower", 10, &chances(&report.seats.lower), QUIET);
    if let Some(code) = &report.seats.code {
        page.item("code", 10, code, QUIET);
    }
    kits(&mut page, report, everything);
    let nearest = nearest_miss(report).map(|kit| &kit.sku);
    let shown = report.kits.iter().enumerate().filter(|(index, kit)| {
        everything || nearest == Some(&kit.sku) || (*index < IN_FULL && kit.verdict != Verdict::WillNotGo)
    });
    for (index, kit) in shown {
        in_full(&mut page, kit, everything || index == 0 || nearest.is_some(), &report.catalogue.currency);
    }
    measure_next(&mut page, report, way);
    page.heading("Safety");
    for text in &report.cautions {
        page.item("-", 4, text, QUIET);
    }
    page.finish()
}

/// If no kit fits, the one that comes closest, to show what prevents it and by how much: most of its seats are the
/// frame's, which no work changes, and then the fewest requirements are not met.
pub(super) fn nearest_miss(report: &Report) -> Option<&KitReport> {
    let failures = |kit: &&KitReport| {
        let failed = kit.requirements.iter().filter(|line| line.state == State::NotMet);
        let is_seat = |line: &&RequirementReport| {
            matches!(line.requirement, Requirement::UpperSeat | Requirement::LowerSeat)
        };
        (failed.clone().filter(is_seat).count(), failed.count())
    };
    let none_open = report.kits.iter().all(|kit| kit.verdict == Verdict::WillNotGo);
    report.kits.iter().filter(|_| none_open).min_by_key(failures)
}

pub(super) fn wanted(report: &Report) -> String {
    let way = match report.direction {
        Direction::Slacker => "slacker",
        Direction::Steeper => "steeper",
    };
    match report.wanted {
        None => way.to_owned(),
        Some(TargetChange::Change(by)) => format!("{by}° {way} on the ground"),
        Some(TargetChange::HeadAngle(angle)) => format!("a head angle of {angle}° ({way})"),
    }
}

fn chances(chances: &[SeatChance]) -> String {
    let name = |chance: &SeatChance| match chance.size {
        Some(code) => code.to_string(),
        None => "no standard size".to_owned(),
    };
    let worth: Vec<_> = chances.iter().filter(|chance| chance.p >= 0.005).collect();
    let listed: Vec<_> =
        worth.iter().take(5).map(|chance| format!("{} {}", name(chance), percent(chance.p))).collect();
    let more = if worth.len() > listed.len() { ", others" } else { "" };
    format!("{}{more}", listed.join(", "))
}

fn kits(page: &mut Page, report: &Report, everything: bool) {
    let (open, closed): (Vec<_>, Vec<_>) =
        report.kits.iter().partition(|kit| kit.verdict != Verdict::WillNotGo);
    page.heading("Kits, best first");
    if let ([kit], true) = (closed.as_slice(), open.is_empty()) {
        page.paragraph(2, &format!("{} does not fit this bike.", kit.sku));
    } else if open.is_empty() {
        page.paragraph(2, "None of them fits this bike.");
    } else {
        let rows: Vec<_> = open.iter().map(|kit| row(kit, &report.catalogue.currency)).collect();
        page.table(
            &[
                left("kit"),
                left("verdict"),
                right("tilt here"),
                right("head angle"),
                left("installs"),
                right("price"),
            ],
            &rows,
        );
    }
    if closed.len() > 1 || !open.is_empty() {
        by_reason(page, "Does not fit", closed.iter().map(|kit| (reason(kit), kit.sku.as_str())));
        if !closed.is_empty() && !everything {
            page.paragraph(2, "`--kit CODE` shows one of them in full, `--all-kits` every kit.");
        }
    }
    let left_out = report.left_out.iter().map(|kit| (kit.text.as_str(), kit.sku.as_str()));
    by_reason(page, "Not looked at", left_out);
}

/// Why a kit does not fit, in a few words.
pub(super) fn reason(kit: &KitReport) -> &str {
    kit.text.trim_start_matches("Does not fit: ").trim_end_matches('.')
}

/// Order codes grouped by reason.
fn by_reason<'a>(page: &mut Page, title: &str, kits: impl Iterator<Item = (&'a str, &'a str)>) {
    let (mut count, mut reasons): (usize, Vec<(&str, Vec<&str>)>) = (0, Vec::new());
    for (why, kit) in kits {
        count += 1;
        match reasons.iter_mut().find(|(known, _)| *known == why) {
            Some((_, kits)) => kits.push(kit),
            None => reasons.push((why, vec![kit])),
        }
    }
    if count == 0 {
        return;
    }
    page.blank();
    page.paragraph(2, &format!("{title} ({count}), by reason:"));
    for (why, kits) in reasons {
        page.item("-", 4, &format!("{why}: {}", kits.join(", ")), QUIET);
    }
}

fn row(kit: &KitReport, currency: &str) -> Vec<String> {
    let tilt = kit.tilt_deg.real.map(|real| format!("{real:.2}°")).unwrap_or_default();
    let change = head_angle(kit);
    let ease = kit.ease.map(|ease| ease.name().to_owned()).unwrap_or_default();
    let price = format!("{} {currency}", kit.price);
    vec![kit.sku.clone(), kit.verdict.words().to_owned(), tilt, change, ease, price]
}

/// The head angle before and with the kit, or by how much it changes where it was not measured.
pub(super) fn head_angle(kit: &KitReport) -> String {
    let shown = kit.change.head_angle.as_ref().map(|it| match it.assumed.as_slice() {
        [] => format!("{:.1} → {:.1}°", it.before, it.after),
        assumed if assumed.contains(&Quantity::HeadAngle) => {
            format!("about {:+.1}°", it.after - it.before)
        }
        _ => format!("{:.1} → about {:.1}°", it.before, it.after),
    });
    shown.unwrap_or_default()
}

fn in_full(page: &mut Page, kit: &KitReport, requirements: bool, currency: &str) {
    page.heading(&format!("{}  {}", kit.sku, kit.name));
    page.paragraph(2, &kit.text);
    if kit.verdict != Verdict::WillNotGo {
        let (low, high) = (percent(kit.p_low), percent(kit.p_high));
        let sure = if low == high { low } else { format!("{low} to {high}") };
        let done = if kit.work.is_empty() { "" } else { ", the work done right" };
        page.paragraph(2, &format!("Chance that all its requirements are met{done}: {sure}."));
    }
    if requirements {
        for line in &kit.requirements {
            let (mark, style) = match line.state {
                State::Met => ("met", QUIET),
                State::MetAfterWork => ("work", STRONG),
                State::NotKnown => ("open", STRONG),
                State::NotMet => ("NO", STRONG),
            };
            page.item(mark, 9, &line.text, style);
        }
    } else {
        for line in kit.requirements.iter().filter(|line| line.state != State::Met) {
            page.item(if line.state == State::NotKnown { "open" } else { "work" }, 9, &line.text, STRONG);
        }
    }
    for work in &kit.work {
        page.item("do", 9, &work.text, STRONG);
    }
    if !kit.also_order.is_empty() {
        page.item("order", 9, &format!("Also order {}.", kit.also_order.join(" and ")), STRONG);
    }
    facts(page, kit, currency);
}

/// Effect and price of the kit.
fn facts(page: &mut Page, kit: &KitReport, currency: &str) {
    if let (Some(real), Some(off)) = (kit.tilt_deg.real, kit.tilt_deg.misalignment) {
        let place = kit.range_position.map(|place| format!("{:.0} %", 100.0 * place)).unwrap_or_default();
        page.item(
            "tilt",
            9,
            &format!(
                "Made for {:.2}°, gives {:.2}° in this head tube ({place} of the way through the kit's range); the \
                 bearings are misaligned by {:.2}°.",
                kit.tilt_deg.nominal.abs(),
                real.abs(),
                off.abs()
            ),
            QUIET,
        );
    }
    if let Some(angle) = &kit.change.head_angle {
        let change = angle.after - angle.before;
        let tilt = kit.tilt_deg.real.unwrap_or(kit.tilt_deg.nominal);
        // Different stack heights also raise or lower the front.
        let share = change.abs() / tilt.abs();
        let why = match change.abs() - tilt.abs() {
            // A kit that is in already makes the change another one than the tilt.
            _ if !(0.6..=1.4).contains(&share) => "",
            less if less < -0.05 => ": less than the tilt, since the frame settles on its wheels",
            more if more > 0.05 => ": more than the tilt, since the kit changes the front's height too",
            _ => "",
        };
        let by = format!("{change:+.2}° (± {:.2}°)", 2.0 * angle.u);
        let text = if angle.assumed.contains(&Quantity::HeadAngle) {
            format!("The head angle was not measured; it changes by about {by} on the ground{why}.")
        } else {
            format!(
                "The head angle goes from {:.1}° to {:.1}° on the ground, a change of {by}{why}.",
                angle.before, angle.after
            )
        };
        page.item("angle", 9, &text, QUIET);
    }
    for holds in kit.holds.iter().take(HOLDS) {
        page.item("holds", 9, &holds_line(holds), QUIET);
    }
    for note in &kit.notes {
        page.item("note", 9, &note.text, QUIET);
    }
    if let Some(mm) = kit.rim_mm_per_tenth_degree_lean {
        page.item(
            "marks",
            9,
            &format!(
                "Line both halves up with the frame's middle: being {mm:.1} mm off at the rim leans the steering axis 0.1° \
                 sideways."
            ),
            QUIET,
        );
    }
    let stock = match kit.stock {
        Some(0) => ", none in stock".to_owned(),
        Some(stock) => format!(", {stock} in stock"),
        None => String::new(),
    };
    page.item("price", 9, &format!("{} {currency}{stock}.", kit.price), QUIET);
}

/// How many stretches are shown; the rest is wider.
const HOLDS: usize = 4;

/// How far a verdict holds, in a sentence and drawn.
pub(super) fn holds_line(holds: &Holds) -> String {
    format!("{} {}", holds.text, number_line(holds))
}

/// The stretch in which the verdict holds, drawn: the present value between its two ends.
fn number_line(holds: &Holds) -> String {
    const WIDE: usize = 16;
    let end = |turn: Option<Turn>| turn.map(|turn| turn.at);
    match (end(holds.from), end(holds.to)) {
        (Some(from), Some(to)) => {
            let share = if to > from { (holds.value - from) / (to - from) } else { 0.5 };
            let left = (share.clamp(0.0, 1.0) * WIDE as f64).round() as usize;
            format!("|{}o{}|", "-".repeat(left), "-".repeat(WIDE - left))
        }
        (Some(_), None) => format!("|--o{}>", "-".repeat(WIDE - 2)),
        (None, _) => format!("<{}o--|", "-".repeat(WIDE - 2)),
    }
}

fn measure_next(page: &mut Page, report: &Report, way: &Way) {
    if report.measure_next.is_empty() {
        return;
    }
    page.heading("Measure next, in the order of work");
    for (index, next) in report.measure_next.iter().take(EXPLAINED).enumerate() {
        page.item(&format!("{}.", index + 1), 6, &next.text, STRONG);
        if let Some(reach) = &next.reach {
            page.paragraph(6, reach);
        }
        page.paragraph(6, &next.place);
        page.paragraph(6, &format!("Note: {}", next.trap));
        page.paragraph(6, &format!("{} {}.", way.name, next.what));
    }
    let later: Vec<_> = report.measure_next.iter().skip(EXPLAINED).map(|next| next.what.as_str()).collect();
    if !later.is_empty() {
        page.item("then", 8, &format!("{}.", later.join(", ")), STRONG);
    }
    page.paragraph(2, &format!("{} `steerwright guide NAME` shows how to take any of them.", way.closing));
}
