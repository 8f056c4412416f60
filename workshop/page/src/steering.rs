//! Steering before and after, with sliders.

use crate::layout::{self, Frame, Tab};
use maud::{Markup, html};
use steerwright_core::book::BikeId;
use steerwright_core::screens::{Change, ScreenError, Shown, SteeringView, steering};

/// The header by which the script asks for the result alone.
pub(crate) const PART: &str = "x-part";

pub(crate) fn page(frame: &Frame<'_>, id: BikeId, change: &Change) -> Result<Markup, ScreenError> {
    let view = steering(frame.context, id, change)?;
    let content = html! {
        div.steering {
            div.pictured { (pictured(&view)) }
            form.sliders method="get" action={ "/bikes/" (id) "/steering" } data-live {
                @for slider in &view.sliders {
                    div.slider {
                        label for=(slider.name) { span { (slider.label) } output data-text=(slider.name) { (slider.text) } }
                        div.track {
                            button.nudge type="button" hidden data-nudge="-1" data-for=(slider.name)
                                aria-label=(slider.less) { "−" }
                            input #(slider.name) type="range" name=(slider.name) min=(slider.min) max=(slider.max)
                                step=(slider.step) value=(slider.value) data-as-it-is=(slider.as_it_is);
                            button.nudge type="button" hidden data-nudge="1" data-for=(slider.name)
                                aria-label=(slider.more) { "+" }
                        }
                    }
                }
                div.two {
                    button.quiet.no-script type="submit" { (frame.text("steering-show")) }
                    a.plain href={ "/bikes/" (id) "/steering" } { (frame.text("steering-reset")) }
                }
            }
            div.figured { (figured(frame, &view)) }
        }
    };
    frame.bike_page((id, &view.bike_name, None), Tab::Steering, &content, None)
}

/// The result alone, for a slider that moves: each part takes the place of the one with its id.
pub(crate) fn part(frame: &Frame<'_>, id: BikeId, change: &Change) -> Result<Markup, ScreenError> {
    let view = steering(frame.context, id, change)?;
    Ok(html! {
        (pictured(&view))
        (figured(frame, &view))
        @for slider in &view.sliders { span data-new-text=(slider.name) { (slider.text) } }
    })
}

fn pictured(view: &SteeringView) -> Markup {
    html! {
        div #steering-drawing {
            @if let Some(drawing) = &view.drawing { div.drawing { (layout::drawing(drawing)) } }
            @if let Some(why) = &view.no_drawing { p.drawing.none { (why) } }
        }
    }
}

fn figured(frame: &Frame<'_>, view: &SteeringView) -> Markup {
    html! {
        div #steering-figures {
            @if let Some(assumed) = &view.assumed { p.under { (assumed) } }
            table.figures {
                thead { tr {
                    th scope="col" { span.hidden { (frame.text("steering-title")) } }
                    th scope="col" { (view.before) }
                    th scope="col" { (view.after) }
                    th scope="col" { (frame.text("steering-change")) }
                } }
                tbody { @for line in &view.figures {
                    tr {
                        th scope="row" { (line.label) @if let Some(missing) = &line.missing { small { (missing) } } }
                        td { (figure(&line.before)) }
                        td.after { (figure(&line.after)) }
                        td { (line.change) }
                    }
                } }
            }
        }
    }
}

/// The value, and under it how sure it is.
fn figure(figure: &Shown) -> Markup {
    html! { (figure.value) @if let Some(plus_minus) = &figure.plus_minus { small { (plus_minus) } } }
}
