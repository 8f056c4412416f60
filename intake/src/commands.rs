//! The subcommands.

use crate::args::{
    AccountArgs, Cli, Command, DemoArgs, KeyCommand, LimitArgs, LogFormat, ProxyArgs, RenameArgs,
    SenderCommand, ServeArgs, ShopkeeperCommand, StorageArgs,
};
use crate::catalogue::{KeyError, PublishedCatalogue, decode_key, encode_key};
use crate::crypto::{RandomnessError, new_token, random_bytes};
use crate::database::{Database, DatabaseError};
use crate::photos::{PhotoStore, PhotoStoreError};
use crate::senders::{self, AccountError};
use crate::state::{AppState, Clock, Limits, Retention, system_clock};
use crate::{
    Connections, RateLimit, TrustedProxies, demo, metrics_router, openapi, orders, photos, router, serve,
    shopkeepers, shutdown_signal,
};
use crate::{audit, backup};
use jiff::tz::TimeZone;
use std::fs;
use std::io::{self, BufRead, Read, Write};
use std::net::SocketAddr;
use std::path::Path;
use std::sync::Arc;
use std::time::Duration;
use steerwright_metrology::timestamp::Timestamp;
use tokio::net::TcpListener;

/// Size limit for a key or signature file, bytes.
const KEY_BYTES: u64 = 1024;

