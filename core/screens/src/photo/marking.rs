//! One photo: what to tap next, what was understood, and the reading.

use super::draft::{Draft, Part};
use super::found;
use super::list::taken;
use super::scene::{MarkPoint, Outline, Scene, count, marks};
use crate::{Context, Labelled, ScreenError, Shown};
use serde::Serialize;
use steerwright_fieldbook::{BikeId, BookError, PhotoId, ShownPhoto};
use steerwright_metrology::quantity::Quantity;
use steerwright_photo::Pixels;
use steerwright_photogrammetry::edges::{
    Grey, SnapFailure, SnappedMarks, Tapped, snap_taps_in_colour, snap_tyre,
};
use steerwright_photogrammetry::guess::guess_wheels;
use steerwright_photogrammetry::measure::{Ellipse, Image, Lens, Marks, PhotoMeasurement, Pixel, WheelEnd};

/// One photo of a bike.
#[derive(Debug, Clone, PartialEq, Serialize)]
pub struct PhotoView {
    /// The bike.
    pub bike: BikeId,
    /// The bike's name.
    pub bike_name: String,
    /// The photo.
    pub photo: PhotoId,
    /// "Photo 2".
    pub title: String,
    /// For who does not see it.
    pub alt: String,
    /// Size, time, and that its place was removed.
    pub facts: String,
    /// What to do next.
    pub task: MarkTask,
    /// What lies over the picture; none where its file is missing.
    pub scene: Option<Scene>,
    /// The reading, once the last mark is set.
    pub reading: Option<PhotoReading>,
    /// Whether a mark can be taken back.
    pub can_undo: bool,
}

/// What to do on a photo.
#[derive(Debug, Clone, PartialEq, Eq, Serialize)]
pub struct MarkTask {
    /// In a few words.
    pub title: String,
    /// Where, or why not and what to do.
    pub detail: String,
    /// Whether the detail says why the marks were refused.
    pub is_refusal: bool,
    /// How many taps are left.
    pub left: Option<String>,
    /// The stage of an angle, from 1.
    pub stage: Option<MarkStage>,
    /// The same in words.
    pub stage_text: String,
    /// Lines to tap instead, in words, by their numbers in the picture.
    pub instead: Vec<String>,
    /// What to choose from, the usual one first.
    pub choices: Vec<MarkChoice>,
    /// The title of what may be marked besides.
    pub further_title: String,
    /// What may be marked besides.
    pub further: Vec<MarkChoice>,
}

/// How far the marks of an angle are.
#[derive(Debug, Clone, Copy, PartialEq, Eq, Serialize)]
pub struct MarkStage {
    /// The stage, from 1.
    pub step: u32,
    /// The stages there are.
    pub steps: u32,
}

/// A choice.
#[derive(Debug, Clone, PartialEq, Eq, Serialize)]
pub struct MarkChoice {
    /// The act's name in the event.
    pub act: String,
    /// What it is about.
    pub part: Option<Part>,
    /// The button.
    pub text: String,
}

/// What a photo tells.
#[derive(Debug, Clone, PartialEq, Eq, Serialize)]
pub struct PhotoReading {
    /// What the large number is.
    pub label: String,
    /// The large number; none where the marks do not tell it.
    pub value: Option<Shown>,
    /// Everything else: quantity and value.
    pub rows: Vec<Labelled>,
    /// What makes it less sure.
    pub doubts: Vec<String>,
    /// The button that writes it down, and what it writes.
    pub write: Option<Labelled>,
    /// What to say instead of the button.
    pub written: Option<String>,
}

fn size(pixels: &Pixels) -> Image {
    Image { width: pixels.width, height: pixels.height }
}

/// Rough taps on the two wheels that are guessed, left and right; none where no two wheels are seen.
pub(crate) fn guessed(context: &Context<'_>, photo: PhotoId) -> Result<Option<[Vec<Pixel>; 2]>, BookError> {
    let pixels = context.reader.working_copy(photo)?;
    Ok(guess(&pixels).map(|guess| guess.taps))
}

/// Two wheels that are guessed, the left one first.
struct GuessedWheels {
    outlines: [Ellipse; 2],
    taps: [Vec<Pixel>; 2],
}

fn guess(pixels: &Pixels) -> Option<GuessedWheels> {
    let guess = Grey::of(pixels).map(|grey| guess_wheels(&grey)).unwrap_or_default().into_iter().next()?;
    // Heading left, the front wheel is the left one.
    let marks = guess.rough_marks(size(pixels), Lens::default(), true);
    Some(GuessedWheels { outlines: guess.wheels, taps: [marks.front.tyre, marks.rear.tyre] })
}

