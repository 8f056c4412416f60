//! Facts from a photo's Exif fields (CIPA DC-008): time, lens, camera, orientation.

use crate::{Format, exif_block};
use exif::{Context, Exif, In, Tag, Value};
use image::metadata::Orientation;
use steerwright_input::is_hidden;
use time::{Date, Month, PrimitiveDateTime, Time, UtcOffset};

/// Longest camera name kept, characters.
const MAX_CAMERA_CHARS: usize = 80;
/// Longest plausible focal length, mm; a larger value is a writer's mistake.
const MAX_FOCAL_LENGTH_MM: f64 = 10_000.0;

/// Facts about the original file. A field that is absent or implausible is `None`.
#[derive(Debug, Clone, PartialEq)]
pub struct PhotoFacts {
    /// Format of the original, detected from its bytes.
    pub format: Format,
    /// Width of the original once upright, pixels; from the picture itself, as the tags for it are often wrong.
    pub width: u32,
    /// Height of the original once upright, pixels.
    pub height: u32,
    /// When it was taken, by the camera's clock.
    pub taken_at: Option<TakenAt>,
    /// Focal length, mm.
    pub focal_length_mm: Option<f64>,
    /// Focal length that gives the same view on 36 x 24 mm film, mm: whole numbers.
    pub focal_length_35mm: Option<f64>,
    /// Maker and model, one line of at most 80 characters.
    pub camera: Option<String>,
}

/// A camera clock's time.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub struct TakenAt {
    /// What the clock showed.
    pub local: PrimitiveDateTime,
    /// The clock's offset from UTC; older cameras do not record it.
    pub offset: Option<UtcOffset>,
}

/// The Exif fields that can be read.
#[derive(Debug, Default, PartialEq)]
pub(super) struct ExifFacts {
    pub(super) orientation: Option<Orientation>,
    pub(super) taken_at: Option<TakenAt>,
    pub(super) focal_length_mm: Option<f64>,
    pub(super) focal_length_35mm: Option<f64>,
    pub(super) camera: Option<String>,
}

/// Reads the Exif fields; all are `None` where there is no Exif block, or none that can be read.
pub(super) fn read(bytes: &[u8], format: Format) -> ExifFacts {
    let Some(block) = exif_block::find(bytes, format) else { return ExifFacts::default() };
    // Many cameras write a field or two that violate the standard: the others still count.
    let mut reader = exif::Reader::new();
    let exif = reader
        .continue_on_error(true)
        .read_raw(block.into_owned())
        .or_else(|error| error.distill_partial_result(|_| ()));
    let Ok(exif) = exif else { return ExifFacts::default() };
    ExifFacts {
        orientation: uint(&exif, Tag::Orientation)
            .and_then(|value| Orientation::from_exif(value.try_into().ok()?)),
        taken_at: taken_at(&exif),
        focal_length_mm: rational(&exif, Tag::FocalLength).filter(is_plausible),
        focal_length_35mm: uint(&exif, Tag::FocalLengthIn35mmFilm).map(f64::from).filter(is_plausible),
        camera: camera(&exif),
    }
}

fn is_plausible(focal_length: &f64) -> bool {
    *focal_length > 0.0 && *focal_length <= MAX_FOCAL_LENGTH_MM
}

/// A field of the picture itself; some cameras put those of the Exif directory into the main one.
fn field(exif: &Exif, tag: Tag) -> Option<&Value> {
    let misplaced = || exif.get_field(Tag(Context::Tiff, tag.number()), In::PRIMARY);
    exif.get_field(tag, In::PRIMARY).or_else(misplaced).map(|field| &field.value)
}

fn uint(exif: &Exif, tag: Tag) -> Option<u32> {
    field(exif, tag)?.get_uint(0)
}

fn rational(exif: &Exif, tag: Tag) -> Option<f64> {
    match field(exif, tag)? {
        Value::Rational(values) => {
            values.first().filter(|value| value.denom != 0).map(|value| value.to_f64())
        }
        _ => None,
    }
}

fn ascii(exif: &Exif, tag: Tag) -> Option<&[u8]> {
    match field(exif, tag)? {
        Value::Ascii(lines) => lines.first().map(Vec::as_slice),
        _ => None,
    }
}

