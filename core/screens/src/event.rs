//! What a user does, and what comes of it.

mod call;
mod photos;

use crate::{ImagePoint, LevelTables, Part, ScreenError};
use call::{Call, Typed};
use serde::{Deserialize, Serialize};
use steerwright_fieldbook::{BikeId, BookError, CheckId, FieldBook, MeasurementId, OrderId, PhotoId};
use steerwright_fit::catalogue::demo_catalogue_json;
use steerwright_fit::judgement::Direction;
use steerwright_metrology::quantity::Notation;
use steerwright_protocol::wire::Contact;
use steerwright_words::Words;

/// The tag of the demo crew's bikes, by which they are taken out again.
pub const DEMO_TAG: &str = "Demo";

/// What a user does. Numbers come as they were typed.
#[derive(Debug, Clone, PartialEq, Serialize, Deserialize)]
#[serde(rename_all = "snake_case")]
pub enum Event {
    /// Adds a bike.
    AddBike {
        /// Its name.
        name: String,
        /// Its owner; may be empty.
        owner: String,
    },
    /// Changes a bike's name, owner, tags and notes.
    EditBike {
        /// The bike.
        bike: BikeId,
        /// Its name.
        name: String,
        /// Its owner; may be empty.
        owner: String,
        /// Its tags, separated by commas.
        tags: String,
        /// Its notes.
        notes: String,
    },
    /// Adds a bike from the text of a bike file.
    AddBikeFile {
        /// The file's text (`steerwright.bike/1`).
        text: String,
    },
    /// Imports a maker's catalogue from the text of its file.
    ImportCatalogue {
        /// The file's text (`steerwright.catalogue/1`).
        text: String,
    },
    /// Imports the demo crew's catalogue alone.
    AddDemoCatalogue,
    /// Adds the demo crew's bikes and catalogue.
    AddDemo,
    /// Takes the demo crew's bikes out again.
    RemoveDemo,
    /// Writes a measurement down.
    WriteMeasurement {
        /// The bike.
        bike: BikeId,
        /// The quantity's name in the bike file.
        what: String,
        /// The number as typed; a tyre's size is a number too.
        value: String,
        /// The unit's name.
        unit: String,
        /// The tool's name.
        tool: String,
        /// Whether a question about the value was answered with yes.
        as_read: bool,
    },
    /// Notes what was seen; an empty answer forgets it.
    See {
        /// The bike.
        bike: BikeId,
        /// The observation's name in the bike file.
        what: String,
        /// The answer's name.
        answer: String,
        /// Whether the fork was out, where it matters: a seat is seen better then.
        fork_out: Option<bool>,
    },
    /// Sets what is wanted: degrees on the ground or a head angle, or neither.
    SetWanted {
        /// The bike.
        bike: BikeId,
        /// The direction.
        direction: Direction,
        /// Degrees on the ground, as typed; may be empty.
        change: String,
        /// A head angle, as typed; may be empty.
        head_angle: String,
    },
    /// Strikes a reading out.
    StrikeOut {
        /// The bike.
        bike: BikeId,
        /// The reading.
        reading: MeasurementId,
        /// Why.
        why: String,
    },
    /// Takes a struck-out reading back in.
    Restore {
        /// The bike.
        bike: BikeId,
        /// The reading.
        reading: MeasurementId,
    },
    /// Keeps a check with this kit and notes that the kit is in.
    NoteFitted {
        /// The bike.
        bike: BikeId,
        /// The kit.
        sku: String,
        /// Why it is in although it does not fit or is not decided; may be empty.
        despite: String,
    },
    /// Notes that the kit is out again.
    NoteRemoved {
        /// The bike.
        bike: BikeId,
        /// The kept check whose kit it is.
        check: CheckId,
    },
    /// Puts a request for a kit in the outbox: an order, or a question where no order is possible.
    Ask {
        /// The bike.
        bike: BikeId,
        /// The kit.
        sku: String,
        /// The sender's name.
        name: String,
        /// The sender's e-mail address; may be empty.
        email: String,
        /// The sender's telephone number; may be empty.
        phone: String,
        /// The sender's postal address; may be empty.
        address: String,
        /// A note for the shop; may be empty.
        note: String,
        /// Whether the question about an earlier request for the same kit was answered with yes.
        again: bool,
    },
    /// Withdraws a request.
    Withdraw {
        /// The request.
        order: OrderId,
    },
    /// Names the shop that requests go to.
    SetShop {
        /// Its address.
        address: String,
        /// The token that the shop gave.
        token: String,
    },
    /// Agrees to what [`ShopView::consent`](crate::ShopView::consent) says.
    AgreeToSend,
    /// Ends that agreement: nothing is sent any more.
    EndAgreement,
    /// Contacts the shop: sends what waits and asks for its answers.
    ContactShop,
    /// Adds a photo of a bike.
    AddPhoto {
        /// The bike.
        bike: BikeId,
        /// The file's name, to speak of it.
        name: String,
        /// The file.
        bytes: Vec<u8>,
    },
    /// Sets a mark on a photo, or does something else to its marks. They are kept at once; that is no step to undo.
    MarkPhoto {
        /// The bike.
        bike: BikeId,
        /// The photo.
        photo: PhotoId,
        /// What is done.
        act: MarkAct,
    },
    /// Writes down what a photo's marks tell.
    UseReading {
        /// The bike.
        bike: BikeId,
        /// The photo.
        photo: PhotoId,
    },
    /// Removes a photo.
    RemovePhoto {
        /// The bike.
        bike: BikeId,
        /// The photo.
        photo: PhotoId,
    },
    /// Writes down the angle of a session with the phone as a level.
    WriteLevel {
        /// The bike.
        bike: BikeId,
        /// The sessions.
        tables: LevelTables,
        /// Which of them.
        session: LevelSessionChoice,
    },
    /// Undoes the last action.
    Undo {
        /// The action that the user means, as [`undo`](crate::undo) tells it; empty for whichever is last. Another one is
        /// not undone.
        expected: String,
    },
}

