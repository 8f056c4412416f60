//! Taking connections, and ending gracefully.

use crate::api::Peer;
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

/// Connections at a time; more wait.
const CONNECTIONS: usize = 1024;
/// How long the head of a call may take, and how long a connection may lie idle.
const HEAD: Duration = Duration::from_secs(15);
/// How long calls that were begun may take to end once the process is told to stop.
const GRACE: Duration = Duration::from_secs(30);

/// Serves until `stop` is over, then ends what was begun.
pub async fn listen(listener: TcpListener, router: Router, stop: impl Future<Output = ()>) {
    let graceful = GracefulShutdown::new();
    let slots = Arc::new(Semaphore::new(CONNECTIONS));
    let mut stop = std::pin::pin!(stop);
    loop {
        let accepted = async {
            let slot = Arc::clone(&slots).acquire_owned().await;
            (slot, listener.accept().await)
        };
        let (slot, accepted) = tokio::select! {
            accepted = accepted => accepted,
            () = &mut stop => break,
        };
        let Ok((stream, peer)) = accepted else {
            // Out of files, most likely; those in use come back.
            tokio::time::sleep(Duration::from_millis(100)).await;
            continue;
        };
        let _ = stream.set_nodelay(true);
        let router = router.clone();
        let service = service_fn(move |mut request: Request<Incoming>| {
            request.extensions_mut().insert(Peer(peer));
            router.clone().oneshot(request.map(Body::new))
        });
        let connection = http1::Builder::new()
            .timer(TokioTimer::new())
            .header_read_timeout(HEAD)
            .max_headers(64)
            .serve_connection(TokioIo::new(stream), service);
        let connection = graceful.watch(connection);
        tokio::spawn(async move {
            // A client that breaks off is no fault of ours.
            let _ = connection.await;
            drop(slot);
        });
    }
    drop(listener);
    if tokio::time::timeout(GRACE, graceful.shutdown()).await.is_err() {
        tracing::warn!("calls that were begun did not end in time");
    }
}

/// Over when the process is told to stop: SIGTERM or Ctrl-C.
pub async fn told_to_stop() {
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
