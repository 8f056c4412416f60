//! Test servers of the receiver.

use reqwest::{Client, Method, RequestBuilder, Response, StatusCode};
use std::path::Path;
use std::sync::atomic::{AtomicI64, Ordering};
use std::sync::{Arc, Once};
use steerwright_intake::catalogue::PublishedCatalogue;
use steerwright_intake::database::{Database, Statement};
use steerwright_intake::photos::PhotoStore;
use steerwright_intake::{AppState, Clock, Limits, demo, router, senders, serve};
use steerwright_metrology::ids::OrderId;
use steerwright_metrology::timestamp::Timestamp;
use steerwright_protocol::wire::{OrderRequest, Problem, ProblemKind};
use tempfile::TempDir;
use tokio::net::TcpListener;
use tokio::sync::oneshot;

/// 2026-05-01T10:30:00Z.
pub const NOON: i64 = 1_777_631_400_000;

/// A clock that advances only by [`ManualClock::forward`].
#[derive(Clone, Default)]
pub struct ManualClock(Arc<AtomicI64>);

impl ManualClock {
    pub fn forward(&self, ms: i64) {
        self.0.fetch_add(ms, Ordering::SeqCst);
    }

    fn clock(&self) -> Clock {
        let at = Arc::clone(&self.0);
        Arc::new(move || Timestamp(NOON + at.load(Ordering::SeqCst)))
    }
}

/// A database and a folder that several servers can share.
pub struct Place {
    pub folder: TempDir,
    pub database: String,
    pub clock: ManualClock,
}

impl Place {
    pub async fn new() -> Self {
        static TLS: Once = Once::new();
        TLS.call_once(|| rustls::crypto::ring::default_provider().install_default().unwrap());
        let folder = tempfile::tempdir().unwrap();
        let database = match std::env::var("STEERWRIGHT_POSTGRES") {
            Ok(server) => create_database(&server).await,
            Err(_) => format!("sqlite:{}", folder.path().join("intake.sqlite").display()),
        };
        Self { folder, database, clock: ManualClock::default() }
    }

    pub fn photos(&self) -> std::path::PathBuf {
        self.folder.path().join("photos")
    }

    /// The SQLite database file and its log.
    pub fn database_files(&self) -> Vec<std::path::PathBuf> {
        let entries = std::fs::read_dir(self.folder.path()).unwrap().map(|entry| entry.unwrap().path());
        entries.filter(|path| path.to_string_lossy().contains("intake.sqlite")).collect()
    }

    pub async fn server(&self) -> Server {
        self.server_with(Limits::default()).await
    }

    pub async fn server_with(&self, limits: Limits) -> Server {
        let database = Database::open(&self.database).await.unwrap();
        let photo_store = PhotoStore::open(self.photos().to_str().unwrap()).unwrap();
        let shop = PublishedCatalogue::demo().unwrap();
        self.serve(AppState::new(database, photo_store, shop, self.clock.clock(), limits, false)).await
    }

    /// Serves an app.
    pub async fn serve(&self, app: AppState) -> Server {
        let app = Arc::new(app);
        let listener = TcpListener::bind("127.0.0.1:0").await.unwrap();
        let base = format!("http://{}", listener.local_addr().unwrap());
        let (stop, stopped) = oneshot::channel::<()>();
        tokio::spawn(serve(listener, router(Arc::clone(&app)), async {
            let _ = stopped.await;
        }));
        let client = Client::builder().redirect(reqwest::redirect::Policy::none()).build().unwrap();
        Server { app, base, client, _stop: stop }
    }
}

/// Creates an empty database on a PostgreSQL server and returns its address.
async fn create_database(server: &str) -> String {
    let (client, connection) = tokio_postgres::connect(server, tokio_postgres::NoTls).await.unwrap();
    let name = format!(
        "check_{}",
        steerwright_intake::crypto::new_token().unwrap().to_lowercase().replace('-', "_")
    );
    let run = tokio::spawn(connection);
    client.batch_execute(&format!("CREATE DATABASE {name}")).await.unwrap();
    drop(client);
    run.await.unwrap().unwrap();
    let mut url = url::Url::parse(server).unwrap();
    url.set_path(&name);
    url.to_string()
}

