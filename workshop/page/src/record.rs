//! The record of a bike.

use crate::layout::{self, Frame, Tab};
use maud::{Markup, html};
use steerwright_core::book::{BikeId, MeasurementId};
use steerwright_core::screens::{Refusal, ScreenError, record};

pub(crate) fn page(
    frame: &Frame<'_>,
    id: BikeId,
    refused: Option<(MeasurementId, &Refusal)>,
) -> Result<Markup, ScreenError> {
    let view = record(frame.context, id)?;
    let error = |reading: MeasurementId| {
        refused.filter(|(of, _)| *of == reading).map(|(_, refusal)| refusal.in_words(frame.context.words))
    };
    let content = html! {
        @if let Some(empty) = &view.empty { p.empty { (empty) } }
        @if !view.checks.is_empty() {
            h2.section { (frame.text("record-checks")) }
            ul.log { @for line in &view.checks {
                li {
                    b { (line.text) } @if line.fitted { " " span.word { (frame.text("record-fitted")) } }
                    span.when { (line.when) }
                    @if let Some(comparison) = &line.comparison { p { (comparison) } }
                }
            } }
        }
        @if !view.orders.is_empty() {
            h2.section { (frame.text("record-orders")) }
            ul.log { @for line in &view.orders {
                li { b { (line.text) } ": " (line.state) span.when { (line.when) } }
            } }
        }
        @if !view.log.is_empty() {
            h2.section { (frame.text("record-log")) }
            ul.log { @for line in &view.log {
                @let is_open = error(line.id).is_some();
                li.struck[line.struck.is_some()] {
                    details open[is_open] {
                        summary {
                            span.body {
                                span.reading { (line.text) }
                                span.when { (line.when) @if let Some(struck) = &line.struck { " · " (struck) } }
                            }
                        }
                        @if line.struck.is_some() {
                            form.inline method="post" action={ "/bikes/" (id) "/record/" (line.id) "/restore" } {
                                button.quiet type="submit" { (frame.text("record-restore")) }
                            }
                        } @else {
                            @let why = format!("why-{}", line.id);
                            form.inline method="post" action={ "/bikes/" (id) "/record/" (line.id) "/strike" } {
                                (layout::error(error(line.id).as_deref()))
                                label for=(why) { (frame.text("record-why")) }
                                input id=(why) name="why" required maxlength="200";
                                button.quiet type="submit" { (frame.text("record-strike")) }
                            }
                        }
                    }
                }
            } }
        }
        @if !view.notes.is_empty() {
            h2.section { (frame.text("record-notes")) }
            p.notes { (view.notes) }
        }
    };
    frame.bike_page((id, &view.bike_name, None), Tab::Record, &content, None)
}
