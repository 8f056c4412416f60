//! One photo: its marks, and what they tell.

use crate::layout::{self, Frame};
use maud::{Markup, html};
use steerwright_core::book::{BikeId, PhotoId};
use steerwright_core::screens::{
    Labelled, MarkAct, MarkChoice, MarkStage, Part, PhotoReading, PhotoView, Refusal, ScreenError, photo,
};

use crate::form::Fields;

/// The act of a form.
pub(crate) fn act(fields: &Fields) -> Option<MarkAct> {
    let part = || Part::from_name(fields.get("part"));
    let at = || Some([fields.number("x")?, fields.number("y")?]);
    let number = |name: &str| fields.get(name).parse().ok();
    Some(match fields.get("act") {
        "begin" => MarkAct::Begin,
        "take_wheels" => MarkAct::TakeWheels,
        "own_wheels" => MarkAct::OwnWheels,
        "tap" => MarkAct::Tap { part: part()?, at: at()?.into() },
        "move" => MarkAct::Move { step: number("step")?, number: number("number")?, at: at()?.into() },
        "again" => MarkAct::Again { part: part()? },
        "by_hand" => MarkAct::ByHand { part: part()? },
        "more" => MarkAct::More { part: part()? },
        "without" => MarkAct::Without { part: part()? },
        "back" => MarkAct::Back,
        _ => return None,
    })
}

pub(crate) fn page(
    frame: &Frame<'_>,
    bike: BikeId,
    id: PhotoId,
    refused: Option<&Refusal>,
) -> Result<Markup, ScreenError> {
    let view = photo(frame.context, bike, id)?;
    let error = refused.map(ToString::to_string);
    let tool = |name: &str, strokes: &str, id: &str| {
        let label = frame.text(id);
        html! {
            button.nudge type="button" data-tool=(name) aria-label=(label) title=(label) {
                svg viewBox="0 0 24 24" aria-hidden="true" { path d=(strokes) {} }
            }
        }
    };
    let source = format!("/bikes/{bike}/photos/{id}/photo.jpg");
    Ok(frame.page(&view.title, &html! {
        header.top {
            a.back href={ "/bikes/" (bike) "/photos" } aria-label=(frame.text("tab-photos")) { "‹" }
            h1 { (view.title) }
            span.owner { (view.bike_name) }
        }
        (layout::error(error.as_deref()))
        div.marking data-marking data-address={ "/bikes/" (bike) "/photos/" (id) "/marks" } data-lost=(frame.text("mark-lost")) {
            (task(frame, &view))
            div.picture {
                @if let Some(scene) = &view.scene {
                    canvas #picture hidden tabindex="0" role="application" aria-label=(frame.text("mark-picture"))
                        aria-describedby="task-title" data-src=(source) {}
                    img.still src=(source) alt=(view.alt) width=(scene.width) height=(scene.height);
                    p.no-script { (frame.text("mark-needs-script")) }
                    div.picture-tools hidden {
                        (tool("out", "M5 12h14", "mark-zoom-out"))
                        (tool("fit", "M4 9V4h5M15 4h5v5M20 15v5h-5M9 20H4v-5", "mark-zoom-fit"))
                        (tool("in", "M5 12h14M12 5v14", "mark-zoom-in"))
                        (tool("set", "M12 2v7M12 15v7M2 12h7M15 12h7M11.5 12h1", "mark-set"))
                        span.nudges role="group" aria-label=(frame.text("mark-nudge")) data-nudges {
                            (tool("left", "M20 12H4M10 6l-6 6 6 6", "mark-nudge-left"))
                            (tool("up", "M12 20V4M6 10l6-6 6 6", "mark-nudge-up"))
                            (tool("down", "M12 4v16M6 14l6 6 6-6", "mark-nudge-down"))
                            (tool("right", "M4 12h16M14 6l6 6-6 6", "mark-nudge-right"))
                        }
                    }
                }
            }
            (result(frame, &view))
        }
        p.under { (view.facts) }
        details.group {
            summary { (frame.text("photos-remove")) }
            p { (frame.text("photos-remove-note")) }
            form method="post" action={ "/bikes/" (bike) "/photos/" (id) "/remove" } {
                button.quiet type="submit" { (frame.text("photos-remove")) }
            }
        }
        script type="module" src="/photo.js" {}
    }))
}

