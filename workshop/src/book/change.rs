//! Editing a bike, except its log.

use super::args::{Add, Delete, Edit, New, Note, See, Tags};
use super::done::Done;
use super::which;
use crate::fault::Fault;
use crate::input;
use serde_json::{Map, Value, json};
use steerwright_core::bike::{Bike, Observed};
use steerwright_core::book::{BikeEdit, BikeId, BikeRecord, BikeRow, BookError, FieldBook, Op, Work};
use steerwright_core::sentence::Sentence;

/// The bike that has this name already, in the archive or out of it.
fn of_that_name<'b>(all: &'b [BikeRow], name: &str) -> Option<&'b BikeRow> {
    all.iter().find(|bike| bike.name.to_lowercase() == name.trim().to_lowercase())
}

fn taken(bike: &BikeRow) -> Fault {
    let away = if bike.archived_at.is_some() { " (in the archive)" } else { "" };
    Fault::Words(format!("there is a bike called {} already{away}; expected another name", bike.name))
}

/// The name with a number after it that no bike has yet: `Ash (2)`.
fn told_apart(all: &[BikeRow], new: &[Bike], name: &str) -> String {
    let free = |name: &str| {
        of_that_name(all, name).is_none()
            && !new.iter().any(|bike| bike.name.to_lowercase() == name.to_lowercase())
    };
    let numbered = (2..).map(|number| format!("{name} ({number})"));
    std::iter::once(name.to_owned())
        .chain(numbered)
        .find(|name| free(name))
        .unwrap_or_else(|| name.to_owned())
}

/// The bike that a call names, with nothing known of it.
pub(super) fn named(call: &New) -> Result<Bike, Fault> {
    let owner = call.owner.as_deref().map(str::trim).filter(|owner| !owner.is_empty());
    let mut file = json!({"schema": "steerwright.bike/1", "name": call.name.trim()});
    if let (Some(owner), Some(fields)) = (owner, file.as_object_mut()) {
        fields.insert("owner".to_owned(), json!(owner));
    }
    Bike::from_json(file.to_string().as_bytes(), "the call")
        .map_err(|errors| Fault::Words(errors.to_string()))
}

pub(super) fn new(book: &mut FieldBook, call: &New, json: bool) -> Result<(), Fault> {
    let name = call.name.trim();
    if let Some(bike) = of_that_name(&which::every(book)?, name) {
        return Err(taken(bike));
    }
    let bike = named(call)?;
    let id = book.transact(Op::AddBike, |work| work.add_bike(&bike, None))?.output;
    let text = format!(
        "{name} is in the book; nothing is known of it yet. `steerwright book measure \"{name}\"` says what to measure \
         first."
    );
    let named = which::Named { id, name: bike.name };
    Done::new(Op::AddBike, text).with("bike", named).print(json)
}

/// Tells the bikes of files apart from those of the book: which are new, under which name, and what is said of each.
fn sorted(book: &FieldBook, files: Vec<Bike>) -> Result<(Vec<Bike>, Vec<String>), Fault> {
    let all = which::every(book)?;
    let (mut new, mut texts): (Vec<Bike>, Vec<String>) = (Vec::new(), Vec::new());
    for bike in files {
        // Also one that was told apart by a number when it came before.
        let numbered = format!("{} (", bike.name);
        let called_so = |name: &str| name == bike.name || name.starts_with(&numbered);
        let equal = |known: Bike| called_so(&known.name) && Bike { name: bike.name.clone(), ..known } == bike;
        let mut same = new.iter().cloned().any(equal);
        for known in all.iter().filter(|known| called_so(&known.name)) {
            same |= equal(book.read().bike_screen(known.id)?.record.bike);
        }
        if same {
            texts.push(format!(
                "{} is in the book already, with the same content; it was not added again.",
                bike.name
            ));
            continue;
        }
        let name = told_apart(&all, &new, &bike.name);
        let readings = match bike.measured.len() {
            1 => "1 reading".to_owned(),
            many => format!("{many} readings"),
        };
        if name == bike.name {
            texts.push(format!("{name} is in the book, with {readings}."));
        } else {
            texts.push(format!(
                "A bike called {} is in the book already, with other content: this one is called {name}, with {readings}. \
                 To add readings to the first, use `book measure`; `book undo` takes this one out again.",
                bike.name
            ));
        }
        new.push(Bike { name, ..bike });
    }
    Ok((new, texts))
}

