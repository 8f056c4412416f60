//! Marks on photos, and the readings computed from them.

use super::error::Inner;
use super::stored::JsonText;
use super::{
    BikeScreen, BookError, FieldBook, MarksId, MeasurementId, Op, Outcome, PhotoFile, PhotoId, PhotoRow,
    Reader, Timestamp, Work, bikes, checks, log, photos, settings, text,
};
use crate::error::Missing as _;
use rusqlite::{Connection, OptionalExtension, Row, params};
use serde::{Deserialize, Serialize};
use steerwright_fit::bike::{Bike, Findings};
use steerwright_metrology::quantity::{Instrument, Quantity};
use steerwright_metrology::sentence::Sentence;
use steerwright_photo::{BuiltIn, Limits, Pixels, upright};
use steerwright_photogrammetry::edges::{Grey, SnappedMarks, snap_taps_in_colour};
use steerwright_photogrammetry::guess::{Guess, guess_wheels};
use steerwright_photogrammetry::measure::{Image, Lens, Marks, PhotoMeasurement, measure};

/// Most sets of marks of one photo.
pub(super) const MOST_SETS: usize = 200;

/// Marks that were set on a photo.
#[derive(Debug, Clone, PartialEq, Serialize, Deserialize)]
#[serde(deny_unknown_fields)]
pub struct MarksRow {
    /// Their id in the book.
    pub id: MarksId,
    /// The marks as they were set.
    pub marks: Marks,
    /// Who set them.
    pub who: Option<String>,
    /// When they were set; the readings made from them have the same time.
    pub set_at: Timestamp,
}

/// The result of measuring a photo.
#[derive(Debug, Clone, PartialEq, Serialize)]
pub struct PhotoMeasured {
    /// The id of the marks in the book.
    pub marks: MarksId,
    /// The readings that were recorded.
    pub added: Vec<MeasurementId>,
    /// Readings of the photo's earlier marks that were struck out.
    pub struck: Vec<MeasurementId>,
}

fn row(row: &Row<'_>) -> rusqlite::Result<MarksRow> {
    let JsonText(marks) = row.get("marks")?;
    Ok(MarksRow { id: row.get("id")?, marks, who: row.get("who")?, set_at: row.get("set_at")? })
}

/// The marks of a photo, oldest first.
pub(super) fn of_photo(conn: &Connection, photo: i64) -> Result<Vec<MarksRow>, Inner> {
    let mut rows = conn.prepare_cached("SELECT * FROM photo_marks WHERE photo = ?1 ORDER BY set_at, id")?;
    let rows = rows.query_map([photo], row)?;
    Ok(rows.collect::<Result<_, _>>()?)
}

/// Inserts a row unless it exists; `None` if it exists with other data.
pub(super) fn insert(conn: &Connection, photo: i64, it: &MarksRow) -> Result<Option<bool>, Inner> {
    let known: Option<(i64, MarksRow)> = conn
        .prepare_cached("SELECT * FROM photo_marks WHERE id = ?1")?
        .query_row([it.id], |found| Ok((found.get("photo")?, row(found)?)))
        .optional()?;
    if let Some((of, known)) = known {
        // When they were set may differ, by another clock.
        let same = MarksRow { set_at: known.set_at, ..it.clone() } == known;
        return Ok((of == photo && same).then_some(false));
    }
    conn.prepare_cached(
        "INSERT INTO photo_marks (id, photo, marks, who, set_at) VALUES (?1, ?2, ?3, ?4, ?5)",
    )?
    .execute(params![it.id, photo, JsonText(&it.marks), it.who, it.set_at])?;
    Ok(Some(true))
}

