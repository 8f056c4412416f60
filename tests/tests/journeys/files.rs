//! A photo's file that is missing when its part is due.

use super::hostile::RelayFixture;
use super::manual_clock::worker;
use super::photos::taken_somewhere;
use std::fs;
use std::path::{Path, PathBuf};
use steerwright_core::book::{Op, OrderId};
use steerwright_core::orders::{Body, CallOutcome, Reason, State, Step};
use steerwright_core::protocol::wire::OrderRequest;

const MINUTE: i64 = 60_000;

/// A request with a photo in transfer: the first part is at the shop, and the next is due. Returns its file, and the
/// request.
fn under_way() -> (RelayFixture, OrderId, PathBuf) {
    let mut way = RelayFixture::new();
    way.fixture.photo_of(&taken_somewhere(900, 700));
    let id = way.fixture.queue();
    let mut worker = worker();
    for _ in 0..2 {
        worker.sync_once(&mut way.fixture.book, &mut way.place.clock.clone()).unwrap();
    }
    let due = way.fixture.book.due(way.place.clock.at()).unwrap();
    let [call] = due.as_slice() else { panic!("{due:?}") };
    let Body::File { path, from, .. } = &call.body else { panic!("{call:?}") };
    assert_eq!(*from, u64::from(OrderRequest::PART_BYTES));
    let path = path.clone();
    (way, id, path)
}

/// Modifies the file after the call was begun.
fn fails(way: &mut RelayFixture, happens: impl FnOnce(&Path), path: &Path) {
    let now = way.place.clock.at();
    let call = way.fixture.book.due(now).unwrap().remove(0);
    assert!(way.fixture.book.begin_call(&call, now).unwrap());
    happens(path);
    let outcome = worker().send(&call);
    assert_eq!(outcome, CallOutcome::NoFile);
    assert!(way.fixture.book.finish_call(call.id, &outcome, now).unwrap().output);
}

fn away(path: &Path) -> PathBuf {
    path.with_extension("away")
}

#[test]
fn a_request_waits_for_its_photo_and_goes_on_when_it_is_back() {
    let gone: fn(&Path) = |path| fs::rename(path, away(path)).unwrap();
    let shorter: fn(&Path) = |path| {
        gone_and(path, |whole, path| fs::write(path, &whole[..300_000]).unwrap());
    };
    // It can be opened but not read, by any user.
    let unreadable: fn(&Path) = |path| gone_and(path, |_, path| fs::create_dir(path).unwrap());
    for happens in [gone, shorter, unreadable] {
        let (mut way, id, path) = under_way();
        fails(&mut way, happens, &path);
        let order = way.fixture.book.read().order(id).unwrap().order;
        let photo = way.fixture.book.read().order(id).unwrap().request.photos[0].sha256;
        assert_eq!((order.state, order.reason), (State::Rejected, Some(Reason::PhotoLost { photo })));
        assert!(!order.may_be_with_shop);
        // While it is missing nothing is due and nothing is sent, however long that is.
        let calls = way.relay.whole();
        for _ in 0..50 {
            way.place.clock.forward(10 * MINUTE);
            assert_eq!(way.fixture.book.due(way.place.clock.at()).unwrap(), []);
            way.serve(&mut worker());
        }
        assert_eq!((way.fixture.state(id), way.relay.whole()), (State::Rejected, calls));
        if path.is_dir() {
            fs::remove_dir(&path).unwrap();
        }
        fs::rename(away(&path), &path).unwrap();
        way.end(&mut worker());
    }
}

fn gone_and(path: &Path, then: impl FnOnce(&[u8], &Path)) {
    let whole = fs::read(path).unwrap();
    fs::rename(path, away(path)).unwrap();
    then(&whole, path);
}

#[test]
fn a_request_goes_on_when_its_photo_is_edited_out() {
    let (mut way, id, path) = under_way();
    fails(&mut way, |path| fs::remove_file(path).unwrap(), &path);
    let mut draft = way.fixture.book.read().draft_from(id).unwrap().draft;
    draft.photos.clear();
    let new = way.fixture.book.transact(Op::Order, |work| work.edit_order(id, &draft)).unwrap().output;
    way.place.clock.forward(MINUTE);
    way.serve(&mut worker());
    assert_eq!((way.fixture.state(id), way.fixture.state(new)), (State::Withdrawn, State::Delivered));
    assert_eq!(way.place.requests().into_keys().collect::<Vec<_>>(), [new]);
}

/// If the shop may have the request, a new one replaces it without withdrawing it: the old one must not continue as
/// well.
#[test]
fn one_that_was_replaced_does_not_go_on_by_itself() {
    let (mut way, id, path) = under_way();
    // The request itself was sent and its answer lost; then the shop lacks the photo, whose file is missing.
    while !way.fixture.book.due(way.place.clock.at()).unwrap().iter().any(|it| it.step == Step::Send) {
        worker().sync_once(&mut way.fixture.book, &mut way.place.clock.clone()).unwrap();
    }
    let now = way.place.clock.at();
    let call = way.fixture.book.due(now).unwrap().remove(0);
    assert!(way.fixture.book.begin_call(&call, now).unwrap());
    way.fixture.book.finish_call(call.id, &CallOutcome::Timeout, now).unwrap();
    way.place.clock.forward(10 * MINUTE);
    let now = way.place.clock.at();
    let call = way.fixture.book.due(now).unwrap().remove(0);
    assert!(way.fixture.book.begin_call(&call, now).unwrap());
    fs::rename(&path, away(&path)).unwrap();
    let body = format!(
        "{{\"type\": \"/problems/photo-missing\", \"status\": 422, \"photos\": [\"{}\"]}}",
        path.file_name().unwrap().to_str().unwrap()
    );
    let headers = vec![("Content-Type".to_owned(), "application/problem+json".to_owned())];
    let missing = steerwright_core::orders::Answer { status: 422, headers, body: body.into_bytes() };
    way.fixture.book.finish_call(call.id, &CallOutcome::Answer(missing), now).unwrap();
    let order = way.fixture.book.read().order(id).unwrap().order;
    assert!(matches!(order.reason, Some(Reason::PhotoLost { .. })) && order.may_be_with_shop, "{order:?}");
    let mut draft = way.fixture.book.read().draft_from(id).unwrap().draft;
    draft.photos.clear();
    let new = way.fixture.book.transact(Op::Order, |work| work.edit_order(id, &draft)).unwrap().output;
    fs::rename(away(&path), &path).unwrap();
    way.place.clock.forward(60 * MINUTE);
    way.serve(&mut worker());
    assert_eq!((way.fixture.state(id), way.fixture.state(new)), (State::Rejected, State::Delivered));
    assert_eq!(way.place.requests().into_keys().collect::<Vec<_>>(), [new]);
}