/// Whether the files to add are right.
pub(super) fn check_files(call: &Add) -> Result<(), Fault> {
    input::one_from_stdin(&call.files)?;
    call.files.iter().try_for_each(|file| input::bike_without_questions(file).map(drop))
}

pub(super) fn add(book: &mut FieldBook, call: &Add, json: bool) -> Result<(), Fault> {
    input::one_from_stdin(&call.files)?;
    let bikes = call.files.iter().map(|file| input::bike_file(file)).collect::<Result<Vec<_>, _>>()?;
    let (bikes, text) = sorted(book, bikes)?;
    let add = |work: &mut Work<'_>| {
        bikes.iter().map(|bike| work.add_bike(bike, call.who.as_deref())).collect::<Result<Vec<_>, _>>()
    };
    let ids = book.transact(Op::AddBike, add)?.output;
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
    let other = call.name.as_deref().map(|name| Ok::<_, Fault>((which::every(book)?, name))).transpose()?;
    if let Some(other) = other.as_ref().and_then(|(all, name)| of_that_name(all, name))
        && other.id != bike.id
    {
        return Err(taken(other));
    }
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
        (Op::ArchiveBike, format!("{} is in the archive; `book restore` takes it out again.", bike.name))
    } else {
        (Op::RestoreBike, format!("{} is restored from the archive.", bike.name))
    };
    book.transact(op, |work| if away { work.archive_bike(bike.id) } else { work.restore_bike(bike.id) })?;
    Done::new(op, text).bike(&bike).print(json)
}

pub(super) fn delete(book: &mut FieldBook, call: &Delete, json: bool) -> Result<(), Fault> {
    let Some(bike) = &call.bike else {
        let names = book.read().deleted_bikes()?;
        let (gone, clean) = book.purge_deleted()?;
        let mut text = match names.as_slice() {
            [] => "The trash was empty.".to_owned(),
            names => format!("Gone for good: {}.", names.join(", ")),
        };
        text.push_str(" What was done so far can no longer be undone.");
        if !clean {
            text.push_str(
                " Another program reads the book, so its file may still hold traces; the next call removes them.",
            );
        }
        return Done::new(Op::DeleteBike, text).with("purged", gone).with("no_trace_left", clean).print(json);
    };
    let bike = which::bike(book, bike)?;
    book.transact(Op::DeleteBike, |work| work.delete_bike(bike.id))?;
    let text = format!(
        "{} is deleted, with its log, checks and photos. `book undo` brings it back, until `book delete --purge` empties \
         the trash.",
        bike.name
    );
    Done::new(Op::DeleteBike, text).bike(&bike).print(json)
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
        // The field stands in the call by itself.
        Err(errors) => {
            let text = errors.to_string().replace("`observed.", "`").replace("true or false", "yes or no");
            Err(Fault::Words(text))
        }
    }
}

pub(super) fn see(book: &mut FieldBook, call: &See, json: bool) -> Result<(), Fault> {
    let bike = which::bike(book, &call.bike)?;
    let (text, observed) = see_one(book, &bike, &call.field, call.value.as_deref())?;
    Done::new(Op::EditBike, text).bike(&bike).with("observed", observed).print(json)
}

/// Notes one thing that was seen, or forgets it; what is known then, in a sentence and in full.
pub(super) fn see_one(
    book: &mut FieldBook,
    bike: &BikeRow,
    field: &str,
    value: Option<&str>,
) -> Result<(String, Observed), Fault> {
    let field = field.replace('-', "_");
    let said = value;
    // A field to forget has to be one too; every field takes one of these.
    let value = match said {
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
    let shown = said.map_or("not known".to_owned(), |value| value.replace(['_', '-'], " "));
    let (after, _) = change(book, bike.id, |before| {
        let observed = merge_observed(&before.bike.observed, &field, value)?;
        Ok(BikeEdit { observed: Some(observed), ..BikeEdit::default() })
    })?;
    let text = format!("{}, {}: {shown}.", bike.name, field.replace('_', " "));
    Ok((text, after.bike.observed))
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