/// The marks, completed from the photo's file and the bike's other readings.
fn completed(marks: &Marks, photo: &PhotoRow, findings: &Findings) -> Marks {
    let mut marks = marks.clone();
    let told = photo.focal_length_35mm.map(Lens::of_exif).unwrap_or_default();
    marks.lens.focal_length_35mm = marks.lens.focal_length_35mm.or(told.focal_length_35mm);
    let found = |what| findings.get(what);
    marks.front.diameter_mm = marks.front.diameter_mm.or(found(Quantity::FrontTyreDiameter));
    marks.rear.diameter_mm = marks.rear.diameter_mm.or(found(Quantity::RearTyreDiameter));
    marks.front.width_mm = marks.front.width_mm.or(found(Quantity::TyreWidth));
    marks.rear.width_mm = marks.rear.width_mm.or(found(Quantity::TyreWidth));
    marks.fork_offset_mm = marks.fork_offset_mm.or(found(Quantity::ForkOffset));
    marks
}

/// Whether marks can belong to this photo: they have its aspect ratio.
fn fits(marks: &Marks, photo: &PhotoRow) -> bool {
    let (width, height) = (f64::from(photo.width), f64::from(photo.height));
    let (across, down) = (f64::from(marks.image.width), f64::from(marks.image.height));
    (width * down - height * across).abs() <= width.max(across) + height.max(down)
}

fn file_missing() -> BookError {
    BookError::Refused(Sentence::new("photo.file_missing", "the photo's file is missing or damaged"))
}

fn other_picture(marks: &Marks, photo: &PhotoRow) -> Sentence {
    let text = format!(
        "the marks are of a picture of {} by {} pixels, the photo has {} by {} upright",
        marks.image.width, marks.image.height, photo.width, photo.height
    );
    Sentence::new("photo.other_picture", text).with("width", photo.width).with("height", photo.height)
}

/// Measures a photo by marks; returns the bike's row key, the photo's, and the measurement.
fn see(conn: &Connection, id: PhotoId, marks: &Marks) -> Result<(i64, i64, PhotoMeasurement), Inner> {
    let found = photos::find(conn, id)?.filter(|(_, photo)| photo.removed_at.is_none());
    let (key, photo) = found.ok_or_else(|| id.missing())?;
    let bike = photo
        .bike
        .ok_or_else(|| Inner::rule("photo.no_bike", "the photo belongs to no bike; give it one first"))?;
    if !fits(marks, &photo) {
        return Err(Inner::Refused(other_picture(marks, &photo)));
    }
    let (bike_key, mut record) = bikes::record(conn, bike)?;
    // Readings from the photo itself are not used to measure it.
    let mut log = log::of_bike(conn, bike_key, checks::fitted(conn, bike_key)?)?;
    log.retain(|row| row.photo != Some(id) || row.measurement.with != Instrument::Photo);
    record.bike.measured = log::valid_measurements(&log);
    let findings = Findings::new(&record.bike, &settings::instruments(conn)?);
    let seen = measure(&completed(marks, &photo, &findings)).map_err(BookError::Marks)?;
    Ok((bike_key, key, seen))
}

