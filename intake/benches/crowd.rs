//! A crowd: many senders at once, each sending requests with a photo one after another, to two processes on one PostgreSQL
//! database (or SQLite file) and one folder of photos. Some requests are sent again, through the other process.
//!
//! `tests/postgres.sh --crowd [--requests 10000] [--senders 200]` runs it on PostgreSQL; `cargo bench -p steerwright-intake
//! --bench crowd` on SQLite.
//!
//! It fails if a request is lost, doubled or answered otherwise than with a receipt, if a photo is missing, or if a process
//! took more memory than the systemd unit gives it. Beside it runs a bare axum handler that inserts one row into the same
//! database, with the same number of clients: what is printed of it is the measure, and an aim, not a condition.
#![allow(
    clippy::unwrap_used,
    clippy::expect_used,
    clippy::indexing_slicing,
    clippy::panic,
    clippy::print_stdout,
    reason = "a bench fails so, and prints what it measured"
)]

use axum::extract::State;
use axum::routing::post;
use reqwest::Client;
use std::collections::HashSet;
use std::io::{BufRead, BufReader};
use std::path::Path;
use std::process::{Child, Command, Stdio};
use std::sync::Arc;
use std::time::{Duration, Instant};
use steerwright_intake::catalogue::PublishedCatalogue;
use steerwright_intake::database::{Database, Statement};
use steerwright_intake::{Connections, demo, senders, system_clock};
use steerwright_protocol::wire::{OrderRequest, Receipt, photo_path};

/// The demo catalogue as a file.
const CATALOGUE: &str = concat!(env!("CARGO_MANIFEST_DIR"), "/../core/fit/data/demo/catalogue.json");
/// Different photos of each sender.
const PHOTOS: usize = 50;
/// The most tries of one call.
const TRIES: usize = 2_000;
/// One request in so many is sent again.
const AGAIN: usize = 10;

struct Process(Child);

impl Drop for Process {
    fn drop(&mut self) {
        let _ = self.0.kill();
        let _ = self.0.wait();
    }
}

impl Process {
    /// The most memory it had, bytes, where the system tells (Linux).
    fn most_memory(&self) -> Option<u64> {
        let status = std::fs::read_to_string(format!("/proc/{}/status", self.0.id())).ok()?;
        let line = status.lines().find_map(|line| line.strip_prefix("VmHWM:"))?;
        Some(line.trim().trim_end_matches("kB").trim().parse::<u64>().unwrap() * 1024)
    }
}

/// Starts a program and reads its address from the first line that has one.
fn start(mut command: Command, of: impl Fn(&str) -> Option<String>) -> (Process, String) {
    let mut child = command.stderr(Stdio::piped()).spawn().unwrap();
    let mut lines = BufReader::new(child.stderr.take().unwrap()).lines().map(Result::unwrap);
    let address = lines.by_ref().find_map(|line| of(&line)).expect("it serves");
    std::thread::spawn(move || lines.for_each(drop));
    (Process(child), format!("http://{address}"))
}

fn serve(folder: &Path, database: &str) -> (Process, String) {
    let mut command = Command::new(env!("CARGO_BIN_EXE_steerwright-intake"));
    command
        .env_clear()
        .env("STEERWRIGHT_INTAKE_LEVEL", "warn,steerwright_intake::commands=info")
        .args(["serve", "--log", "json", "--listen", "127.0.0.1:0", "--database", database, "--data"])
        .arg(folder)
        .args(["--catalogue", CATALOGUE, "--burst", "1000000000", "--each-minute", "1000000000"])
        .args(["--connections-each", "1000"]);
    start(command, |line| {
        let line: serde_json::Value = serde_json::from_str(line).unwrap();
        (line["message"] == "serving").then(|| line["address"].as_str().unwrap().to_owned())
    })
}

/// The bare handler: one row, in a transaction of its own, with the pool of the receiver's database.
async fn bare(database: &str) {
    let database = Database::open(database).await.unwrap();
    let insert = async |State(database): State<Database>, body: String| {
        let id = demo::new_order_id(system_clock()()).unwrap().to_string();
        let row =
            Statement::new("INSERT INTO templates (name, text) VALUES ($1, $2)", [id.into(), body.into()]);
        database.run_one(row).await.unwrap();
        axum::http::StatusCode::CREATED
    };
    let listener = tokio::net::TcpListener::bind("127.0.0.1:0").await.unwrap();
    let address = listener.local_addr().unwrap();
    #[allow(clippy::print_stderr, reason = "read by the process that started this one")]
    {
        eprintln!("{address}");
    }
    let connections = Connections { per_address: usize::MAX, ..Connections::default() };
    let router = axum::Router::new().route("/", post(insert)).with_state(database);
    connections.serve(listener, router, std::future::pending()).await;
}

