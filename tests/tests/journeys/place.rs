//! A shop: a database, a photo store, and any number of receivers in this process.

use super::manual_clock::ManualClock;
use exif::Tag;
use std::collections::BTreeMap;
use std::net::SocketAddr;
use std::sync::{Arc, Once};
use steerwright_core::book::{FieldBook, OrderId};
use steerwright_core::orders::State;
use steerwright_core::protocol::PhotoHash;
use steerwright_core::protocol::wire::{OrderRequest, ShopStatus};
use steerwright_intake::catalogue::PublishedCatalogue;
use steerwright_intake::database::{Database, Statement, Value};
use steerwright_intake::photos::{self, Photo, PhotoStore};
use steerwright_intake::{AppState, Limits, RateLimit, orders, router, senders, serve};
use tempfile::TempDir;
use tokio::net::TcpListener;
use tokio::runtime::Runtime;
use tokio::sync::oneshot;

pub struct Place {
    pub folder: TempDir,
    /// Its address.
    pub address: String,
    pub database: Database,
    pub clock: ManualClock,
    pub runtime: Runtime,
}

/// A receiver; stopped when dropped.
pub struct Server {
    pub address: SocketAddr,
    _stop: oneshot::Sender<()>,
}

impl Server {
    pub fn base(&self) -> String {
        format!("http://{}", self.address)
    }
}

/// Practically no rate limit: rates have their own tests.
pub fn limits() -> Limits {
    Limits { sender_rate: RateLimit { burst: 1_000_000, per_second: 1e6 }, ..Limits::default() }
}

impl Place {
    pub fn new() -> Self {
        static TLS: Once = Once::new();
        TLS.call_once(|| rustls::crypto::ring::default_provider().install_default().unwrap());
        let runtime = Runtime::new().unwrap();
        let folder = tempfile::tempdir().unwrap();
        let address = match std::env::var("STEERWRIGHT_POSTGRES") {
            Ok(server) => runtime.block_on(fresh_on(&server)),
            Err(_) => format!("sqlite:{}", folder.path().join("intake.sqlite").display()),
        };
        let database = runtime.block_on(Database::open(&address)).unwrap();
        Self { folder, address, database, clock: ManualClock::default(), runtime }
    }

    pub fn photo_store(&self) -> PhotoStore {
        PhotoStore::open(self.folder.path().join("photos").to_str().unwrap()).unwrap()
    }

    pub fn serve(&self) -> Server {
        self.serve_with(limits())
    }

    pub fn serve_with(&self, limits: Limits) -> Server {
        self.serve_at("127.0.0.1:0", limits)
    }

    pub fn serve_at(&self, address: &str, limits: Limits) -> Server {
        self.serve_shop(address, limits, PublishedCatalogue::demo().unwrap())
    }

    /// With its own catalogue.
    pub fn serve_shop(&self, address: &str, limits: Limits, shop: PublishedCatalogue) -> Server {
        self.runtime.block_on(async {
            let database = Database::open(&self.address).await.unwrap();
            let app = AppState::new(database, self.photo_store(), shop, self.clock.clock(), limits, false);
            let listener = TcpListener::bind(address).await.unwrap();
            let address = listener.local_addr().unwrap();
            let (stop, stopped) = oneshot::channel::<()>();
            tokio::spawn(serve(listener, router(Arc::new(app)), async {
                let _ = stopped.await;
            }));
            Server { address, _stop: stop }
        })
    }

    /// A sender's token.
    pub fn sender(&self, name: &str) -> String {
        self.runtime.block_on(senders::add(&self.database, name, self.clock.at())).unwrap()
    }

    fn column(&self, sql: &'static str) -> Vec<i64> {
        let found = self.runtime.block_on(self.database.run_one(Statement::new(sql, []))).unwrap();
        found.rows.into_iter().map(|mut row| row.int().unwrap()).collect()
    }

    /// Every request as received, with its contact inserted again, with its number.
    pub fn requests(&self) -> BTreeMap<OrderId, (i64, OrderRequest)> {
        let numbers = self.column("SELECT number FROM requests ORDER BY number");
        let count = numbers.len();
        let all: BTreeMap<_, _> = numbers
            .into_iter()
            .map(|number| {
                let kept = self.runtime.block_on(orders::load(&self.database, number)).unwrap().unwrap();
                let request = OrderRequest { contact: kept.contact.unwrap(), ..kept.request };
                (request.id, (number, request))
            })
            .collect();
        assert_eq!(all.len(), count, "no id is there twice");
        assert_eq!(self.column("SELECT count(*) FROM claims WHERE answer IS NOT NULL"), [count as i64]);
        all
    }

