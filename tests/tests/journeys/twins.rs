//! Two copies of one book, two outbox workers, two shops' processes on one database: every key races with itself.

use super::hands::{Hands, worker};
use super::killed::copy;
use super::photos::taken_somewhere;
use super::place::Place;
use super::process::{free_address, shop};
use std::sync::{Arc, Barrier};
use steerwright_core::book::{FieldBook, Op};
use steerwright_core::orders::Token;
use steerwright_tests::SteadyClock;
use steerwright_tests::bench::Bench;

#[test]
fn every_key_races_with_itself() {
    const REQUESTS: usize = 20;
    let place = Place::new();
    let token = place.sender("crew");
    let addresses = [free_address(), free_address()];
    let shops = addresses.map(|address| shop(&place, address));
    let mut bench = Bench::new();
    bench.set_shop(&format!("http://{}", addresses[0]), &token);
    for request in 0..REQUESTS {
        if request % 5 == 0 {
            bench.photos.clear();
            bench.photo_of(&taken_somewhere(600 + request as u16, 400));
        }
        bench.queue();
    }
    let Bench { shelf, book, .. } = bench;
    drop(book);
    let second = tempfile::tempdir().unwrap();
    copy(shelf.folder(), second.path());
    let name = shelf.path().file_name().unwrap().to_owned();
    let paths = [shelf.path(), second.path().join(name)];
    let barrier = Arc::new(Barrier::new(2));
    let threads: Vec<_> = paths
        .into_iter()
        .zip(addresses)
        .zip(1_u8..)
        .map(|((path, address), series)| {
            let (barrier, token) = (Arc::clone(&barrier), Token::new(&token).unwrap());
            std::thread::spawn(move || {
                let clock = Box::new(SteadyClock::new(series));
                let (mut book, _) = FieldBook::open(&path, clock).unwrap();
                book.transact(Op::ChangeSettings, |work| {
                    work.set_shop(&format!("http://{address}"), &token)?;
                    work.agree_to_sending("Both send the same.", None)
                })
                .unwrap();
                let (mut worker, mut hands) = (worker(), Hands::default());
                barrier.wait();
                worker.sync_until_empty(&mut book, &mut hands).unwrap();
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
