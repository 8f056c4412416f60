//! The layout of all pages, and error pages.

use crate::database::DatabaseError;
use crate::orders::OrdersError;
use crate::photos::UploadError;
use crate::shopkeepers::{LoginError, Session};
use axum::http::{StatusCode, header};
use axum::response::{IntoResponse, Response};
use maud::{DOCTYPE, Markup, html};
use tokio::task::JoinError;

/// A page as a response.
pub(super) struct Page(pub(super) StatusCode, pub(super) Markup);

impl IntoResponse for Page {
    fn into_response(self) -> Response {
        let kind = [(header::CONTENT_TYPE, "text/html; charset=utf-8")];
        (self.0, kind, self.1.into_string()).into_response()
    }
}

/// A complete HTML document. With a session it has the shopkeeper's name and a logout button.
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
                        form.logout method="post" action="/logout" {
                            (csrf_field(session))
                            @if session.owner { a.plain href="/state" { "State" } }
                            a.plain href="/account" { (session.name) }
                            button.quiet type="submit" { "Log out" }
                        }
                    }
                }
                main #content tabindex="-1" { (content) }
            }
        }
    }
}

/// A document to be printed, without anything to press.
pub(super) fn printed(title: &str, content: Markup) -> Markup {
    html! {
        (DOCTYPE)
        html lang="en" {
            head {
                meta charset="utf-8";
                meta name="viewport" content="width=device-width, initial-scale=1";
                title { (title) " · Steerwright" }
                link rel="stylesheet" href="/print.css";
                link rel="icon" href="/icon.svg" type="image/svg+xml";
            }
            body { main { (content) } }
        }
    }
}

/// The hidden field with the session's CSRF token.
pub(super) fn csrf_field(session: &Session) -> Markup {
    html! { input type="hidden" name="csrf_token" value=(session.csrf_token); }
}

/// An error page.
pub(super) fn error_page(status: StatusCode, title: &str, message: &str) -> Response {
    let content = html! {
        h1 { (title) }
        p { (message) }
        p { a href="/" { "To the list of requests" } }
    };
    Page(status, page(title, None, content)).into_response()
}

/// Why a handler returns no page.
pub(super) enum PageError {
    /// Another response is sent instead.
    Response(Box<Response>),
    /// A server error, which has been logged.
    Internal,
}

impl PageError {
    /// Wraps a response to send instead of a page.
    pub(super) fn response(response: Response) -> Self {
        Self::Response(Box::new(response))
    }
}

impl From<DatabaseError> for PageError {
    fn from(error: DatabaseError) -> Self {
        tracing::error!(%error, "no page");
        Self::Internal
    }
}

impl From<LoginError> for PageError {
    fn from(error: LoginError) -> Self {
        tracing::error!(%error, "no login");
        Self::Internal
    }
}

impl From<JoinError> for PageError {
    fn from(error: JoinError) -> Self {
        tracing::error!(%error, "no page: a task failed");
        Self::Internal
    }
}

impl From<OrdersError> for PageError {
    fn from(error: OrdersError) -> Self {
        tracing::error!(%error, "no page");
        Self::Internal
    }
}

impl From<UploadError> for PageError {
    fn from(error: UploadError) -> Self {
        tracing::error!(%error, "no photo");
        Self::Internal
    }
}

impl From<crate::crypto::RandomnessError> for PageError {
    fn from(error: crate::crypto::RandomnessError) -> Self {
        tracing::error!(%error, "no page");
        Self::Internal
    }
}

impl IntoResponse for PageError {
    fn into_response(self) -> Response {
        match self {
            Self::Response(response) => *response,
            Self::Internal => error_page(
                StatusCode::SERVICE_UNAVAILABLE,
                "Something went wrong.",
                "It is in the log. Please try again in a moment.",
            ),
        }
    }
}
