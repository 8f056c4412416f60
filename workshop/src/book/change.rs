//! Editing a bike, except its log.

use super::args::{Add, Edit, Note, See, Tags};
use super::done::Done;
use super::which;
use crate::fault::Fault;
use crate::input;
use serde_json::{Map, Value, json};
use steerwright_core::bike::{Bike, Observed};
use steerwright_core::book::{BikeEdit, BikeId, BikeRecord, BookError, FieldBook, Op, Work};
use steerwright_core::sentence::Sentence;

pub(super) fn add(book: &mut FieldBook, call: &Add, json: bool) -> Result<(), Fault> {
    let bikes = call.files.iter().map(|file| input::bike(file)).collect::<Result<Vec<_>, _>>()?;
    let add = |work: &mut Work<'_>| {
        bikes.iter().map(|bike| work.add_bike(bike, call.who.as_deref())).collect::<Result<Vec<_>, _>>()
    };
    let ids = book.transact(Op::AddBike, add)?.output;
    let text: Vec<String> = bikes
        .iter()
        .map(|bike| match bike.measured.len() {
            1 => format!("{} is in the book, with 1 reading.", bike.name),
            many => format!("{} is in the book, with {many} readings.", bike.name),
        })
        .collect();
    let named: Vec<_> =
        ids.into_iter().zip(bikes).map(|(id, bike)| which::Named { id, name: bike.name }).collect();
    Done::new(Op::AddBike, text.join("\n")).with("bikes", named).print(json)
}

/// Edits a bike based on its current state. The state is read inside the write transaction, so that
/// concurrent edits, such as two added tags, both take effect.
fn change(
    book: &mut FieldBook,
    id: BikeId,
    edit: impl FnOnce(&BikeRecord) -> Result<BikeEdit, BookError>,
) -> Result<(BikeRecord, bool), Fault> {
    let reader = book.another_reader()?;
    let outcome = book.transact(Op::EditBike, |work| {
        let before = reader.bike_screen(id)?.record;
        let change = edit(&before)?;
        work.edit_bike(id, &change)
    })?;
    Ok((reader.bike_screen(id)?.record, !outcome.changes.is_empty()))
}

pub(super) fn edit(book: &mut FieldBook, call: &Edit, json: bool) -> Result<(), Fault> {
    let bike = which::bike(book, &call.bike)?;
    let change = BikeEdit { name: call.name.clone(), owner: call.owner.clone(), ..BikeEdit::default() };
    let (after, changed) = self::change(book, bike.id, |_| Ok(change))?;
    let whose =
        after.bike.owner.as_ref().map_or("it has no owner".to_owned(), |owner| format!("owner: {owner}"));
    let text = match (changed, bike.name == after.bike.name) {
        (false, _) => format!("{} was called so already; nothing changed.", bike.name),
        (true, true) => format!("{}; {whose}.", bike.name),
        (true, false) => format!("{} is called {} now; {whose}.", bike.name, after.bike.name),
    };
    let named = which::Named { id: bike.id, name: after.bike.name };
    Done::new(Op::EditBike, text).with("bike", named).with("owner", after.bike.owner).print(json)
}

pub(super) fn archive(book: &mut FieldBook, bike: &str, away: bool, json: bool) -> Result<(), Fault> {
    let bike = which::bike(book, bike)?;
    let (op, text) = if away {
        (Op::ArchiveBike, format!("{} is in the archive; `book restore` brings it back.", bike.name))
    } else {
        (Op::RestoreBike, format!("{} is back from the archive.", bike.name))
    };
    book.transact(op, |work| if away { work.archive_bike(bike.id) } else { work.restore_bike(bike.id) })?;
    Done::new(op, text).bike(&bike).print(json)
}

