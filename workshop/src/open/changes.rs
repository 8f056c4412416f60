//! Tells browsers that the book has changed, by this page or by another program: server-sent events (WHATWG HTML, 9.2).

use super::{Body, Shared};
use http_body_util::BodyExt;
use http_body_util::channel::Channel;
use hyper::body::Bytes;
use hyper::{Response, header};
use std::sync::{Arc, Mutex, PoisonError};
use std::time::Duration;

/// Interval at which the book is looked at while a browser listens.
const INTERVAL: Duration = Duration::from_millis(700);

/// An answer that stays open and tells each version of the book after `since`.
pub(super) fn stream(shared: Arc<Mutex<Shared>>, since: i64) -> Response<Body> {
    let (mut sender, body) = Channel::<Bytes>::new(1);
    tokio::spawn(async move {
        let mut told = since;
        // A comment line, so that the browser has the head of the answer at once.
        let mut line = Bytes::from_static(b":\n\n");
        // Sending fails once the browser has gone.
        while sender.send_data(line).await.is_ok() {
            line = loop {
                tokio::time::sleep(INTERVAL).await;
                let shared = Arc::clone(&shared);
                let version = tokio::task::spawn_blocking(move || {
                    shared.lock().unwrap_or_else(PoisonError::into_inner).book.read().version()
                });
                match version.await {
                    Ok(Ok(version)) if version != told => {
                        told = version;
                        break Bytes::from(format!("data: {version}\n\n"));
                    }
                    Ok(Ok(_)) => break Bytes::from_static(b":\n\n"),
                    // The next look may succeed: another program may have held the book.
                    Ok(Err(_)) | Err(_) => {}
                }
            };
        }
    });
    let mut response = Response::new(body.map_err(|never| match never {}).boxed());
    let headers = response.headers_mut();
    headers.insert(header::CONTENT_TYPE, header::HeaderValue::from_static("text/event-stream"));
    headers.insert(header::CACHE_CONTROL, header::HeaderValue::from_static("no-store"));
    response
}
