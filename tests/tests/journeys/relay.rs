//! A relay between an outbox worker and a shop that injects faults, call by call, by a script.

use rustls::{ServerConfig, ServerConnection, StreamOwned};
use std::collections::VecDeque;
use std::io::{self, Read, Write};
use std::net::{Shutdown, SocketAddr, TcpListener, TcpStream};
use std::sync::atomic::{AtomicBool, Ordering};
use std::sync::{Arc, Mutex};
use std::thread;
use std::time::Duration;
use steerwright_core::protocol::wire::{PROBLEM_JSON, Problem, ProblemKind};

/// An endless answer is cut off after this many bytes, so that a client that reads all of it does not fill the memory.
pub const ENDLESS: u64 = 256 << 20;

/// The fault of one call.
#[derive(Debug, Clone, PartialEq, Eq)]
pub enum InjectedFault {
    /// None: it is forwarded to the shop, and the answer back.
    None,
    /// It is read, and the connection closed.
    LostThere,
    /// It is forwarded to the shop, and the answer is lost.
    LostBack,
    /// It is forwarded to the shop twice; the second answer is returned.
    Twice,
    /// It is forwarded to the shop once, and the answer is returned twice on the same connection.
    AnsweredTwice,
    /// The shop executes it, and these bytes are returned instead of the answer.
    After(Vec<u8>),
    /// These bytes are returned, and the shop receives nothing.
    Instead(Vec<u8>),
    /// The shop executes it, and nothing is returned as long as the caller waits.
    Silence,
    /// The shop executes it, and the answer is returned byte by byte, too slowly.
    Slow,
    /// The shop executes it, and the answer is endless (up to [`ENDLESS`]).
    Endless,
    /// The shop executes it, and the head of the answer is endless.
    EndlessHead,
    /// The shop executes it, and half of the answer is returned.
    HalfAnswer,
    /// This many bytes of its body are forwarded to the shop, then both connections are closed.
    Cut(usize),
}

/// An answer in wire format.
pub fn answer(status: &str, headers: &[(&str, &str)], body: &str) -> Vec<u8> {
    let headers: String = headers.iter().map(|(name, value)| format!("{name}: {value}\r\n")).collect();
    format!("HTTP/1.1 {status}\r\n{headers}Content-Length: {}\r\n\r\n{body}", body.len()).into_bytes()
}

/// A problem with a wait, as sent by a shop.
pub fn wait(kind: ProblemKind, seconds: &str) -> Vec<u8> {
    let body = serde_json::to_string(&Problem::new(kind, None)).unwrap();
    let status = format!("{} Wait", kind.status());
    answer(&status, &[("Content-Type", PROBLEM_JSON), ("Retry-After", seconds)], &body)
}

/// A call as received.
#[derive(Debug, Clone)]
pub struct Seen {
    /// `POST /v1/order-requests` and so on.
    pub what: String,
    /// Its raw headers.
    pub head: String,
    /// Bytes of its body.
    pub body: u64,
    /// The status of the shop's answer if it was returned unchanged.
    pub status: Option<u16>,
}

struct CrashFixture {
    shop: SocketAddr,
    script: VecDeque<InjectedFault>,
    seen: Vec<Seen>,
    connections: u32,
    /// Number of answers of the shop.
    answers: u32,
    /// Bytes of endless answers that were read by clients.
    endless: u64,
}

impl CrashFixture {
    fn at(shop: SocketAddr) -> Self {
        Self { shop, script: VecDeque::new(), seen: Vec::new(), connections: 0, answers: 0, endless: 0 }
    }
}

pub struct Relay {
    address: SocketAddr,
    desk: Arc<Mutex<CrashFixture>>,
    over: Arc<AtomicBool>,
}

trait Stream: Read + Write + Send {}
impl<T: Read + Write + Send> Stream for T {}

impl Drop for Relay {
    fn drop(&mut self) {
        self.over.store(true, Ordering::SeqCst);
        let _ = TcpStream::connect(self.address);
    }
}

impl Relay {
    pub fn to(shop: SocketAddr) -> Self {
        Self::new(shop, None)
    }

