//! Marks and signs as SVG. Each is a shape of its own; the word stands beside it.

use maud::{Markup, PreEscaped, html};
use steerwright_core::screens::{Mark, Sign};
use steerwright_style::Shape;

/// The sign before a bike or a kit. It is decoration for a screen reader: the words beside it say the same.
pub(crate) fn sign(sign: Sign) -> Markup {
    match sign {
        Sign::Verdict(mark) => self::mark(mark),
        Sign::Asked => html! {
            svg.mark.blue viewBox="0 0 26 26" aria-hidden="true" {
                rect x="2" y="5" width="22" height="16" rx="2" {}
                path d="M3 7l10 8 10-8" {}
            }
        },
        Sign::Fitted => html! {
            svg.mark.green viewBox="0 0 26 26" aria-hidden="true" {
                path.solid d="M24 6.5a6.5 6.5 0 0 1-8.6 7.6L7.8 22.4a3 3 0 0 1-4.2-4.2l8.3-7.6A6.5 6.5 0 0 1 19.5 2l-3.6 3.7.6 3.8 3.8.6z" {}
            }
        },
        Sign::Open => html! {
            svg.mark.soft viewBox="0 0 26 26" aria-hidden="true" { circle cx="13" cy="13" r="11" stroke-dasharray="1 4" {} }
        },
    }
}

/// The mark of a verdict.
pub(crate) fn mark(mark: Mark) -> Markup {
    let shape = match mark {
        Mark::Fits => Shape::Fits,
        Mark::FitsAfterWork => Shape::FitsAfterWork,
        Mark::MeasureFirst => Shape::MeasureFirst,
        Mark::DoesNotFit => Shape::DoesNotFit,
        Mark::Disagree => Shape::Disagree,
    };
    PreEscaped(shape.svg().to_owned())
}
