//! The command as a process: start, shutdown, kill and restart.

use crate::bucket::{self, Bucket};
use crate::support::{files, jpeg};
use assert_cmd::cargo::cargo_bin;
use reqwest::{Client, StatusCode};
use std::io::{BufRead, BufReader, Read, Write};
use std::path::Path;
use std::process::{Child, Command, Stdio};
use std::sync::Arc;
use steerwright_intake::catalogue::PublishedCatalogue;
use steerwright_intake::{demo, system_clock};
use steerwright_protocol::wire::{OrderRequest, Receipt};

/// The demo catalogue as a file.
pub const CATALOGUE: &str = concat!(env!("CARGO_MANIFEST_DIR"), "/../core/fit/data/demo/catalogue.json");

pub fn command(folder: &Path) -> Command {
    let mut command = Command::new(cargo_bin("steerwright-intake"));
    command.env_clear().env("STEERWRIGHT_INTAKE_DATA", folder).env("STEERWRIGHT_INTAKE_CATALOGUE", CATALOGUE);
    command
}

/// A process that is killed when the test ends.
pub struct Process(Child);

impl Drop for Process {
    fn drop(&mut self) {
        let _ = self.0.kill();
        let _ = self.0.wait();
    }
}

impl Process {
    /// Starts a server for a folder; its address is read from its log.
    fn serve(folder: &Path) -> (Self, String) {
        Self::serve_with(command(folder))
    }

    pub fn serve_with(mut command: Command) -> (Self, String) {
        let mut child = command
            .args(["serve", "--listen", "127.0.0.1:0", "--log", "json"])
            .stderr(Stdio::piped())
            .spawn()
            .unwrap();
        let mut lines = BufReader::new(child.stderr.take().unwrap()).lines();
        let address = loop {
            let line: serde_json::Value = serde_json::from_str(&lines.next().unwrap().unwrap()).unwrap();
            if line["message"] == "serving" {
                break line["address"].as_str().unwrap().to_owned();
            }
        };
        std::thread::spawn(move || lines.for_each(drop));
        (Self(child), format!("http://{address}"))
    }

    /// Sends SIGTERM and returns the exit status.
    pub fn stop(mut self) -> std::process::ExitStatus {
        let pid = self.0.id().to_string();
        assert!(Command::new("kill").args(["-TERM", &pid]).status().unwrap().success());
        self.0.wait().unwrap()
    }
}

pub fn sender(folder: &Path, name: &str) -> String {
    let output = command(folder).args(["sender", "add", name]).output().unwrap();
    assert!(output.status.success(), "{}", String::from_utf8_lossy(&output.stderr));
    String::from_utf8(output.stdout).unwrap().trim().to_owned()
}

fn request(place: usize) -> OrderRequest {
    let now = system_clock()();
    demo::request(&PublishedCatalogue::demo().unwrap(), place, demo::new_order_id(now).unwrap(), now).unwrap()
}

async fn post(base: &str, token: &str, request: &OrderRequest) -> Option<reqwest::Response> {
    let call = client().post(format!("{base}/v1/order-requests")).bearer_auth(token);
    call.header("Idempotency-Key", format!("\"{}\"", request.id))
        .header("Content-Type", "application/json")
        .body(serde_json::to_string(request).unwrap())
        .send()
        .await
        .ok()
}

pub fn client() -> Client {
    // An error means that one is already installed.
    let _ = rustls::crypto::ring::default_provider().install_default();
    Client::new()
}

#[tokio::test(flavor = "multi_thread")]
async fn killed_between_the_parts_of_a_photo() {
    let folder = tempfile::tempdir().unwrap();
    let token = sender(folder.path(), "crew");
    let bytes = jpeg(400, 300, 2);
    let path = format!("/v1/photos/{}", demo::sent_photo(&bytes, "").sha256);
    let mut offset = 0;
    let mut kills = 0;
    while offset < bytes.len() {
        let (process, base) = Process::serve(folder.path());
        let head = client().head(format!("{base}{path}")).bearer_auth(&token).send().await.unwrap();
        let here = head.headers().get("upload-offset").map_or(0, |at| at.to_str().unwrap().parse().unwrap());
        assert_eq!(here, offset, "what was answered is there after the kill");
        let end = (offset + bytes.len() / 5 + 1).min(bytes.len());
        let answer = client()
            .put(format!("{base}{path}"))
            .bearer_auth(&token)
            .header("Content-Type", "image/jpeg")
            .header("Content-Range", format!("bytes {offset}-{}/{}", end - 1, bytes.len()))
            .body(bytes[offset..end].to_vec())
            .send()
            .await
            .unwrap();
        assert_eq!(answer.status().as_u16(), if end == bytes.len() { 201 } else { 202 });
        offset = end;
        // Dropping it sends SIGKILL.
        drop(process);
        kills += 1;
    }
    assert_eq!(kills, 5);
    assert_eq!(files(&folder.path().join("photos")), 1);
}

