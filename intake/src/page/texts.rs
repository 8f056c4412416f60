//! The shop's own texts for answers.

use super::form::Form;
use super::layout::{Page, PageError, csrf_field, page};
use super::session::LoggedIn;
use crate::desk::{self, MOST_CHARS, MOST_NAME_CHARS, Template};
use crate::shopkeepers::Session;
use crate::state::AppState;
use axum::body::Body;
use axum::extract::State;
use axum::http::{HeaderMap, StatusCode};
use axum::response::{IntoResponse, Redirect, Response};
use maud::{Markup, html};
use std::sync::Arc;

/// `GET /texts`.
pub(super) async fn get(
    State(app): State<Arc<AppState>>,
    LoggedIn(session): LoggedIn,
) -> Result<Page, PageError> {
    let texts = desk::templates(&app.database).await?;
    let content = html! {
        h1 { "The shop's own texts" }
        p.under { "Choose one beside the answer of a request; there you can still change it." }
        @for (index, text) in texts.iter().enumerate() { section { (fields(&session, Some(text), index)) } }
        section { h2 { "A new text" } (fields(&session, None, texts.len())) }
    };
    Ok(Page(StatusCode::OK, page("The shop's own texts", Some(&session), content)))
}

fn fields(session: &Session, text: Option<&Template>, index: usize) -> Markup {
    let (name, words) = (format!("name-{index}"), format!("text-{index}"));
    html! {
        form.fields method="post" action="/texts" {
            (csrf_field(session))
            @if let Some(text) = text {
                h2 { (text.name) }
                input type="hidden" name="name" value=(text.name);
            } @else {
                label for=(name) { "Name" }
                input id=(name) name="name" maxlength=(MOST_NAME_CHARS) required;
            }
            label for=(words) { "Text" }
            textarea id=(words) name="text" rows="4" maxlength=(MOST_CHARS) { @if let Some(text) = text { (text.text) } }
            button.quiet type="submit" { "Keep it" }
            @if text.is_some() { p.under { "An empty text is removed." } }
        }
    }
}

/// `POST /texts`.
pub(super) async fn post(
    State(app): State<Arc<AppState>>,
    LoggedIn(session): LoggedIn,
    headers: HeaderMap,
    content: Body,
) -> Result<Response, PageError> {
    let form = Form::read(&app, &headers, content).await?;
    form.check_csrf_token(&session.csrf_token)?;
    let refused = || {
        let message =
            "Go back: the name has 1 to 80 characters in one line, the text at most 2000, all plain.";
        PageError::response(super::layout::error_page(
            StatusCode::UNPROCESSABLE_ENTITY,
            "Nothing was kept.",
            message,
        ))
    };
    let name = form.lines("name", MOST_NAME_CHARS).filter(|name| !name.contains('\n')).ok_or_else(refused)?;
    let text = match form.get("text").trim() {
        "" => String::new(),
        _ => form.lines("text", MOST_CHARS).ok_or_else(refused)?,
    };
    desk::write_template(&app.database, &Template { name, text }, &session.name, app.now()).await?;
    Ok(Redirect::to("/texts").into_response())
}
