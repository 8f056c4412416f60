//! Two copies of one book, two outbox workers, two shop processes on one database: every key is in a race with itself.

use super::killed::copy;
use super::manual_clock::{ManualClock, worker};
use super::photos::taken_somewhere;
use super::place::Place;
use super::process::{free_address, shop};
use std::sync::{Arc, Barrier};
use steerwright_core::book::{FieldBook, Op};
use steerwright_core::orders::Token;
use steerwright_tests::RepeatableClock;
use steerwright_tests::fixture::Fixture;

#[test]
fn every_key_races_with_itself() {
    const REQUESTS: usize = 20;
    let place = Place::new();
    let token = place.sender("crew");
    let addresses = [free_address(), free_address()];
    let shops = addresses.map(|address| shop(&place, address));
    let mut fixture = Fixture::new();
    fixture.set_shop(&format!("http://{}", addresses[0]), &token);
    for request in 0..REQUESTS {
        if request % 5 == 0 {
            fixture.photos.clear();
            fixture.photo_of(&taken_somewhere(600 + request as u16, 400));
        }
        fixture.queue();
    }
    let Fixture { temp_book, book, .. } = fixture;
    drop(book);
    let second = tempfile::tempdir().unwrap();
    copy(temp_book.folder(), second.path());
    let name = temp_book.path().file_name().unwrap().to_owned();
    let paths = [temp_book.path(), second.path().join(name)];
    let barrier = Arc::new(Barrier::new(2));
    let threads: Vec<_> = paths
        .into_iter()
        .zip(addresses)
        .zip(1_u8..)
        .map(|((path, address), series)| {
            let (barrier, token) = (Arc::clone(&barrier), Token::new(&token).unwrap());
            std::thread::spawn(move || {
                let clock = Box::new(RepeatableClock::new(series));
                let (mut book, _) = FieldBook::open(&path, clock).unwrap();
                book.transact(Op::ChangeSettings, |work| {
                    work.set_shop(&format!("http://{address}"), &token)?;
                    work.agree_to_sending("Both send the same.", None)
                })
                .unwrap();
                let (mut worker, mut clock) = (worker(), ManualClock::default());
                barrier.wait();
                worker.sync_until_empty(&mut book, &mut clock).unwrap();
                book
            })
        })
        .collect();
    let books: Vec<FieldBook> = threads.into_iter().map(|thread| thread.join().unwrap()).collect();
    assert_eq!(place.requests().len(), REQUESTS);
    for book in &books {
        place.has_all_of(book);
    }
    drop(shops);
}
