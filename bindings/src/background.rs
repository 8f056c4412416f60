//! Long-running work on a separate thread, with progress reports and cancellation.

use crate::{ShellError, SteerwrightError};
use futures_channel::oneshot;
use std::panic::{AssertUnwindSafe, catch_unwind};
use std::sync::Arc;
use std::sync::atomic::{AtomicBool, Ordering};
use steerwright_core::book::{BookError, Progress};

/// Receives progress reports from long-running work.
#[uniffi::export(foreign)]
pub trait ProgressListener: Send + Sync {
    /// Reports that `done` of `of` steps are complete. Called on the worker thread. An error from this call
    /// cancels the work.
    fn progress(&self, done: u64, of: u64) -> Result<(), ShellError>;
}

/// Cancels long-running work. One token may be passed to several tasks; cancelling it cancels all of them.
#[derive(Debug, Default, uniffi::Object)]
pub struct CancellationToken(AtomicBool);

#[uniffi::export]
impl CancellationToken {
    /// Creates a token that is not cancelled.
    #[uniffi::constructor]
    pub fn new() -> Arc<Self> {
        Arc::default()
    }

    /// Cancels the work at its next step. The work then fails with `Cancelled` and has changed nothing.
    pub fn cancel(&self) {
        self.0.store(true, Ordering::Relaxed);
    }

    /// Whether `cancel` was called.
    pub fn is_cancelled(&self) -> bool {
        self.0.load(Ordering::Relaxed)
    }
}

/// Progress reporting and cancellation for one task: the listener to notify and the tokens to check.
pub(crate) struct ProgressReporter {
    listener: Option<Arc<dyn ProgressListener>>,
    tokens: [Arc<CancellationToken>; 2],
    threw: Option<ShellError>,
}

impl ProgressReporter {
    /// Reports a completed step. Returns an error if the work has to stop.
    pub(crate) fn step(&mut self, done: u64, of: u64) -> Result<(), SteerwrightError> {
        if self.should_continue(done, of) { Ok(()) } else { Err(self.why(BookError::Cancelled.into())) }
    }

    /// The error to return for the task. An error thrown by the listener takes precedence over `Cancelled`.
    pub(crate) fn why(&mut self, error: SteerwrightError) -> SteerwrightError {
        match (error, self.threw.take()) {
            (SteerwrightError::Cancelled { .. }, Some(threw)) => threw.into(),
            (error, _) => error,
        }
    }

    pub(crate) fn is_cancelled(&self) -> bool {
        self.tokens.iter().any(|cancellation| cancellation.is_cancelled())
    }
}

impl Progress for ProgressReporter {
    fn should_continue(&mut self, done: u64, of: u64) -> bool {
        if self.is_cancelled() {
            return false;
        }
        if let Some(Err(threw)) = self.listener.as_ref().map(|listener| listener.progress(done, of)) {
            self.threw = Some(threw);
            return false;
        }
        true
    }
}

/// Cancels the work when its future is dropped, because nothing awaits the result any more.
struct Dropped(Arc<CancellationToken>);

impl Drop for Dropped {
    fn drop(&mut self) {
        self.0.cancel();
    }
}

/// Runs `work` on its own thread. A panic is returned as [`SteerwrightError::Internal`].
pub(crate) async fn off_thread<T: Send + 'static>(
    listener: Option<Arc<dyn ProgressListener>>,
    cancellation: Option<Arc<CancellationToken>>,
    work: impl FnOnce(&mut ProgressReporter) -> Result<T, SteerwrightError> + Send + 'static,
) -> Result<T, SteerwrightError> {
    let own = CancellationToken::new();
    let dropped = Dropped(own.clone());
    let tokens = [own, cancellation.unwrap_or_default()];
    let (tell, told) = oneshot::channel();
    let run = move || {
        let mut progress = ProgressReporter { listener, tokens, threw: None };
        let done = catch_unwind(AssertUnwindSafe(|| {
            let done = work(&mut progress);
            done.map_err(|error| progress.why(error))
        }));
        // Sending fails only if the receiver was dropped; the result is then not needed.
        let _ = tell.send(done.unwrap_or_else(|panic| Err(SteerwrightError::internal(words(&*panic)))));
    };
    let started = std::thread::Builder::new().name("steerwright".to_owned()).spawn(run);
    if let Err(error) = started {
        return Err(SteerwrightError::Device { reason: format!("no thread for the work: {error}") });
    }
    let result = told.await;
    drop(dropped);
    result.unwrap_or_else(|_| Err(SteerwrightError::internal("the work ended without a word")))
}

/// The message of a panic payload; empty if the payload is not a string.
fn words(panic: &(dyn std::any::Any + Send)) -> String {
    let words = panic.downcast_ref::<String>().cloned();
    words.or_else(|| panic.downcast_ref::<&str>().map(|text| (*text).to_owned())).unwrap_or_default()
}

#[cfg(test)]
mod tests {
    use super::*;
    use std::future::Future;
    use std::pin::pin;
    use std::task::{Context, Poll, Wake, Waker};

    struct Unpark(std::thread::Thread);

    impl Wake for Unpark {
        fn wake(self: Arc<Self>) {
            self.0.unpark();
        }
    }

    fn wait<T>(future: impl Future<Output = T>) -> T {
        let mut future = pin!(future);
        let waker = Waker::from(Arc::new(Unpark(std::thread::current())));
        loop {
            match future.as_mut().poll(&mut Context::from_waker(&waker)) {
                Poll::Ready(value) => return value,
                Poll::Pending => std::thread::park(),
            }
        }
    }

    #[test]
    fn a_mistake_on_the_thread_arrives_in_words() {
        let work = |_: &mut ProgressReporter| -> Result<(), SteerwrightError> { panic!("lost {}", 7) };
        let result = wait(off_thread(None, None, work));
        assert_eq!(result, Err(SteerwrightError::Internal { reason: "lost 7".into() }));
    }

    #[test]
    fn a_stop_reaches_the_work_and_so_does_letting_go() {
        let cancellation = CancellationToken::new();
        cancellation.cancel();
        let result = wait(off_thread(None, Some(cancellation), |progress| progress.step(0, 1)));
        assert!(matches!(result, Err(SteerwrightError::Cancelled { .. })), "{result:?}");

        let (tell, told) = std::sync::mpsc::channel();
        let mut future = Box::pin(off_thread(None, None, move |progress| {
            while progress.step(0, 0).is_ok() {
                std::thread::yield_now();
            }
            let _ = tell.send(());
            Ok(())
        }));
        let waker = Waker::noop();
        assert!(future.as_mut().poll(&mut Context::from_waker(waker)).is_pending());
        drop(future);
        assert_eq!(told.recv(), Ok(()));
    }
}
