//! Creating and editing order requests.

use super::args::{ContactArgs, Edit, New};
use super::holds::tightest;
use crate::book::checks::maker;
use crate::book::done::Done;
use crate::book::which;
use crate::fault::Fault;
use crate::{output, text};
use steerwright_core::book::{BikeId, BikeRow, BookError, FieldBook, Op, OrderId, PhotoId};
use steerwright_core::input::{FileError, FileErrors};
use steerwright_core::judgement::Direction;
use steerwright_core::orders::OrderDraft;
use steerwright_core::protocol::wire::{Contact, Kind};

/// Maps fields of an order request to command-line options.
const OPTIONS: &[(&str, &str)] = &[
    ("contact.name", "--name"),
    ("contact.email", "--email"),
    ("contact.phone", "--phone"),
    ("contact.address", "--address"),
    ("sku", "--kit"),
    ("direction", "--steepen"),
    ("quantity", "--quantity"),
    ("note", "--note"),
    ("kind", "the request"),
];

/// Rewords validation errors in terms of the command-line options.
fn reworded(error: BookError) -> Fault {
    let BookError::Invalid(errors) = error else { return error.into() };
    let line = |error: &FileError| {
        let option = OPTIONS.iter().find(|(field, _)| *field == error.field);
        let option = option.map(|(_, option)| (*option).to_owned());
        let named = option.unwrap_or_else(|| match error.field.strip_prefix("photos[") {
            Some(place) => {
                let place: usize = place.trim_end_matches(']').parse().unwrap_or(0);
                format!("--photo, the {}", nth(place + 1))
            }
            None => error.field.clone(),
        });
        match (&error.found, error.field.as_str()) {
            (_, "kind") => format!("{}; ask it with --as-question", error.expected),
            (_, "contact.email") if error.found.is_none() => {
                format!("--email or --phone is missing: {}", error.expected)
            }
            (None, _) => format!("{named} is missing: {}", error.expected),
            (Some(found), _) => format!("{named} is {found}; expected {}", error.expected),
        }
    };
    Fault::Words(listed(&errors, line))
}

fn listed(errors: &FileErrors, line: impl Fn(&FileError) -> String) -> String {
    let lines: Vec<String> = errors.errors().iter().map(line).collect();
    match lines.as_slice() {
        [only] => format!("the request was not made: {only}"),
        several => format!("the request was not made:\n  {}", several.join("\n  ")),
    }
}

fn nth(place: usize) -> String {
    match place {
        1 => "first".to_owned(),
        2 => "second".to_owned(),
        3 => "third".to_owned(),
        more => format!("{more}th"),
    }
}

fn photos(book: &FieldBook, bike: BikeId, called: &[String]) -> Result<Vec<PhotoId>, Fault> {
    if called.is_empty() {
        return Ok(Vec::new());
    }
    let photos = book.read().bike_screen(bike)?.photos;
    let find = |called: &String| which::numbered(&photos, |photo| photo.row.id, "photo", called);
    called.iter().map(|called| Ok(find(called)?.1.row.id)).collect()
}

pub(super) fn new(book: &mut FieldBook, call: &New, json: bool) -> Result<(), Fault> {
    let bike = which::bike(book, &call.bike)?;
    let maker = maker(book, call.maker.as_deref())?;
    let ContactArgs { name, email, phone, address } = &call.contact;
    let draft = OrderDraft {
        bike: bike.id,
        maker,
        sku: call.kit.clone(),
        direction: if call.steepen { Direction::Steeper } else { Direction::Slacker },
        quantity: call.quantity,
        kind: if call.as_question { Kind::Question } else { Kind::Order },
        with_parts: !call.kit_only,
        contact: Contact {
            name: name.clone().unwrap_or_default(),
            email: email.clone(),
            phone: phone.clone(),
            address: address.clone(),
        },
        note: call.note.clone(),
        photos: photos(book, bike.id, &call.photos)?,
    };
    let queued = book.transact(Op::Order, |work| work.queue_order(&draft)).map_err(reworded)?;
    done(book, queued.output, None, &bike, json)
}

