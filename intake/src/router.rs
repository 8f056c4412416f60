//! All addresses together, and what holds for each of them: limits of time, headers, counts and one line in the log.

use crate::api::{self, Refusal};
use crate::metrics::Answered;
use crate::page;
use crate::secret::random;
use crate::state::Intake;
use axum::Router;
use axum::extract::{MatchedPath, Request, State};
use axum::http::{HeaderMap, HeaderName, HeaderValue, Method, StatusCode, Uri, header};
use axum::middleware::{Next, from_fn_with_state};
use axum::response::{IntoResponse, Response};
use axum::routing::get;
use data_encoding::HEXLOWER;
use std::sync::Arc;
use std::time::Instant;
use steerwright_protocol::wire::{PROBLEM_JSON, ProblemKind};
use tracing::{Instrument, Span, field};

/// What a page may load, wherever it comes from: only its own style sheet and pictures.
pub(crate) const POLICY: &str = "default-src 'none'; style-src 'self'; img-src 'self'; form-action 'self'; \
                                 frame-ancestors 'none'; base-uri 'none'";

/// Every address of the receiver.
pub fn router(intake: Arc<Intake>) -> Router {
    Router::new()
        .merge(api::routes())
        .merge(page::routes())
        .route("/healthz", get(healthz))
        .fallback(nothing_here)
        .method_not_allowed_fallback(another_method)
        .layer(from_fn_with_state(Arc::clone(&intake), around))
        .with_state(intake)
}

/// The counters, for an address of their own that only the shop's own machines reach.
pub fn metrics_router(intake: Arc<Intake>) -> Router {
    let text = async |State(intake): State<Arc<Intake>>| {
        ([(header::CONTENT_TYPE, crate::metrics::Metrics::MEDIA_TYPE)], intake.metrics.text())
    };
    Router::new().route("/metrics", get(text)).with_state(intake)
}

/// Whether the database answers.
async fn healthz(State(intake): State<Arc<Intake>>) -> Result<Response, Refusal> {
    let statement = crate::database::Statement::new("SELECT version FROM intake_version", []);
    intake.database.one(statement).await?;
    Ok(([(header::CONTENT_TYPE, "text/plain; charset=utf-8")], "ok\n").into_response())
}

fn for_programs(path: &str) -> bool {
    path.starts_with("/v1/") || path == "/v1" || path == "/healthz"
}

async fn nothing_here(uri: Uri) -> Response {
    if for_programs(uri.path()) {
        Refusal::new(ProblemKind::NotFound, "There is nothing at this address.").into_response()
    } else {
        page::nothing_here()
    }
}

async fn another_method(method: Method, uri: Uri) -> Response {
    if for_programs(uri.path()) {
        let detail = format!("This address does not take {method}.");
        Refusal::plain(StatusCode::METHOD_NOT_ALLOWED, Some(&detail)).into_response()
    } else {
        page::another_method()
    }
}

/// Around each call: time, log, counts, headers; and a problem in place of any refusal that is none yet.
async fn around(State(intake): State<Arc<Intake>>, request: Request, next: Next) -> Response {
    let began = Instant::now();
    let method = known_method(request.method());
    let route = request.extensions().get::<MatchedPath>().map_or("none", MatchedPath::as_str).to_owned();
    let api = for_programs(request.uri().path());
    let call = random::<8>().map(|bytes| HEXLOWER.encode(&bytes)).unwrap_or_default();
    // No path, no query, no header: ids and hashes are nobody's business, and tokens less.
    let span =
        tracing::info_span!("call", %call, method, %route, sender = field::Empty, shopkeeper = field::Empty);
    let answer = async {
        let response = match tokio::time::timeout(intake.limits.whole, next.run(request)).await {
            Ok(response) => response,
            Err(_) => Refusal::new(ProblemKind::Unavailable, "It took too long.").after(10).into_response(),
        };
        let mut response = if api { as_problem(response) } else { response };
        headers(response.headers_mut(), intake.https);
        let took = began.elapsed();
        let status = response.status().as_u16();
        tracing::info!(status, ms = took.as_secs_f64() * 1000.0, "answered");
        intake.metrics.answered(&Answered { method, route: route.clone(), status: status.into() }, took);
        response
    };
    answer.instrument(Span::clone(&span)).await
}

/// A label may only take few values.
fn known_method(method: &Method) -> &'static str {
    [
        ("GET", Method::GET),
        ("HEAD", Method::HEAD),
        ("POST", Method::POST),
        ("PUT", Method::PUT),
        ("DELETE", Method::DELETE),
    ]
    .into_iter()
    .find_map(|(name, known)| (known == *method).then_some(name))
    .unwrap_or("other")
}

/// Refusals that the libraries below wrote in plain text.
fn as_problem(response: Response) -> Response {
    let status = response.status();
    let told = response.headers().get(header::CONTENT_TYPE).is_some_and(|kind| kind == PROBLEM_JSON);
    if !(status.is_client_error() || status.is_server_error()) || told {
        return response;
    }
    let mut problem = Refusal::plain(status, None).into_response();
    for name in [header::ALLOW, header::RETRY_AFTER] {
        if let Some(value) = response.headers().get(&name) {
            problem.headers_mut().insert(name, value.clone());
        }
    }
    problem
}

fn headers(headers: &mut HeaderMap, https: bool) {
    let mut unless_there = |name: HeaderName, value: &'static str| {
        headers.entry(name).or_insert(HeaderValue::from_static(value));
    };
    unless_there(header::CONTENT_SECURITY_POLICY, POLICY);
    unless_there(header::X_CONTENT_TYPE_OPTIONS, "nosniff");
    unless_there(header::REFERRER_POLICY, "same-origin");
    unless_there(header::CACHE_CONTROL, "no-store");
    unless_there(HeaderName::from_static("cross-origin-opener-policy"), "same-origin");
    unless_there(HeaderName::from_static("cross-origin-resource-policy"), "same-origin");
    if https {
        unless_there(header::STRICT_TRANSPORT_SECURITY, "max-age=31536000");
    }
}