async fn create_database(server: &str) -> String {
    let (client, connection) = tokio_postgres::connect(server, tokio_postgres::NoTls).await.unwrap();
    let run = tokio::spawn(connection);
    let name = format!(
        "crowd_{}",
        steerwright_intake::crypto::new_token().unwrap().to_lowercase().replace('-', "_")
    );
    client.batch_execute(&format!("CREATE DATABASE {name}")).await.unwrap();
    drop(client);
    run.await.unwrap().unwrap();
    let mut url = url::Url::parse(server).unwrap();
    url.set_path(&name);
    url.to_string()
}

fn option(name: &str) -> Option<usize> {
    let mut words = std::env::args().skip_while(|word| word != name);
    words.next()?;
    Some(words.next().expect("a number").parse().expect("a number"))
}

/// A photo as a phone's camera app scales it, all different.
fn photo(seed: usize) -> Vec<u8> {
    let (width, height) = (800_u16, 600_u16);
    let pixels: Vec<u8> = (0..usize::from(width) * usize::from(height))
        .flat_map(|at| {
            let (x, y) = (at % usize::from(width), at / usize::from(width));
            [(x / 3 + seed) as u8, (y / 2) as u8, ((x * y / 500) as u8) ^ seed as u8]
        })
        .collect();
    let mut bytes = Vec::new();
    let encoder = jpeg_encoder::Encoder::new(&mut bytes, 80);
    encoder.encode(&pixels, width, height, jpeg_encoder::ColorType::Rgb).unwrap();
    bytes
}

struct Sent {
    receipt: Receipt,
    took: Duration,
}

async fn post_request(client: &Client, base: &str, token: &str, request: &OrderRequest) -> Sent {
    let start = Instant::now();
    for _ in 0..TRIES {
        let call = client.post(format!("{base}/v1/order-requests")).bearer_auth(token);
        let call = call.header("Idempotency-Key", format!("\"{}\"", request.id));
        let call =
            call.header("Content-Type", "application/json").body(serde_json::to_string(request).unwrap());
        // A connection that the server closed while it was idle: the same call again, under the same key.
        let Ok(answer) = call.send().await else { continue };
        match answer.status().as_u16() {
            201 => {
                let receipt = serde_json::from_slice(&answer.bytes().await.unwrap()).unwrap();
                return Sent { receipt, took: start.elapsed() };
            }
            // As a phone does: the shop says itself that it has not taken it.
            429 | 503 => tokio::time::sleep(Duration::from_millis(100)).await,
            other => panic!("{other}: {}", answer.text().await.unwrap()),
        }
    }
    panic!("{TRIES} tries in vain");
}

async fn put_photo(client: &Client, base: &str, token: &str, bytes: &[u8]) {
    let path = photo_path(demo::sent_photo(bytes, "").sha256);
    for _ in 0..TRIES {
        let call = client.put(format!("{base}{path}")).bearer_auth(token);
        let call = call.header("Content-Type", "image/jpeg").body(bytes.to_vec());
        let Ok(answer) = call.send().await else { continue };
        match answer.status().as_u16() {
            201 => return,
            429 | 503 => tokio::time::sleep(Duration::from_millis(100)).await,
            other => panic!("{other}: {}", answer.text().await.unwrap()),
        }
    }
    panic!("{TRIES} tries in vain");
}

fn part(took: &mut [Duration], share: f64) -> f64 {
    took.sort();
    took[((took.len() - 1) as f64 * share) as usize].as_secs_f64() * 1_000.0
}

async fn count(database: &Database, sql: &'static str) -> usize {
    let mut row = database.run_one(Statement::new(sql, [])).await.unwrap().rows.remove(0);
    usize::try_from(row.int().unwrap()).unwrap()
}