/// The marks of a photo's draft, placed on the picture's edges, or why not; none while marks are missing.
pub(crate) fn placed(context: &Context<'_>, photo: PhotoId) -> Result<Option<Marks>, BookError> {
    let Some(draft) = context.reader.draft::<Draft>(photo)? else { return Ok(None) };
    let pixels = context.reader.working_copy(photo)?;
    let marks = draft.marks(size(&pixels)).filter(|_| draft.open().is_none());
    let snapped = marks.and_then(|marks| snap_taps_in_colour(&marks, &pixels));
    Ok(snapped.filter(|snapped| snapped.refused().is_none()).map(|snapped| snapped.marks))
}

/// One photo of a bike.
///
/// # Errors
/// No such bike or photo.
pub fn photo(context: &Context<'_>, bike: BikeId, id: PhotoId) -> Result<PhotoView, ScreenError> {
    let (screen, number, shown) = found(context, bike, id)?;
    let row = &shown.row;
    let (width, height) = (row.width.to_string(), row.height.to_string());
    let at = taken(context, &shown);
    let sizes = [("width", (&width).into()), ("height", (&height).into())];
    let facts = match &row.taken_at {
        Some(_) => context.words.with("photos-facts-taken", &[sizes[0], sizes[1], ("at", (&at).into())]),
        None => context.words.with("photos-facts", &sizes),
    };
    let draft = context.reader.draft::<Draft>(id)?.unwrap_or_default();
    let pixels = match context.reader.working_copy(id) {
        Ok(pixels) => Some(pixels),
        Err(BookError::Refused(_) | BookError::Photo(_)) => None,
        Err(error) => return Err(error.into()),
    };
    let mut desk = Desk { context, shown: &shown, outlines: Vec::new(), reading: None };
    let task = match &pixels {
        None => desk.task("photos-file-missing", String::new()),
        Some(pixels) => match row.marks.last().filter(|_| draft.0.is_empty()) {
            Some(stored) => desk.stored(&stored.marks, pixels),
            None => desk.drafted(&draft, pixels),
        },
    };
    let (outlines, reading) = (desk.outlines, desk.reading);
    let name = &screen.record.bike.name;
    let marks: Vec<MarkPoint> = marks(&draft);
    let is_tapping = task.left.is_some();
    Ok(PhotoView {
        bike,
        bike_name: name.clone(),
        photo: id,
        title: context.photo_name(number),
        alt: context.photo_alt(number, name),
        facts,
        task,
        scene: pixels.map(|pixels| Scene {
            width: pixels.width,
            height: pixels.height,
            open: draft.open().filter(|_| is_tapping),
            outlines,
            marks,
        }),
        reading,
        can_undo: !draft.0.is_empty(),
    })
}

/// What is made of a photo's marks.
struct Desk<'d, 'c> {
    context: &'d Context<'c>,
    shown: &'d ShownPhoto,
    outlines: Vec<Outline>,
    reading: Option<PhotoReading>,
}

impl Desk<'_, '_> {
    fn task(&self, title: &str, detail: String) -> MarkTask {
        let words = self.context.words;
        MarkTask {
            title: words.text(title),
            detail,
            is_refusal: false,
            left: None,
            stage: None,
            stage_text: String::new(),
            instead: Vec::new(),
            choices: Vec::new(),
            further_title: words.text("mark-more"),
            further: Vec::new(),
        }
    }

    fn choice(&self, act: &'static str, part: Option<Part>, id: &str) -> MarkChoice {
        MarkChoice { act: act.to_owned(), part, text: self.context.words.text(id) }
    }

    /// The stage of the first three parts, which every angle needs.
    fn staged(&self, task: MarkTask, step: usize) -> MarkTask {
        let steps = Part::NEEDED.len();
        let amounts = [("step", step.to_string()), ("steps", steps.to_string())];
        let amounts = amounts.each_ref().map(|(name, amount)| (*name, amount.into()));
        let stage_text = self.context.words.with("mark-stage", &amounts);
        MarkTask { stage: Some(MarkStage { step: count(step), steps: count(steps) }), stage_text, ..task }
    }

    /// Marks that were written down earlier, with the reading that they give now.
    fn stored(&mut self, marks: &Marks, pixels: &Pixels) -> MarkTask {
        let begin = self.choice("begin", None, "mark-begin");
        let task = self.measured(marks, pixels);
        MarkTask { choices: vec![begin], ..task }
    }

