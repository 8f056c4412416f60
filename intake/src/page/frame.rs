//! What every page has around it.

use crate::database::DatabaseError;
use crate::orders::OrdersError;
use crate::photos::PutError;
use crate::shopkeepers::Session;
use axum::http::{StatusCode, header};
use axum::response::{IntoResponse, Response};
use maud::{DOCTYPE, Markup, html};

/// A page as an answer.
pub(super) struct Page(pub(super) StatusCode, pub(super) Markup);

impl IntoResponse for Page {
    fn into_response(self) -> Response {
        let kind = [(header::CONTENT_TYPE, "text/html; charset=utf-8")];
        (self.0, kind, self.1.into_string()).into_response()
    }
}

/// A whole page with its title; `session` is who looks at it.
pub(super) fn page(title: &str, session: Option<&Session>, content: Markup) -> Markup {
    html! {
        (DOCTYPE)
        html lang="en" {
            head {
                meta charset="utf-8";
                meta name="viewport" content="width=device-width, initial-scale=1";
                meta name="color-scheme" content="light dark";
                title { (title) " · Steerwright" }
                link rel="stylesheet" href="/style.css";
                link rel="icon" href="/icon.svg" type="image/svg+xml";
            }
            body {
                a.skip href="#content" { "To the content" }
                header.top {
                    a.name href="/" { "Steerwright " span { "order requests" } }
                    @if let Some(session) = session {
                        form.leave method="post" action="/logout" {
                            (secret(session))
                            span.who { (session.name) }
                            button.quiet type="submit" { "Log out" }
                        }
                    }
                }
                main #content tabindex="-1" { (content) }
            }
        }
    }
}

/// What a form of a session has to repeat.
pub(super) fn secret(session: &Session) -> Markup {
    html! { input type="hidden" name="form" value=(session.form_secret); }
}

/// A refusal in words.
pub(super) fn refusal(status: StatusCode, title: &str, text: &str) -> Response {
    let content = html! {
        h1 { (title) }
        p { (text) }
        p { a href="/" { "To the list of requests" } }
    };
    Page(status, page(title, None, content)).into_response()
}

/// Why a page is not shown.
pub(super) enum Away {
    /// Another answer instead.
    Instead(Box<Response>),
    /// Something is amiss here.
    Amiss,
}

impl Away {
    /// Another answer instead.
    pub(super) fn instead(response: Response) -> Self {
        Self::Instead(Box::new(response))
    }
}

impl From<DatabaseError> for Away {
    fn from(error: DatabaseError) -> Self {
        tracing::error!(%error, "no page");
        Self::Amiss
    }
}

impl From<OrdersError> for Away {
    fn from(error: OrdersError) -> Self {
        tracing::error!(%error, "no page");
        Self::Amiss
    }
}

impl From<PutError> for Away {
    fn from(error: PutError) -> Self {
        tracing::error!(%error, "no photo");
        Self::Amiss
    }
}

impl From<crate::secret::NoChance> for Away {
    fn from(error: crate::secret::NoChance) -> Self {
        tracing::error!(%error, "no page");
        Self::Amiss
    }
}

impl IntoResponse for Away {
    fn into_response(self) -> Response {
        match self {
            Self::Instead(response) => *response,
            Self::Amiss => refusal(
                StatusCode::SERVICE_UNAVAILABLE,
                "Something is amiss.",
                "It is in the log. Please try again in a moment.",
            ),
        }
    }
}