pub struct Server {
    pub app: Arc<AppState>,
    pub base: String,
    pub client: Client,
    _stop: oneshot::Sender<()>,
}

impl Server {
    /// Adds a sender and returns its token.
    pub async fn sender(&self, name: &str) -> String {
        senders::add(&self.app.database, name, self.app.now()).await.unwrap()
    }

    pub fn call(&self, method: Method, path: &str, token: &str) -> RequestBuilder {
        self.client.request(method, format!("{}{path}", self.base)).bearer_auth(token)
    }

    pub async fn post(&self, token: &str, request: &OrderRequest) -> Response {
        self.post_text(token, request.id, serde_json::to_string(request).unwrap()).await
    }

    pub async fn post_text(&self, token: &str, id: OrderId, body: String) -> Response {
        self.call(Method::POST, "/v1/order-requests", token)
            .header("Idempotency-Key", format!("\"{id}\""))
            .header("Content-Type", "application/json")
            .body(body)
            .send()
            .await
            .unwrap()
    }

    /// An order or question for a demo bike, with a new id.
    pub fn request(&self, bike: usize) -> OrderRequest {
        let now = self.app.now();
        demo::request(&self.app.published, bike, demo::new_order_id(now).unwrap(), now).unwrap()
    }

    pub async fn rows(&self, table: &'static str) -> i64 {
        let sql = match table {
            "requests" => "SELECT count(*) FROM requests",
            "claims" => "SELECT count(*) FROM claims",
            "photos" => "SELECT count(*) FROM photos",
            "photo_parts" => "SELECT count(*) FROM photo_parts",
            "complete" => "SELECT count(*) FROM photos WHERE completed_at IS NOT NULL",
            "answers" => "SELECT count(*) FROM answers",
            "sessions" => "SELECT count(*) FROM sessions",
            _ => panic!("no such table"),
        };
        self.app.database.run_one(Statement::new(sql, [])).await.unwrap().rows.remove(0).int().unwrap()
    }
}

/// Reads a problem document and checks it against RFC 9457: media type, and status in the body.
pub async fn problem(response: Response) -> Problem {
    let status = response.status();
    assert_eq!(response.headers()["content-type"], "application/problem+json", "{status}");
    let problem: Problem = serde_json::from_slice(&response.bytes().await.unwrap()).unwrap();
    assert_eq!(problem.status, Some(status.as_u16()));
    assert!(!problem.title.is_empty());
    problem
}

/// Reads a problem document and checks its kind and status.
pub async fn refused(response: Response, kind: ProblemKind) -> Problem {
    let status = response.status();
    let problem = problem(response).await;
    assert_eq!(problem.known(), Some(kind), "{problem:?}");
    assert_eq!(status, StatusCode::from_u16(kind.status()).unwrap());
    problem
}

/// The number of files below a folder.
pub fn files(folder: &Path) -> usize {
    let Ok(entries) = std::fs::read_dir(folder) else { return 0 };
    entries.map(|entry| entry.unwrap().path()).map(|path| if path.is_dir() { files(&path) } else { 1 }).sum()
}

/// A synthetic JPEG.
pub fn jpeg(width: u16, height: u16, seed: u8) -> Vec<u8> {
    let pixels: Vec<u8> = (0..usize::from(width) * usize::from(height))
        .flat_map(|at| {
            let (x, y) = (at % usize::from(width), at / usize::from(width));
            [(x * 3) as u8 ^ seed, (y * 5) as u8, ((x * y) as u8).wrapping_add(seed)]
        })
        .collect();
    let mut bytes = Vec::new();
    jpeg_encoder::Encoder::new(&mut bytes, 85)
        .encode(&pixels, width, height, jpeg_encoder::ColorType::Rgb)
        .unwrap();
    bytes
}
