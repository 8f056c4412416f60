//! Logging in and out.

use super::frame::{Away, Page, page};
use super::guard::{Form, Keeper, SESSION, cookie, cookie_name, cookie_of, session, set};
use crate::api::address;
use crate::secret::secret;
use crate::shopkeepers::{LoginError, log_in, log_out};
use crate::state::Intake;
use axum::body::Body;
use axum::extract::State;
use axum::http::{Extensions, HeaderMap, StatusCode, header};
use axum::response::{IntoResponse, Redirect, Response};
use maud::html;
use std::sync::Arc;

/// The cookie that a login form has to repeat: nobody is logged in yet, so no session holds its secret.
const LOGIN: &str = "steerwright-login";
/// How long a login form may lie open, s.
const FORM_SECONDS: u32 = 3600;
/// How long a browser keeps the session's cookie, s: as long as a session lasts at most.
const SESSION_SECONDS: u32 = 12 * 3600;

/// The login.
pub(super) async fn get(State(intake): State<Arc<Intake>>, headers: HeaderMap) -> Result<Response, Away> {
    if session(&intake, &headers).await?.is_some() {
        return Ok(Redirect::to("/").into_response());
    }
    form(&intake, StatusCode::OK, None, "")
}

fn form(intake: &Intake, status: StatusCode, amiss: Option<&str>, name: &str) -> Result<Response, Away> {
    let repeat = secret()?;
    let content = html! {
        h1 { "Log in" }
        @if let Some(amiss) = amiss { p.amiss role="alert" { (amiss) } }
        form.login method="post" action="/login" {
            input type="hidden" name="form" value=(repeat);
            label for="name" { "Name" }
            input #name name="name" value=(name) autocomplete="username" autocapitalize="none" required autofocus;
            label for="password" { "Password" }
            input #password name="password" type="password" autocomplete="current-password" required;
            button type="submit" { "Log in" }
        }
    };
    let cookies = set([cookie(intake, LOGIN, &repeat, FORM_SECONDS)]);
    Ok((cookies, Page(status, page("Log in", None, content))).into_response())
}

/// A try.
pub(super) async fn post(
    State(intake): State<Arc<Intake>>,
    extensions: Extensions,
    headers: HeaderMap,
    content: Body,
) -> Result<Response, Away> {
    let sent = Form::read(&intake, &headers, content).await?;
    sent.repeats(cookie_of(&headers, &cookie_name(&intake, LOGIN)).unwrap_or_default())?;
    let name = sent.get("name").trim();
    if let Err(seconds) = intake.by_login.take(address(&extensions), intake.now()) {
        let text = format!("Too many tries. Please wait {seconds} s.");
        let response = form(&intake, StatusCode::TOO_MANY_REQUESTS, Some(&text), name)?;
        return Ok(([(header::RETRY_AFTER, seconds.to_string())], response).into_response());
    }
    // Each try costs memory on purpose, so few are worked on at a time.
    let _slot = intake.password_slots.acquire().await.map_err(|_| Away::Amiss)?;
    match log_in(&intake.database, name, sent.get("password").to_owned(), intake.now()).await {
        Ok(session) => {
            let cookies =
                set([cookie(&intake, SESSION, &session, SESSION_SECONDS), cookie(&intake, LOGIN, "", 0)]);
            Ok((cookies, Redirect::to("/")).into_response())
        }
        Err(LoginError::Wrong) => {
            intake.metrics.logins_failed.inc();
            form(&intake, StatusCode::FORBIDDEN, Some("Name or password are wrong."), name)
        }
        Err(LoginError::Database(error)) => Err(error.into()),
        Err(LoginError::Chance(error)) => Err(error.into()),
    }
}

/// The end of a session.
pub(super) async fn leave(
    State(intake): State<Arc<Intake>>,
    Keeper(keeper): Keeper,
    headers: HeaderMap,
    content: Body,
) -> Result<Response, Away> {
    Form::read(&intake, &headers, content).await?.repeats(&keeper.form_secret)?;
    if let Some(secret) = cookie_of(&headers, &cookie_name(&intake, SESSION)) {
        log_out(&intake.database, secret).await?;
    }
    Ok((set([cookie(&intake, SESSION, "", 0)]), Redirect::to("/login")).into_response())
}
