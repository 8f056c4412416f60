//! Photo transfer: interrupted and resumed, and without location at the shop.

use super::hostile::RelayFixture;
use super::manual_clock::worker;
use super::relay::InjectedFault;
use exif::experimental::Writer;
use exif::{Field, In, Rational, Tag, Value};
use std::io::Cursor;
use steerwright_core::orders::State;
use steerwright_core::protocol::wire::OrderRequest;

/// A synthetic picture of noise, so that it stays large, with a location in it.
pub fn taken_somewhere(width: u16, height: u16) -> Vec<u8> {
    let mut noise = 1_u32;
    let pixels: Vec<u8> = (0..usize::from(width) * usize::from(height) * 3)
        .map(|_| {
            noise = noise.wrapping_mul(1_664_525).wrapping_add(1_013_904_223);
            (noise >> 24) as u8
        })
        .collect();
    let mut jpeg = Vec::new();
    jpeg_encoder::Encoder::new(&mut jpeg, 90)
        .encode(&pixels, width, height, jpeg_encoder::ColorType::Rgb)
        .unwrap();
    let degrees = |value| Value::Rational(vec![Rational::from((value, 1)); 3]);
    let fields = [(Tag::GPSLatitude, degrees(47)), (Tag::GPSLongitude, degrees(11))]
        .map(|(tag, value)| Field { tag, ifd_num: In::PRIMARY, value });
    let mut writer = Writer::new();
    fields.iter().for_each(|field| writer.push_field(field));
    let mut tiff = Cursor::new(Vec::new());
    writer.write(&mut tiff, false).unwrap();
    let content = [b"Exif\0\0".as_slice(), tiff.get_ref()].concat();
    let length = u16::try_from(content.len() + 2).unwrap().to_be_bytes();
    // Directly after the start of the image.
    let segment = [&[0xFF, 0xE1], length.as_slice(), &content].concat();
    jpeg.splice(2..2, segment);
    let read = exif::Reader::new().read_from_container(&mut Cursor::new(&jpeg)).unwrap();
    assert!(read.get_field(Tag::GPSLatitude, In::PRIMARY).is_some());
    jpeg
}

#[test]
fn a_photo_that_was_cut_off_goes_on_where_it_was() {
    const PART: u64 = OrderRequest::PART_BYTES as u64;
    let mut way = RelayFixture::new();
    way.fixture.photo_of(&taken_somewhere(1_200, 900));
    let id = way.fixture.queue();
    let photo = way.fixture.book.read().order(id).unwrap().request.photos[0].clone();
    assert!(photo.bytes > 3 * PART, "{}", photo.bytes);
    // A query; a part whose answer is lost; a query; a part that is cut off; a query; and so on.
    let none = InjectedFault::None;
    way.relay.script([none.clone(), InjectedFault::LostBack, none.clone(), InjectedFault::Cut(100_000)]);
    for _ in 0..2 {
        way.serve(&mut worker());
        assert_eq!(way.fixture.state(id), State::Queued);
        way.fixture = way.fixture.reopen();
        way.place.clock.forward(3_600_000);
    }
    way.end(&mut worker());
    let seen = way.relay.seen();
    let parts: Vec<_> = seen.iter().filter(|seen| seen.what.starts_with("PUT ")).collect();
    let sent: u64 = parts.iter().map(|part| part.body).sum();
    assert_eq!(sent, photo.bytes + 100_000, "nothing but the part that was cut off went twice");
    let ranges: Vec<_> = parts
        .iter()
        .map(|part| part.head.lines().find(|line| line.to_lowercase().starts_with("content-range:")).unwrap())
        .map(|line| line.split_once("bytes ").unwrap().1.split_once('-').unwrap().0.parse::<u64>().unwrap())
        .collect();
    let starts = (1..).map(|part| part * PART).take_while(|start| *start < photo.bytes);
    assert_eq!(ranges, [0, PART].into_iter().chain(starts).collect::<Vec<_>>());
    // As few connections as there were breaks.
    assert_eq!(way.relay.connections(), 3);
}

#[test]
fn a_photo_of_two_requests_is_sent_once() {
    let mut way = RelayFixture::new();
    way.fixture.photo_of(&taken_somewhere(300, 200));
    way.fixture.queue();
    way.fixture.queue();
    way.end(&mut worker());
    let puts = way.relay.seen().iter().filter(|seen| seen.what.starts_with("PUT ")).count();
    assert_eq!(puts, 1);
}