fn measure_photo(
    work: &mut Work<'_>,
    id: PhotoId,
    marks: Option<&Marks>,
    who: Option<&str>,
) -> Result<PhotoMeasured, Inner> {
    let who = text::who(who)?;
    let photo = photos::key_of(work.tx(), id)?;
    let earlier = of_photo(work.tx(), photo)?;
    let marks = match marks {
        Some(marks) => marks.clone(),
        None => {
            let latest = earlier.last().map(|row| row.marks.clone());
            latest.ok_or_else(|| Inner::rule("photo.no_marks", "the photo has no marks yet"))?
        }
    };
    if earlier.len() >= MOST_SETS {
        return Err(Inner::rule("photo.mark_sets", format!("a photo has at most {MOST_SETS} sets of marks"))
            .with("most", MOST_SETS));
    }
    let (bike, _, seen) = see(work.tx(), id, &marks)?;
    let readings = seen.measurements();
    if readings.is_empty() {
        return Err(Inner::rule(
            "photo.nothing_sure",
            "the marks give no value that is accurate enough to be written down",
        ));
    }
    let count: usize = work
        .tx()
        .prepare_cached("SELECT count(*) FROM measurements WHERE bike = ?1")?
        .query_row([bike], |row| row.get(0))?;
    if count + readings.len() > Bike::MOST_MEASURED {
        return Err(log::log_full());
    }
    let given: Vec<MeasurementId> = {
        let mut rows = work.tx().prepare_cached(
            "SELECT id FROM measurements WHERE photo = ?1 AND tool = ?2 AND struck_at IS NULL
                 AND recorded_at IN (SELECT set_at FROM photo_marks WHERE photo = ?1)
             ORDER BY key",
        )?;
        let rows = rows.query_map(params![photo, Instrument::Photo.name()], |row| row.get(0))?;
        rows.collect::<Result<_, _>>()?
    };
    for reading in &given {
        log::strike(work, *reading, who, "the marks on the photo were set anew")?;
    }
    let row =
        MarksRow { id: MarksId(work.fresh_id()), marks, who: who.map(str::to_owned), set_at: work.now() };
    insert(work.tx(), photo, &row)?;
    let mut added = Vec::new();
    for reading in &readings {
        added.push(log::insert(work, bike, reading, who, Some(photo))?);
    }
    bikes::touch(work, bike)?;
    Ok(PhotoMeasured { marks: row.id, added, struck: given })
}

impl Work<'_> {
    /// Measures a photo of a bike by marks and records the readings, with `with: photo` and a half-width of 2 u. The
    /// marks are stored with the photo; the readings of its earlier marks are struck out. Without `marks` the photo's
    /// latest ones are used again, with the present data of the bike.
    ///
    /// Values absent from the marks come from the photo's file (the focal length) and the bike's other readings (tyres,
    /// fork offset).
    ///
    /// # Errors
    /// No such photo, one of no bike, marks of another picture, a log that would become too long, and
    /// [`BookError::Marks`] if the photo is refused.
    pub fn measure_photo(
        &mut self,
        photo: PhotoId,
        marks: Option<&Marks>,
        who: Option<&str>,
    ) -> Result<PhotoMeasured, BookError> {
        self.step(|work| measure_photo(work, photo, marks, who))
    }
}

impl FieldBook {
    /// [`Work::measure_photo`] as one step to undo.
    ///
    /// # Errors
    /// Its own.
    pub fn measure_photo(
        &mut self,
        photo: PhotoId,
        marks: Option<&Marks>,
        who: Option<&str>,
    ) -> Result<Outcome<PhotoMeasured>, BookError> {
        self.transact(Op::MeasurePhoto, |work| work.measure_photo(photo, marks, who))
    }
}

impl Reader {
    /// One set of marks, the latest of its photo or an earlier one.
    ///
    /// # Errors
    /// No such set.
    pub fn marks(&self, id: MarksId) -> Result<MarksRow, BookError> {
        self.read(|conn| {
            let found = conn
                .prepare_cached("SELECT * FROM photo_marks WHERE id = ?1")?
                .query_row([id], row)
                .optional()?;
            found.ok_or_else(|| id.missing())
        })
    }

    /// The marks with their rough taps placed on the edges of the photo's working copy; nothing is written. Marks that
    /// are still rough are refused by [`Work::measure_photo`].
    ///
    /// # Errors
    /// No such photo, one whose file is missing, and marks of another picture.
    pub fn place_taps(&self, photo: PhotoId, marks: &Marks) -> Result<SnappedMarks, BookError> {
        marks.check("marks").map_err(BookError::Invalid)?;
        let row = self.photo(photo)?.row;
        if !fits(marks, &row) {
            return Err(BookError::Refused(other_picture(marks, &row)));
        }
        let pixels = self.working_copy(photo)?;
        snap_taps_in_colour(marks, &pixels).ok_or_else(file_missing)
    }

