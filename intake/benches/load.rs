//! An open-loop load test of the receiver over the loopback interface. Requests are sent at a fixed rate,
//! whether or not responses arrive, each with its own idempotency key. Latency is measured from the scheduled
//! time to the last byte of the response.
//!
//! `cargo bench -p steerwright-intake --bench load -- [--seconds 60] [--rate N] [--senders 4]` runs on SQLite
//! in a folder under `TMPDIR`, or with `STEERWRIGHT_POSTGRES` in a new database on that server. Without
//! `--rate`, a closed loop of concurrent clients measures the capacity for a few seconds, and the rate is 70
//! % of it. The rate at which the same disk syncs a page is measured first, in the same folder.
//!
//! It fails if a response is not a receipt, or if the number of rows differs from the number of receipts.
//! Requests that are due while too many are in progress are not sent. Their number is printed but not judged,
//! because it depends on the machine's other load.
#![allow(
    clippy::unwrap_used,
    clippy::expect_used,
    clippy::indexing_slicing,
    clippy::panic,
    clippy::print_stdout,
    reason = "a bench fails so, and prints what it measured"
)]

use reqwest::Client;
use std::fs::File;
use std::io::{BufRead, BufReader, Seek, SeekFrom, Write};
use std::path::Path;
use std::process::{Child, Command, Stdio};
use std::sync::Arc;
use std::sync::atomic::{AtomicU64, Ordering};
use std::time::{Duration, Instant};
use steerwright_intake::catalogue::PublishedCatalogue;
use steerwright_intake::database::{Database, Statement};
use steerwright_intake::{demo, senders, system_clock};
use steerwright_protocol::wire::Receipt;
use tokio::sync::Semaphore;

/// The demo catalogue as a file.
const CATALOGUE: &str = concat!(env!("CARGO_MANIFEST_DIR"), "/../core/fit/data/demo/catalogue.json");
/// Maximum number of requests in progress. A request that is due beyond that is not sent.
const MAX_IN_PROGRESS: usize = 512;
/// Number of clients that measure the capacity.
const CLIENTS: usize = 16;

struct Process(Child);

impl Drop for Process {
    fn drop(&mut self) {
        let _ = self.0.kill();
        let _ = self.0.wait();
    }
}

fn serve(folder: &Path, database: &str) -> (Process, String) {
    let mut child = Command::new(env!("CARGO_BIN_EXE_steerwright-intake"))
        .env_clear()
        .env("STEERWRIGHT_INTAKE_LEVEL", "warn,steerwright_intake::commands=info,info")
        .args(["serve", "--log", "json", "--listen", "127.0.0.1:0", "--database", database, "--data"])
        .arg(folder)
        .args(["--catalogue", CATALOGUE])
        .args(["--burst", "1000000000", "--each-minute", "1000000000"])
        .stderr(Stdio::piped())
        .spawn()
        .unwrap();
    let mut lines = BufReader::new(child.stderr.take().unwrap()).lines().map(Result::unwrap);
    let address = loop {
        let line: serde_json::Value = serde_json::from_str(&lines.next().expect("it serves")).unwrap();
        if line["message"] == "serving" {
            break line["address"].as_str().unwrap().to_owned();
        }
    };
    std::thread::spawn(move || lines.for_each(drop));
    (Process(child), format!("http://{address}"))
}

/// Number of 4 KiB page writes with sync per second in a folder.
fn syncs_per_second(folder: &Path) -> f64 {
    let mut file = File::create(folder.join("sync")).unwrap();
    let page = [0x5A; 4096];
    file.write_all(&page).unwrap();
    file.sync_all().unwrap();
    let (start, mut count) = (Instant::now(), 0.0);
    while start.elapsed() < Duration::from_secs(1) {
        file.seek(SeekFrom::Start(0)).unwrap();
        file.write_all(&page).unwrap();
        file.sync_data().unwrap();
        count += 1.0;
    }
    count / start.elapsed().as_secs_f64()
}

/// Creates an empty database on a PostgreSQL server and returns its address.
async fn create_database(server: &str) -> String {
    let (client, connection) = tokio_postgres::connect(server, tokio_postgres::NoTls).await.unwrap();
    let run = tokio::spawn(connection);
    let name =
        format!("load_{}", steerwright_intake::crypto::new_token().unwrap().to_lowercase().replace('-', "_"));
    client.batch_execute(&format!("CREATE DATABASE {name}")).await.unwrap();
    drop(client);
    run.await.unwrap().unwrap();
    let mut url = url::Url::parse(server).unwrap();
    url.set_path(&name);
    url.to_string()
}

/// Sends one request of the demo crew repeatedly, each time with a new id.
struct LoadGenerator {
    client: Client,
    url: String,
    tokens: Vec<String>,
    body: String,
    id: String,
    acknowledged: AtomicU64,
    wrong: AtomicU64,
}

