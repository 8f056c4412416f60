//! Screens as data: view models out, events in.
//!
//! A view model is computed from one snapshot of the field book. [`apply`] carries out an [`Event`] and returns what to
//! say; the shell then asks for the view model of the screen that it shows.

mod ask;
mod bike;
mod bikes;
mod book;
mod edit;
mod event;
mod figures;
mod kits;
mod level;
mod mark;
mod measure;
mod photo;
mod record;
mod refusal;
mod shop;
mod situation;
mod standing;
mod steering;
mod undo;

pub use ask::{AskView, Labelled, OutboxLine, OutboxStep, OutboxView, ask, outbox};
pub use bike::{Answer, BikeView, DimensionRow, NextStep, RowGroup, StepTarget, bike};
pub use bikes::{BikeLine, BikesView, Empty, TagChoice, bikes};
pub use book::{BookView, MakerLine, book};
pub use edit::{EditView, edit};
pub use event::{
    DEMO_TAG, Done, Effect, Event, LevelSessionChoice, MarkAct, Place, Question, Refusal, apply,
};
pub use kits::{
    Folded, FoldedKit, KitCard, KitView, KitsView, Picture, RequirementLine, WantedView, WorkStep, kit, kits,
};
pub use level::{AngleChoice, LevelChange, LevelLine, LevelRefused, LevelTables, LevelView, level, levelled};
pub use mark::{Mark, Sign};
pub use measure::{
    AnswerChoice, Difference, LookView, MeasureView, Tick, ToolChoice, UnitChoice, answers, difference, look,
    measure,
};
pub use photo::{
    ChangeLine, CompareView, ImagePoint, MarkChoice, MarkPoint, MarkStage, MarkTask, Outline, Overlaid, Part,
    PhotoChoice, PhotoLine, PhotoReading, PhotoView, PhotosView, Scene, compare, photo, photos, square_on,
};
pub use record::{CheckLine, LogLine, OrderLine, RecordView, record};
pub use shop::{ShopView, shop};
pub use steering::{Change, FigureLine, Shown, SteeringSlider, SteeringView, steering};
pub use undo::{UndoView, undo};

use steerwright_fieldbook::{BookError, Reader};
use steerwright_fit::report::{CheckError, HandlingError};
use steerwright_metrology::quantity::Notation;
use steerwright_metrology::voice::Voice;
use steerwright_words::Words;

/// What every view model is computed from.
#[derive(Clone, Copy)]
pub struct Context<'a> {
    /// The field book.
    pub reader: &'a Reader,
    /// The texts of the user's language.
    pub words: &'a Words,
    /// How numbers are written.
    pub notation: Notation,
}

impl<'a> Context<'a> {
    /// What sentences are made with.
    pub(crate) fn voice(&self) -> Voice<'a> {
        Voice { words: self.words, notation: self.notation }
    }
}

/// Why there is no view model.
#[derive(Debug, Clone, PartialEq, thiserror::Error)]
pub enum ScreenError {
    /// The book has no such bike, or cannot be read.
    #[error(transparent)]
    Book(#[from] BookError),
    /// No check could be made.
    #[error(transparent)]
    Check(#[from] CheckError),
    /// The change cannot be made to this bike.
    #[error(transparent)]
    Handling(#[from] HandlingError),
    /// An address names something that is not there.
    #[error("there is no {what} `{name}`")]
    NotThere {
        /// What kind of thing.
        what: &'static str,
        /// What was asked for.
        name: String,
    },
}
