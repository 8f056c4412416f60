//! The shop's receiver as a process.

use super::place::{Place, seed};
use std::io::{BufRead, BufReader};
use std::net::{SocketAddr, TcpListener};
use std::process::{Child, Command, Stdio};

/// Killed when dropped.
pub struct Process(pub Child);

impl Drop for Process {
    fn drop(&mut self) {
        let _ = self.0.kill();
        let _ = self.0.wait();
    }
}

/// An unused address, not reused by chance: below the ephemeral port range (RFC 6335, 6: 49152 and up; Linux:
/// 32768 and up).
pub fn free_address() -> SocketAddr {
    let ports = std::iter::repeat_with(|| u16::from_be_bytes([seed()[0], seed()[1]]) % 20_000 + 10_000);
    let mut free = ports.filter_map(|port| TcpListener::bind(("127.0.0.1", port)).ok());
    free.next().unwrap().local_addr().unwrap()
}

/// A receiver for a shop in its own process, which is serving when this returns.
pub fn shop(place: &Place, address: SocketAddr) -> Process {
    let rates = ["--burst", "1000000", "--each-minute", "60000000"];
    let mut child = Command::new(env!("CARGO_BIN_EXE_shop"))
        .env_clear()
        .args(["serve", "--log", "json", "--listen", &address.to_string(), "--database", &place.address])
        .args(rates)
        .args(["--catalogue", concat!(env!("CARGO_MANIFEST_DIR"), "/../core/fit/data/demo/catalogue.json")])
        .arg("--data")
        .arg(place.folder.path())
        .stderr(Stdio::piped())
        .spawn()
        .unwrap();
    let mut lines = BufReader::new(child.stderr.take().unwrap()).lines().map(Result::unwrap);
    let mut said = Vec::new();
    loop {
        let Some(line) = lines.next() else { panic!("the shop does not begin: {said:?}") };
        if line.contains("\"serving\"") {
            break;
        }
        said.push(line);
    }
    std::thread::spawn(move || lines.for_each(drop));
    Process(child)
}
