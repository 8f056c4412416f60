//! A shopkeeper's own account: changing the password.

use super::form::Form;
use super::layout::{Page, PageError, csrf_field, page};
use super::session::{LoggedIn, SESSION_COOKIE, cookie_name, find_cookie};
use crate::senders::AccountError;
use crate::shopkeepers::{LoginError, Session, change_password};
use crate::state::AppState;
use axum::body::Body;
use axum::extract::State;
use axum::http::{Extensions, HeaderMap, StatusCode};
use maud::html;
use std::sync::Arc;

/// `GET /account`.
pub(super) async fn get(LoggedIn(session): LoggedIn) -> Page {
    account(&session, StatusCode::OK, None)
}

fn account(session: &Session, status: StatusCode, said: Option<&str>) -> Page {
    let content = html! {
        h1 { (session.name) }
        section.login {
            h2 { "Change your password" }
            @if let Some(said) = said { p.notice role="alert" { (said) } }
            form method="post" action="/account" {
                (csrf_field(session))
                input type="hidden" name="username" value=(session.name) autocomplete="username";
                label for="present" { "Password now" }
                input #present name="present" type="password" autocomplete="current-password" required;
                label for="new" { "New password, 12 characters or more" }
                input #new name="new" type="password" autocomplete="new-password" minlength="12" maxlength="200" required;
                label for="again" { "The new password once more" }
                input #again name="again" type="password" autocomplete="new-password" required;
                button type="submit" { "Change it" }
            }
            p.under { "Your sessions in other browsers end." }
        }
    };
    Page(status, page("Your account", Some(session), content))
}

/// `POST /account`.
pub(super) async fn post(
    State(app): State<Arc<AppState>>,
    LoggedIn(session): LoggedIn,
    extensions: Extensions,
    headers: HeaderMap,
    content: Body,
) -> Result<Page, PageError> {
    let form = Form::read(&app, &headers, content).await?;
    form.check_csrf_token(&session.csrf_token)?;
    let refused = |said: &str| Ok(account(&session, StatusCode::UNPROCESSABLE_ENTITY, Some(said)));
    if form.get("new") != form.get("again") {
        return refused("The new password is not the same both times. Nothing was changed.");
    }
    // Somebody at an open session guesses no faster than at the login.
    let key = (app.proxies.client_key(&extensions, &headers), format!("{} (account)", session.name));
    if let Err(seconds) = app.login_limiter.acquire(key, app.now()) {
        let said = format!("Too many tries. Please wait {seconds} s.");
        return Ok(account(&session, StatusCode::TOO_MANY_REQUESTS, Some(&said)));
    }
    let token = find_cookie(&headers, &cookie_name(&app, SESSION_COOKIE)).unwrap_or_default();
    let _slot = app.password_slots.acquire().await.map_err(|_| PageError::Internal)?;
    let (present, new) = (form.get("present").to_owned(), form.get("new").to_owned());
    match change_password(&app.database, &session, token, present, new, app.now()).await {
        Ok(()) => Ok(account(&session, StatusCode::OK, Some("Your password is changed."))),
        Err(LoginError::Wrong) => refused("That is not your password now. Nothing was changed."),
        Err(LoginError::Account(AccountError::Password)) => {
            refused("A password has 12 to 200 characters. Nothing was changed.")
        }
        Err(error) => Err(error.into()),
    }
}
