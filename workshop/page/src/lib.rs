//! The field book as a page: from a request to a response, without a socket, a thread or a clock.
//!
//! Every address draws a view model of [`steerwright_core::screens`]; every form hands an event back. Whoever listens
//! on a socket calls [`Page::respond`] with the field book.

mod access;
mod ask;
mod asset;
mod bike;
mod bikes;
mod book;
mod form;
mod kits;
mod layout;
mod level;
mod marks;
mod measure;
mod photo;
mod photos;
mod record;
mod route;
mod steering;

pub use access::Access;

use http::{Method, Request, Response, StatusCode, header};
use maud::Markup;
use steerwright_core::book::{BookError, FieldBook};
use steerwright_core::quantity::Notation;
use steerwright_core::screens::{Context, Done, Effect, Event, Place, Refusal, ScreenError, apply};
use steerwright_core::words::{Language, Words};

/// The page of one field book.
#[derive(Debug)]
pub struct Page {
    /// The language and notation that were told; else those of the browser, and those of the language.
    told: (Option<Language>, Option<Notation>),
    words: &'static Words,
    notation: Notation,
    access: Access,
}

/// What an address answers with.
enum Reply {
    /// A page, or a part of one.
    Html(StatusCode, Markup),
    /// Another address, after a form was carried out, with what to say there.
    SeeOther(String, Option<Done>, Option<Effect>),
    /// A file of the program.
    Asset(&'static str, String),
    /// A picture.
    File(&'static str, Vec<u8>),
}

impl Page {
    /// A page in a language, for whoever has access. Without a language it follows the browser, without a notation the
    /// language.
    pub fn new(
        language: impl Into<Option<Language>>,
        notation: impl Into<Option<Notation>>,
        access: Access,
    ) -> Self {
        let told = (language.into(), notation.into());
        Self { told, words: Words::of(Language::default()), notation: Notation::default(), access }
    }

    /// Takes the language of a request.
    fn speak(&mut self, request: &Request<Vec<u8>>) {
        let (language, notation) = self.told;
        let wanted = || request.headers().get(header::ACCEPT_LANGUAGE)?.to_str().ok();
        let language = language.or_else(|| Language::first_of(wanted()?)).unwrap_or_default();
        self.words = Words::of(language);
        self.notation = notation.unwrap_or_else(|| Notation::of(language));
    }

    /// The answer to a request. An [`Effect`] among its extensions is for the caller to carry out.
    pub fn respond(&mut self, book: &mut FieldBook, request: &Request<Vec<u8>>) -> Response<Vec<u8>> {
        self.speak(request);
        if let Some(entered) = self.access.enter(request) {
            return finish(entered);
        }
        if !self.access.allows(request) {
            let text = self.words.text("error-forbidden");
            let page = layout::plain(self.words, &self.words.text("error-title"), &text);
            return finish(html(StatusCode::FORBIDDEN, page));
        }
        let said = layout::said(request);
        let reply = match *request.method() {
            Method::GET | Method::HEAD => self.get(book, request),
            Method::POST => self.post(book, request),
            _ => Err(Failure::NotThere),
        };
        let clear = said.is_some();
        let mut response = match reply {
            Ok(Reply::Html(status, content)) => html(status, content),
            Ok(Reply::SeeOther(address, done, effect)) => {
                let mut response = see_other(&address, done.as_ref());
                if let Some(effect) = effect {
                    response.extensions_mut().insert(effect);
                }
                response
            }
            Ok(Reply::Asset(kind, text)) => file_response(kind, text.into_bytes()),
            Ok(Reply::File(kind, bytes)) => file_response(kind, bytes),
            Err(failure) => self.failed(&failure),
        };
        // What was said once is not said again: not by a part of a page, and not by a file.
        let is_page = response.headers().get(header::CONTENT_TYPE).is_some_and(|kind| kind == HTML);
        if clear && is_page && !response.headers().contains_key(header::SET_COOKIE) {
            layout::forget_said(&mut response);
        }
        finish(response)
    }

    /// The book's version that a browser has, where it asks to be told once there is another
    /// (`GET /changes?since=VERSION`): whoever listens on the socket keeps the answer open, as server-sent events.
    pub fn watches(&self, request: &Request<Vec<u8>>) -> Option<i64> {
        let asks = *request.method() == Method::GET && request.uri().path() == "/changes";
        let since = form::Fields::of_query(request).get("since").parse().ok();
        since.filter(|_| asks && self.access.allows(request))
    }

    fn context<'a>(&'a self, book: &'a FieldBook) -> Context<'a> {
        Context { reader: book.read(), words: self.words, notation: self.notation }
    }

    /// Carries out an event and goes where it leads.
    fn event(&self, book: &mut FieldBook, event: &Event) -> Result<Reply, Failure> {
        let done = apply(book, self.words, self.notation, event)?;
        // The page of a new reading says by itself what was written down, and what it changed.
        let said = !matches!(done.place, Place::Wrote(..));
        let effect = done.effect;
        Ok(Reply::SeeOther(route::address(done.place), said.then_some(done), effect))
    }

    fn failed(&self, failure: &Failure) -> Response<Vec<u8>> {
        let (status, text) = match failure {
            Failure::NotThere => (StatusCode::NOT_FOUND, self.words.text("error-not-there")),
            Failure::Screen(
                error @ (ScreenError::NotThere { .. } | ScreenError::Book(BookError::NotFound { .. })),
            ) => (StatusCode::NOT_FOUND, error.in_words(self.words)),
            Failure::Screen(error) => (StatusCode::UNPROCESSABLE_ENTITY, error.in_words(self.words)),
            Failure::Refused(refusal @ Refusal::Book(BookError::Busy)) => {
                (StatusCode::SERVICE_UNAVAILABLE, refusal.in_words(self.words))
            }
            Failure::Refused(refusal) => (StatusCode::UNPROCESSABLE_ENTITY, refusal.in_words(self.words)),
        };
        html(status, layout::plain(self.words, &self.words.text("error-title"), &text))
    }
}

/// Why an address has no page.
enum Failure {
    /// There is no such address.
    NotThere,
    /// The screen's data cannot be had.
    Screen(ScreenError),
    /// An event was refused, and its form has no place for the reason.
    Refused(Refusal),
}

impl From<ScreenError> for Failure {
    fn from(error: ScreenError) -> Self {
        Self::Screen(error)
    }
}

impl From<Refusal> for Failure {
    fn from(refusal: Refusal) -> Self {
        Self::Refused(refusal)
    }
}

const HTML: &str = "text/html; charset=utf-8";

fn html(status: StatusCode, content: Markup) -> Response<Vec<u8>> {
    let mut response = Response::new(content.into_string().into_bytes());
    *response.status_mut() = status;
    response.headers_mut().insert(header::CONTENT_TYPE, header::HeaderValue::from_static(HTML));
    response
}

fn file_response(kind: &'static str, bytes: Vec<u8>) -> Response<Vec<u8>> {
    let mut response = Response::new(bytes);
    response.headers_mut().insert(header::CONTENT_TYPE, header::HeaderValue::from_static(kind));
    response
}

fn see_other(address: &str, done: Option<&Done>) -> Response<Vec<u8>> {
    let mut response = Response::new(Vec::new());
    *response.status_mut() = StatusCode::SEE_OTHER;
    // An address is made of ids and names of this program, which a header can hold.
    if let Ok(address) = header::HeaderValue::from_str(address) {
        response.headers_mut().insert(header::LOCATION, address);
    }
    if let Some(done) = done {
        layout::say_next(&mut response, done);
    }
    response
}

/// The headers of every response: nothing from outside, nothing shown without asking again, no frame around it. A page that
/// refused a form is kept, so that going back to it works. Without any
/// referrer a browser would send forms with the origin `null`.
fn finish(mut response: Response<Vec<u8>>) -> Response<Vec<u8>> {
    let headers = response.headers_mut();
    let policy = "default-src 'none'; script-src 'self'; style-src 'self'; img-src 'self'; \
                  connect-src 'self'; form-action 'self'; base-uri 'none'; frame-ancestors 'none'";
    headers.insert(header::CONTENT_SECURITY_POLICY, header::HeaderValue::from_static(policy));
    headers.insert(header::X_CONTENT_TYPE_OPTIONS, header::HeaderValue::from_static("nosniff"));
    headers.insert(header::REFERRER_POLICY, header::HeaderValue::from_static("same-origin"));
    headers.insert(header::CACHE_CONTROL, header::HeaderValue::from_static("private, no-cache"));
    response
}