    /// Records the shop's answer.
    pub fn answer(&self, id: OrderId, word: ShopStatus, message: Option<&str>) {
        let number = self.requests()[&id].0;
        self.runtime.block_on(async {
            let kept = orders::load(&self.database, number).await.unwrap().unwrap();
            let at = self.clock.at();
            orders::answer(&self.database, number, kept.status_since, word, message, "Ash", at)
                .await
                .unwrap();
        });
    }

    /// When the contacts of requests were erased, by the requests' numbers.
    pub fn erasures(&self) -> Vec<i64> {
        self.column("SELECT erased_at FROM requests WHERE erased_at IS NOT NULL ORDER BY number")
    }

    /// Whether the shop's database contains this text: in a byte of its files, or on PostgreSQL, whose files belong to
    /// the server, in a row of any table that a request reaches.
    pub fn holds(&self, text: &str) -> bool {
        if self.address.starts_with("sqlite:") {
            let files = std::fs::read_dir(self.folder.path()).unwrap().map(|entry| entry.unwrap().path());
            let of_database =
                files.filter(|path| path.file_name().unwrap().to_str().unwrap().starts_with("intake.sqlite"));
            return of_database
                .map(|path| std::fs::read(path).unwrap())
                .any(|bytes| bytes.windows(text.len()).any(|window| window == text.as_bytes()));
        }
        const TABLES: [&str; 5] = [
            "SELECT count(*) FROM requests AS t WHERE strpos(t::text, $1) > 0",
            "SELECT count(*) FROM claims AS t WHERE strpos(t::text, $1) > 0",
            "SELECT count(*) FROM answers AS t WHERE strpos(t::text, $1) > 0",
            "SELECT count(*) FROM messages AS t WHERE strpos(t::text, $1) > 0",
            "SELECT count(*) FROM photos AS t WHERE strpos(t::text, $1) > 0",
        ];
        TABLES.into_iter().any(|sql| {
            let found =
                self.runtime.block_on(self.database.run_one(Statement::new(sql, [Value::from(text)])));
            found.unwrap().rows.into_iter().any(|mut row| row.int().unwrap() > 0)
        })
    }

    /// A photo of the first sender.
    pub fn photo(&self, hash: PhotoHash) -> Option<Vec<u8>> {
        let sender = senders::Sender(self.column("SELECT min(number) FROM senders")[0]);
        let photo_store = self.photo_store();
        let read = photos::read(&self.database, &photo_store, Photo { sender, hash });
        self.runtime.block_on(read).unwrap().map(|bytes| bytes.to_vec())
    }

    /// Every request of the book is delivered, the shop has exactly these as they were frozen, and their complete
    /// photos.
    pub fn has_all_of(&self, book: &FieldBook) {
        let here = self.requests();
        let orders = book.read().orders(None).unwrap();
        assert_eq!(here.len(), orders.len());
        for order in orders {
            assert_eq!((order.state, order.may_be_with_shop), (State::Delivered, false), "{order:?}");
            // There may be a fault from a later query for the shop's decision.
            assert_eq!(order.reason, None);
            let sent = book.read().order(order.id).unwrap().request;
            assert_eq!(here[&order.id].1, sent);
            for photo in &sent.photos {
                sound(photo.sha256, &self.photo(photo.sha256).unwrap());
            }
        }
    }
}

/// A photo at the shop: its bytes match its hash, and contain no location.
pub fn sound(hash: PhotoHash, bytes: &[u8]) {
    use sha2::Digest;
    assert_eq!(<[u8; 32]>::from(sha2::Sha256::digest(bytes)), hash.0);
    // Orientation and focal length may be in it, and nothing else.
    let plain = [Tag::Orientation, Tag::FocalLength, Tag::FocalLengthIn35mmFilm];
    let read = exif::Reader::new().read_from_container(&mut std::io::Cursor::new(bytes));
    let told = read.iter().flat_map(|exif| exif.fields()).map(|field| field.tag);
    assert_eq!(told.filter(|tag| !plain.contains(tag)).collect::<Vec<_>>(), []);
}

/// Creates an empty database on a server and returns its address.
async fn fresh_on(server: &str) -> String {
    let (client, connection) = tokio_postgres::connect(server, tokio_postgres::NoTls).await.unwrap();
    let name = format!("journey_{}", uuid::Uuid::from_bytes(seed()).simple());
    let run = tokio::spawn(connection);
    client.batch_execute(&format!("CREATE DATABASE {name}")).await.unwrap();
    drop(client);
    run.await.unwrap().unwrap();
    let mut url = url::Url::parse(server).unwrap();
    url.set_path(&name);
    url.to_string()
}

/// Unique random bytes.
pub fn seed() -> [u8; 16] {
    use std::hash::{BuildHasher, RandomState};
    let [a, b] = [RandomState::new().hash_one(0), RandomState::new().hash_one(1)];
    ((u128::from(a) << 64) | u128::from(b)).to_be_bytes()
}
