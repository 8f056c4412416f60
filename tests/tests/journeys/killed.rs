//! Phone and shop killed at random moments: nothing acknowledged is lost, nothing is duplicated.

use super::photos::taken_somewhere;
use super::place::Place;
use super::process::{Process, free_address, shop};
use std::collections::BTreeSet;
use std::fs;
use std::io::{BufRead, BufReader};
use std::net::SocketAddr;
use std::path::{Path, PathBuf};
use std::process::{Command, Stdio};
use std::sync::mpsc::{Receiver, channel};
use std::time::{Duration, Instant};
use steerwright_core::book::{FieldBook, Opened, OrderId};
use steerwright_core::orders::State;
use steerwright_intake::database::Statement;
use steerwright_tests::RepeatableClock;
use steerwright_tests::crash::{mix, unsound};
use steerwright_tests::fixture::Fixture;

/// Rounds in the life of one book.
const LIFE: u64 = 10;
/// Longer than any wait between two tries, and than the lease of an interrupted call.
const LATER: i64 = 7 * 3_600_000;

fn chance(name: &str, otherwise: u64) -> u64 {
    std::env::var(name).map_or(otherwise, |text| text.parse().expect("a number"))
}

/// Far longer than any operation of a phone, even on a machine under load.
const PATIENCE: Duration = Duration::from_secs(300);

/// A phone's output, line by line.
struct Phone {
    process: Process,
    said: Receiver<String>,
}

impl Phone {
    fn start(life: &Life, seed: u64, count: u64) -> Self {
        let mut child = Command::new(env!("CARGO_BIN_EXE_phone"))
            .env_clear()
            .arg(&life.book)
            .args([life.forward, seed as i64 & i64::MAX, count as i64].map(|number| number.to_string()))
            .args(&life.photos)
            .stdout(Stdio::piped())
            .spawn()
            .unwrap();
        let lines = BufReader::new(child.stdout.take().unwrap()).split(b'\n');
        let (tell, said) = channel();
        std::thread::spawn(move || {
            for line in lines.map_while(Result::ok) {
                let _ = tell.send(String::from_utf8(line).unwrap());
            }
        });
        Self { process: Process(child), said }
    }

    /// Receives until a line arrives or the time is over; `None` once it is.
    fn hear(&self, until: Instant) -> Option<String> {
        self.said.recv_timeout(until.saturating_duration_since(Instant::now())).ok()
    }
}

struct Life {
    place: Place,
    /// Keeps the book's folder alive.
    _bench: tempfile::TempDir,
    book: PathBuf,
    photos: Vec<PathBuf>,
    address: SocketAddr,
    shop: Option<Process>,
    forward: i64,
    queued: BTreeSet<OrderId>,
    delivered: BTreeSet<OrderId>,
}

/// Copies a folder.
pub fn copy(from: &Path, to: &Path) {
    fs::create_dir_all(to).unwrap();
    for entry in fs::read_dir(from).unwrap().map(Result::unwrap) {
        let target = to.join(entry.file_name());
        if entry.file_type().unwrap().is_dir() {
            copy(&entry.path(), &target);
        } else {
            fs::copy(entry.path(), target).unwrap();
        }
    }
}

impl Life {
    fn begin() -> Self {
        let place = Place::new();
        let token = place.sender("crew");
        let address = free_address();
        let mut fixture = Fixture::new();
        fixture.set_shop(&format!("http://{address}"), &token);
        let folder = tempfile::tempdir().unwrap();
        let (from, name) = (fixture.temp_book.folder().to_owned(), fixture.temp_book.path());
        drop(fixture.book);
        copy(&from, folder.path());
        let book = folder.path().join(name.file_name().unwrap());
        // One that is sent in one part and one in three.
        let photos = [(160_u16, 120_u16), (640, 480)].map(|(width, height)| {
            let path = place.folder.path().join(format!("{width}.jpg"));
            fs::write(&path, taken_somewhere(width, height)).unwrap();
            path
        });
        Self {
            place,
            _bench: folder,
            book,
            photos: photos.to_vec(),
            address,
            shop: None,
            forward: 0,
            queued: BTreeSet::new(),
            delivered: BTreeSet::new(),
        }
    }

    fn note(&mut self, line: &str) {
        let id = |text: &str| text.parse::<OrderId>().unwrap();
        match line.split_once(' ') {
            Some(("queued", text)) => drop(self.queued.insert(id(text))),
            Some(("delivered", text)) => drop(self.delivered.insert(id(text))),
            _ => {}
        }
    }

