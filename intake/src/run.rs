//! The tasks of the command.

use crate::args::{Command, Demo, Keeper, Key, LimitArgs, Log, Place, SenderName, Serve, Task, Who};
use crate::database::{Database, DatabaseError};
use crate::photos::{Shelf, ShelfError};
use crate::secret::{NoChance, random, secret};
use crate::senders::{self, AddError};
use crate::shop::{KeyError, Shop, key_text, read_key};
use crate::state::{Clock, Intake, Limits, machine_clock};
use crate::{Rate, demo, listen, metrics_router, openapi, orders, photos, router, shopkeepers, told_to_stop};
use std::fs;
use std::io::{self, BufRead, Read, Write};
use std::net::SocketAddr;
use std::path::Path;
use std::sync::Arc;
use std::time::Duration;
use tokio::net::TcpListener;

/// The largest file of a key or signature that is read.
const KEY_BYTES: u64 = 1024;

/// Why the command ends without having done its task.
#[derive(Debug, thiserror::Error)]
pub enum RunError {
    /// A file.
    #[error("{0}: {1}")]
    File(String, io::Error),
    /// A file with problems.
    #[error("{0}")]
    Catalogue(#[from] steerwright_input::FileErrors),
    /// The database.
    #[error(transparent)]
    Database(#[from] DatabaseError),
    /// The photos.
    #[error(transparent)]
    Shelf(#[from] ShelfError),
    /// A name or password.
    #[error(transparent)]
    Add(#[from] AddError),
    /// A key.
    #[error(transparent)]
    Key(#[from] KeyError),
    /// No random bytes.
    #[error(transparent)]
    Chance(#[from] NoChance),
    /// A photo of the demo.
    #[error("a demo photo: {0}")]
    Photo(#[from] photos::PutError),
    /// A request of the demo.
    #[error(transparent)]
    Orders(#[from] orders::OrdersError),
    /// Nobody of this name.
    #[error("there is no open sender {0:?}")]
    NoSender(String),
    /// Nothing can be written to the standard output, or read from the standard input.
    #[error("standard input or output: {0}")]
    Pipe(#[from] io::Error),
    /// TLS cannot be set up.
    #[error("TLS cannot be set up")]
    Tls,
}

/// Does a task.
///
/// # Errors
/// Why it was not done.
pub async fn run(command: Command) -> Result<(), RunError> {
    begin_log(command.log);
    // The photo store and PostgreSQL share one; that it is there already is no error.
    let _ = rustls::crypto::ring::default_provider().install_default();
    let clock = machine_clock();
    match command.task {
        Task::Serve(what) => serve(what, clock).await,
        Task::Demo(what) => show(what, clock).await,
        Task::Sender(Who::Add(SenderName { name, place })) => {
            let token = senders::add(&open(&place).await?, &name, clock()).await?;
            say(&token)
        }
        Task::Sender(Who::Close(SenderName { name, place })) => {
            let closed = senders::close(&open(&place).await?, &name, clock()).await?;
            closed.then_some(()).ok_or(RunError::NoSender(name))
        }
        Task::Shopkeeper(Keeper::Add(SenderName { name, place })) => {
            let mut password = String::new();
            io::stdin().lock().take(4096).read_line(&mut password)?;
            let password = password.trim_end_matches(['\r', '\n']);
            Ok(shopkeepers::add(&open(&place).await?, &name, password, clock()).await?)
        }
        Task::Key(Key::New { file }) => new_key(&file),
        Task::Openapi => say(&format!("{:#}", openapi())),
    }
}

fn say(line: &str) -> Result<(), RunError> {
    Ok(writeln!(io::stdout(), "{line}")?)
}

fn begin_log(log: Log) {
    let filter = tracing_subscriber::EnvFilter::try_from_env("STEERWRIGHT_INTAKE_LEVEL")
        .unwrap_or_else(|_| tracing_subscriber::EnvFilter::new("info"));
    let lines = tracing_subscriber::fmt().with_env_filter(filter).with_writer(io::stderr).with_target(false);
    // A second beginning, in one process, changes nothing.
    let _ = match log {
        Log::Text => lines.with_ansi(false).try_init(),
        Log::Json => {
            lines.json().flatten_event(true).with_current_span(true).with_span_list(false).try_init()
        }
    };
}

fn about(path: &Path) -> impl FnOnce(io::Error) -> RunError + use<> {
    let name = path.display().to_string();
    |error| RunError::File(name, error)
}

async fn open(place: &Place) -> Result<Database, RunError> {
    let address = match &place.database {
        Some(address) => address.clone(),
        None => {
            folder(&place.data)?;
            format!("sqlite:{}", place.data.join("intake.sqlite").display())
        }
    };
    Ok(Database::open(&address).await?)
}

/// Makes a folder that only this user may look into.
fn folder(path: &Path) -> Result<(), RunError> {
    let mut builder = fs::DirBuilder::new();
    builder.recursive(true);
    #[cfg(unix)]
    std::os::unix::fs::DirBuilderExt::mode(&mut builder, 0o700);
    builder.create(path).map_err(about(path))
}

fn read_small(path: &Path) -> Result<String, RunError> {
    let mut text = String::new();
    let file = fs::File::open(path).map_err(about(path))?;
    file.take(KEY_BYTES).read_to_string(&mut text).map_err(about(path))?;
    Ok(text)
}

fn new_key(file: &Path) -> Result<(), RunError> {
    let (text, public) = key_text(random()?);
    let mut options = fs::OpenOptions::new();
    options.write(true).create_new(true);
    #[cfg(unix)]
    std::os::unix::fs::OpenOptionsExt::mode(&mut options, 0o600);
    let mut written = options.open(file).map_err(about(file))?;
    writeln!(written, "{text}").and_then(|()| written.sync_all()).map_err(about(file))?;
    say(&public)
}

fn limits(args: &LimitArgs) -> Limits {
    let each_second = f64::from(args.each_minute) / 60.0;
    Limits {
        sender: Rate { burst: args.burst, each_second },
        photo_bytes: args.photo_bytes,
        part_bytes: args.part_bytes as usize,
        body: Duration::from_secs(args.body_seconds.into()),
        whole: Duration::from_secs(u64::from(args.body_seconds) + 30),
        ..Limits::default()
    }
}

async fn serve(what: Serve, clock: Clock) -> Result<(), RunError> {
    let mut shop = match &what.catalogue {
        None => Shop::demo()?,
        Some(path) => {
            let most = steerwright_fit::catalogue::Catalogue::MOST_BYTES as u64 + 1;
            let mut bytes = Vec::new();
            let file = fs::File::open(path).map_err(about(path))?;
            file.take(most).read_to_end(&mut bytes).map_err(about(path))?;
            Shop::read(bytes, &path.display().to_string())?
        }
    };
    if let Some(path) = &what.signature {
        shop = shop.signed_with(&read_small(path)?)?;
    }
    if let Some(path) = &what.key {
        shop = shop.signed_by(&read_key(&read_small(path)?)?);
    }
    if shop.signature.is_none() {
        tracing::warn!(
            "the catalogue is handed out without a signature: nothing shows senders that it is the maker's"
        );
    }
    let database = open(&what.place).await?;
    let shelf = match &what.photos {
        Some(address) => Shelf::open(address)?,
        None => {
            folder(&what.place.data)?;
            Shelf::open(&what.place.data.join("photos").to_string_lossy())?
        }
    };
    let intake = Arc::new(Intake::new(database, shelf, shop, clock, limits(&what.limits), what.https));
    let (listener, address) = bind(what.listen).await?;
    tracing::info!(%address, database = intake.database.kind(), catalogue = intake.shop.catalogue.number, "serving");
    if let Some(metrics) = what.metrics {
        let (listener, address) = bind(metrics).await?;
        tracing::info!(%address, "counters");
        tokio::spawn(listen(listener, metrics_router(Arc::clone(&intake)), std::future::pending()));
    }
    tokio::spawn(Arc::clone(&intake).keep_tidy());
    listen(listener, router(intake), told_to_stop()).await;
    tracing::info!("stopped");
    Ok(())
}

async fn bind(address: SocketAddr) -> Result<(TcpListener, SocketAddr), RunError> {
    let named = |error| RunError::File(address.to_string(), error);
    let listener = TcpListener::bind(address).await.map_err(named)?;
    let bound = listener.local_addr().map_err(named)?;
    Ok((listener, bound))
}

/// The demo: everything in a folder that is gone afterwards.
async fn show(what: Demo, clock: Clock) -> Result<(), RunError> {
    let place = tempfile::tempdir()?;
    let database =
        Database::open(&format!("sqlite:{}", place.path().join("intake.sqlite").display())).await?;
    let shelf = Shelf::open(&place.path().join("photos").to_string_lossy())?;
    let shop = Shop::demo()?.signed_by(&ed25519_dalek::SigningKey::from_bytes(&random()?));
    let token = senders::add(&database, "The Larch Hollow demo crew", clock()).await?;
    let mut password = secret()?;
    password.truncate(16);
    shopkeepers::add(&database, "demo", &password, clock()).await?;
    let intake = Arc::new(Intake::new(database, shelf, shop, clock, Limits::default(), false));
    demo::fill(&intake, &token).await?;
    let (listener, address) = bind(what.listen).await?;
    say(&format!("Senders and shopkeepers reach the demo at http://{address}"))?;
    say(&format!("A sender's token: {token}"))?;
    say(&format!("The shopkeeper's name is demo, the password {password}"))?;
    say("Ctrl-C ends it, and nothing of it stays.")?;
    listen(listener, router(intake), told_to_stop()).await;
    Ok(())
}
