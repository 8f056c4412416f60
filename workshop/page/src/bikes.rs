//! The list of bikes, and adding one.

use crate::form::Fields;
use crate::layout::{self, Frame};
use crate::{marks, route};
use maud::{Markup, html};
use steerwright_core::book::{BikeId, BikeQuery, Cursor};
use steerwright_core::screens::{BikesView, Refusal, ScreenError, bikes};

/// What an address asks for.
pub(crate) fn query(fields: &Fields) -> BikeQuery {
    let tag = fields.get("tag");
    BikeQuery {
        text: fields.get("q").to_owned(),
        tag: (!tag.is_empty()).then(|| tag.to_owned()),
        // A cursor of another version begins at the first page.
        after: serde_json::from_str::<Cursor>(fields.get("after")).ok(),
        sort: route::ORDER,
        ..BikeQuery::default()
    }
}

pub(crate) fn page(frame: &Frame<'_>, query: &BikeQuery) -> Result<Markup, ScreenError> {
    let view = bikes(frame.context, query)?;
    Ok(frame.page(
        &view.title,
        &html! {
            (list(frame, &view, None))
            @if let Some(out) = &view.demo_out {
                form method="post" action="/demo/out" { button.quiet type="submit" { (out) } }
            }
            @if let Some(next) = &view.next {
                @let after = serde_json::to_string(next).unwrap_or_default();
                form method="get" action="/" {
                    input type="hidden" name="q" value=(view.search);
                    input type="hidden" name="tag" value=(query.tag.as_deref().unwrap_or_default());
                    input type="hidden" name="after" value=(after);
                    button.quiet type="submit" { (frame.text("bikes-more")) }
                }
            }
        },
    ))
}

/// Search, tags and rows; beside a bike the row of that bike is marked.
pub(crate) fn list(frame: &Frame<'_>, view: &BikesView, current: Option<BikeId>) -> Markup {
    html! {
        header.top {
            @if current.is_some() { h2 { a href="/" { (view.title) } } } @else { h1 { (view.title) } }
            a.plain href="/outbox" { (frame.text("nav-outbox")) }
            a.plain href="/book" { (frame.text("nav-book")) }
            a.add href="/bikes/new" aria-label=(view.add) { "+" }
        }
        @if current.is_none() { p.under { (frame.text("bikes-about")) } }
        form.search role="search" method="get" action="/" {
            input type="search" name="q" value=(view.search) placeholder=(view.search_hint)
                aria-label=(view.search_hint);
        }
        @if !view.tags.is_empty() && current.is_none() {
            nav.chips {
                @for choice in &view.tags {
                    @let tag = choice.tag.as_deref().map(crate::form::segment);
                    a.chip href={ "/" @if let Some(tag) = tag { "?tag=" (tag) } }
                        aria-current=[choice.chosen.then_some("true")] { (choice.text) }
                }
            }
        }
        @if let Some(empty) = &view.empty {
            p.empty { (empty.text) }
            @if let Some(demo) = &empty.demo {
                form method="post" action="/demo" { button.wide-button type="submit" { (demo) } }
                p { a.plain href="/bikes/new" { (view.add) } }
            }
        }
        ul.rows {
            @for row in &view.rows {
                li {
                    a.row href={ "/bikes/" (row.id) } aria-current=[(current == Some(row.id)).then_some("true")] {
                        (marks::sign(row.sign))
                        span.body {
                            span.head {
                                b { (row.name) }
                                @if let Some(owner) = &row.owner { span.owner { (owner) } }
                            }
                            span.standing { (row.standing) }
                        }
                    }
                }
            }
        }
    }
}

/// The form for a new bike.
pub(crate) fn new(
    frame: &Frame<'_>,
    fields: &Fields,
    refusal: Option<&Refusal>,
) -> Result<Markup, ScreenError> {
    let text = refusal.map(ToString::to_string);
    let is_file = !fields.get("text").is_empty();
    let [of_form, of_file] = if is_file { [None, text.as_deref()] } else { [text.as_deref(), None] };
    Ok(frame.page(
        &frame.text("bikes-add"),
        &html! {
            header.top {
                a.back href="/" aria-label=(frame.text("nav-back")) { "‹" }
                h1 { (frame.text("bikes-add")) }
            }
            form.fields method="post" action="/bikes" {
                (layout::error(of_form))
                label for="name" { (frame.text("bikes-name")) }
                input #name name="name" value=(fields.get("name")) required autofocus maxlength="120"
                    aria-invalid=[of_form.map(|_| "true")];
                label for="owner" { (frame.text("bikes-owner")) }
                input #owner name="owner" value=(fields.get("owner")) maxlength="120";
                button.wide-button type="submit" { (frame.text("bikes-add")) }
            }
            details open[is_file] {
                summary { (frame.text("bikes-from-file")) }
                (crate::book::file_form(frame, "/bikes/file", &frame.text("bikes-add-file"), fields.get("text"), of_file))
            }
        },
    ))
}
