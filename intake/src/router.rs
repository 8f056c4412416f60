//! All routes, and their middleware: a span and a log line per request, metrics, response headers, and
//! problem documents (RFC 9457) for plain error responses, panics and timeouts.

use crate::api::{self, Caller, ProblemResponse};
use crate::crypto::random_bytes;
use crate::metrics::ResponseLabels;
use crate::page;
use crate::state::{AppState, Failure};
use axum::Router;
use axum::extract::{MatchedPath, Request, State};
use axum::http::{HeaderName, HeaderValue, Method, StatusCode, Uri, header};
use axum::middleware::{Next, from_fn, from_fn_with_state};
use axum::response::{IntoResponse, Response};
use axum::routing::get;
use data_encoding::HEXLOWER;
use std::any::Any;
use std::sync::Arc;
use std::time::{Duration, Instant};
use steerwright_protocol::wire::{PROBLEM_JSON, ProblemKind};
use tower::ServiceBuilder;
use tower_http::catch_panic::CatchPanicLayer;
use tower_http::request_id::{MakeRequestId, PropagateRequestIdLayer, RequestId, SetRequestIdLayer};
use tower_http::set_header::SetResponseHeaderLayer;
use tower_http::timeout::TimeoutLayer;
use tower_http::trace::TraceLayer;
use tracing::{Span, field};

/// Content security policy: a page loads only its own style sheet and images.
const CONTENT_SECURITY_POLICY: &str = "default-src 'none'; style-src 'self'; img-src 'self'; form-action 'self'; \
                                       frame-ancestors 'none'; base-uri 'none'";

/// The status of [`TimeoutLayer`]'s response, which has no body; [`as_problem`] adds one.
const TIMED_OUT: StatusCode = StatusCode::SERVICE_UNAVAILABLE;

/// The header of a response with the call's name in the log.
const CALL_ID: HeaderName = HeaderName::from_static("x-request-id");

/// Names calls by chance. A name that a client sends is not taken.
#[derive(Debug, Clone, Copy)]
struct CallIds;

impl MakeRequestId for CallIds {
    fn make_request_id<B>(&mut self, _: &axum::http::Request<B>) -> Option<RequestId> {
        let id = HEXLOWER.encode(&random_bytes::<8>().ok()?);
        HeaderValue::from_str(&id).ok().map(RequestId::new)
    }
}

/// All routes of the receiver.
pub fn router(app: Arc<AppState>) -> Router {
    // The first layer is the outermost.
    let middleware = ServiceBuilder::new()
        .layer(from_fn(without_client_ids))
        .layer(SetRequestIdLayer::new(CALL_ID, CallIds))
        .layer(
            TraceLayer::new_for_http()
                .make_span_with(span)
                .on_request(())
                .on_response(log_response)
                .on_body_chunk(())
                .on_eos(())
                .on_failure(()),
        )
        .layer(PropagateRequestIdLayer::new(CALL_ID))
        .layer(from_fn_with_state(Arc::clone(&app), record_metrics))
        .layer(if_not_present(header::CONTENT_SECURITY_POLICY, CONTENT_SECURITY_POLICY))
        .layer(if_not_present(header::X_CONTENT_TYPE_OPTIONS, "nosniff"))
        .layer(if_not_present(header::REFERRER_POLICY, "same-origin"))
        .layer(if_not_present(header::CACHE_CONTROL, "no-store"))
        .layer(if_not_present(HeaderName::from_static("cross-origin-opener-policy"), "same-origin"))
        .layer(if_not_present(HeaderName::from_static("cross-origin-resource-policy"), "same-origin"))
        .layer(SetResponseHeaderLayer::if_not_present(
            header::STRICT_TRANSPORT_SECURITY,
            app.https.then(|| HeaderValue::from_static("max-age=31536000")),
        ))
        .layer(from_fn(as_problem))
        .layer(CatchPanicLayer::custom(panicked))
        .layer(TimeoutLayer::with_status_code(TIMED_OUT, app.limits.request_timeout));
    Router::new()
        .merge(api::routes())
        .merge(page::routes())
        .route("/healthz", get(healthz))
        .fallback(not_found)
        .method_not_allowed_fallback(method_not_allowed)
        .layer(middleware)
        .with_state(app)
}

/// A client does not choose the name of its call in the log.
async fn without_client_ids(mut request: Request, next: Next) -> Response {
    request.headers_mut().remove(CALL_ID);
    next.run(request).await
}

/// The routes of the metrics and of the health check, for a separate listener on an internal network, which answers even
/// while strangers take every connection of the other.
pub fn metrics_router(app: Arc<AppState>) -> Router {
    let text = async |State(app): State<Arc<AppState>>| {
        ([(header::CONTENT_TYPE, crate::metrics::Metrics::MEDIA_TYPE)], app.metrics.text())
    };
    Router::new().route("/metrics", get(text)).route("/healthz", get(healthz)).with_state(app)
}

