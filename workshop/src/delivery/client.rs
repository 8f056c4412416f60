//! One HTTP call.

use super::network::{Network, is_loopback_uri};
use super::transport::{BytesSent, RequireTls};
use super::trust::Trust;
use std::fs::File;
use std::io::{self, Read, Seek, SeekFrom};
use std::path::Path;
use std::sync::Arc;
use std::sync::atomic::{AtomicBool, Ordering};
use std::time::Duration;
use steerwright_core::orders::{Answer, Body, CallOutcome, OutboundCall};
use ureq::http::{Request, Uri, header};
use ureq::tls::{TlsConfig, TlsProvider};
use ureq::unversioned::resolver::DefaultResolver;
use ureq::unversioned::transport::{Connector, RustlsConnector, TcpConnector};
use ureq::{Agent, Error, SendBody};

/// Time limits of a call.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub struct Timeouts {
    /// Connection setup, including name resolution and TLS handshake.
    pub connect: Duration,
    /// Maximum time without progress in reading or writing.
    pub silence: Duration,
    /// The whole call. The book treats a call as interrupted after five minutes, so the limit has to be shorter.
    pub whole: Duration,
}

impl Default for Timeouts {
    /// In two minutes, a 256 KiB chunk of a photo can be sent at 18 kbit/s, a poor mobile connection. (common
    /// practice, no source)
    fn default() -> Self {
        Self {
            connect: Duration::from_secs(20),
            silence: Duration::from_secs(45),
            whole: Duration::from_secs(120),
        }
    }
}

/// Why an outbox worker cannot be created.
#[derive(Debug, thiserror::Error)]
pub enum OutboxWorkerError {
    /// The time limit of a call exceeds the time for which the book waits for its result.
    #[error("a call may take four minutes at most")]
    Timeouts,
}

/// Makes calls to a shop. Open connections are reused.
pub struct OutboxWorker {
    agent: Agent,
    sent: BytesSent,
    pub(super) network: Box<dyn Network>,
}

/// Maximum size of a response head, bytes.
const HEAD: usize = 16 << 10;
/// Maximum time limit of a call: less than the five minutes after which the book treats it as interrupted.
const LONGEST: Duration = Duration::from_secs(240);

impl OutboxWorker {
    /// An outbox worker that accepts certificates according to `trust`. It asks `network` before each call
    /// whether the shop is reachable, and again after a call that did not reach it.
    ///
    /// # Errors
    /// The time limit of a call is zero or longer than the book waits.
    pub fn new(trust: &Trust, times: Timeouts, network: Box<dyn Network>) -> Result<Self, OutboxWorkerError> {
        if times.whole > LONGEST || times.whole.is_zero() {
            return Err(OutboxWorkerError::Timeouts);
        }
        let tls = TlsConfig::builder()
            .provider(TlsProvider::Rustls)
            .unversioned_rustls_crypto_provider(Arc::new(rustls::crypto::ring::default_provider()))
            .root_certs(trust.roots())
            .build();
        let config = Agent::config_builder()
            .tls_config(tls)
            .proxy(None)
            // A redirect is an ordinary response, which the book evaluates.
            .max_redirects(0)
            .max_redirects_will_error(false)
            .http_status_as_error(false)
            .user_agent(concat!("steerwright/", env!("CARGO_PKG_VERSION")))
            .accept_encoding("identity")
            .max_response_header_size(HEAD)
            // Shorter than the idle timeout of common servers.
            .max_idle_age(Duration::from_secs(8))
            .timeout_resolve(Some(times.connect))
            .timeout_connect(Some(times.connect))
            .timeout_per_read(Some(times.silence))
            .timeout_per_write(Some(times.silence))
            .timeout_global(Some(times.whole))
            .build();
        let sent = BytesSent::default();
        let way =
            ().chain(RequireTls)
                .chain(TcpConnector::default())
                .chain(RustlsConnector::default())
                .chain(sent.clone());
        Ok(Self { agent: Agent::with_parts(config, way, DefaultResolver::default()), sent, network })
    }

    /// Makes a call and returns its outcome. The call has to be recorded as begun in the book. Without a
    /// network, no connection is attempted.
    pub fn send(&mut self, call: &OutboundCall) -> CallOutcome {
        if !self.network.is_reachable(&call.base) {
            return CallOutcome::NoNetwork;
        }
        self.sent.begin();
        let no_file = Arc::new(AtomicBool::new(false));
        match self.call(call, &no_file) {
            Ok(answer) => CallOutcome::Answer(answer),
            Err(_) if no_file.load(Ordering::Relaxed) => CallOutcome::NoFile,
            Err(error) => self.end(&error, &call.base),
        }
    }

