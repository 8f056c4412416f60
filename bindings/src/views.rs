//! The screens: view models out, events in. Every sentence and number is the core's, as it is shown.

use crate::background::off_thread;
use crate::{BikeQuery, Book, SteerwrightError};
use std::sync::Arc;
use steerwright_core::book::{BikeId, MeasurementId};
use steerwright_core::quantity::Notation;
use steerwright_core::screens::{
    self, AskView, BikeView, BikesView, BookView, Change, Context, Difference, Done, EditView, Event,
    KitView, KitsView, LookView, MeasureView, OutboxView, Question, RecordView, Refusal, ScreenError,
    SteeringView, UndoView,
};
use steerwright_core::words::{Language, Words};

/// Every view model and event with its parts, as `build.rs` finds them.
mod declared {
    use steerwright_core::book::{BikeId, CheckId, Cursor, MeasurementId, OrderId, PhotoId};
    use steerwright_core::drawing::Drawing;
    use steerwright_core::judgement::{Direction, State};
    use steerwright_core::protocol::wire::{Contact, Kind};
    use steerwright_core::screens::*;

    include!(concat!(env!("OUT_DIR"), "/screens.rs"));
}

/// The screens of a book in a language and a notation.
#[derive(uniffi::Object)]
pub struct Screens {
    book: Arc<Book>,
    words: Words,
    notation: Notation,
}

/// What came of an event.
#[derive(Debug, Clone, PartialEq, Eq, uniffi::Enum)]
pub enum Applied {
    /// It was carried out.
    Done {
        /// What to say, and where to go.
        done: Done,
    },
    /// A field is wrong, and nothing was done. What was typed stays in the form.
    Wrong {
        /// The field of the event.
        field: String,
        /// What is wrong and what was expected.
        text: String,
    },
    /// The value is unusual, and nothing was done. The user is asked once; the same event with `as_read` keeps it.
    Unusual {
        /// The question.
        question: Question,
    },
}

impl From<ScreenError> for SteerwrightError {
    fn from(error: ScreenError) -> Self {
        let reason = error.to_string();
        match error {
            ScreenError::Book(error) => error.into(),
            ScreenError::Check(error) => error.into(),
            ScreenError::Handling(error) => error.into(),
            ScreenError::NotThere { what, name } => Self::NotFound { what: what.to_owned(), name, reason },
        }
    }
}

impl Screens {
    /// Computes a view model on a thread of the library, from one snapshot of the book.
    async fn view<T: Send + 'static>(
        self: Arc<Self>,
        view: impl FnOnce(&Context<'_>) -> Result<T, ScreenError> + Send + 'static,
    ) -> Result<T, SteerwrightError> {
        off_thread(None, None, move |_| {
            self.book.read(|reader| {
                let context = Context { reader, words: &self.words, notation: self.notation };
                Ok(view(&context)?)
            })
        })
        .await
    }
}

#[uniffi::export]
impl Book {
    /// The screens in a language (RFC 5646; English where there are no texts of it) and a notation.
    pub fn screens(self: Arc<Self>, language: String, notation: Notation) -> Arc<Screens> {
        let primary = language.split(['-', '_']).next().unwrap_or_default().to_ascii_lowercase();
        let language = Language::ALL.into_iter().find(|it| it.tag() == primary).unwrap_or_default();
        Arc::new(Screens { book: self, words: Words::new(language), notation })
    }
}

#[uniffi::export]
impl Screens {
    /// A text of a screen without amounts, by its id in `core/words`.
    pub fn text(&self, id: String) -> String {
        self.words.text(&id)
    }

    /// The language of the texts (RFC 5646).
    pub fn language(&self) -> String {
        self.words.language().tag().to_owned()
    }

    /// The list of bikes.
    pub async fn bikes(self: Arc<Self>, query: BikeQuery) -> Result<BikesView, SteerwrightError> {
        let query = query.into();
        self.view(move |context| screens::bikes(context, &query)).await
    }

