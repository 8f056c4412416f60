//! The HTTP/1 server: connection limit, header timeout, graceful shutdown.

use crate::api::PeerAddress;
use axum::Router;
use axum::body::Body;
use axum::http::Request;
use hyper::body::Incoming;
use hyper::server::conn::http1;
use hyper::service::service_fn;
use hyper_util::rt::{TokioIo, TokioTimer};
use hyper_util::server::graceful::GracefulShutdown;
use std::future::Future;
use std::sync::Arc;
use std::time::Duration;
use tokio::net::TcpListener;
use tokio::sync::Semaphore;
use tower::ServiceExt;

/// Maximum number of open connections; further ones wait in the listener's backlog.
const MAX_CONNECTIONS: usize = 1024;
/// Timeout for a request's headers; it also closes idle connections.
const HEADER_TIMEOUT: Duration = Duration::from_secs(15);
/// Time allowed for requests in progress after shutdown has begun.
const SHUTDOWN_TIMEOUT: Duration = Duration::from_secs(30);

/// Serves until `shutdown` completes, then waits for requests in progress.
pub async fn serve(listener: TcpListener, router: Router, shutdown: impl Future<Output = ()>) {
    let graceful = GracefulShutdown::new();
    let slots = Arc::new(Semaphore::new(MAX_CONNECTIONS));
    let mut shutdown = std::pin::pin!(shutdown);
    loop {
        let accepted = async {
            let slot = Arc::clone(&slots).acquire_owned().await;
            (slot, listener.accept().await)
        };
        let (slot, accepted) = tokio::select! {
            accepted = accepted => accepted,
            () = &mut shutdown => break,
        };
        let Ok((stream, peer)) = accepted else {
            // Most likely out of file descriptors: wait until connections close.
            tokio::time::sleep(Duration::from_millis(100)).await;
            continue;
        };
        let _ = stream.set_nodelay(true);
        let router = router.clone();
        let service = service_fn(move |mut request: Request<Incoming>| {
            request.extensions_mut().insert(PeerAddress(peer));
            router.clone().oneshot(request.map(Body::new))
        });
        let connection = http1::Builder::new()
            .timer(TokioTimer::new())
            .header_read_timeout(HEADER_TIMEOUT)
            .max_headers(64)
            .serve_connection(TokioIo::new(stream), service);
        let connection = graceful.watch(connection);
        tokio::spawn(async move {
            // A client that disconnects is not a server error.
            let _ = connection.await;
            drop(slot);
        });
    }
    drop(listener);
    if tokio::time::timeout(SHUTDOWN_TIMEOUT, graceful.shutdown()).await.is_err() {
        tracing::warn!("requests in progress did not end in time");
    }
}

/// Completes at SIGTERM or Ctrl-C.
pub async fn shutdown_signal() {
    let interrupt = async {
        if tokio::signal::ctrl_c().await.is_err() {
            std::future::pending::<()>().await;
        }
    };
    #[cfg(unix)]
    let terminate = async {
        match tokio::signal::unix::signal(tokio::signal::unix::SignalKind::terminate()) {
            Ok(mut signal) => {
                signal.recv().await;
            }
            Err(_) => std::future::pending::<()>().await,
        }
    };
    #[cfg(not(unix))]
    let terminate = std::future::pending::<()>();
    tokio::select! {
        () = interrupt => {}
        () = terminate => {}
    }
}