impl LoadGenerator {
    async fn send(&self, number: u64) {
        let id = demo::new_order_id(system_clock()()).unwrap().to_string();
        let token = &self.tokens[number as usize % self.tokens.len()];
        let call = self.client.post(&self.url).bearer_auth(token);
        let call =
            call.header("Idempotency-Key", format!("\"{id}\"")).header("Content-Type", "application/json");
        let answer = match call.body(self.body.replace(&self.id, &id)).send().await {
            Ok(answer) if answer.status() == 201 => answer.bytes().await.ok(),
            _ => None,
        };
        let receipt: Option<Receipt> = answer.and_then(|bytes| serde_json::from_slice(&bytes).ok());
        match receipt {
            Some(receipt) if receipt.id.to_string() == id => self.acknowledged.fetch_add(1, Ordering::SeqCst),
            _ => self.wrong.fetch_add(1, Ordering::SeqCst),
        };
    }

    /// Receipts per second of [`CLIENTS`] concurrent clients.
    async fn capacity(self: &Arc<Self>, span: Duration) -> f64 {
        let (start, before) = (Instant::now(), self.acknowledged.load(Ordering::SeqCst));
        let clients: Vec<_> = (0..CLIENTS as u64)
            .map(|client| {
                let sender = Arc::clone(self);
                tokio::spawn(async move {
                    while start.elapsed() < span {
                        sender.send(client).await;
                    }
                })
            })
            .collect();
        for client in clients {
            client.await.unwrap();
        }
        (self.acknowledged.load(Ordering::SeqCst) - before) as f64 / start.elapsed().as_secs_f64()
    }
}

fn option(name: &str) -> Option<f64> {
    let mut words = std::env::args().skip_while(|word| word != name);
    words.next()?;
    Some(words.next().expect("a number").parse().expect("a number"))
}

#[tokio::main]
async fn main() {
    let _ = rustls::crypto::ring::default_provider().install_default();
    let seconds = option("--seconds").unwrap_or(60.0);
    let folder = tempfile::tempdir().unwrap();
    let disk = syncs_per_second(folder.path());
    let address = match std::env::var("STEERWRIGHT_POSTGRES") {
        Ok(server) => create_database(&server).await,
        Err(_) => format!("sqlite:{}", folder.path().join("intake.sqlite").display()),
    };
    let database = Database::open(&address).await.unwrap();
    let now = system_clock()();
    let mut tokens = Vec::new();
    for sender in 0..option("--senders").unwrap_or(4.0) as u32 {
        tokens.push(senders::add(&database, &format!("crew {sender}"), now).await.unwrap());
    }
    let (process, base) = serve(folder.path(), &address);
    let id = demo::new_order_id(now).unwrap();
    let request = demo::request(&PublishedCatalogue::demo().unwrap(), 0, id, now).unwrap();
    let sender = Arc::new(LoadGenerator {
        client: Client::new(),
        url: format!("{base}/v1/order-requests"),
        tokens,
        body: serde_json::to_string(&request).unwrap(),
        id: id.to_string(),
        acknowledged: AtomicU64::new(0),
        wrong: AtomicU64::new(0),
    });
    let rate = match option("--rate") {
        Some(rate) => rate,
        None => {
            let capacity = sender.capacity(Duration::from_secs_f64((seconds / 10.0).clamp(1.0, 5.0))).await;
            println!("{CLIENTS} clients get {capacity:.0} requests a second through");
            0.7 * capacity
        }
    };
    // At least one, so that there is a result.
    let offered = ((rate * seconds) as u64).max(1);
    let slots = Arc::new(Semaphore::new(MAX_IN_PROGRESS));
    let (start, mut calls, mut behind) = (Instant::now(), Vec::new(), 0_u64);
    for number in 0..offered {
        let at = start + Duration::from_secs_f64(number as f64 / rate);
        tokio::time::sleep_until(at.into()).await;
        let Ok(slot) = Arc::clone(&slots).try_acquire_owned() else {
            behind += 1;
            continue;
        };
        let sender = Arc::clone(&sender);
        calls.push(tokio::spawn(async move {
            sender.send(number).await;
            drop(slot);
            // Measured from the scheduled time, so that queueing counts.
            at.elapsed()
        }));
    }
    let mut took = Vec::new();
    for call in calls {
        took.push(call.await.unwrap());
    }
    let whole = start.elapsed().as_secs_f64();
    took.sort();
    let part = |share: f64| took[((took.len() - 1) as f64 * share) as usize].as_secs_f64() * 1_000.0;
    let mut row =
        database.run_one(Statement::new("SELECT count(*) FROM requests", [])).await.unwrap().rows.remove(0);
    let rows = u64::try_from(row.int().unwrap()).unwrap();
    let (acknowledged, wrong) =
        (sender.acknowledged.load(Ordering::SeqCst), sender.wrong.load(Ordering::SeqCst));
    println!(
        "{}: offered {rate:.0}/s for {seconds:.0} s, {:.0}/s done; p50 {:.1} ms, p99 {:.1} ms, longest {:.1} ms; \
         {wrong} errors, {behind} not sent; {rows} rows for {acknowledged} receipts; the disk syncs a page {disk:.0} \
         times a second; a request is {} bytes",
        database.kind(),
        took.len() as f64 / whole,
        part(0.5),
        part(0.99),
        part(1.0),
        sender.body.len(),
    );
    drop(process);
    assert_eq!((wrong, rows), (0, acknowledged));
}