#[tokio::test(flavor = "multi_thread")]
async fn killed_while_requests_come_in() {
    let folder = tempfile::tempdir().unwrap();
    let token = sender(folder.path(), "crew");
    let requests: Vec<_> = (0..8).map(request).collect();
    let mut receipts: Vec<Option<Receipt>> = vec![None; requests.len()];
    let mut rounds = 0u64;
    while receipts.iter().any(Option::is_none) {
        let (process, base) = Process::serve(folder.path());
        let killer = std::thread::spawn(move || {
            std::thread::sleep(std::time::Duration::from_millis(2 + 3 * rounds));
            drop(process);
        });
        for (request, receipt) in requests.iter().zip(&mut receipts) {
            let Some(answer) = post(&base, &token, request).await else { continue };
            let status = answer.status();
            let Ok(text) = answer.text().await else { continue };
            match status {
                StatusCode::CREATED => {
                    let told: Receipt = serde_json::from_str(&text).unwrap();
                    // A response, once given, never changes.
                    assert_eq!(receipt.get_or_insert_with(|| told.clone()), &told);
                }
                // The process holding this key was killed; its claim expires later.
                StatusCode::CONFLICT => break,
                other => panic!("{other}: {text}"),
            }
        }
        killer.join().unwrap();
        rounds += 1;
        let stuck = rounds > 40;
        if stuck {
            // The claims of killed processes expire after three minutes; the test does not wait for that.
            let book = rusqlite::Connection::open(folder.path().join("intake.sqlite")).unwrap();
            book.execute("UPDATE claims SET claimed_at = 0 WHERE answer IS NULL", []).unwrap();
        }
    }
    let book = rusqlite::Connection::open(folder.path().join("intake.sqlite")).unwrap();
    let count = |sql| book.query_row(sql, [], |row| row.get::<_, i64>(0)).unwrap();
    assert_eq!(count("SELECT count(*) FROM requests"), 8);
    assert_eq!(count("SELECT count(*) FROM claims WHERE answer IS NOT NULL"), 8);
    assert_eq!(book.query_row("PRAGMA integrity_check", [], |row| row.get::<_, String>(0)).unwrap(), "ok");
}

#[tokio::test(flavor = "multi_thread")]
async fn told_to_stop_it_ends_what_was_begun() {
    let folder = tempfile::tempdir().unwrap();
    let token = sender(folder.path(), "crew");
    let (process, base) = Process::serve(folder.path());
    // A request whose body is still arriving when shutdown begins.
    let body = serde_json::to_string(&request(0)).unwrap();
    let id = serde_json::from_str::<OrderRequest>(&body).unwrap().id;
    let (first, second) = body.split_at(100);
    let address = base.strip_prefix("http://").unwrap();
    let mut stream = std::net::TcpStream::connect(address).unwrap();
    write!(
        stream,
        "POST /v1/order-requests HTTP/1.1\r\nHost: here\r\nAuthorization: Bearer {token}\r\n\
         Idempotency-Key: \"{id}\"\r\nContent-Type: application/json\r\nExpect: 100-continue\r\n\
         Content-Length: {}\r\n\r\n",
        body.len()
    )
    .unwrap();
    // The server sends this when it reads the body, so the request is in progress.
    let mut going_on = [0; "HTTP/1.1 100 Continue\r\n\r\n".len()];
    stream.read_exact(&mut going_on).unwrap();
    assert_eq!(&going_on, b"HTTP/1.1 100 Continue\r\n\r\n");
    stream.write_all(first.as_bytes()).unwrap();
    let stopping = std::thread::spawn(move || process.stop());
    while std::net::TcpStream::connect(address).is_ok() {
        std::thread::sleep(std::time::Duration::from_millis(5));
    }
    stream.write_all(second.as_bytes()).unwrap();
    let mut answer = String::new();
    stream.read_to_string(&mut answer).unwrap();
    assert!(answer.starts_with("HTTP/1.1 201 "), "{answer}");
    assert!(stopping.join().unwrap().success());
}