    fn drafted(&mut self, draft: &Draft, pixels: &Pixels) -> MarkTask {
        let words = self.context.words;
        if !draft.has_wheels()
            && let Some(wheels) = guess(pixels)
        {
            self.outlines.extend(wheels.outlines.iter().map(|wheel| Outline::ellipse("after", wheel)));
            let choices = vec![
                self.choice("take_wheels", None, "mark-wheels-yes"),
                self.choice("own_wheels", None, "mark-wheels-no"),
            ];
            let task = self.task("mark-wheels", words.text("mark-wheels-detail"));
            return self.staged(MarkTask { choices, ..task }, 1);
        }
        if let Some(part) = draft.open() {
            return self.begun(draft, part, pixels);
        }
        let Some(marks) = draft.marks(size(pixels)) else { return self.task("mark-refused", String::new()) };
        let Some(snapped) = snap_taps_in_colour(&marks, pixels) else {
            return self.task("photos-file-missing", String::new());
        };
        if let Some((what, why)) = snapped.refused() {
            let Tapped::Tyre { wheel } = what else {
                return self.refused_line(&marks, &snapped, what, why);
            };
            let is_left = (wheel == WheelEnd::Front) == (marks.front.tyre == draft.taps(Part::LeftTyre));
            let part = if is_left { Part::LeftTyre } else { Part::RightTyre };
            return self.refused_tyre(draft, part, why);
        }
        let task = self.measured(&snapped.marks, pixels);
        let again = |part, id: &str| self.choice("again", Some(part), id);
        let mut choices = vec![again(Part::ForkLeg, "mark-again-fork-leg")];
        if task.is_refusal {
            choices.push(again(Part::LeftTyre, "mark-again-left-tyre"));
            choices.push(again(Part::RightTyre, "mark-again-right-tyre"));
        }
        choices.push(self.choice("begin", None, "mark-begin"));
        let further = draft.further().into_iter().map(|part| {
            let id = match part {
                Part::HeadTubeTop => "mark-more-head-tube-top",
                Part::HeadTubeBottom => "mark-more-head-tube-bottom",
                Part::Crown => "mark-more-crown",
                Part::BottomBracket => "mark-more-bottom-bracket",
                _ => "mark-more-seat-tube",
            };
            self.choice("more", Some(part), id)
        });
        MarkTask { further: further.collect(), choices, ..task }
    }

    /// A part is to be tapped. The tyres that are there already are looked for, and drawn.
    fn begun(&mut self, draft: &Draft, open: Part, pixels: &Pixels) -> MarkTask {
        let grey = Grey::of(pixels);
        for part in [Part::LeftTyre, Part::RightTyre].into_iter().filter(|part| draft.is_complete(*part)) {
            match self.tyre(draft, part, grey.as_ref()) {
                Ok(outline) => self.outlines.push(outline),
                Err(why) => return self.refused_tyre(draft, part, why),
            }
        }
        self.tap(draft, open)
    }

    fn tyre(&self, draft: &Draft, part: Part, grey: Option<&Grey>) -> Result<Outline, SnapFailure> {
        let taps = draft.taps(part);
        if draft.is_by_hand(part) {
            let ellipse = Ellipse::direct(&taps).ok_or(SnapFailure::NoShape)?;
            return Ok(Outline::ellipse("before", &ellipse));
        }
        let found = snap_tyre(grey.ok_or(SnapFailure::NoEdge)?, &taps)?;
        Ok(Outline::ellipse("before", &found.ellipse))
    }

    fn refused_tyre(&self, draft: &Draft, part: Part, why: SnapFailure) -> MarkTask {
        let title = if part == Part::LeftTyre { "mark-refused-left-tyre" } else { "mark-refused-right-tyre" };
        let task = self.task(title, self.context.snap_failure(why));
        let mut choices = vec![self.choice("again", Some(part), "mark-again")];
        if !draft.is_by_hand(part) {
            choices.push(self.choice("by_hand", Some(part), "mark-by-hand-tyre"));
        }
        let stage = if part == Part::LeftTyre { 1 } else { 2 };
        self.staged(MarkTask { is_refusal: true, choices, ..task }, stage)
    }

    fn tap(&self, draft: &Draft, part: Part) -> MarkTask {
        let words = self.context.words;
        let needed = draft.needed(part);
        let count = needed.to_string();
        let (title, detail) = match part {
            Part::LeftTyre => ("mark-left-tyre", "mark-tyre-detail"),
            Part::RightTyre => ("mark-right-tyre", "mark-tyre-detail"),
            Part::ForkLeg => ("mark-fork-leg", "mark-fork-leg-detail"),
            Part::HeadTubeTop => ("mark-head-tube-top", "mark-head-tube-top-detail"),
            Part::HeadTubeBottom => ("mark-head-tube-bottom", "mark-head-tube-bottom-detail"),
            Part::Crown => ("mark-crown", "mark-crown-detail"),
            Part::BottomBracket => ("mark-bottom-bracket", "mark-bottom-bracket-detail"),
            Part::SeatTube => ("mark-seat-tube", "mark-seat-tube-detail"),
        };
        let left = needed.saturating_sub(draft.places(part).len());
        let task = MarkTask {
            left: Some(words.with("mark-tap-count", &[("left", left.into())])),
            ..self.task(title, words.with(detail, &[("count", (&count).into())]))
        };
        match Part::NEEDED.iter().position(|needed| *needed == part) {
            Some(stage) => self.staged(task, stage + 1),
            None => MarkTask { choices: vec![self.choice("without", Some(part), "mark-not-this")], ..task },
        }
    }

