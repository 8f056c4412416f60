//! The frame of all pages: head, the list on wide screens, tabs, what was done last.

use crate::access::cookie;
use crate::bikes;
use crate::route;
use http::{HeaderValue, Request, Response, header};
use maud::{DOCTYPE, Markup, PreEscaped, html};
use serde_json::json;
use steerwright_core::book::{BikeId, BikeQuery, MeasurementId};
use steerwright_core::drawing::{Drawing, SvgOptions, Target};
use steerwright_core::screens::{Context, Done, NextStep, ScreenError, undo};
use steerwright_core::words::Words;

/// Name of the cookie with what was done last, until the next page says it.
const SAID: &str = "steerwright_said";

/// What was done last.
#[derive(Debug, Clone, PartialEq)]
pub(crate) struct Said {
    text: String,
    can_undo: bool,
}

/// What every page needs.
pub(crate) struct Frame<'a> {
    pub(crate) context: &'a Context<'a>,
    said: Option<Said>,
    /// The book's version before anything was read from it.
    version: Option<i64>,
}

impl<'a> Frame<'a> {
    pub(crate) fn new(context: &'a Context<'a>, request: &Request<Vec<u8>>) -> Self {
        Self { context, said: said(request), version: context.reader.version().ok() }
    }

    pub(crate) fn text(&self, id: &str) -> String {
        self.context.words.text(id)
    }

    /// A page without the list: for one thing at a time.
    pub(crate) fn page(&self, title: &str, content: &Markup) -> Markup {
        document(
            self.context.words,
            self.version,
            title,
            &html! {
                div.single {
                    main #content tabindex="-1" { (self.notice()) (content) }
                }
            },
        )
    }

    /// A page of a bike: the list beside it where there is room, tabs, the content.
    pub(crate) fn bike_page(
        &self,
        bike: (BikeId, &str, Option<&str>),
        tab: Tab,
        content: &Markup,
        side: Option<&Markup>,
    ) -> Result<Markup, ScreenError> {
        let (id, name, owner) = bike;
        let query = BikeQuery { sort: route::ORDER, ..BikeQuery::default() };
        let list = steerwright_core::screens::bikes(self.context, &query)?;
        let tabs = html! {
            nav.tabs aria-label=(name) {
                @for (each, address, word) in [
                    (Tab::Bike, String::new(), "tab-bike"),
                    (Tab::Kits, "/kits".to_owned(), "tab-kits"),
                    (Tab::Steering, "/steering".to_owned(), "tab-steering"),
                    (Tab::Photos, "/photos".to_owned(), "tab-photos"),
                    (Tab::Record, "/record".to_owned(), "tab-record"),
                ] {
                    a href={ "/bikes/" (id) (address) } aria-current=[(each == tab).then_some("page")] {
                        (self.text(word))
                    }
                }
            }
        };
        Ok(document(
            self.context.words,
            self.version,
            name,
            &html! {
                div.wide.with-side[side.is_some()] {
                    aside.list aria-label=(list.title) { (bikes::list(self, &list, Some(id))) }
                    div.head-of-bike {
                        header.top {
                            a.back href="/" aria-label=(self.text("nav-back")) { "‹" }
                            h1 { (name) }
                            @if let Some(owner) = owner { span.owner { (owner) } }
                            a.more href={ "/bikes/" (id) "/edit" } aria-label=(self.text("bike-edit")) { "⋯" }
                        }
                        (tabs)
                    }
                    // Before the content, so that the next step comes early to a keyboard; beside it on the screen.
                    @if let Some(side) = side { aside.side { (side) } }
                    main.middle #content tabindex="-1" { (self.notice()) (content) }
                }
            },
        ))
    }

    /// What was done last, with its undo.
    fn notice(&self) -> Markup {
        html! {
            @if let Some(said) = &self.said {
                div.said role="status" {
                    p { (said.text) }
                    @if said.can_undo { (self.undo(None)) }
                }
            }
        }
    }