#[test]
fn the_demo_says_where_it_is() {
    let folder = tempfile::tempdir().unwrap();
    let mut child = command(folder.path())
        .args(["demo", "--listen", "127.0.0.1:0"])
        .env("TMPDIR", folder.path())
        .stdout(Stdio::piped())
        .stderr(Stdio::null())
        .spawn()
        .unwrap();
    let mut lines = BufReader::new(child.stdout.take().unwrap()).lines().map(Result::unwrap);
    let process = Process(child);
    let after = |line: String, words: &str| line.split_once(words).unwrap().1.to_owned();
    let base = after(lines.next().unwrap(), "reach the demo at ");
    let token = after(lines.next().unwrap(), "token: ");
    let password = after(lines.next().unwrap(), "password ");
    assert_eq!((token.len(), password.len()), (43, 16));
    let runtime = tokio::runtime::Runtime::new().unwrap();
    let catalogue = runtime.block_on(async {
        client().get(format!("{base}/v1/catalogue")).bearer_auth(&token).send().await.unwrap()
    });
    assert_eq!(catalogue.status(), StatusCode::OK);
    assert!(catalogue.headers().contains_key("catalogue-signature"));
    let whole = runtime.block_on(catalogue.bytes()).unwrap();
    assert_eq!(whole, steerwright_fit::catalogue::demo_catalogue_json());
    drop(runtime);
    assert!(files(folder.path()) > 0);
    assert!(process.stop().success());
    assert_eq!(files(folder.path()), 0, "nothing of it stays");
}

/// A shop does not sell an invented catalogue by mistake.
#[test]
fn nothing_is_served_without_a_catalogue() {
    let folder = tempfile::tempdir().unwrap();
    let mut serve = command(folder.path());
    let refused = serve.env_remove("STEERWRIGHT_INTAKE_CATALOGUE").args(["serve", "--listen", "127.0.0.1:0"]);
    let refused = refused.output().unwrap();
    assert!(!refused.status.success());
    assert!(String::from_utf8_lossy(&refused.stderr).contains("--catalogue"));
}