    fn call(&self, call: &OutboundCall, no_file: &Arc<AtomicBool>) -> Result<Answer, Error> {
        let uri: Uri = format!("{}{}", call.base, call.path).parse().map_err(|_| refused("an address"))?;
        if uri.scheme_str() != Some("https") && !is_loopback_uri(&uri) {
            return Err(Error::TlsRequired);
        }
        let mut request = Request::builder().method(call.method).uri(uri);
        for (name, value) in &call.headers {
            request = request.header(*name, value);
        }
        let (length, body) = match &call.body {
            Body::None => (None, SendBody::none()),
            Body::Text(text) => {
                let bytes = io::Cursor::new(text.clone().into_bytes());
                (Some(text.len() as u64), SendBody::from_owned_reader(bytes))
            }
            Body::File { path, from, to } => {
                let part = Part::open(path, *from, *to, no_file)?;
                (Some(part.left), SendBody::from_owned_reader(part))
            }
        };
        if let Some(length) = length {
            request = request.header(header::CONTENT_LENGTH, length);
        }
        let answer = self.agent.run(request.body(body).map_err(Error::Http)?)?;
        let (head, body) = answer.into_parts();
        let headers = head.headers.iter().map(|(name, value)| {
            (name.as_str().to_owned(), String::from_utf8_lossy(value.as_bytes()).into_owned())
        });
        let headers = headers.collect();
        let mut bytes = Vec::new();
        // One byte over the limit shows the book that the response is too long.
        body.into_reader().take(call.most_answer_bytes() as u64 + 1).read_to_end(&mut bytes)?;
        Ok(Answer { status: head.status.as_u16(), headers, body: bytes })
    }

    /// The outcome of a call without a response.
    fn end(&self, error: &Error, shop: &str) -> CallOutcome {
        let io = match error {
            Error::Io(io) => Some(io.kind()),
            _ => None,
        };
        let late = matches!(error, Error::Timeout(_)) || io == Some(io::ErrorKind::TimedOut);
        match self.sent.anything() {
            true if late => CallOutcome::Timeout,
            true => CallOutcome::ConnectionLost,
            false if is_tls(error) => CallOutcome::Tls,
            false if self.network.is_reachable(shop) => CallOutcome::NotReached,
            false => CallOutcome::NoNetwork,
        }
    }
}

fn refused(what: &'static str) -> Error {
    Error::BadUri(what.to_owned())
}

fn is_tls(error: &Error) -> bool {
    match error {
        Error::Rustls(_) | Error::Tls(_) | Error::Pem(_) | Error::TlsRequired => true,
        Error::Io(io) => io.get_ref().is_some_and(|inner| inner.is::<rustls::Error>()),
        _ => false,
    }
}

/// A byte range of a file, read while it is sent.
struct Part {
    file: File,
    left: u64,
    /// Set if the file cannot be read. A network failure gives an error of the same type and is distinguished
    /// by this flag.
    no_file: Arc<AtomicBool>,
}

impl Part {
    fn open(path: &Path, from: u64, to: u64, no_file: &Arc<AtomicBool>) -> io::Result<Self> {
        let opened = File::open(path).and_then(|mut file| {
            file.seek(SeekFrom::Start(from))?;
            Ok(file)
        });
        let noted = opened.inspect_err(|_| no_file.store(true, Ordering::Relaxed));
        Ok(Self { file: noted?, left: to.saturating_sub(from), no_file: Arc::clone(no_file) })
    }
}

impl Read for Part {
    fn read(&mut self, into: &mut [u8]) -> io::Result<usize> {
        let most = usize::try_from(self.left).unwrap_or(usize::MAX).min(into.len());
        if most == 0 {
            return Ok(0);
        }
        let read = self.file.read(into.get_mut(..most).unwrap_or_default()).and_then(|read| match read {
            // The file was truncated since: the call must not end as if it were complete.
            0 => Err(io::ErrorKind::UnexpectedEof.into()),
            read => Ok(read),
        });
        let read = read.inspect_err(|error| {
            // A read interrupted by a signal is retried.
            if error.kind() != io::ErrorKind::Interrupted {
                self.no_file.store(true, Ordering::Relaxed);
            }
        })?;
        self.left = self.left.saturating_sub(read as u64);
        Ok(read)
    }
}