    /// One round: phone and shop run, and one of them or both are killed. Returns whether the phone had opened the
    /// book, and whether the shop was killed.
    fn sync_once(&mut self, seed: &mut u64) -> (bool, bool) {
        if self.shop.is_none() {
            self.shop = Some(shop(&self.place, self.address));
        }
        let (victim, count) = (mix(seed) % 3, 1 + mix(seed) % 3);
        let early = mix(seed).is_multiple_of(8);
        let phone = Phone::start(self, mix(seed), count);
        let mut opened = false;
        let mut until = Instant::now() + PATIENCE;
        if early {
            until = Instant::now() + Duration::from_micros(mix(seed) % 30_000);
        } else {
            while let Some(line) = phone.hear(until) {
                if line == "opened" {
                    opened = true;
                    break;
                }
            }
            assert!(opened, "the phone does not begin");
            until = Instant::now() + Duration::from_micros(mix(seed) % 250_000);
        }
        let hear = |life: &mut Self, until: Instant| {
            while let Some(line) = phone.hear(until) {
                life.note(&line);
            }
        };
        hear(self, until);
        std::thread::sleep(until.saturating_duration_since(Instant::now()));
        let kills_shop = victim > 0;
        if kills_shop {
            self.shop = None;
        }
        if victim == 1 {
            // The phone continues without the shop, and then with it again.
            let until = Instant::now() + Duration::from_micros(mix(seed) % 40_000);
            hear(self, until);
            self.shop = Some(shop(&self.place, self.address));
            let until = Instant::now() + Duration::from_micros(mix(seed) % 150_000);
            hear(self, until);
        }
        // The remaining output, until its end.
        let Phone { process, said } = phone;
        drop(process);
        said.iter().for_each(|line| self.note(&line));
        self.forward += LATER;
        (opened, kills_shop)
    }

    /// Invariants after every round.
    fn is_whole(&mut self, about: &str) {
        let (book, opened) = FieldBook::open(&self.book, Box::new(RepeatableClock::default())).unwrap();
        assert!(matches!(opened, Opened::Existing), "{about}: {opened:?}");
        let orders = book.read().orders(None).unwrap();
        drop(book);
        assert_eq!(unsound(&self.book), Vec::<String>::new(), "{about}");
        let ids: BTreeSet<_> = orders.iter().map(|order| order.id).collect();
        assert!(self.queued.is_subset(&ids), "{about}: a request that was said to be queued is gone");
        assert!(ids.len() <= self.queued.len() + 1, "{about}: more were queued than asked for");
        // A request whose process was killed before it could report it counts from now on.
        self.queued.clone_from(&ids);
        let here: BTreeSet<_> = self.place.requests().into_keys().collect();
        assert!(here.is_subset(&ids), "{about}");
        for order in orders {
            let has = here.contains(&order.id);
            let is_delivered = order.state == State::Delivered;
            assert!(has || !is_delivered, "{about}: a receipt out of nothing: {order:?}");
            assert!(!has || is_delivered || order.may_be_with_shop, "{about}: {order:?}");
            assert!(is_delivered || !self.delivered.contains(&order.id), "{about}: {order:?}");
            assert!(!matches!(order.state, State::Rejected | State::Held), "{about}: {order:?}");
        }
    }

    /// Without further faults: everything arrives, once.
    fn end(mut self, about: &str) -> usize {
        // The claims of a killed shop expire after three minutes, which the test does not wait for.
        let expire = Statement::new("UPDATE claims SET claimed_at = 0 WHERE answer IS NULL", []);
        self.place.runtime.block_on(self.place.database.run_one(expire)).unwrap();
        // The old one stops before the new one starts: there is one address.
        self.shop = None;
        self.shop = Some(shop(&self.place, self.address));
        let mut done = false;
        for _ in 0..12 {
            let phone = Phone::start(&self, 1, 0);
            let until = Instant::now() + PATIENCE;
            while let Some(line) = phone.hear(until) {
                self.note(&line);
                done |= line == "done";
                if done || line == "waiting" {
                    break;
                }
            }
            drop(phone);
            if done {
                break;
            }
            self.forward += LATER;
        }
        assert!(done, "{about}: not everything arrived");
        self.is_whole(about);
        let (book, _) = FieldBook::open(&self.book, Box::new(RepeatableClock::default())).unwrap();
        self.place.has_all_of(&book);
        self.queued.len()
    }
}

#[test]
fn phone_and_shop_killed_at_any_moment() {
    let rounds = chance("STEERWRIGHT_JOURNEY_ROUNDS", 12);
    let first = chance("STEERWRIGHT_JOURNEY_SEED", 20_260_503);
    let (mut round, mut lives, mut requests, mut opened, mut shops) = (0, 0, 0, 0_u64, 0_u64);
    while round < rounds {
        let own = first.wrapping_add(lives);
        let mut seed = own;
        let mut life = Life::begin();
        let about = format!("STEERWRIGHT_JOURNEY_SEED={own}");
        for _ in 0..LIFE.min(rounds - round) {
            let (phone, shop) = life.sync_once(&mut seed);
            life.is_whole(&about);
            opened += u64::from(phone);
            shops += u64::from(shop);
            round += 1;
        }
        requests += life.end(&about);
        lives += 1;
    }
    println!(
        "{rounds} rounds in {lives} books: {rounds} phones killed, {opened} of them with an open book, {shops} shops \
         killed; {requests} requests, all of them received once"
    );
}
