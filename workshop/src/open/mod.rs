//! `steerwright open`: the field book as a page in a browser on this machine.

mod changes;
mod deliver;

use crate::args::Open;
use crate::book::place;
use crate::fault::Fault;
use crate::output;
use data_encoding::BASE32_NOPAD;
use http_body_util::combinators::BoxBody;
use http_body_util::{BodyExt, Full, LengthLimitError, Limited};
use hyper::body::{Bytes, Incoming};
use hyper::server::conn::http1;
use hyper::service::service_fn;
use hyper::{Request, Response, StatusCode};
use hyper_util::rt::{TokioIo, TokioTimer};
use std::convert::Infallible;
use std::io;
use std::net::Ipv4Addr;
use std::process::{Command, Stdio};
use std::sync::{Arc, Mutex, PoisonError};
use std::time::Duration;
use steerwright_core::book::{BikeQuery, FieldBook};
use steerwright_core::photo::Limits;
use steerwright_core::quantity::Notation;
use steerwright_core::screens::{Effect, Event, apply};
use steerwright_core::words::{Language, Words};
use steerwright_page::{Access, Page};
use tokio::net::TcpListener;
use tokio::sync::Notify;

/// Most bytes of a form: a catalogue of the greatest size, each byte escaped.
const MOST_FORM_BYTES: usize = 3 * (16 << 20) + 4096;
/// Bytes of a form of photos beside the photos themselves.
const AROUND_PHOTOS: usize = 1 << 16;
/// Most connections at once: one browser opens six.
const MOST_CONNECTIONS: usize = 64;
/// Time allowed for the head of a request.
const HEAD_TIMEOUT: Duration = Duration::from_secs(15);

/// What all connections share: one page and one book.
struct Shared {
    page: Page,
    book: FieldBook,
    /// Asks for a delivery.
    deliver: Arc<Notify>,
}

/// The body of an answer: whole, or told piece by piece.
type Body = BoxBody<Bytes, Infallible>;

/// Serves the book until the program is stopped.
pub(crate) fn run(call: &Open) -> Result<(), Fault> {
    let mut book = place::open(call.book.clone(), true)?;
    if call.demo_if_empty {
        demo_if_empty(&mut book)?;
    }
    let runtime = tokio::runtime::Builder::new_multi_thread()
        .worker_threads(2)
        .enable_all()
        .build()
        .map_err(machine("starting", "the page"))?;
    runtime.block_on(serve(book, call))
}

/// A book without any bike begins with the demo crew's.
fn demo_if_empty(book: &mut FieldBook) -> Result<(), Fault> {
    let query = BikeQuery { archived: steerwright_core::book::Archived::Too, ..BikeQuery::default() };
    if !book.read().bikes(&query)?.rows.is_empty() {
        return Ok(());
    }
    let words = Words::of(Language::default());
    match apply(book, words, Notation::default(), &Event::AddDemo) {
        Ok(_) => Ok(()),
        Err(refusal) => Err(Fault::Input(refusal.to_string())),
    }
}

async fn serve(book: FieldBook, call: &Open) -> Result<(), Fault> {
    let port = call.port.unwrap_or(0);
    let listener = TcpListener::bind((Ipv4Addr::LOCALHOST, port))
        .await
        .map_err(machine("listening on", format!("127.0.0.1:{port}")))?;
    let host = listener.local_addr().map_err(machine("listening on", "127.0.0.1"))?.to_string();
    let access = Access::new(&host, secret()?, secret()?);
    let address = access.address().unwrap_or_default();
    let page = Page::new(call.language, None, access);
    let deliver = Arc::new(Notify::new());
    tokio::spawn(deliver::run(call.book.clone(), Arc::clone(&deliver)));
    let shared = Arc::new(Mutex::new(Shared { page, book, deliver }));
    output::print(&format!(
        "The field book is open as a page: who brings which bike, which kit fits it, what to measure next.\n\n  \
         {address}\n\nThe address works once, in a browser on this machine. Ctrl-C closes the page.\n\
         Without a browser: `steerwright demo` shows the same job, `steerwright --help` every command.\n"
    ))?;
    if !call.no_browser {
        open_browser(&address);
    }
    let slots = Arc::new(tokio::sync::Semaphore::new(MOST_CONNECTIONS));
    loop {
        let accepted = tokio::select! {
            accepted = listener.accept() => accepted,
            _ = tokio::signal::ctrl_c() => return Ok(()),
        };
        let (Ok((stream, _)), Ok(slot)) = (accepted, Arc::clone(&slots).acquire_owned().await) else {
            continue;
        };
        let shared = Arc::clone(&shared);
        tokio::spawn(async move {
            let service = service_fn(move |request| answer(Arc::clone(&shared), request));
            let connection = http1::Builder::new()
                .timer(TokioTimer::new())
                .header_read_timeout(HEAD_TIMEOUT)
                .serve_connection(TokioIo::new(stream), service);
            // A browser that goes away is no error.
            let _ = connection.await;
            drop(slot);
        });
    }
}