#[tokio::main]
async fn main() {
    let _ = rustls::crypto::ring::default_provider().install_default();
    if let Some(database) = std::env::args().skip_while(|word| word != "--bare").nth(1) {
        return bare(&database).await;
    }
    let (requests, crowd) = (option("--requests").unwrap_or(400), option("--senders").unwrap_or(40));
    let each = requests.div_ceil(crowd);
    let folder = tempfile::tempdir().unwrap();
    let address = match std::env::var("STEERWRIGHT_POSTGRES") {
        Ok(server) => create_database(&server).await,
        Err(_) => format!("sqlite:{}", folder.path().join("intake.sqlite").display()),
    };
    let database = Database::open(&address).await.unwrap();
    let mut tokens = Vec::new();
    for sender in 0..crowd {
        tokens.push(senders::add(&database, &format!("crew {sender}"), system_clock()()).await.unwrap());
    }
    let photos: Arc<Vec<Vec<u8>>> = Arc::new((0..each.min(PHOTOS)).map(photo).collect());
    let shop = Arc::new(PublishedCatalogue::demo().unwrap());

    // What the machine can do: the bare handler with as many clients.
    let mut command = Command::new(std::env::current_exe().unwrap());
    command.args(["--bare", &address]);
    let (bare, bare_base) = start(command, |line| line.starts_with("127.").then(|| line.to_owned()));
    let body = serde_json::to_string(
        &demo::request(&shop, 0, demo::new_order_id(system_clock()()).unwrap(), system_clock()()).unwrap(),
    )
    .unwrap();
    let start_of_bare = Instant::now();
    let clients: Vec<_> = (0..crowd)
        .map(|_| {
            let (base, body) = (bare_base.clone(), body.clone());
            tokio::spawn(async move {
                let client = Client::new();
                let mut took = Vec::new();
                for _ in 0..each {
                    let start = Instant::now();
                    let answer = client.post(&base).body(body.clone()).send().await.unwrap();
                    assert_eq!(answer.status().as_u16(), 201);
                    took.push(start.elapsed());
                }
                took
            })
        })
        .collect();
    let mut bare_took = Vec::new();
    for client in clients {
        bare_took.extend(client.await.unwrap());
    }
    let bare_rate = bare_took.len() as f64 / start_of_bare.elapsed().as_secs_f64();
    drop(bare);

    let (one, first) = serve(folder.path(), &address);
    let (two, second) = serve(folder.path(), &address);
    let begun = Instant::now();
    let calls: Vec<_> = tokens
        .into_iter()
        .enumerate()
        .map(|(number, token)| {
            let (photos, shop) = (Arc::clone(&photos), Arc::clone(&shop));
            let bases = [first.clone(), second.clone()];
            tokio::spawn(async move {
                let client = Client::new();
                let (mut took, mut receipts) = (Vec::new(), Vec::new());
                for at in 0..each {
                    let now = system_clock()();
                    let mut request = demo::request(&shop, 0, demo::new_order_id(now).unwrap(), now).unwrap();
                    let photo = &photos[at % photos.len()];
                    request.photos = vec![demo::sent_photo(photo, "")];
                    let base = &bases[(number + at) % 2];
                    put_photo(&client, base, &token, photo).await;
                    let sent = post_request(&client, base, &token, &request).await;
                    if (number + at) % AGAIN == 0 {
                        let again =
                            post_request(&client, &bases[(number + at + 1) % 2], &token, &request).await;
                        assert_eq!(again.receipt, sent.receipt, "the same answer, whichever process");
                    }
                    took.push(sent.took);
                    receipts.push(sent.receipt);
                }
                (took, receipts)
            })
        })
        .collect();
    let (mut took, mut ids, mut numbers) = (Vec::new(), HashSet::new(), HashSet::new());
    for call in calls {
        let (times, receipts) = call.await.unwrap();
        took.extend(times);
        for receipt in receipts {
            assert!(ids.insert(receipt.id) && numbers.insert(receipt.number), "a receipt twice");
        }
    }
    let seconds = begun.elapsed().as_secs_f64();
    let memory = [one.most_memory(), two.most_memory()];
    drop((one, two));
    let sent = crowd * each;
    assert_eq!(count(&database, "SELECT count(*) FROM requests").await, sent, "lost or doubled");
    assert_eq!(count(&database, "SELECT count(*) FROM request_photos").await, sent);
    let kept = count(&database, "SELECT count(*) FROM photos WHERE completed_at IS NOT NULL").await;
    assert_eq!(kept, crowd * photos.len());
    let unit = include_str!("../steerwright-intake.service");
    let most = unit.lines().find_map(|line| line.strip_prefix("MemoryMax=")).unwrap();
    let most = most.strip_suffix('G').unwrap().parse::<u64>().unwrap() << 30;
    let memory: Vec<u64> = memory.into_iter().flatten().collect();
    assert!(memory.iter().all(|bytes| *bytes < most), "{memory:?} of {most}");
    let rate = sent as f64 / seconds;
    println!(
        "{}: {sent} requests, each with a photo of {} KiB, from {crowd} senders through two processes: {rate:.0}/s; a request \
         alone p50 {:.1} ms, p99 {:.1} ms; at most {} MiB in a process. A bare handler with one row: {bare_rate:.0}/s, p50 {:.1} \
         ms, p99 {:.1} ms; ratio {:.2}",
        database.kind(),
        photos[0].len() >> 10,
        part(&mut took, 0.5),
        part(&mut took, 0.99),
        memory.iter().max().copied().unwrap_or_default() >> 20,
        part(&mut bare_took, 0.5),
        part(&mut bare_took, 0.99),
        rate / bare_rate,
    );
}