/// Something done to a photo's marks. Places are in pixels of the working copy.
#[derive(Debug, Clone, Copy, PartialEq, Serialize, Deserialize)]
#[serde(tag = "act", rename_all = "snake_case")]
pub enum MarkAct {
    /// Begins anew.
    Begin,
    /// Takes the guess of both wheels.
    TakeWheels,
    /// Taps the wheels without a guess.
    OwnWheels,
    /// Sets a mark. It is left out if another part is to be tapped by now.
    Tap {
        /// The part that the user was asked for.
        part: Part,
        /// Where.
        at: ImagePoint,
    },
    /// Moves a mark.
    Move {
        /// The step that set it.
        step: u32,
        /// Its number in that step.
        number: u32,
        /// Where to.
        at: ImagePoint,
    },
    /// Taps a part anew.
    Again {
        /// The part.
        part: Part,
    },
    /// Takes the taps on a part as they are.
    ByHand {
        /// The part.
        part: Part,
    },
    /// Marks a part besides.
    More {
        /// The part.
        part: Part,
    },
    /// Leaves a part out after all.
    Without {
        /// The part.
        part: Part,
    },
    /// Takes the last act back.
    Back,
}

/// One of two sessions.
#[derive(Debug, Clone, Copy, PartialEq, Eq, Serialize, Deserialize)]
#[serde(rename_all = "snake_case")]
pub enum LevelSessionChoice {
    /// The first.
    First,
    /// The second.
    Second,
}

impl LevelSessionChoice {
    /// Its field in [`LevelTables`].
    pub fn name(self) -> &'static str {
        match self {
            Self::First => "first",
            Self::Second => "second",
        }
    }
}

/// What was done.
#[derive(Debug, Clone, PartialEq, Eq, Serialize)]
pub struct Done {
    /// In one line.
    pub text: String,
    /// Where to go from here.
    pub place: Place,
    /// Whether it can be undone.
    pub can_undo: bool,
    /// What the shell does next beside showing that.
    pub effect: Option<Effect>,
}

/// What only a shell can do.
#[derive(Debug, Clone, Copy, PartialEq, Eq, Serialize)]
#[serde(rename_all = "snake_case")]
pub enum Effect {
    /// Makes the calls to the shop that are due, in the background.
    Deliver,
}

