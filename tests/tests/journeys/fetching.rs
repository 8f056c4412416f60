//! The shop's catalogue over real sockets: fetched once, not again while it is unchanged, and only if signed by its
//! maker.

use super::manual_clock::worker;
use super::place::{Place, limits};
use super::relay::{Relay, Seen};
use data_encoding::BASE64;
use ed25519_dalek::{Signer, SigningKey};
use steerwright_core::book::{Op, PublicKey, SignatureStatus};
use steerwright_core::orders::{CatalogueFetch, Fault};
use steerwright_intake::catalogue::PublishedCatalogue;
use steerwright_tests::fixture::{Fixture, MAKER, demo_catalogue};

const DAY: i64 = 24 * 3_600_000;

/// The shop's catalogue from that day on; the tag in the book, the answer, the number then in use, the fault.
type Day = (Option<PublishedCatalogue>, Option<String>, u16, u32, Option<&'static str>);

pub fn numbered(number: u32) -> PublishedCatalogue {
    let mut catalogue = demo_catalogue();
    catalogue.number = number;
    PublishedCatalogue::read(serde_json::to_vec(&catalogue).unwrap(), "the catalogue").unwrap()
}

fn in_use(fixture: &Fixture) -> (u32, SignatureStatus) {
    let makers = fixture.book.read().makers().unwrap();
    let maker = makers.iter().find(|maker| maker.maker == MAKER).unwrap();
    let row = maker.catalogues.iter().find(|row| row.in_use).unwrap();
    (row.number, row.signature_status)
}

fn fetch(fixture: &Fixture) -> CatalogueFetch {
    fixture.book.read().catalogue_fetch().unwrap().unwrap()
}

fn tag(seen: &Seen) -> Option<String> {
    let mut lines = seen.head.lines().filter_map(|line| line.split_once(": "));
    lines.find(|(name, _)| name.eq_ignore_ascii_case("if-none-match")).map(|(_, tag)| tag.to_owned())
}

#[test]
fn a_catalogue_comes_once_newer_and_signed_by_its_maker() {
    let place = Place::new();
    let token = place.sender("crew");
    let (maker, stranger) = (SigningKey::from_bytes(&[7; 32]), SigningKey::from_bytes(&[8; 32]));
    let mut server = place.serve_shop("127.0.0.1:0", limits(), numbered(20).signed_with(&maker));
    let relay = Relay::to(server.address);
    let mut fixture = Fixture::new();
    fixture.set_shop(&relay.base(), &token);
    let public = PublicKey::read(&BASE64.encode(maker.verifying_key().as_bytes())).unwrap();
    fixture.book.transact(Op::PinMaker, |work| work.pin_maker(MAKER, Some(&public))).unwrap();
    fixture.book.transact(Op::ChangeSettings, |work| work.fetch_catalogue(true)).unwrap();
    let first = numbered(20).etag;
    let of_another_file = BASE64.encode(&maker.sign(b"another file").to_bytes());

    let days: Vec<Day> = vec![
        (None, None, 200, 20, None),
        (None, Some(first.clone()), 304, 20, None),
        (Some(numbered(21).signed_with(&stranger)), Some(first.clone()), 200, 20, Some("was not made by")),
        (Some(numbered(21)), Some(first.clone()), 200, 20, Some("you pinned a key")),
        (
            Some(numbered(21).with_signature(&of_another_file).unwrap()),
            Some(first.clone()),
            200,
            20,
            Some("was not made by"),
        ),
        (
            Some(numbered(19).signed_with(&maker)),
            Some(first.clone()),
            200,
            20,
            Some("is older than number 20"),
        ),
        (Some(numbered(22).signed_with(&maker)), Some(first), 200, 22, None),
        (None, Some(numbered(22).etag), 304, 22, None),
    ];
    let mut clock = place.clock.clone();
    let mut refused = 0;
    for (day, (shop, has, status, number, text)) in days.into_iter().enumerate() {
        if let Some(shop) = shop {
            server = place.serve_shop("127.0.0.1:0", limits(), shop);
            relay.now_to(server.address);
        }
        let round = worker().sync_until_idle(&mut fixture.book, &mut clock).unwrap();
        assert_eq!((round.calls, round.answered), (1, 1), "day {day}");
        let seen = relay.seen();
        assert_eq!(seen.len(), day + 1);
        let last = &seen[day];
        assert_eq!((last.what.as_str(), last.status), ("GET /v1/catalogue", Some(status)), "day {day}");
        assert_eq!(tag(last), has, "day {day}");
        assert_eq!(in_use(&fixture), (number, SignatureStatus::Verified), "day {day}");
        refused = if text.is_some() { refused + 1 } else { 0 };
        let told = fetch(&fixture);
        assert_eq!(told.tries, refused, "day {day}");
        match (text, told.fault) {
            (None, None) => assert_eq!(told.fetched_at, Some(clock.at()), "day {day}"),
            (Some(text), Some(Fault::Catalogue { detail })) => {
                assert!(detail.contains(text), "day {day}: {detail}");
            }
            (text, fault) => panic!("day {day}: {text:?}, {fault:?}"),
        }
        // Not before the next day.
        clock.forward(DAY - 1);
        assert_eq!(worker().sync_until_idle(&mut fixture.book, &mut clock).unwrap().calls, 0, "day {day}");
        clock.forward(1);
        fixture = fixture.reopen();
    }
    drop(server);
}