/// Accounts over their whole life, from the command line.
#[tokio::test(flavor = "multi_thread")]
async fn accounts_from_the_command_line() {
    let folder = tempfile::tempdir().unwrap();
    let run = |words: &[&str], input: &str| {
        let mut child = command(folder.path())
            .args(words)
            .stdin(Stdio::piped())
            .stdout(Stdio::piped())
            .stderr(Stdio::piped())
            .spawn()
            .unwrap();
        // A command that reads no password may have ended.
        let _ = child.stdin.take().unwrap().write_all(input.as_bytes());
        let output = child.wait_with_output().unwrap();
        let text = |bytes| String::from_utf8(bytes).unwrap();
        (output.status.success(), text(output.stdout), text(output.stderr))
    };
    let first = sender(folder.path(), "crew");
    sender(folder.path(), "other");
    let (_process, base) = Process::serve(folder.path());
    let request = request(0);
    assert_eq!(post(&base, &first, &request).await.unwrap().status(), StatusCode::CREATED);
    // A new token for the same sender: the old one ends, and its request is still its own.
    let (done, token, _) = run(&["sender", "token", "crew"], "");
    assert!(done);
    let token = token.trim();
    assert_eq!(post(&base, &first, &request).await.unwrap().status(), StatusCode::UNAUTHORIZED);
    let path = format!("{base}/v1/order-requests/{}", request.id);
    let own = || client().get(&path).bearer_auth(token).send();
    assert_eq!(own().await.unwrap().status(), StatusCode::OK);
    assert!(run(&["sender", "rename", "crew", "The crew"], "").0);
    assert_eq!(own().await.unwrap().status(), StatusCode::OK);
    for (words, error) in [
        (&["sender", "rename", "crew", "x"][..], "there is no sender \"crew\""),
        (&["sender", "rename", "The crew", "other"], "\"other\" is there already"),
        (&["sender", "remove", "The crew"], "has stored requests (1)"),
        (&["sender", "token", "nobody"], "there is no sender"),
        (&["shopkeeper", "remove", "nobody"], "there is no shopkeeper"),
        (&["shopkeeper", "owner", "nobody"], "there is no shopkeeper"),
    ] {
        let (done, _, told) = run(words, "");
        assert!(!done && told.contains(error), "{words:?}: {told}");
    }
    assert!(run(&["sender", "close", "The crew"], "").0);
    assert_eq!(own().await.unwrap().status(), StatusCode::UNAUTHORIZED);
    assert!(run(&["sender", "remove", "other"], "").0);
    let (_, listed, _) = run(&["sender", "list"], "");
    let lines: Vec<_> = listed.lines().collect();
    assert!(
        matches!(lines[..], [one] if one.starts_with("The crew  requests: 1  last ") && one.contains("  closed ")),
        "{listed}"
    );

    for name in ["Ash", "Elm"] {
        assert!(run(&["shopkeeper", "add", name], "twelve larches in a row\n").0);
    }
    assert!(run(&["shopkeeper", "owner", "Ash"], "").0);
    assert!(run(&["shopkeeper", "rename", "Elm", "Elmo"], "").0);
    assert_eq!(run(&["shopkeeper", "list"], "").1, "Ash  owner\nElmo\n");
    assert!(run(&["shopkeeper", "owner", "--not", "Ash"], "").0);
    assert!(run(&["shopkeeper", "remove", "Elmo"], "").0);
    assert_eq!(run(&["shopkeeper", "list"], "").1, "Ash\n");

    let (_, noted, _) = run(&["audit"], "");
    let noted: Vec<_> =
        noted.lines().rev().map(|line| line.split_once("  the command line ").unwrap().1).collect();
    assert_eq!(
        noted,
        [
            "added sender crew",
            "added sender other",
            "gave a new token to sender crew",
            "renamed sender crew, now The crew",
            "closed sender The crew",
            "removed sender other",
            "added shopkeeper, or gave a new password to Ash",
            "added shopkeeper, or gave a new password to Elm",
            "made an owner of shopkeeper Ash",
            "renamed shopkeeper Elm, now Elmo",
            "made no owner of shopkeeper Ash",
            "removed shopkeeper Elmo",
        ]
    );
}

#[test]
fn names_passwords_and_keys() {
    let folder = tempfile::tempdir().unwrap();
    let token = sender(folder.path(), "crew");
    let again = command(folder.path()).args(["sender", "add", "crew"]).output().unwrap();
    assert!(!again.status.success() && again.stdout.is_empty());
    assert!(String::from_utf8_lossy(&again.stderr).contains("is there already"));
    for (task, success) in [("close", true), ("close", false)] {
        let done = command(folder.path()).args(["sender", task, "crew"]).output().unwrap();
        assert_eq!(done.status.success(), success);
    }
    for (password, success) in [("short\n", false), ("twelve larches in a row\n", true)] {
        let mut child = command(folder.path())
            .args(["shopkeeper", "add", "Ash"])
            .stdin(Stdio::piped())
            .stderr(Stdio::null())
            .spawn()
            .unwrap();
        child.stdin.take().unwrap().write_all(password.as_bytes()).unwrap();
        assert_eq!(child.wait().unwrap().success(), success);
    }
    // The file contains neither a token nor a password.
    let book = std::fs::read(folder.path().join("intake.sqlite")).unwrap();
    for secret in [token.as_str(), "twelve larches"] {
        assert!(!book.windows(secret.len()).any(|window| window == secret.as_bytes()));
    }
    let file = folder.path().join("key");
    let new = || command(folder.path()).args(["key", "new"]).arg(&file).output().unwrap();
    let made = new();
    assert!(made.status.success());
    assert!(!new().status.success(), "a key that is there is not written over");
    let key = steerwright_intake::catalogue::decode_key(&std::fs::read_to_string(&file).unwrap()).unwrap();
    let public = data_encoding::BASE64.encode(key.verifying_key().as_bytes());
    assert_eq!(String::from_utf8(made.stdout).unwrap().trim(), public);
    #[cfg(unix)]
    {
        use std::os::unix::fs::PermissionsExt;
        assert_eq!(std::fs::metadata(&file).unwrap().permissions().mode() & 0o777, 0o600);
    }
}