    /// Guesses of the wheels on a photo's working copy, the most likely first, and that copy's size. They are
    /// suggestions, not marks: see [`Guess::rough_marks`].
    ///
    /// # Errors
    /// No such photo, and one whose file is missing.
    pub fn guess_wheels(&self, photo: PhotoId) -> Result<(Image, Vec<Guess>), BookError> {
        self.photo(photo)?;
        let pixels = self.working_copy(photo)?;
        let guesses = Grey::of(&pixels).map(|grey| guess_wheels(&grey)).unwrap_or_default();
        Ok((Image { width: pixels.width, height: pixels.height }, guesses))
    }

    /// A photo's working copy, decoded: the picture on which marks are set.
    ///
    /// # Errors
    /// No such photo, and one whose file is missing.
    pub fn working_copy(&self, photo: PhotoId) -> Result<Pixels, BookError> {
        let bytes = self.photo_bytes(photo, PhotoFile::Working)?.ok_or_else(file_missing)?;
        Ok(upright(&bytes, &Limits::default(), &BuiltIn).map_err(BookError::Photo)?.0)
    }

    /// The measurement of a photo by these marks, with all data of its bike; nothing is written. For showing the
    /// overlay before the readings are recorded.
    ///
    /// # Errors
    /// As [`Work::measure_photo`].
    pub fn preview_photo(&self, photo: PhotoId, marks: &Marks) -> Result<PhotoMeasurement, BookError> {
        self.read(|conn| see(conn, photo, marks).map(|(_, _, seen)| seen))
    }
}

impl BikeScreen {
    /// The photos on which a finding is based, without duplicates, in the order of the log: those of its valid readings
    /// that were taken on a photo.
    pub fn photos_behind(&self, what: Quantity) -> Vec<PhotoId> {
        let mut behind = Vec::new();
        let on_photos = self
            .log
            .iter()
            .filter(|row| row.place.is_some() && row.measurement.what == what)
            .filter(|row| row.measurement.with == Instrument::Photo)
            .filter_map(|row| row.photo);
        for photo in on_photos {
            if !behind.contains(&photo) {
                behind.push(photo);
            }
        }
        behind
    }
}

#[cfg(test)]
mod tests {
    use super::*;
    use crate::BikeId;
    use steerwright_metrology::quantity::Estimate;

    fn photo(width: u32, height: u32) -> PhotoRow {
        PhotoRow {
            id: PhotoId(uuid::Uuid::nil()),
            bike: Some(BikeId(uuid::Uuid::nil())),
            sha256: [0; 32],
            kind: "jpeg".to_owned(),
            bytes: 1,
            width,
            height,
            taken_at: None,
            focal_length_mm: None,
            focal_length_35mm: Some(26.0),
            camera: None,
            original_kept: false,
            working: [0; 32],
            thumbnail: [0; 32],
            note: String::new(),
            added_at: Timestamp(0),
            removed_at: None,
            marks: Vec::new(),
        }
    }

    #[test]
    fn marks_of_a_smaller_copy_fit_and_of_a_turned_picture_do_not() {
        let json = include_bytes!("../../../tests/data/marks/example.json");
        let mut marks = Marks::from_json(json, "marks").unwrap();
        assert!(fits(&marks, &photo(4032, 3024)));
        assert!(!fits(&marks, &photo(3024, 4032)));
        assert!(!fits(&marks, &photo(4032, 2268)));
        // 1600 by 1201: the size of the working copy of 3997 by 3001.
        marks.image = Image { width: 1600, height: 1201 };
        assert!(fits(&marks, &photo(3997, 3001)));
    }

    #[test]
    fn what_marks_leave_out_comes_from_the_file() {
        let json = include_bytes!("../../../tests/data/marks/example.json");
        let mut marks = Marks::from_json(json, "marks").unwrap();
        let own = completed(&marks, &photo(4032, 3024), &Findings::default());
        assert_eq!(own.lens, marks.lens, "what was told stays");
        marks.lens.focal_length_35mm = None;
        let filled = completed(&marks, &photo(4032, 3024), &Findings::default());
        assert_eq!(filled.lens.focal_length_35mm, Some(Estimate::new(26.0, 0.39)));
    }
}