/// Health check: whether the database responds.
async fn healthz(State(app): State<Arc<AppState>>) -> Result<Response, ProblemResponse> {
    let statement = crate::database::Statement::new("SELECT version FROM schema_version", []);
    app.database.run_one(statement).await?;
    Ok(([(header::CONTENT_TYPE, "text/plain; charset=utf-8")], "ok\n").into_response())
}

/// Whether errors at a path are problem documents instead of HTML pages.
fn is_api_path(path: &str) -> bool {
    path.starts_with("/v1/") || path == "/v1" || path == "/healthz"
}

async fn not_found(uri: Uri) -> Response {
    if is_api_path(uri.path()) {
        ProblemResponse::new(ProblemKind::NotFound, "There is nothing at this address.").into_response()
    } else {
        page::not_found()
    }
}

async fn method_not_allowed(method: Method, uri: Uri) -> Response {
    if is_api_path(uri.path()) {
        let detail = format!("This address does not take {method}.");
        ProblemResponse::from_status(StatusCode::METHOD_NOT_ALLOWED, Some(&detail)).into_response()
    } else {
        page::method_not_allowed()
    }
}

/// The method as a metrics label, limited to a few values.
fn method_label(method: &Method) -> &'static str {
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

/// The matched route as declared, such as `/v1/photos/{sha256}`.
fn route(request: &Request) -> &str {
    request.extensions().get::<MatchedPath>().map_or("none", MatchedPath::as_str)
}

/// The span of a request. It contains no path, query or header, because those contain ids, hashes and tokens.
fn span(request: &Request) -> Span {
    let call = request.headers().get(CALL_ID).and_then(|id| id.to_str().ok()).unwrap_or_default();
    let (method, route) = (method_label(request.method()), route(request));
    tracing::info_span!("call", %call, method, %route, sender = field::Empty, shopkeeper = field::Empty)
}

fn log_response<B>(response: &Response<B>, latency: Duration, _: &Span) {
    tracing::info!(status = response.status().as_u16(), ms = latency.as_secs_f64() * 1000.0, "answered");
}

/// Records the response and its latency. A separate layer, because [`TraceLayer`] does not pass the request
/// to its response callback.
async fn record_metrics(State(app): State<Arc<AppState>>, mut request: Request, next: Next) -> Response {
    let start = Instant::now();
    let (caller, api) = (Caller::default(), is_api_path(request.uri().path()));
    request.extensions_mut().insert(caller.clone());
    let (method, route) = (method_label(request.method()), route(&request).to_owned());
    let response = next.run(request).await;
    let status = response.status().as_u16();
    // That a photo is not there yet, or where it goes on, is how an upload begins.
    if api && status >= 400 && !matches!((method, status), ("HEAD", 404) | ("PUT", 416)) {
        let (at, sender) = (app.now(), caller.0.get().copied());
        app.note_failure(Failure { at, method, route: route.clone(), status, sender });
    }
    let status = status.into();
    app.metrics.record_response(&ResponseLabels { method, route, status }, start.elapsed());
    response
}

fn if_not_present(name: HeaderName, value: &'static str) -> SetResponseHeaderLayer<HeaderValue> {
    SetResponseHeaderLayer::if_not_present(name, HeaderValue::from_static(value))
}

/// The response to a panic of a handler: 500 as a problem document. The message is logged and not sent.
fn panicked(payload: Box<dyn Any + Send>) -> Response {
    let message = payload.downcast_ref::<&str>().copied();
    let message = message.or_else(|| payload.downcast_ref::<String>().map(String::as_str));
    ProblemResponse::internal(&message.unwrap_or("a panic without a message")).into_response()
}

/// Replaces error responses of libraries and inner layers, in plain text or without a body, with problem documents.
async fn as_problem(request: Request, next: Next) -> Response {
    let api = is_api_path(request.uri().path());
    let call = request.headers().get(CALL_ID).and_then(|id| id.to_str().ok()).unwrap_or_default().to_owned();
    let response = next.run(request).await;
    let status = response.status();
    if status == StatusCode::INTERNAL_SERVER_ERROR {
        let detail = format!("A fault here; it is in the log as {call}.");
        return match api {
            true => ProblemResponse::from_status(status, Some(&detail)).into_response(),
            false => page::internal_error(&detail),
        };
    }
    let kind = response.headers().get(header::CONTENT_TYPE);
    // Every handler's error response has a body, so a 503 without a content type comes from the timeout.
    if status == TIMED_OUT && kind.is_none() {
        return ProblemResponse::new(ProblemKind::Unavailable, "It took too long.")
            .retry_after(10)
            .into_response();
    }
    let is_problem = kind.is_some_and(|kind| kind == PROBLEM_JSON);
    if !api || is_problem || !(status.is_client_error() || status.is_server_error()) {
        return response;
    }
    let mut problem = ProblemResponse::from_status(status, None).into_response();
    for name in [header::ALLOW, header::RETRY_AFTER] {
        if let Some(value) = response.headers().get(&name) {
            problem.headers_mut().insert(name, value.clone());
        }
    }
    problem
}
