//! What a user does, and what comes of it.

mod call;

use crate::ScreenError;
use call::{Call, Typed};
use serde::{Deserialize, Serialize};
use steerwright_fieldbook::{BikeId, BookError, CheckId, FieldBook, MeasurementId, OrderId};
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
    /// Undoes the last action.
    Undo {
        /// The action that the user means, as [`undo`](crate::undo) tells it; empty for whichever is last. Another one is
        /// not undone.
        expected: String,
    },
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
        Event::Undo { expected } => call.undo(expected),
    }
}