/// Why a command failed.
#[derive(Debug, thiserror::Error)]
pub enum CommandError {
    /// A file cannot be read or written.
    #[error("{0}: {1}")]
    File(String, io::Error),
    /// A file is invalid.
    #[error("{0}")]
    Catalogue(#[from] steerwright_input::FileErrors),
    /// Error of the database.
    #[error(transparent)]
    Database(#[from] DatabaseError),
    /// Error of the photo store.
    #[error(transparent)]
    PhotoStore(#[from] PhotoStoreError),
    /// A sender or shopkeeper cannot be added.
    #[error(transparent)]
    Add(#[from] AccountError),
    /// A key or signature cannot be read.
    #[error(transparent)]
    Key(#[from] KeyError),
    /// No random bytes are available.
    #[error(transparent)]
    Randomness(#[from] RandomnessError),
    /// A photo of the demo was rejected.
    #[error("a demo photo: {0}")]
    Photo(#[from] photos::UploadError),
    /// A request of the demo was rejected.
    #[error(transparent)]
    Orders(#[from] orders::OrdersError),
    /// Standard input or output fails.
    #[error("standard input or output: {0}")]
    Pipe(#[from] io::Error),
    /// TLS cannot be set up.
    #[error("TLS cannot be set up")]
    Tls,
}

/// Runs the command line.
///
/// # Errors
/// Why the command failed.
pub async fn run(cli: Cli) -> Result<(), CommandError> {
    start_log(cli.log);
    // The TLS provider of the photo store and the PostgreSQL client. An error means that one is already installed.
    let _ = rustls::crypto::ring::default_provider().install_default();
    let clock = system_clock();
    match cli.command {
        Command::Serve(args) => serve_shop(*args, clock).await,
        Command::Demo(args) => serve_demo(args, clock).await,
        Command::Sender(command) => sender(command, clock()).await,
        Command::Shopkeeper(command) => shopkeeper(command, clock()).await,
        Command::Backup { file, made_with_pg_dump, storage } => {
            let database = open(&storage).await?;
            let done = match made_with_pg_dump {
                true => backup::note(&database, &file.display().to_string(), clock()).await,
                false => backup::write(&database, &file, clock()).await,
            };
            Ok(done?)
        }
        Command::Audit { storage } => {
            for entry in audit::entries(&open(&storage).await?, i64::MAX).await? {
                print(&format!("{}  {} {} {}", entry.at, entry.who, entry.did, entry.about))?;
            }
            Ok(())
        }
        Command::Key(KeyCommand::New { file }) => new_key(&file),
        Command::Openapi => print(&format!("{:#}", openapi())),
    }
}

async fn sender(command: SenderCommand, now: Timestamp) -> Result<(), CommandError> {
    match command {
        SenderCommand::Add(AccountArgs { name, storage }) => {
            print(&senders::add(&open(&storage).await?, &name, now).await?)
        }
        SenderCommand::Token(AccountArgs { name, storage }) => {
            print(&senders::replace_token(&open(&storage).await?, &name, now).await?)
        }
        SenderCommand::Close(AccountArgs { name, storage }) => {
            Ok(senders::close(&open(&storage).await?, &name, now).await?)
        }
        SenderCommand::Rename(RenameArgs { name, to, storage }) => {
            Ok(senders::rename(&open(&storage).await?, &name, &to, now).await?)
        }
        SenderCommand::Remove(AccountArgs { name, storage }) => {
            Ok(senders::remove(&open(&storage).await?, &name, now).await?)
        }
        SenderCommand::List { storage } => {
            for sender in senders::list(&open(&storage).await?).await? {
                let (last, closed) = (when(sender.last_at, "last"), when(sender.closed_at, "closed"));
                print(&format!("{}  requests: {}{last}{closed}", sender.name, sender.requests))?;
            }
            Ok(())
        }
    }
}

async fn shopkeeper(command: ShopkeeperCommand, now: Timestamp) -> Result<(), CommandError> {
    match command {
        ShopkeeperCommand::Add(AccountArgs { name, storage }) => {
            let mut password = String::new();
            io::stdin().lock().take(4096).read_line(&mut password)?;
            let password = password.trim_end_matches(['\r', '\n']);
            Ok(shopkeepers::add(&open(&storage).await?, &name, password, now).await?)
        }
        ShopkeeperCommand::Owner { account: AccountArgs { name, storage }, not } => {
            Ok(shopkeepers::set_owner(&open(&storage).await?, &name, !not, now).await?)
        }
        ShopkeeperCommand::Rename(RenameArgs { name, to, storage }) => {
            Ok(shopkeepers::rename(&open(&storage).await?, &name, &to, now).await?)
        }
        ShopkeeperCommand::Remove(AccountArgs { name, storage }) => {
            Ok(shopkeepers::remove(&open(&storage).await?, &name, now).await?)
        }
        ShopkeeperCommand::List { storage } => {
            for keeper in shopkeepers::list(&open(&storage).await?).await? {
                let owner = if keeper.owner { "  owner" } else { "" };
                print(&format!("{}{owner}{}", keeper.name, when(keeper.seen_at, "seen")))?;
            }
            Ok(())
        }
    }
}

fn when(at: Option<Timestamp>, what: &str) -> String {
    at.map(|at| format!("  {what} {at}")).unwrap_or_default()
}

fn print(line: &str) -> Result<(), CommandError> {
    Ok(writeln!(io::stdout(), "{line}")?)
}

fn start_log(format: LogFormat) {
    let filter = tracing_subscriber::EnvFilter::try_from_env("STEERWRIGHT_INTAKE_LEVEL")
        .unwrap_or_else(|_| tracing_subscriber::EnvFilter::new("info"));
    let lines = tracing_subscriber::fmt().with_env_filter(filter).with_writer(io::stderr).with_target(false);
    // An error means that this process already has a subscriber.
    let _ = match format {
        LogFormat::Text => lines.with_ansi(false).try_init(),
        LogFormat::Json => {
            lines.json().flatten_event(true).with_current_span(true).with_span_list(false).try_init()
        }
    };
}

fn file_error(path: &Path) -> impl FnOnce(io::Error) -> CommandError + use<> {
    let name = path.display().to_string();
    |error| CommandError::File(name, error)
}

async fn open(storage: &StorageArgs) -> Result<Database, CommandError> {
    let address = match &storage.database {
        Some(address) => address.clone(),
        None => {
            create_private_folder(&storage.data)?;
            format!("sqlite:{}", storage.data.join("intake.sqlite").display())
        }
    };
    Ok(Database::open(&address).await?)
}

/// Creates a folder that only this user can read.
fn create_private_folder(path: &Path) -> Result<(), CommandError> {
    let mut builder = fs::DirBuilder::new();
    builder.recursive(true);
    #[cfg(unix)]
    std::os::unix::fs::DirBuilderExt::mode(&mut builder, 0o700);
    builder.create(path).map_err(file_error(path))
}

fn read_key_file(path: &Path) -> Result<String, CommandError> {
    let mut text = String::new();
    let file = fs::File::open(path).map_err(file_error(path))?;
    file.take(KEY_BYTES).read_to_string(&mut text).map_err(file_error(path))?;
    Ok(text)
}

fn new_key(file: &Path) -> Result<(), CommandError> {
    let (text, public) = encode_key(random_bytes()?);
    let mut options = fs::OpenOptions::new();
    options.write(true).create_new(true);
    #[cfg(unix)]
    std::os::unix::fs::OpenOptionsExt::mode(&mut options, 0o600);
    let mut written = options.open(file).map_err(file_error(file))?;
    writeln!(written, "{text}").and_then(|()| written.sync_all()).map_err(file_error(file))?;
    print(&public)
}

fn limits(args: &LimitArgs) -> Limits {
    let per_second = f64::from(args.each_minute) / 60.0;
    Limits {
        sender_rate: RateLimit { burst: args.burst, per_second },
        photo_bytes: args.photo_bytes,
        part_bytes: args.part_bytes as usize,
        body_timeout: Duration::from_secs(args.body_seconds.into()),
        request_timeout: Duration::from_secs(u64::from(args.body_seconds) + 30),
        ..Limits::default()
    }
}

async fn serve_shop(args: ServeArgs, clock: Clock) -> Result<(), CommandError> {
    let path = &args.catalogue;
    let max_bytes = steerwright_fit::catalogue::Catalogue::MOST_BYTES as u64 + 1;
    let mut bytes = Vec::new();
    let file = fs::File::open(path).map_err(file_error(path))?;
    file.take(max_bytes).read_to_end(&mut bytes).map_err(file_error(path))?;
    let mut published = PublishedCatalogue::read(bytes, &path.display().to_string())?;
    if let Some(path) = &args.signature {
        published = published.with_signature(&read_key_file(path)?)?;
    }
    if let Some(path) = &args.key {
        published = published.signed_with(&decode_key(&read_key_file(path)?)?);
    }
    if published.signature.is_none() {
        tracing::warn!("the catalogue has no signature: senders cannot tell that it is the maker's");
    }
    let database = open(&args.storage).await?;
    let photo_store = match &args.photos {
        Some(address) => PhotoStore::open(address)?,
        None => {
            create_private_folder(&args.storage.data)?;
            PhotoStore::open(&args.storage.data.join("photos").to_string_lossy())?
        }
    };
    let ProxyArgs { trusted_proxy: networks, forwarded_header: header } = args.proxies;
    let proxies = TrustedProxies { networks, header };
    let connections = Connections {
        total: args.limits.connections as usize,
        per_address: args.limits.connections_each as usize,
        proxies: proxies.clone(),
        ..Connections::default()
    };
    let app = AppState::new(database, photo_store, published, clock, limits(&args.limits), args.https)
        .with_contact(args.contact)
        .with_proxies(proxies.clone())
        .with_time_zone(args.time_zone.unwrap_or_else(TimeZone::system));
    let app = Arc::new(app);
    // What was erased before the last process ended may still be in the log.
    app.purge_erased().await;
    let shutdown = shutdown_signal();
    let (listener, address) = bind(args.listen).await?;
    tracing::info!(%address, database = app.database.kind(), catalogue = app.published.catalogue.number, "serving");
    if let Some(metrics) = args.metrics {
        let (listener, address) = bind(metrics).await?;
        tracing::info!(%address, "metrics");
        tokio::spawn(serve(listener, metrics_router(Arc::clone(&app)), std::future::pending()));
    }
    let days = |days: Option<u32>| days.map(|days| Duration::from_secs(86_400 * u64::from(days)));
    let keep = Retention { requests: days(args.keep_requests_days), photos: days(args.keep_photos_days) };
    tokio::spawn(Arc::clone(&app).tidy_hourly(keep));
    connections.serve(listener, router(Arc::clone(&app)), shutdown).await;
    app.finish().await;
    tracing::info!("stopped");
    Ok(())
}

async fn bind(address: SocketAddr) -> Result<(TcpListener, SocketAddr), CommandError> {
    let error_of = |error| CommandError::File(address.to_string(), error);
    let listener = TcpListener::bind(address).await.map_err(error_of)?;
    let bound = listener.local_addr().map_err(error_of)?;
    Ok((listener, bound))
}

/// The demo, in a temporary folder.
async fn serve_demo(args: DemoArgs, clock: Clock) -> Result<(), CommandError> {
    let folder = tempfile::tempdir()?;
    let database =
        Database::open(&format!("sqlite:{}", folder.path().join("intake.sqlite").display())).await?;
    let photo_store = PhotoStore::open(&folder.path().join("photos").to_string_lossy())?;
    let published =
        PublishedCatalogue::demo()?.signed_with(&ed25519_dalek::SigningKey::from_bytes(&random_bytes()?));
    let token = senders::add(&database, "The Larch Hollow demo crew", clock()).await?;
    let mut password = new_token()?;
    password.truncate(16);
    shopkeepers::add(&database, "demo", &password, clock()).await?;
    shopkeepers::set_owner(&database, "demo", true, clock()).await?;
    let app = AppState::new(database, photo_store, published, clock, Limits::default(), false)
        .with_contact(Some("Tarn & Tiller Components, the demo shop: +1 202 555 0162".to_owned()))
        .with_time_zone(TimeZone::system());
    let app = Arc::new(app);
    demo::seed(&app, &token).await?;
    let shutdown = shutdown_signal();
    let (listener, address) = bind(args.listen).await?;
    print(&format!("Senders and shopkeepers reach the demo at http://{address}"))?;
    print(&format!("A sender's token: {token}"))?;
    print(&format!("The shopkeeper's name is demo, the password {password}"))?;
    print("Ctrl-C ends it, and nothing of it stays.")?;
    serve(listener, router(app), shutdown).await;
    Ok(())
}