    /// With TLS in front.
    pub fn with_tls(shop: SocketAddr, tls: Arc<ServerConfig>) -> Self {
        Self::new(shop, Some(tls))
    }

    fn new(shop: SocketAddr, tls: Option<Arc<ServerConfig>>) -> Self {
        let listener = TcpListener::bind("127.0.0.1:0").unwrap();
        let address = listener.local_addr().unwrap();
        let (desk, over) = (Arc::new(Mutex::new(CrashFixture::at(shop))), Arc::new(AtomicBool::new(false)));
        let (its_desk, its_over) = (Arc::clone(&desk), Arc::clone(&over));
        thread::spawn(move || {
            for stream in listener.incoming() {
                if its_over.load(Ordering::SeqCst) {
                    return;
                }
                let Ok(stream) = stream else { continue };
                let (desk, tls) = (Arc::clone(&its_desk), tls.clone());
                desk.lock().unwrap().connections += 1;
                thread::spawn(move || {
                    let _ = stream.set_read_timeout(Some(Duration::from_secs(20)));
                    let _ = stream.set_nodelay(true);
                    let end = stream.try_clone().unwrap();
                    let mut stream: Box<dyn Stream> = match tls {
                        None => Box::new(stream),
                        Some(tls) => Box::new(StreamOwned::new(ServerConnection::new(tls).unwrap(), stream)),
                    };
                    let _ = serve(&mut *stream, &desk);
                    let _ = end.shutdown(Shutdown::Both);
                });
            }
        });
        Self { address, desk, over }
    }

    pub fn base(&self) -> String {
        format!("http://{}", self.address)
    }

    /// By name, for certificates.
    pub fn secure_base(&self) -> String {
        format!("https://localhost:{}", self.address.port())
    }

    /// Redirects further calls to another shop address.
    pub fn now_to(&self, shop: SocketAddr) {
        self.desk.lock().unwrap().shop = shop;
    }

    /// Faults of the next calls.
    pub fn script(&self, script: impl IntoIterator<Item = InjectedFault>) {
        self.desk.lock().unwrap().script.extend(script);
    }

    /// The calls so far.
    pub fn seen(&self) -> Vec<Seen> {
        self.desk.lock().unwrap().seen.clone()
    }

    /// Number of calls that arrived completely. An interrupted one is recorded when its end is read, which may be after
    /// the caller continued.
    pub fn whole(&self) -> usize {
        self.seen().iter().filter(|call| call.body == length(&call.head)).count()
    }

    /// Whether the whole script was used.
    pub fn is_played(&self) -> bool {
        self.desk.lock().unwrap().script.is_empty()
    }

    /// Waits until the shop has answered a call.
    pub fn until_the_shop_answered(&self) {
        while self.desk.lock().unwrap().answers == 0 {
            thread::sleep(Duration::from_millis(5));
        }
    }

    pub fn connections(&self) -> u32 {
        self.desk.lock().unwrap().connections
    }

    /// Bytes of endless answers that clients read.
    pub fn endless(&self) -> u64 {
        self.desk.lock().unwrap().endless
    }
}

/// The head up to its empty line, and the part of the body received with it.
fn head(stream: &mut dyn Read) -> io::Result<Option<(String, Vec<u8>)>> {
    let mut bytes = Vec::new();
    let mut byte = [0];
    while !bytes.ends_with(b"\r\n\r\n") {
        if stream.read(&mut byte)? == 0 {
            return Ok(None);
        }
        bytes.push(byte[0]);
    }
    let text = String::from_utf8(bytes.clone()).unwrap();
    Ok(Some((text, bytes)))
}

fn length(head: &str) -> u64 {
    let lines = head.lines().filter_map(|line| line.split_once(':'));
    let mut found = lines.filter(|(name, _)| name.eq_ignore_ascii_case("content-length"));
    found.next().map_or(0, |(_, value)| value.trim().parse().unwrap())
}

fn body(stream: &mut dyn Read, length: u64) -> io::Result<Vec<u8>> {
    let mut body = Vec::new();
    stream.take(length).read_to_end(&mut body)?;
    Ok(body)
}