    /// A line that is on no edge: what to tap instead, drawn over the picture.
    fn refused_line(
        &mut self,
        marks: &Marks,
        snapped: &SnappedMarks,
        what: Tapped,
        why: SnapFailure,
    ) -> MarkTask {
        let (part, line) = match what {
            Tapped::SeatTube => (Part::SeatTube, marks.seat_tube.as_ref()),
            _ => (Part::ForkLeg, marks.stanchions.first()),
        };
        self.tyres(&snapped.marks);
        self.outlines.extend(line.map(|line| Outline::line("wrong", &line.points, None)));
        let mut instead = Vec::new();
        for it in snapped.snaps.iter().flat_map(|snap| &snap.instead) {
            let number = instead.len() + 1;
            self.outlines.push(Outline::line("after", &it.ends, Some(number.to_string())));
            instead.push(self.context.instead(number, it.what));
        }
        let (title, again) = match part {
            Part::SeatTube => ("mark-refused-seat-tube", "mark-again-seat-tube"),
            _ => ("mark-refused-fork-leg", "mark-again-fork-leg"),
        };
        let mut choices = vec![
            self.choice("again", Some(part), again),
            self.choice("by_hand", Some(part), "mark-by-hand-line"),
        ];
        if part == Part::SeatTube {
            choices.push(self.choice("without", Some(part), "mark-not-this"));
        }
        let task = self.task(title, self.context.snap_failure(why));
        let task = MarkTask { is_refusal: true, instead, choices, ..task };
        if part == Part::ForkLeg { self.staged(task, Part::NEEDED.len()) } else { task }
    }

    /// The reading of marks that are placed, or why there is none.
    fn measured(&mut self, marks: &Marks, pixels: &Pixels) -> MarkTask {
        match self.context.reader.preview_photo(self.shown.row.id, marks) {
            Ok(seen) => {
                self.outlines = Outline::of_drawing(&seen.overlay, pixels.width);
                let reading = self.reading(&seen, marks);
                self.reading = Some(reading);
                self.task("mark-drawn", String::new())
            }
            Err(error) => {
                let task = self.task("mark-refused", self.context.book_refusal(&error));
                // Both outlines stay, so that one sees which of them is wrong.
                self.tyres(marks);
                let legs = marks.stanchions.iter().map(|line| Outline::line("axis", &line.points, None));
                self.outlines.extend(legs);
                MarkTask { is_refusal: true, ..task }
            }
        }
    }

    /// Draws both tyres by their marks.
    fn tyres(&mut self, marks: &Marks) {
        let tyres =
            [&marks.front.tyre, &marks.rear.tyre].into_iter().filter_map(|tyre| Ellipse::direct(tyre));
        self.outlines.extend(tyres.map(|ellipse| Outline::ellipse("before", &ellipse)));
    }

    fn reading(&self, seen: &PhotoMeasurement, marks: &Marks) -> PhotoReading {
        let (context, words) = (self.context, self.context.words);
        let head = seen.get(Quantity::HeadAngle);
        let others = seen.values.iter().filter(|(what, _)| *what != Quantity::HeadAngle);
        let count = seen.measurements().len();
        let is_written = self.shown.row.marks.last().is_some_and(|row| row.marks == *marks);
        let write = || Labelled {
            label: words.text("mark-write"),
            text: words.with("mark-write-detail", &[("count", count.into())]),
        };
        PhotoReading {
            label: context.label(Quantity::HeadAngle),
            value: head.map(|it| context.shown(it, Quantity::HeadAngle.base_unit())),
            rows: others
                .map(|(what, it)| Labelled {
                    label: context.label(*what),
                    text: context.estimate(*it, what.base_unit()),
                })
                .collect(),
            doubts: seen.doubts.iter().map(|doubt| context.doubt(doubt)).collect(),
            write: (!is_written && count > 0).then(write),
            written: match (is_written, count) {
                (true, _) => Some(words.text("mark-written")),
                (false, 0) => Some(words.text("mark-nothing-sure")),
                _ => None,
            },
        }
    }
}