/// The option's value, or the previous value if the option is absent. An empty value gives `None`.
fn instead(given: Option<&String>, before: Option<String>) -> Option<String> {
    match given {
        Some(given) => Some(given.clone()).filter(|given| !given.trim().is_empty()),
        None => before,
    }
}

pub(super) fn edit(book: &mut FieldBook, call: &Edit, json: bool) -> Result<(), Fault> {
    let (old_number, old) = super::find(book, &call.order.order)?;
    let redraft = book.read().draft_from(old.id)?;
    let mut draft = redraft.draft;
    let bike = which::bike(book, &draft.bike.to_string())?;
    if let Some(sku) = &call.kit {
        draft.sku.clone_from(sku);
    }
    match (call.steepen, call.slacken) {
        (true, _) => draft.direction = Direction::Steeper,
        (_, true) => draft.direction = Direction::Slacker,
        _ => {}
    }
    match (call.as_question, call.as_order) {
        (true, _) => draft.kind = Kind::Question,
        (_, true) => draft.kind = Kind::Order,
        _ => {}
    }
    draft.quantity = call.quantity.unwrap_or(draft.quantity);
    draft.with_parts = (draft.with_parts || call.with_parts) && !call.kit_only;
    let ContactArgs { name, email, phone, address } = &call.contact;
    draft.contact = Contact {
        name: name.clone().unwrap_or(draft.contact.name),
        email: instead(email.as_ref(), draft.contact.email),
        phone: instead(phone.as_ref(), draft.contact.phone),
        address: instead(address.as_ref(), draft.contact.address),
    };
    if let Some(note) = &call.note {
        draft.note.clone_from(note);
    }
    if call.no_photos {
        draft.photos.clear();
    } else if !redraft.photos_gone.is_empty() {
        let gone = match redraft.photos_gone.len() {
            1 => "1 photo of it is".to_owned(),
            many => format!("{many} photos of it are"),
        };
        output::remark(&format!("{gone} in the book no more and not sent with the new one"));
    }
    for (called, photo) in call.without_photos.iter().zip(photos(book, draft.bike, &call.without_photos)?) {
        if !draft.photos.contains(&photo) {
            return Err(Fault::Words(format!(
                "photo {called} does not go with order request {old_number}, so it cannot be left out"
            )));
        }
        draft.photos.retain(|it| *it != photo);
    }
    for photo in photos(book, draft.bike, &call.photos)? {
        if !draft.photos.contains(&photo) {
            draft.photos.push(photo);
        }
    }
    let queued = book.transact(Op::Order, |work| match &call.message {
        None => work.edit_order(old.id, &draft),
        Some(text) => work.tell_shop(old.id, text, Some(&draft)).map(|told| told.changed.unwrap_or(old.id)),
    });
    done(book, queued.map_err(reworded)?.output, Some((old_number, old.id)), &bike, json)
}

/// Prints the queued request and what still prevents its delivery.
fn done(
    book: &FieldBook,
    id: OrderId,
    old: Option<(usize, OrderId)>,
    bike: &BikeRow,
    json: bool,
) -> Result<(), Fault> {
    let number = super::number(book, id)?;
    let screen = book.read().order(id)?;
    let old = old.map(|(number, old)| Ok::<_, Fault>((number, book.read().order(old)?.order))).transpose()?;
    let shop = book.read().shop()?;
    let tightest = tightest(book, &screen.request)?;
    let text =
        text::book::queued(number, &screen, &bike.name, tightest.as_ref(), old.as_ref(), shop.as_ref());
    let done = Done::new(Op::Order, text).bike(bike).with("order", id).with("number", number);
    let done = done.with("kind", screen.order.kind).with("verdict", screen.request.found.verdict);
    let done = match tightest {
        Some(tightest) => done.with("holds", tightest),
        None => done,
    };
    match old {
        Some((_, old)) => done.with("replaces", old.id).with("old_state", old.state).print(json),
        None => done.print(json),
    }
}
