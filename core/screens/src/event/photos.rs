//! Carrying out what is done to photos, and to sessions with the phone as a level.

use super::call::{Call, done};
use super::{Done, LevelSessionChoice, MarkAct, Place, Refusal};
use crate::level::levels;
use crate::photo::{Draft, Step, guessed, photo_error, placed};
use crate::{ImagePoint, LevelTables, ScreenError};
use steerwright_fieldbook::{BikeId, BookError, NewPhoto, Op, PhotoId};
use steerwright_input::printable;
use steerwright_metrology::quantity::Unit;
use steerwright_photo::{BuiltIn, Limits};

/// Longest name of a file that is shown, characters.
const NAME: usize = 60;

impl Call<'_> {
    /// The photo is one of this bike.
    fn check_photo(&self, bike: BikeId, photo: PhotoId) -> Result<(), Refusal> {
        let is_of_bike = self.book.read().photo(photo)?.row.bike == Some(bike);
        let missing = || ScreenError::NotThere { what: "photo", name: photo.to_string() };
        if is_of_bike { Ok(()) } else { Err(missing().into()) }
    }

    pub(super) fn add_photo(&mut self, bike: BikeId, name: &str, bytes: &[u8]) -> Result<Done, Refusal> {
        if bytes.is_empty() {
            let message = self.words.text("photos-none-chosen");
            return Err(Refusal::Field { field: "photo", message });
        }
        // The original may hold the place where it was taken.
        let new = NewPhoto { bike: Some(bike), note: "", forget_original: true };
        let added = self.book.add_photo(bytes, &Limits::default(), &BuiltIn, &new);
        let added = added.map_err(|error| match error {
            BookError::Photo(error) => {
                let name: String = printable(name.trim()).chars().take(NAME).collect();
                let why = photo_error(self.words, &error);
                let message = match name.as_str() {
                    "" => why,
                    name => self
                        .words
                        .with("photo-refused-file", &[("name", name.into()), ("why", (&why).into())]),
                };
                Refusal::Field { field: "photo", message }
            }
            other => other.into(),
        })?;
        let is_known = added.output.known;
        let text = self.words.text(if is_known { "done-photo-known" } else { "done-photo-added" });
        Ok(Done { text, place: Place::Photos(bike), can_undo: !is_known, effect: None })
    }

    pub(super) fn mark_photo(
        &mut self,
        bike: BikeId,
        photo: PhotoId,
        act: &MarkAct,
    ) -> Result<Done, Refusal> {
        self.check_photo(bike, photo)?;
        let mut draft = self.book.read().draft::<Draft>(photo)?.unwrap_or_default();
        let pixels =
            |place: ImagePoint| [place.x, place.y].iter().all(|value| value.is_finite() && value.abs() < 1e6);
        match act {
            MarkAct::Begin => draft.0.push(Step::Begin),
            MarkAct::TakeWheels => {
                let wheels = guessed(&self.context(), photo)?;
                draft.0.push(wheels.map_or(Step::OwnWheels, |[left, right]| Step::Wheels { left, right }));
            }
            MarkAct::OwnWheels => draft.0.push(Step::OwnWheels),
            MarkAct::Tap { part, at } => {
                if draft.open() == Some(*part) && pixels(*at) {
                    draft.0.push(Step::Tap { part: *part, at: (*at).into() });
                }
            }
            MarkAct::Move { step, number, at } => {
                if pixels(*at) {
                    let [step, number] = [*step, *number].map(|it| usize::try_from(it).unwrap_or(usize::MAX));
                    draft.move_mark(step, number, (*at).into());
                }
            }
            MarkAct::Again { part } => draft.0.push(Step::Again { part: *part }),
            MarkAct::ByHand { part } => draft.0.push(Step::ByHand { part: *part }),
            MarkAct::More { part } => draft.0.push(Step::More { part: *part }),
            MarkAct::Without { part } => draft.0.push(Step::Without { part: *part }),
            MarkAct::Back => drop(draft.0.pop()),
        }
        draft.0.truncate(Draft::MOST);
        self.book.keep_draft(photo, &draft)?;
        Ok(Done { text: String::new(), place: Place::Photo(bike, photo), can_undo: false, effect: None })
    }

    pub(super) fn use_reading(&mut self, bike: BikeId, photo: PhotoId) -> Result<Done, Refusal> {
        self.check_photo(bike, photo)?;
        let marks = placed(&self.context(), photo)?;
        let context = self.context();
        let refused =
            |error: BookError| Refusal::Field { field: "photo", message: context.book_refusal(&error) };
        // Said before the book is written to: both borrow it.
        if let Some(marks) = &marks {
            context.reader.preview_photo(photo, marks).map_err(refused)?;
        }
        let written = self.book.measure_photo(photo, marks.as_ref(), None)?.output;
        let count = written.added.len();
        let text = self.words.with("done-photo-read", &[("count", count.into())]);
        Ok(done(text, Place::Photo(bike, photo)))
    }

    pub(super) fn remove_photo(&mut self, bike: BikeId, photo: PhotoId) -> Result<Done, Refusal> {
        self.check_photo(bike, photo)?;
        self.book.transact(Op::RemovePhoto, |work| work.remove_photo(photo))?;
        Ok(done(self.words.text("done-photo-removed"), Place::Photos(bike)))
    }

    pub(super) fn write_level(
        &mut self,
        bike: BikeId,
        tables: &LevelTables,
        session: LevelSessionChoice,
    ) -> Result<Done, Refusal> {
        let found = levels(&self.context(), tables);
        let (levels, _) = found
            .map_err(|refused| Refusal::Field { field: refused.table.name(), message: refused.message })?;
        let level = match session {
            LevelSessionChoice::First => levels.first(),
            LevelSessionChoice::Second => levels.get(1),
        };
        let Some(level) = level else {
            return Err(Refusal::Field { field: "second", message: self.words.text("level-no-table") });
        };
        let reading = level.measurement();
        let text = self.context().estimate(level.angle, Unit::Deg);
        let label = crate::figures::capital(&self.context().voice().quantity(level.what));
        let id = self
            .book
            .transact(Op::AddMeasurement, |work| work.add_measurement(bike, &reading, None, None))?;
        let text = self.words.with("level-done", &[("what", (&label).into()), ("value", (&text).into())]);
        Ok(done(text, Place::Wrote(bike, id.output)))
    }
}
