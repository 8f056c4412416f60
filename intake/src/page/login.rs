//! Login and logout.

use super::form::Form;
use super::layout::{Page, PageError, page};
use super::session::{
    LoggedIn, SESSION_COOKIE, cookie_name, find_cookie, find_session, new_cookie, set_cookies,
};
use crate::crypto::new_token;
use crate::shopkeepers::{LoginError, log_in, log_out};
use crate::state::AppState;
use axum::body::Body;
use axum::extract::State;
use axum::http::{Extensions, HeaderMap, StatusCode, header};
use axum::response::{IntoResponse, Redirect, Response};
use maud::html;
use std::sync::Arc;

/// The cookie with the login form's CSRF token, because no session exists before the login.
const LOGIN_COOKIE: &str = "steerwright-login";
/// Lifetime of a login form, s.
const FORM_SECONDS: u32 = 3600;
/// Lifetime of the session cookie, s; equal to the maximum age of a session.
const SESSION_SECONDS: u32 = 12 * 3600;

/// `GET /login`.
pub(super) async fn get(State(app): State<Arc<AppState>>, headers: HeaderMap) -> Result<Response, PageError> {
    if find_session(&app, &headers).await?.is_some() {
        return Ok(Redirect::to("/").into_response());
    }
    login_form(&app, StatusCode::OK, None, "")
}

fn login_form(
    app: &AppState,
    status: StatusCode,
    error: Option<&str>,
    name: &str,
) -> Result<Response, PageError> {
    let token = new_token()?;
    let content = html! {
        h1 { "Log in" }
        @if let Some(error) = error { p.notice role="alert" { (error) } }
        form.login method="post" action="/login" {
            input type="hidden" name="csrf_token" value=(token);
            label for="name" { "Name" }
            input #name name="name" value=(name) autocomplete="username" autocapitalize="none" required autofocus;
            label for="password" { "Password" }
            input #password name="password" type="password" autocomplete="current-password" required;
            button type="submit" { "Log in" }
        }
    };
    let cookies = set_cookies([new_cookie(app, LOGIN_COOKIE, &token, FORM_SECONDS)]);
    Ok((cookies, Page(status, page("Log in", None, content))).into_response())
}

/// `POST /login`.
pub(super) async fn post(
    State(app): State<Arc<AppState>>,
    extensions: Extensions,
    headers: HeaderMap,
    content: Body,
) -> Result<Response, PageError> {
    let form = Form::read(&app, &headers, content).await?;
    form.check_csrf_token(find_cookie(&headers, &cookie_name(&app, LOGIN_COOKIE)).unwrap_or_default())?;
    let name = form.get("name").trim();
    // A name is limited at each address alone, so that nobody locks its owner out from elsewhere.
    let (client, now) = (app.proxies.client_key(&extensions, &headers), app.now());
    let allowed = app.login_address_limiter.acquire(client, now);
    let named = || app.login_limiter.acquire((client, name.to_lowercase()), now);
    if let Err(seconds) = allowed.and_then(|()| named()) {
        let message = format!("Too many tries. Please wait {seconds} s.");
        let response = login_form(&app, StatusCode::TOO_MANY_REQUESTS, Some(&message), name)?;
        return Ok(([(header::RETRY_AFTER, seconds.to_string())], response).into_response());
    }
    // argon2 uses much memory by design, so the number of concurrent verifications is limited.
    let _slot = app.password_slots.acquire().await.map_err(|_| PageError::Internal)?;
    match log_in(&app.database, name, form.get("password").to_owned(), app.now()).await {
        Ok(token) => {
            let cookies = set_cookies([
                new_cookie(&app, SESSION_COOKIE, &token, SESSION_SECONDS),
                new_cookie(&app, LOGIN_COOKIE, "", 0),
            ]);
            Ok((cookies, Redirect::to("/")).into_response())
        }
        Err(LoginError::Wrong) => {
            app.metrics.logins_failed.inc();
            login_form(&app, StatusCode::FORBIDDEN, Some("Name or password are wrong."), name)
        }
        Err(error) => Err(error.into()),
    }
}

/// `POST /logout`.
pub(super) async fn logout(
    State(app): State<Arc<AppState>>,
    LoggedIn(session): LoggedIn,
    headers: HeaderMap,
    content: Body,
) -> Result<Response, PageError> {
    Form::read(&app, &headers, content).await?.check_csrf_token(&session.csrf_token)?;
    if let Some(token) = find_cookie(&headers, &cookie_name(&app, SESSION_COOKIE)) {
        log_out(&app.database, token).await?;
    }
    // Browsers that know the header also drop what they kept of the pages.
    let clear = [("clear-site-data", "\"cache\"")];
    Ok((clear, set_cookies([new_cookie(&app, SESSION_COOKIE, "", 0)]), Redirect::to("/login"))
        .into_response())
}