/// Forwards the call to the shop; returns the whole answer.
fn forward(shop: SocketAddr, call: &[u8], is_head: bool) -> io::Result<Vec<u8>> {
    let mut stream = TcpStream::connect(shop)?;
    stream.write_all(call)?;
    let Some((text, mut answer)) = head(&mut stream)? else {
        return Err(io::ErrorKind::UnexpectedEof.into());
    };
    if !is_head {
        answer.extend(body(&mut stream, length(&text))?);
    }
    Ok(answer)
}

fn serve(stream: &mut dyn Stream, desk: &Mutex<CrashFixture>) -> io::Result<()> {
    while let Some((text, mut call)) = head(stream)? {
        let (shop, fault) = {
            let mut desk = desk.lock().unwrap();
            (desk.shop, desk.script.pop_front().unwrap_or(InjectedFault::None))
        };
        let what = text.lines().next().unwrap().rsplit_once(' ').unwrap().0.to_owned();
        let length = length(&text);
        let taken = match fault {
            InjectedFault::Cut(bytes) => length.min(bytes as u64),
            _ => length,
        };
        let body = body(stream, taken)?;
        let is_head = text.starts_with("HEAD ");
        let seen = Seen { what, head: text, body: body.len() as u64, status: None };
        let place = {
            let mut desk = desk.lock().unwrap();
            desk.seen.push(seen);
            desk.seen.len() - 1
        };
        call.extend(body);
        let forward = || {
            let answer = forward(shop, &call, is_head);
            desk.lock().unwrap().answers += 1;
            answer
        };
        match fault {
            InjectedFault::None => {
                let answer = forward()?;
                // RFC 9112, 4: `HTTP/1.1 200 …`.
                let status = std::str::from_utf8(&answer[9..12]).unwrap().parse().unwrap();
                desk.lock().unwrap().seen[place].status = Some(status);
                stream.write_all(&answer)?;
            }
            InjectedFault::LostThere => return Ok(()),
            InjectedFault::LostBack => {
                forward()?;
                return Ok(());
            }
            InjectedFault::Twice => {
                forward()?;
                stream.write_all(&forward()?)?;
            }
            InjectedFault::AnsweredTwice => {
                let answer = forward()?;
                stream.write_all(&[answer.clone(), answer].concat())?;
            }
            InjectedFault::After(answer) => {
                forward()?;
                stream.write_all(&answer)?;
            }
            InjectedFault::Instead(answer) => stream.write_all(&answer)?,
            InjectedFault::Silence => {
                forward()?;
                // Until the other side gives up.
                let _ = stream.read(&mut [0]);
                return Ok(());
            }
            InjectedFault::Slow => {
                for byte in forward()?.iter().cycle() {
                    stream.write_all(&[*byte])?;
                    stream.flush()?;
                    thread::sleep(Duration::from_millis(100));
                }
            }
            InjectedFault::Endless | InjectedFault::EndlessHead => {
                forward()?;
                let (start, more) = match fault {
                    InjectedFault::Endless => (
                        "HTTP/1.1 201 Created\r\nContent-Type: application/json\r\nContent-Length: 99999999999\r\n\r\n",
                        " ".repeat(4096),
                    ),
                    _ => ("HTTP/1.1 201 Created\r\n", "X-More: and more\r\n".repeat(200)),
                };
                stream.write_all(start.as_bytes())?;
                while desk.lock().unwrap().endless < ENDLESS && stream.write_all(more.as_bytes()).is_ok() {
                    desk.lock().unwrap().endless += more.len() as u64;
                }
                return Ok(());
            }
            InjectedFault::HalfAnswer => {
                let answer = forward()?;
                stream.write_all(&answer[..answer.len() / 2])?;
                return Ok(());
            }
            InjectedFault::Cut(_) => {
                let mut onward = TcpStream::connect(shop)?;
                onward.write_all(&call)?;
                return Ok(());
            }
        }
        stream.flush()?;
    }
    Ok(())
}