/// What a request is answered with.
enum Answer {
    Whole(Response<Vec<u8>>),
    /// Each version of the book after this one.
    Changes(i64),
}

async fn answer(
    shared: Arc<Mutex<Shared>>,
    request: Request<Incoming>,
) -> Result<Response<Body>, Infallible> {
    let (head, body) = request.into_parts();
    let has_photos = head.uri.path().ends_with("/photos");
    let most = if has_photos { Limits::default().bytes + AROUND_PHOTOS } else { MOST_FORM_BYTES };
    let body = match Limited::new(body, most).collect().await {
        Ok(body) => body.to_bytes().to_vec(),
        Err(error) => {
            let too_long = error.downcast_ref::<LengthLimitError>().is_some();
            let status = if too_long { StatusCode::PAYLOAD_TOO_LARGE } else { StatusCode::BAD_REQUEST };
            return Ok(plain(
                status,
                "The form did not arrive whole, or is too long. Go back and send fewer or smaller files at once.",
            ));
        }
    };
    let request = Request::from_parts(head, body);
    let watched = Arc::clone(&shared);
    // The book reads and writes files: not on the threads that wait for the network.
    let done = tokio::task::spawn_blocking(move || {
        // A page that panicked has changed nothing: a transaction that is not committed is rolled back.
        let mut shared = shared.lock().unwrap_or_else(PoisonError::into_inner);
        let Shared { page, book, deliver } = &mut *shared;
        if let Some(since) = page.watches(&request) {
            return Answer::Changes(since);
        }
        let response = page.respond(book, &request);
        match response.extensions().get() {
            Some(Effect::Deliver) => deliver.notify_one(),
            None => {}
        }
        Answer::Whole(response)
    });
    Ok(match done.await {
        Ok(Answer::Whole(response)) => response.map(|body| Full::new(Bytes::from(body)).boxed()),
        Ok(Answer::Changes(since)) => changes::stream(watched, since),
        Err(_) => plain(
            StatusCode::INTERNAL_SERVER_ERROR,
            "That went wrong; nothing was changed. Go back and try again.",
        ),
    })
}

fn plain(status: StatusCode, text: &'static str) -> Response<Body> {
    let mut response = Response::new(Full::new(Bytes::from_static(text.as_bytes())).boxed());
    *response.status_mut() = status;
    response
}

/// A random text of letters and digits that nobody guesses: 160 bits.
fn secret() -> Result<String, Fault> {
    let mut bytes = [0; 20];
    getrandom::fill(&mut bytes).map_err(|error| {
        machine("reading", "random numbers of the system")(io::Error::other(error.to_string()))
    })?;
    Ok(BASE32_NOPAD.encode(&bytes))
}

fn machine(doing: &'static str, what: impl Into<String>) -> impl FnOnce(io::Error) -> Fault {
    let what = what.into();
    move |error| Fault::Machine { doing, what, error }
}

/// Asks the system to open an address. Without a browser the printed address is enough.
fn open_browser(address: &str) {
    let (program, before): (&str, &[&str]) = match std::env::consts::OS {
        "macos" => ("open", &[]),
        "windows" => ("cmd", &["/C", "start", ""]),
        _ => ("xdg-open", &[]),
    };
    let quiet = Stdio::null;
    let _ = Command::new(program)
        .args(before)
        .arg(address)
        .stdin(quiet())
        .stdout(quiet())
        .stderr(quiet())
        .spawn();
}