#[tokio::test(flavor = "multi_thread")]
async fn the_log_names_nobody() {
    let folder = tempfile::tempdir().unwrap();
    let token = sender(folder.path(), "crew");
    let mut child = command(folder.path())
        .args(["serve", "--listen", "127.0.0.1:0", "--log", "json", "--metrics", "127.0.0.1:0"])
        .env("STEERWRIGHT_INTAKE_LEVEL", "trace")
        .stderr(Stdio::piped())
        .spawn()
        .unwrap();
    let mut reader = BufReader::new(child.stderr.take().unwrap());
    let process = Process(child);
    let (mut log, mut base, mut counters) = (String::new(), String::new(), String::new());
    while counters.is_empty() {
        let from = log.len();
        reader.read_line(&mut log).unwrap();
        let line: serde_json::Value = serde_json::from_str(&log[from..]).unwrap();
        let address = line["address"].as_str().unwrap_or_default();
        match line["message"].as_str() {
            Some("serving") => base = format!("http://{address}"),
            Some("metrics") => counters = format!("http://{address}/metrics"),
            _ => {}
        }
    }
    let request = request(0);
    assert_eq!(post(&base, &token, &request).await.unwrap().status(), StatusCode::CREATED);
    assert_eq!(post(&base, "not-the-token", &request).await.unwrap().status(), StatusCode::UNAUTHORIZED);
    let counted = client().get(&counters).send().await.unwrap().text().await.unwrap();
    let line = "steerwright_intake_http_responses_total{method=\"POST\",route=\"/v1/order-requests\",status=\"201\"} 1";
    assert!(counted.contains(line), "{counted}");
    assert!(counted.contains("steerwright_intake_requests_stored_total 1\n"));
    assert!(counted.ends_with("# EOF\n"));
    let none = client().get(format!("{base}/metrics")).send().await.unwrap();
    assert_eq!(none.status(), StatusCode::NOT_FOUND, "not where everybody comes");
    assert!(process.stop().success());
    reader.read_to_string(&mut log).unwrap();
    assert!(log.contains("\"status\":201") && log.contains("\"status\":401"), "{log}");
    let id = request.id.to_string();
    for secret in [token.as_str(), "not-the-token", &id, "wren", "Wren", "0143", "Larch Hollow"] {
        assert!(!log.contains(secret), "{secret} in {log}");
    }
}

#[tokio::test(flavor = "multi_thread")]
async fn two_processes_share_a_bucket() {
    let bucket = Arc::new(Bucket::default());
    let endpoint = bucket::serve(Arc::clone(&bucket)).await;
    let folder = tempfile::tempdir().unwrap();
    let token = sender(folder.path(), "crew");
    let (one, first) = bucket::with_bucket(folder.path(), &endpoint, "photos");
    let (two, second) = bucket::with_bucket(folder.path(), &endpoint, "photos");
    let bytes = jpeg(200, 150, 3);
    let path = format!("/v1/photos/{}", demo::sent_photo(&bytes, "").sha256);
    let middle = bytes.len() / 2;
    for (base, from, end, status) in [(&first, 0, middle, 202), (&second, middle, bytes.len(), 201)] {
        let call = client().put(format!("{base}{path}")).bearer_auth(&token);
        let answer = call
            .header("Content-Type", "image/jpeg")
            .header("Content-Range", format!("bytes {from}-{}/{}", end - 1, bytes.len()))
            .body(bytes[from..end].to_vec())
            .send()
            .await
            .unwrap();
        assert_eq!(answer.status().as_u16(), status);
    }
    drop((one, two));
    let kept = bucket.objects.lock().unwrap();
    let (name, whole) = kept.iter().next().unwrap();
    assert_eq!(kept.len(), 1, "the parts are gone");
    assert!(name.starts_with("/larch-hollow/photos/whole/1/"), "{name}");
    let hash = demo::sent_photo(&bytes, "").sha256.to_string();
    assert!(!name.contains(&hash), "{name} can be logged");
    assert_eq!(whole, &bytes);
}
