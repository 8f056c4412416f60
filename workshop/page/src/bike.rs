//! A bike: answer, drawing, next step, what is known.

use crate::form::Fields;
use crate::layout::{self, Frame, Tab};
use crate::{marks, route};
use maud::{Markup, html};
use steerwright_core::book::BikeId;
use steerwright_core::screens::{BikeView, Refusal, ScreenError, bike, difference, kits, record};

pub(crate) fn page(frame: &Frame<'_>, id: BikeId, query: &Fields) -> Result<Markup, ScreenError> {
    let view = bike(frame.context, id)?;
    // A reading that was struck out or undone since has nothing to say.
    let reading = query.get("wrote").parse().ok();
    let wrote = reading.and_then(|reading| difference(frame.context, id, reading).ok());
    let changed = wrote.as_ref().map(|it| it.text.as_str());
    let content = html! {
        @if let Some(changed) = changed {
            div.said role="status" { p { (changed) } (frame.undo(reading)) }
        }
        div.narrow-only { (answer(&view)) }
        (figure(&view))
        div.narrow-only.sticky { @if let Some(step) = &view.next { (frame.step(id, step)) } }
        (rows(frame, &view))
    };
    let side = html! {
        (answer(&view))
        @if let Some(step) = &view.next { (frame.step(id, step)) }
        (wrong_if(&view))
        (side_kits(frame, id)?)
        (latest(frame, id)?)
    };
    frame.bike_page((id, &view.name, view.owner.as_deref()), Tab::Bike, &content, Some(&side))
}

fn answer(view: &BikeView) -> Markup {
    html! {
        section.answer {
            h2 { (marks::sign(view.sign)) (view.answer.title) }
            p { (view.answer.why) }
            @for reading in &view.readings { p.odd { (reading) } }
        }
    }
}

fn figure(view: &BikeView) -> Markup {
    html! {
        @if let Some(drawing) = &view.drawing {
            figure.drawing {
                (layout::drawing_linked(drawing, &|touched| {
                    let rows = view.groups.iter().flat_map(|group| &group.rows);
                    let row = rows.into_iter().find(|row| row.what == touched.what)?;
                    Some(route::step(view.id, &row.target))
                }))
                @if let Some(caption) = &view.drawing_caption { figcaption { (caption) } }
            }
        }
        @if let Some(why) = &view.no_drawing { p.drawing.none { (why) } }
    }
}

fn wrong_if(view: &BikeView) -> Markup {
    html! {
        @if !view.wrong_if.is_empty() {
            details.wrong-if {
                summary { (view.wrong_if_title) }
                @if let Some(drawing) = &view.wrong_if_drawing { (layout::drawing(drawing)) }
                ul { @for line in &view.wrong_if { li { (line) } } }
            }
        }
    }
}

/// Every quantity as a row to touch; groups with something known are open.
fn rows(frame: &Frame<'_>, view: &BikeView) -> Markup {
    html! {
        div.narrow-only { (wrong_if(view)) }
        h2.section { (frame.text("bike-measurements")) }
        @for group in &view.groups {
            details.group open[group.rows.iter().any(|row| row.known)] {
                summary { (group.title) }
                ul.dimensions {
                    @for row in &group.rows {
                        li {
                            a.unknown[!row.known] href=(route::step(view.id, &row.target)) {
                                span { (row.label) }
                                span.value {
                                    @if row.disagrees { (marks::mark(steerwright_core::screens::Mark::Disagree)) }
                                    (row.value)
                                }
                            }
                        }
                    }
                }
            }
        }
    }
}

fn side_kits(frame: &Frame<'_>, id: BikeId) -> Result<Markup, ScreenError> {
    let view = kits(frame.context, id)?;
    Ok(html! {
        @if !view.cards.is_empty() {
            h2.section { (frame.text("kits-title")) }
            @for card in view.cards.iter().take(3) { (crate::kits::card(id, card)) }
        }
    })
}

fn latest(frame: &Frame<'_>, id: BikeId) -> Result<Markup, ScreenError> {
    let view = record(frame.context, id)?;
    Ok(html! {
        @if !view.log.is_empty() {
            h2.section { (frame.text("record-log")) }
            ul.latest { @for line in view.log.iter().take(4) { li.struck[line.struck.is_some()] { (line.text) } } }
        }
    })
}

/// The form for name, owner, tags and notes.
pub(crate) fn edit(
    frame: &Frame<'_>,
    id: BikeId,
    typed: Option<(&Fields, &Refusal)>,
) -> Result<Markup, ScreenError> {
    let stored = steerwright_core::screens::edit(frame.context, id)?;
    let now = |field: &'static str, stored: &str| {
        typed.map_or(stored.to_owned(), |(typed, _)| typed.get(field).to_owned())
    };
    let error = typed.map(|(_, refusal)| refusal.in_words(frame.context.words));
    Ok(frame.page(
        &stored.name,
        &html! {
            header.top {
                a.back href={ "/bikes/" (id) } aria-label=(stored.name) { "‹" }
                h1 { (stored.name) }
            }
            form.fields method="post" action={ "/bikes/" (id) "/edit" } {
                (layout::error(error.as_deref()))
                label for="name" { (frame.text("bike-name")) }
                input #name name="name" value=(now("name", &stored.name)) required maxlength="120";
                label for="owner" { (frame.text("bike-owner")) }
                input #owner name="owner" value=(now("owner", &stored.owner)) maxlength="120";
                label for="tags" { (frame.text("bike-tags")) }
                input #tags name="tags" value=(now("tags", &stored.tags));
                label for="notes" { (frame.text("bike-notes")) }
                textarea #notes name="notes" rows="5" { (now("notes", &stored.notes)) }
                button.wide-button type="submit" { (frame.text("bike-save")) }
            }
        },
    ))
}