pub(super) fn tag(book: &mut FieldBook, call: &Tags, on: bool, json: bool) -> Result<(), Fault> {
    let bike = which::bike(book, &call.bike)?;
    let meant = |tag: &str| call.tags.iter().any(|it| it.trim().eq_ignore_ascii_case(tag));
    let (after, _) = change(book, bike.id, |before| {
        let mut tags = before.tags.clone();
        if on {
            tags.extend(call.tags.iter().cloned());
        } else {
            let lacking =
                call.tags.iter().find(|it| !tags.iter().any(|tag| it.trim().eq_ignore_ascii_case(tag)));
            if let Some(tag) = lacking {
                let reason = format!("{} has no tag `{tag}`", before.bike.name);
                return Err(BookError::Refused(Sentence::new("bike.no_such_tag", reason)));
            }
            tags.retain(|tag| !meant(tag));
        }
        Ok(BikeEdit { tags: Some(tags), ..BikeEdit::default() })
    })?;
    let text = match after.tags.as_slice() {
        [] => format!("{} has no tags now.", bike.name),
        tags => format!("{} has these tags now: {}.", bike.name, tags.join(", ")),
    };
    Done::new(Op::EditBike, text).bike(&bike).with("tags", after.tags).print(json)
}

pub(super) fn note(book: &mut FieldBook, call: &Note, json: bool) -> Result<(), Fault> {
    let bike = which::bike(book, &call.bike)?;
    let (after, _) = change(book, bike.id, |before| {
        let kept = before.notes.trim_end();
        let notes =
            if call.add && !kept.is_empty() { format!("{kept}\n{}", call.text) } else { call.text.clone() };
        Ok(BikeEdit { notes: Some(notes), ..BikeEdit::default() })
    })?;
    let text = if after.notes.is_empty() {
        format!("{} has no notes now.", bike.name)
    } else {
        format!("Noted on {}.", bike.name)
    };
    Done::new(Op::EditBike, text).bike(&bike).with("notes", after.notes).print(json)
}

/// Validates one observation with the bike file parser, so that both give the same error messages.
fn seen(field: &str, value: &str) -> Result<Value, Fault> {
    let value = match value {
        "yes" | "true" => json!(true),
        "no" | "false" => json!(false),
        word => json!(word.replace('-', "_")),
    };
    let mut observed = Map::new();
    observed.insert(field.to_owned(), value.clone());
    let file = json!({"schema": "steerwright.bike/1", "name": "a bike", "observed": observed});
    match Bike::from_json(file.to_string().as_bytes(), "the call") {
        Ok(_) => Ok(value),
        // The argument names the field without the `observed.` prefix.
        Err(errors) => Err(Fault::Words(errors.to_string().replace("`observed.", "`"))),
    }
}

pub(super) fn see(book: &mut FieldBook, call: &See, json: bool) -> Result<(), Fault> {
    let bike = which::bike(book, &call.bike)?;
    let field = call.field.replace('-', "_");
    // A field to clear has to exist. Every existing field accepts one of these values.
    let value = match call.value.as_deref() {
        Some(value) => Some(seen(&field, value)?),
        None => {
            let any = ["yes", "not_seen", "not_known"].map(|value| seen(&field, value));
            if any.iter().all(Result::is_err) {
                let [first, ..] = any;
                first?;
            }
            None
        }
    };
    let shown = call.value.as_deref().map_or("not known".to_owned(), |value| value.replace(['_', '-'], " "));
    let (after, _) = change(book, bike.id, |before| {
        let observed = merge_observed(&before.bike.observed, &field, value)?;
        Ok(BikeEdit { observed: Some(observed), ..BikeEdit::default() })
    })?;
    let text = format!("{}, {}: {shown}.", bike.name, field.replace('_', " "));
    Done::new(Op::EditBike, text).bike(&bike).with("observed", after.bike.observed).print(json)
}

/// A copy of `before` with one field set or removed.
fn merge_observed(before: &Observed, field: &str, value: Option<Value>) -> Result<Observed, BookError> {
    let internal = |error: serde_json::Error| BookError::Internal { details: error.to_string() };
    let mut all = serde_json::to_value(before).map_err(internal)?;
    if let Some(fields) = all.as_object_mut() {
        match value {
            Some(value) => fields.insert(field.to_owned(), value),
            None => fields.remove(field),
        };
    }
    serde_json::from_value(all).map_err(internal)
}