    /// One bike: the answer, the drawing, the next step, every quantity.
    pub async fn bike(self: Arc<Self>, id: BikeId) -> Result<BikeView, SteerwrightError> {
        self.view(move |context| screens::bike(context, id)).await
    }

    /// A bike's name, owner, tags and notes, as a form.
    pub async fn edit(self: Arc<Self>, id: BikeId) -> Result<EditView, SteerwrightError> {
        self.view(move |context| screens::edit(context, id)).await
    }

    /// Measuring a quantity, by its name in the bike file.
    pub async fn measure(self: Arc<Self>, id: BikeId, what: String) -> Result<MeasureView, SteerwrightError> {
        self.view(move |context| screens::measure(context, id, &what)).await
    }

    /// Looking at something, by its name in the bike file.
    pub async fn look(self: Arc<Self>, id: BikeId, what: String) -> Result<LookView, SteerwrightError> {
        self.view(move |context| screens::look(context, id, &what)).await
    }

    /// What a new reading changed.
    pub async fn difference(
        self: Arc<Self>,
        id: BikeId,
        reading: MeasurementId,
    ) -> Result<Difference, SteerwrightError> {
        self.view(move |context| screens::difference(context, id, reading)).await
    }

    /// The kits for a bike, best first.
    pub async fn kits(self: Arc<Self>, id: BikeId) -> Result<KitsView, SteerwrightError> {
        self.view(move |context| screens::kits(context, id)).await
    }

    /// One kit in full, by its order code.
    pub async fn kit(self: Arc<Self>, id: BikeId, sku: String) -> Result<KitView, SteerwrightError> {
        self.view(move |context| screens::kit(context, id, &sku)).await
    }

    /// Steering before and after a change.
    pub async fn steering(
        self: Arc<Self>,
        id: BikeId,
        change: Change,
    ) -> Result<SteeringView, SteerwrightError> {
        self.view(move |context| screens::steering(context, id, &change)).await
    }

    /// The record of a bike.
    pub async fn record(self: Arc<Self>, id: BikeId) -> Result<RecordView, SteerwrightError> {
        self.view(move |context| screens::record(context, id)).await
    }

    /// What goes along when the shop is asked for a kit.
    pub async fn ask(self: Arc<Self>, id: BikeId, sku: String) -> Result<AskView, SteerwrightError> {
        self.view(move |context| screens::ask(context, id, &sku)).await
    }

    /// Every request, the latest first.
    pub async fn outbox(self: Arc<Self>) -> Result<OutboxView, SteerwrightError> {
        self.view(screens::outbox).await
    }

    /// Makers and their catalogues.
    pub async fn book(self: Arc<Self>) -> Result<BookView, SteerwrightError> {
        self.view(screens::book).await
    }

    /// What undo would undo; with `reading` only if writing that reading down was the last action.
    #[uniffi::method(default(reading = None))]
    pub async fn undo(
        self: Arc<Self>,
        reading: Option<MeasurementId>,
    ) -> Result<Option<UndoView>, SteerwrightError> {
        self.view(move |context| screens::undo(context, reading)).await
    }

    /// Carries out what the user did, as one step that can be undone.
    pub async fn apply(self: Arc<Self>, event: Event) -> Result<Applied, SteerwrightError> {
        off_thread(None, None, move |_| {
            let applied = screens::apply(&mut self.book.writer(), &self.words, self.notation, &event);
            match applied {
                Ok(done) => Ok(Applied::Done { done }),
                Err(Refusal::Field { field, message }) => {
                    Ok(Applied::Wrong { field: field.to_owned(), text: message })
                }
                Err(Refusal::Question(question)) => Ok(Applied::Unusual { question }),
                Err(Refusal::Book(error)) => Err(error.into()),
                Err(Refusal::Screen(error)) => Err(error.into()),
            }
        })
        .await
    }
}