    /// Undoes the last action, or where a reading is given only that it was written down.
    pub(crate) fn undo(&self, reading: Option<MeasurementId>) -> Markup {
        // Without an answer of the book there is nothing to press.
        let view = undo(self.context, reading).ok().flatten();
        html! {
            @if let Some(view) = view {
                form method="post" action="/undo" {
                    input type="hidden" name="expected" value=(view.expected);
                    button.quiet type="submit" { (view.text) }
                }
            }
        }
    }

    /// The one large button.
    pub(crate) fn step(&self, bike: BikeId, step: &NextStep) -> Markup {
        html! {
            a.step href=(route::step(bike, &step.target)) {
                span { b { (step.title) } small { (step.detail) } }
                span.arrow aria-hidden="true" { "›" }
            }
        }
    }
}

/// The tabs of a bike.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub(crate) enum Tab {
    Bike,
    Kits,
    Steering,
    Photos,
    Record,
}

/// A drawing inside a page, in the colours of the reader's device.
pub(crate) fn drawing(drawing: &Drawing) -> Markup {
    PreEscaped(drawing.to_svg(&SvgOptions { without_style: true, ..SvgOptions::default() }))
}

/// A drawing whose targets lead somewhere.
pub(crate) fn drawing_linked(drawing: &Drawing, address: &dyn Fn(&Target) -> Option<String>) -> Markup {
    let options = SvgOptions { without_style: true, ..SvgOptions::default() };
    PreEscaped(drawing.to_svg_linked(&options, address))
}

/// Where an error stands: beside the field it is about.
pub(crate) fn error(text: Option<&str>) -> Markup {
    html! { @if let Some(text) = text { p.error role="alert" { (text) } } }
}

/// A page with a title and a sentence, where the book cannot be asked.
pub(crate) fn plain(words: &Words, title: &str, text: &str) -> Markup {
    document(
        words,
        None,
        title,
        &html! {
            div.single {
                main #content tabindex="-1" {
                    h1 { (title) }
                    p { (text) }
                    p { a href="/" { (words.text("nav-back")) } }
                }
            }
        },
    )
}

fn document(words: &Words, version: Option<i64>, title: &str, body: &Markup) -> Markup {
    html! {
        (DOCTYPE)
        html lang=(words.language().tag()) {
            head {
                meta charset="utf-8";
                meta name="viewport" content="width=device-width, initial-scale=1";
                meta name="color-scheme" content="light dark";
                title { (title) " · Steerwright" }
                link rel="stylesheet" href="/style.css";
                link rel="icon" href="/icon.svg" type="image/svg+xml";
                script type="module" src="/page.js" {}
            }
            body data-version=[version] data-changed=(words.text("page-changed")) {
                a.skip href="#content" { (words.text("skip")) }
                (body)
            }
        }
    }
}

/// Keeps what was done for the next page.
pub(crate) fn say_next(response: &mut Response<Vec<u8>>, done: &Done) {
    let said = json!([done.text, done.can_undo]).to_string();
    let said: String = form_urlencoded::byte_serialize(said.as_bytes()).collect();
    set_cookie(response, &format!("{SAID}={said}; Path=/; HttpOnly; SameSite=Strict"));
}

pub(crate) fn forget_said(response: &mut Response<Vec<u8>>) {
    set_cookie(response, &format!("{SAID}=; Path=/; HttpOnly; SameSite=Strict; Max-Age=0"));
}

fn set_cookie(response: &mut Response<Vec<u8>>, cookie: &str) {
    if let Ok(cookie) = HeaderValue::from_str(cookie) {
        response.headers_mut().insert(header::SET_COOKIE, cookie);
    }
}

/// What the page before did.
pub(crate) fn said(request: &Request<Vec<u8>>) -> Option<Said> {
    let raw = cookie(request.headers(), SAID)?;
    let (text, _) = form_urlencoded::parse(raw.as_bytes()).next()?;
    let (text, can_undo) = serde_json::from_str(&text).ok()?;
    Some(Said { text, can_undo })
}
