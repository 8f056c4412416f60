//! The shop's receiver as a process.

use super::place::Place;
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

/// An address where nobody is just now.
pub fn free_address() -> SocketAddr {
    TcpListener::bind("127.0.0.1:0").unwrap().local_addr().unwrap()
}

/// A receiver of a place in a process of its own, which serves when this returns.
pub fn shop(place: &Place, address: SocketAddr) -> Process {
    let rates = ["--burst", "1000000", "--each-minute", "60000000"];
    let mut child = Command::new(env!("CARGO_BIN_EXE_shop"))
        .env_clear()
        .args(["serve", "--log", "json", "--listen", &address.to_string(), "--database", &place.address])
        .args(rates)
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
