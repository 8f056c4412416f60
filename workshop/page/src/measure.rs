//! Measuring one thing, or looking at it.

use crate::form::Fields;
use crate::layout::{self, Frame};
use maud::{Markup, html};
use steerwright_core::book::BikeId;
use steerwright_core::screens::{Refusal, ScreenError, look, measure};
use steerwright_core::words::Words;

/// What was typed, and why it was refused.
#[derive(Debug, Default)]
pub(crate) struct Typed {
    value: String,
    unit: String,
    tool: String,
    error: Option<String>,
    /// The button that keeps an unusual value.
    keep: Option<String>,
}

impl Typed {
    pub(crate) fn again(words: &Words, fields: &Fields, refusal: &Refusal) -> Self {
        Self {
            value: fields.get("value").to_owned(),
            unit: fields.get("unit").to_owned(),
            tool: fields.get("tool").to_owned(),
            error: Some(refusal.in_words(words)),
            keep: match refusal {
                Refusal::Question(question) => Some(question.keep.clone()),
                _ => None,
            },
        }
    }
}

pub(crate) fn page(frame: &Frame<'_>, id: BikeId, what: &str, typed: &Typed) -> Result<Markup, ScreenError> {
    let view = measure(frame.context, id, what)?;
    let chosen =
        |name: &str, typed: &str, index: usize| if typed.is_empty() { index == 0 } else { typed == name };
    Ok(frame.page(&view.title, &html! {
        header.top {
            a.back href={ "/bikes/" (id) } aria-label=(view.bike_name) { "✕" }
            h1 { (view.title) }
            span.owner { (view.bike_name) }
        }
        div.measure {
            div.how {
                div.drawing { (layout::drawing(&view.drawing)) }
                p { (view.place) }
                p.trap { b { (frame.text("measure-trap")) } " " (view.trap) }
                @if let Some(known) = &view.known { p.known { (known) } }
                @for (text, address) in [(&view.by_photo, "photos"), (&view.by_level, "level")] {
                    @if let Some(text) = text { a.plain href={ "/bikes/" (id) "/" (address) } { (text) } }
                }
            }
            form.reading method="post" action={ "/bikes/" (id) "/measure/" (view.what) } data-draft {
                (layout::error(typed.error.as_deref()))
                div.number {
                    label.hidden for="value" { (view.value_label) }
                    input #value name="value" value=(typed.value) inputmode="decimal" autocomplete="off" autofocus
                        maxlength="20" aria-invalid=[typed.error.as_ref().map(|_| "true")];
                    @if let [unit] = view.units.as_slice() {
                        input type="hidden" name="unit" value=(unit.name);
                        span.unit { (unit.text) }
                    } @else {
                        label.hidden for="unit" { (frame.text("measure-unit")) }
                        select #unit name="unit" {
                            @for (index, unit) in view.units.iter().enumerate() {
                                option value=(unit.name) selected[chosen(&unit.name, &typed.unit, index)] { (unit.text) }
                            }
                        }
                    }
                }
                div.pad data-pad hidden aria-hidden="true" {
                    @for key in ["1", "2", "3", "4", "5", "6", "7", "8", "9", ".", "0"] {
                        button type="button" tabindex="-1" data-key=(key) { (key) }
                    }
                    button type="button" tabindex="-1" data-key="⌫" { "⌫" }
                }
                fieldset.tools {
                    legend { (view.tool_label) }
                    @for (index, tool) in view.tools.iter().enumerate() {
                        label.chip {
                            input type="radio" name="tool" value=(tool.name) checked[chosen(&tool.name, &typed.tool, index)];
                            span { (tool.text) small { (tool.plus_minus) } }
                        }
                    }
                }
                @if let Some(keep) = &typed.keep {
                    button.wide-button.second type="submit" name="as_read" value="yes" { (keep) }
                }
                button.wide-button type="submit" name="as_read" value="no" { (view.write) }
            }
        }
    }))
}

pub(crate) fn look_page(frame: &Frame<'_>, id: BikeId, what: &str) -> Result<Markup, ScreenError> {
    let view = look(frame.context, id, what)?;
    Ok(frame.page(
        &view.title,
        &html! {
            header.top {
                a.back href={ "/bikes/" (id) } aria-label=(view.bike_name) { "✕" }
                h1 { (view.title) }
                span.owner { (view.bike_name) }
            }
            p { (view.place) }
            p.trap { b { (frame.text("measure-trap")) } " " (view.trap) }
            form.looks method="post" action={ "/bikes/" (id) "/look/" (view.what) } {
                @if let Some(tick) = &view.fork_out {
                    label.tick { input type="checkbox" name="fork_out" value="yes" checked[tick.ticked]; (tick.text) }
                    input type="hidden" name="fork_asked" value="yes";
                }
                h2.section { (frame.text("measure-look")) }
                @for answer in &view.answers {
                    button.look type="submit" name="answer" value=(answer.name)
                        aria-pressed=(if answer.chosen { "true" } else { "false" }) {
                        b { (answer.text) }
                        @if !answer.detail.is_empty() { small { (answer.detail) } }
                    }
                }
            }
        },
    ))
}
