//! The kits for a bike, and one kit in full.

use crate::form::{Fields, segment};
use crate::layout::{self, Frame, Tab};
use crate::marks;
use maud::{Markup, html};
use steerwright_core::book::BikeId;
use steerwright_core::judgement::{Direction, State};
use steerwright_core::screens::{
    FoldedKit, KitCard, KitsView, Mark, Refusal, ScreenError, kit as kit_view, kits,
};

pub(crate) fn page(
    frame: &Frame<'_>,
    id: BikeId,
    is_asked: bool,
    typed: Option<(&Fields, &Refusal)>,
) -> Result<Markup, ScreenError> {
    let view = kits(frame.context, id)?;
    let content = html! {
        (wanted(frame, &view, is_asked, typed))
        @if let Some(catalogue) = &view.catalogue { p.under { (catalogue) } }
        @if let Some(empty) = &view.empty {
            p.empty { (empty) }
            a.wide-button href="/book" { (frame.text("next-catalogue")) }
        }
        @for each in &view.cards { (card(id, each)) }
        @if let Some(folded) = &view.folded {
            details.card.folded {
                summary { (marks::mark(Mark::DoesNotFit)) span.body { b { (folded.title) } p { (folded.reasons) } } }
                ul {
                    @for FoldedKit { sku, why } in &folded.kits {
                        li { a href={ "/bikes/" (id) "/kits/" (segment(sku)) } { (sku) } " " (why) }
                    }
                }
            }
        }
    };
    frame.bike_page((id, &view.bike_name, None), Tab::Kits, &content, None)
}

fn wanted(frame: &Frame<'_>, view: &KitsView, is_asked: bool, typed: Option<(&Fields, &Refusal)>) -> Markup {
    let now = |field: &'static str, stored: &str| {
        typed.map_or(stored.to_owned(), |(typed, _)| typed.get(field).to_owned())
    };
    let error = typed.map(|(_, refusal)| refusal.in_words(frame.context.words));
    let is_steeper = match typed {
        Some((typed, _)) => typed.get("direction") == "steeper",
        None => view.wanted.direction == Direction::Steeper,
    };
    html! {
        details.wanted #wanted open[is_asked] {
            summary { (view.wanted.text) span.under { (frame.text("kits-wanted")) } }
            form.fields method="post" action={ "/bikes/" (view.bike) "/wanted" } {
                (layout::error(error.as_deref()))
                fieldset.tools {
                    label.chip { input type="radio" name="direction" value="slacker" checked[!is_steeper]; span { (frame.text("slacker")) } }
                    label.chip { input type="radio" name="direction" value="steeper" checked[is_steeper]; span { (frame.text("steeper")) } }
                }
                label for="change" { (frame.text("kits-wanted-change")) }
                input #change name="change" inputmode="decimal" autocomplete="off" value=(now("change", &view.wanted.change));
                label for="head_angle" { (frame.text("kits-wanted-angle")) }
                input #head_angle name="head_angle" inputmode="decimal" autocomplete="off" value=(now("head_angle", &view.wanted.head_angle));
                button.wide-button type="submit" { (frame.text("kits-wanted-set")) }
            }
        }
    }
}

/// A kit as a card.
pub(crate) fn card(bike: BikeId, card: &KitCard) -> Markup {
    html! {
        a.card href={ "/bikes/" (bike) "/kits/" (segment(&card.sku)) } {
            (marks::sign(card.sign))
            span.body {
                span.head { b { (card.sku) } span.price { (card.price) } }
                span.line { span.word { (card.word) } @if let Some(stock) = &card.stock { " · " (stock) } }
                @if let Some(change) = &card.change { span.line { (change) } }
                span.line { (card.text) }
                @if let Some(caution) = &card.caution { span.line.caution { (caution) } }
            }
        }
    }
}

pub(crate) fn kit(
    frame: &Frame<'_>,
    id: BikeId,
    sku: &str,
    typed: Option<(&Fields, &Refusal)>,
) -> Result<Markup, ScreenError> {
    let view = kit_view(frame.context, id, sku)?;
    let error = typed.map(|(_, refusal)| refusal.in_words(frame.context.words));
    let content = html! {
        p.back-line { a href={ "/bikes/" (id) "/kits" } { "‹ " (frame.text("kits-title")) } }
        section.answer {
            h2 { (marks::sign(view.card.sign)) (view.card.sku) ": " (view.card.word) }
            p { (view.name) ", " (view.card.price) @if let Some(stock) = &view.card.stock { ", " (stock) } }
            @if let Some(change) = &view.card.change { p { (change) } }
            @if let Some(angles) = &view.angles { p.under { (angles) } }
            p { (view.card.text) }
        }
        @for picture in &view.drawings { div.drawing { (layout::drawing(&picture.drawing)) } }
        @if !view.cautions.is_empty() {
            section.cautions {
                h2.section { (frame.text("kit-cautions")) }
                ul { @for caution in &view.cautions { li { (caution) } } }
            }
        }
        @if !view.work.is_empty() {
            h2.section { (frame.text("kit-work")) }
            ol.work { @for step in &view.work {
                li { (step.text) @if let Some(caution) = &step.caution { p.caution { (caution) } } }
            } }
        }
        h2.section { (frame.text("kit-requirements")) }
        ul.requirements {
            @for line in &view.requirements {
                li { span.state.(state_class(line.state)) { (line.word) } span { (line.text) } }
            }
        }
        @if !view.parts.is_empty() {
            h2.section { (frame.text("kit-parts")) }
            ul { @for part in &view.parts { li { (part) } } }
        }
        @if !view.notes.is_empty() {
            h2.section { (frame.text("kit-notes")) }
            ul { @for note in &view.notes { li { (note) } } }
        }
        @if !view.card.fitted {
            a.wide-button href={ "/bikes/" (id) "/kits/" (segment(sku)) "/ask" } { (view.card.ask) }
        }
        @if let Some(check) = view.fitted {
            p { (frame.text("kit-is-in")) }
            form method="post" action={ "/bikes/" (id) "/removed/" (check) } {
                button.quiet type="submit" { (frame.text("kit-removed")) }
            }
        } @else {
            details.fitted open[error.is_some()] {
                summary { (frame.text("kit-fitted")) }
                form.fields method="post" action={ "/bikes/" (id) "/kits/" (segment(sku)) "/fitted" } {
                    (layout::error(error.as_deref()))
                    fieldset.ticks {
                        legend { (frame.text("tick-title")) }
                        @for tick in ["tick-torque", "tick-play", "tick-line", "tick-brakes"] {
                            label { input type="checkbox" required; (frame.text(tick)) }
                        }
                    }
                    p { (frame.text("tick-mechanic")) }
                    @if view.needs_reason {
                        label for="despite" { (frame.text("kit-fitted-despite")) }
                        input #despite name="despite" required value=(typed.map_or("", |(typed, _)| typed.get("despite")));
                    }
                    button.wide-button type="submit" { (frame.text("kit-fitted")) }
                }
            }
        }
    };
    frame.bike_page((id, &view.bike_name, None), Tab::Kits, &content, None)
}

fn state_class(state: State) -> &'static str {
    match state {
        State::Met => "met",
        State::MetAfterWork => "after-work",
        State::NotKnown => "open",
        State::NotMet => "not-met",
    }
}