/// What changes with every mark, for the script.
pub(crate) fn parts(frame: &Frame<'_>, bike: BikeId, id: PhotoId) -> Result<Markup, ScreenError> {
    let view = photo(frame.context, bike, id)?;
    Ok(html! { (task(frame, &view)) (result(frame, &view)) })
}

/// What to do next, with what lies over the picture.
fn task(frame: &Frame<'_>, view: &PhotoView) -> Markup {
    let task = &view.task;
    let scene = serde_json::to_string(&view.scene).unwrap_or_default();
    html! {
        section.task #task.refused[task.is_refusal] data-scene=(scene) aria-live="polite" {
            @if let Some(MarkStage { step: stage, steps: stages }) = task.stage {
                div.stages aria-hidden="true" { @for number in 1..=stages { i.done[number <= stage] {} } }
                p.hidden { (task.stage_text) }
            }
            h2 #task-title tabindex="-1" { (task.title) }
            @if !task.detail.is_empty() { p { (task.detail) } }
            @if let Some(left) = &task.left { p.left { (left) } }
            @if !task.instead.is_empty() {
                p { b { (frame.text("mark-instead")) } }
                ul { @for line in &task.instead { li { (line) } } }
            }
        }
    }
}

/// The reading, and what to choose from.
fn result(frame: &Frame<'_>, view: &PhotoView) -> Markup {
    let task = &view.task;
    html! {
        section.result #result {
            @if let Some(told) = &view.reading { (reading(frame, view, told)) }
            @for (index, choice) in task.choices.iter().enumerate() {
                // Where something is to be tapped, or written down, that comes first.
                @let is_main = index == 0 && view.reading.is_none() && task.left.is_none();
                (chosen(view, choice, if is_main { "wide-button" } else { "wide-button second" }))
            }
            @if !task.further.is_empty() {
                details.group {
                    summary { (task.further_title) }
                    @for choice in &task.further { (chosen(view, choice, "wide-button second")) }
                }
            }
            @if view.can_undo {
                (chosen(view, &MarkChoice { act: "back".to_owned(), part: None, text: frame.text("mark-undo") }, "quiet"))
            }
        }
    }
}

fn chosen(view: &PhotoView, choice: &MarkChoice, class: &str) -> Markup {
    html! {
        form method="post" action={ "/bikes/" (view.bike) "/photos/" (view.photo) "/marks" } data-act {
            input type="hidden" name="act" value=(choice.act);
            @if let Some(part) = choice.part { input type="hidden" name="part" value=(part.name()); }
            button class=(class) type="submit" { (choice.text) }
        }
    }
}

fn reading(frame: &Frame<'_>, view: &PhotoView, told: &PhotoReading) -> Markup {
    html! {
        div.told role="status" {
            @if let Some(value) = &told.value {
                p.large { (value.value) }
                p.under {
                    (told.label) @if let Some(plus_minus) = &value.plus_minus { ", " (plus_minus) } " · " (frame.text("mark-read"))
                }
            }
            @if let Some(Labelled { label: write, text: detail }) = &told.write {
                form method="post" action={ "/bikes/" (view.bike) "/photos/" (view.photo) "/reading" } {
                    button.step type="submit" { span { b { (write) } small { (detail) } } span.arrow aria-hidden="true" { "›" } }
                }
            }
            @if let Some(written) = &told.written { p.known { (written) } }
            @for doubt in &told.doubts { p.trap { (doubt) } }
            dl.pairs { @for row in &told.rows { dt { (row.label) } dd { (row.text) } } }
        }
    }
}
