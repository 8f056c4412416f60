//! The HTTP/1 server: limits on connections, deadlines for clients that stall, graceful shutdown.

use crate::proxies::{PeerAddress, TrustedProxies, household};
use axum::Router;
use axum::body::Body;
use axum::http::Request;
use hyper::body::Incoming;
use hyper::server::conn::http1;
use hyper::service::service_fn;
use hyper_util::rt::{TokioIo, TokioTimer};
use hyper_util::server::graceful::GracefulShutdown;
use std::collections::HashMap;
use std::future::Future;
use std::net::IpAddr;
use std::sync::{Arc, Mutex, PoisonError};
use std::time::Duration;
use tokio::net::TcpListener;
use tokio::sync::Semaphore;
use tokio_io_timeout::TimeoutStream;
use tower::ServiceExt;

/// Time allowed for requests in progress after shutdown has begun.
const SHUTDOWN_TIMEOUT: Duration = Duration::from_secs(30);
/// Buffer of a connection, bytes: the most that a client makes the server hold by not reading.
const BUFFER_BYTES: usize = 64 << 10;

/// Limits on connections. The time for a body is the handlers' ([`Limits::body_timeout`](crate::Limits::body_timeout)).
#[derive(Debug, Clone)]
pub struct Connections {
    /// Maximum number of open connections; further ones wait in the listener's backlog.
    pub total: usize,
    /// Maximum number of open connections of one client address; further ones are closed.
    pub per_address: usize,
    /// Proxies, which have no limit per address.
    pub proxies: TrustedProxies,
    /// Timeout for a request's headers; it also closes idle connections.
    pub header_timeout: Duration,
    /// Timeout for a client that does not read while a response is written.
    pub write_timeout: Duration,
}

impl Default for Connections {
    fn default() -> Self {
        Self {
            total: 1024,
            per_address: 128,
            proxies: TrustedProxies::default(),
            header_timeout: Duration::from_secs(15),
            write_timeout: Duration::from_secs(20),
        }
    }
}

/// The number of open connections by address.
type OpenByAddress = Arc<Mutex<HashMap<IpAddr, usize>>>;

/// A connection's place among those of its address.
struct Place {
    open: OpenByAddress,
    address: IpAddr,
}

impl Place {
    /// A place, unless `most` are taken.
    fn take(open: &OpenByAddress, address: IpAddr, most: usize) -> Option<Self> {
        let mut counts = open.lock().unwrap_or_else(PoisonError::into_inner);
        let count = counts.entry(address).or_default();
        if *count >= most {
            return None;
        }
        *count += 1;
        Some(Self { open: Arc::clone(open), address })
    }
}

impl Drop for Place {
    fn drop(&mut self) {
        let mut counts = self.open.lock().unwrap_or_else(PoisonError::into_inner);
        if let Some(count) = counts.get_mut(&self.address) {
            *count -= 1;
            if *count == 0 {
                counts.remove(&self.address);
            }
        }
    }
}

/// Serves with the default limits until `shutdown` completes, then waits for requests in progress.
pub async fn serve(listener: TcpListener, router: Router, shutdown: impl Future<Output = ()>) {
    Connections::default().serve(listener, router, shutdown).await;
}

impl Connections {
    /// Serves until `shutdown` completes, then waits for requests in progress.
    pub async fn serve(self, listener: TcpListener, router: Router, shutdown: impl Future<Output = ()>) {
        let graceful = GracefulShutdown::new();
        let slots = Arc::new(Semaphore::new(self.total));
        let open = OpenByAddress::default();
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
            let most = if self.proxies.contains(peer.ip()) { usize::MAX } else { self.per_address };
            let Some(place) = Place::take(&open, household(peer.ip()), most) else { continue };
            let _ = stream.set_nodelay(true);
            let mut stream = TimeoutStream::new(stream);
            stream.set_write_timeout(Some(self.write_timeout));
            let router = router.clone();
            let service = service_fn(move |mut request: Request<Incoming>| {
                request.extensions_mut().insert(PeerAddress(peer));
                router.clone().oneshot(request.map(Body::new))
            });
            let connection = http1::Builder::new()
                .timer(TokioTimer::new())
                .header_read_timeout(self.header_timeout)
                .max_headers(64)
                .max_buf_size(BUFFER_BYTES)
                .serve_connection(TokioIo::new(Box::pin(stream)), service);
            let connection = graceful.watch(connection);
            tokio::spawn(async move {
                // A client that disconnects or stalls is not a server error.
                let _ = connection.await;
                drop((slot, place));
            });
        }
        drop(listener);
        if tokio::time::timeout(SHUTDOWN_TIMEOUT, graceful.shutdown()).await.is_err() {
            tracing::warn!("requests in progress did not end in time");
        }
    }
}

/// Completes at SIGTERM or Ctrl-C. The handler of SIGTERM is in place when this returns, so that whoever learned the address
/// of the server can end it.
pub fn shutdown_signal() -> impl Future<Output = ()> {
    #[cfg(unix)]
    let signal = tokio::signal::unix::signal(tokio::signal::unix::SignalKind::terminate());
    let interrupt = async {
        if tokio::signal::ctrl_c().await.is_err() {
            std::future::pending::<()>().await;
        }
    };
    #[cfg(unix)]
    let terminate = async {
        match signal {
            Ok(mut signal) => {
                signal.recv().await;
            }
            Err(_) => std::future::pending::<()>().await,
        }
    };
    #[cfg(not(unix))]
    let terminate = std::future::pending::<()>();
    async {
        tokio::select! {
            () = interrupt => {}
            () = terminate => {}
        }
    }
}