/// A place in the program.
#[derive(Debug, Clone, Copy, PartialEq, Eq, Serialize)]
#[serde(rename_all = "snake_case")]
pub enum Place {
    /// The list of bikes.
    Bikes,
    /// A bike.
    Bike(BikeId),
    /// A bike, with what this new reading changed.
    Wrote(BikeId, MeasurementId),
    /// A bike's kits.
    Kits(BikeId),
    /// A bike's photos.
    Photos(BikeId),
    /// A photo of a bike.
    Photo(BikeId, PhotoId),
    /// A bike's record.
    Record(BikeId),
    /// The outbox.
    Outbox,
    /// Makers and their catalogues.
    Book,
}

/// Why nothing was done. What was typed stays with the shell.
#[derive(Debug, Clone, PartialEq, thiserror::Error)]
pub enum Refusal {
    /// A field is wrong.
    #[error("{message}")]
    Field {
        /// The field of the event.
        field: &'static str,
        /// What is wrong and what was expected.
        message: String,
    },
    /// A possible value that is unusual: the user is asked once.
    #[error("{}", .0.text)]
    Question(Question),
    /// The book refused.
    #[error(transparent)]
    Book(#[from] BookError),
    /// The screen's data cannot be had.
    #[error(transparent)]
    Screen(#[from] ScreenError),
}

/// A question about a value.
#[derive(Debug, Clone, PartialEq, Eq, Serialize)]
pub struct Question {
    /// The question.
    pub text: String,
    /// The button that keeps the value.
    pub keep: String,
}

/// Carries out an event as one step that can be undone.
///
/// # Errors
/// Why nothing was done.
pub fn apply(
    book: &mut FieldBook,
    words: &Words,
    notation: Notation,
    event: &Event,
) -> Result<Done, Refusal> {
    let mut call = Call { book, words, notation };
    match event {
        Event::AddBike { name, owner } => call.add_bike(name, owner),
        Event::EditBike { bike, name, owner, tags, notes } => call.edit(*bike, name, owner, tags, notes),
        Event::AddBikeFile { text } => call.add_bike_file(text),
        Event::ImportCatalogue { text } => call.import(text),
        Event::AddDemoCatalogue => call.import(demo_catalogue_json()),
        Event::AddDemo => call.add_demo(),
        Event::RemoveDemo => call.remove_demo(),
        Event::WriteMeasurement { bike, what, value, unit, tool, as_read } => {
            let typed = Typed { what, value, unit, tool };
            call.write(*bike, &typed, *as_read)
        }
        Event::See { bike, what, answer, fork_out } => call.see(*bike, what, answer, *fork_out),
        Event::SetWanted { bike, direction, change, head_angle } => {
            call.want(*bike, *direction, change, head_angle)
        }
        Event::StrikeOut { bike, reading, why } => call.strike_out(*bike, *reading, why),
        Event::Restore { bike, reading } => call.restore(*bike, *reading),
        Event::NoteFitted { bike, sku, despite } => call.fitted(*bike, sku, despite),
        Event::NoteRemoved { bike, check } => call.removed(*bike, *check),
        Event::Ask { bike, sku, name, email, phone, address, note, again } => {
            let given = |text: &str| Some(text.trim().replace("\r\n", "\n")).filter(|text| !text.is_empty());
            let contact = Contact {
                name: name.trim().to_owned(),
                email: given(email),
                phone: given(phone),
                address: given(address),
            };
            call.ask(*bike, sku, contact, &note.replace("\r\n", "\n"), *again)
        }
        Event::Withdraw { order } => call.withdraw(*order),
        Event::SetShop { address, token } => call.set_shop(address, token),
        Event::AgreeToSend => call.agree(),
        Event::EndAgreement => call.end_agreement(),
        Event::ContactShop => call.contact_shop(),
        Event::AddPhoto { bike, name, bytes } => call.add_photo(*bike, name, bytes),
        Event::MarkPhoto { bike, photo, act } => call.mark_photo(*bike, *photo, act),
        Event::UseReading { bike, photo } => call.use_reading(*bike, *photo),
        Event::RemovePhoto { bike, photo } => call.remove_photo(*bike, *photo),
        Event::WriteLevel { bike, tables, session } => call.write_level(*bike, tables, *session),
        Event::Undo { expected } => call.undo(expected),
    }
}