/// When the picture was taken, else when it was digitized, else when the file was last changed by the camera.
fn taken_at(exif: &Exif) -> Option<TakenAt> {
    [
        (Tag::DateTimeOriginal, Tag::OffsetTimeOriginal),
        (Tag::DateTimeDigitized, Tag::OffsetTimeDigitized),
        (Tag::DateTime, Tag::OffsetTime),
    ]
    .into_iter()
    .find_map(|(time, offset)| {
        let local = local(ascii(exif, time)?)?;
        Some(TakenAt { local, offset: ascii(exif, offset).and_then(utc_offset) })
    })
}

/// `YYYY:MM:DD HH:MM:SS`; blanks and zeros where the clock was not set are `None`.
fn local(text: &[u8]) -> Option<PrimitiveDateTime> {
    let read = exif::DateTime::from_ascii(text).ok()?;
    let month = Month::try_from(read.month).ok()?;
    let date = Date::from_calendar_date(i32::from(read.year), month, read.day).ok()?;
    let time = Time::from_hms(read.hour, read.minute, read.second).ok()?;
    (read.year > 0).then(|| PrimitiveDateTime::new(date, time))
}

/// `+HH:MM` or `-HH:MM`.
fn utc_offset(text: &[u8]) -> Option<UtcOffset> {
    let [sign, h1, h0, b':', m1, m0, ..] = text else { return None };
    let digit = |byte: &u8| char::from(*byte).to_digit(10);
    let (hours, minutes) = (digit(h1)? * 10 + digit(h0)?, digit(m1)? * 10 + digit(m0)?);
    let sign = match sign {
        b'+' => 1,
        b'-' => -1,
        _ => return None,
    };
    // No place on Earth is further from UTC than 14 hours.
    let offset = (hours <= 14 && minutes < 60).then_some((hours * 3600 + minutes * 60) as i32)?;
    UtcOffset::from_whole_seconds(sign * offset).ok()
}

/// Maker and model on one line; many models repeat the maker, which is then not named twice.
fn camera(exif: &Exif) -> Option<String> {
    let name = |tag| ascii(exif, tag).map(one_line).filter(|name| !name.is_empty());
    let (maker, model) = (name(Tag::Make), name(Tag::Model));
    let whole = match (maker, model) {
        (Some(maker), Some(model)) if !model.to_lowercase().starts_with(&maker.to_lowercase()) => {
            format!("{maker} {model}")
        }
        (_, Some(model)) => model,
        (maker, None) => maker?,
    };
    Some(whole.chars().take(MAX_CAMERA_CHARS).collect::<String>().trim_end().to_owned())
}

fn one_line(text: &[u8]) -> String {
    let text = String::from_utf8_lossy(text);
    let plain: String = text.chars().map(|c| if is_hidden(c) { ' ' } else { c }).collect();
    plain.split_whitespace().collect::<Vec<_>>().join(" ")
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn times_that_no_clock_shows_are_refused() {
        let shown = local(b"2026:05:01 23:59:58").unwrap();
        assert_eq!(shown.to_string(), "2026-05-01 23:59:58.0");
        for text in
            ["2026:02:30 10:00:00", "0000:00:00 00:00:00", "2026:05:01 24:00:00", "    :  :     :  :  ", "x"]
        {
            assert_eq!(local(text.as_bytes()), None, "{text}");
        }
    }

    #[test]
    fn offsets_have_a_sign_and_an_end() {
        let minutes = |text: &str| utc_offset(text.as_bytes()).map(|offset| offset.whole_minutes());
        assert_eq!(minutes("+02:00"), Some(120));
        assert_eq!(minutes("-03:30"), Some(-210));
        assert_eq!(minutes("+00:00"), Some(0));
        for text in ["   :  ", "02:00", "+2:00", "+15:00", "+02:60", "+0a:00"] {
            assert_eq!(minutes(text), None, "{text}");
        }
    }

    #[test]
    fn names_are_one_line() {
        assert_eq!(one_line(b"  Larch\0\nHollow \x1B[2J "), "Larch Hollow [2J");
        assert_eq!(one_line(b"\xFF\xFE"), "\u{FFFD}\u{FFFD}");
    }
}
