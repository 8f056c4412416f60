//! `steerwright book`: command-line access to the field book.

mod args;
mod bikes;
mod catalogues;
mod change;
mod checks;
mod compare;
mod done;
mod exchange;
mod log;
mod measure;
mod next;
mod order;
mod photos;
pub(crate) mod place;
mod steps;
mod which;

pub(crate) use args::{Book, HELP};
pub(crate) use compare::Compared;
pub(crate) use next::{Plan, Task};
pub(crate) use order::Listed;
pub(crate) use steps::Health;
pub(crate) use which::{MarkedPhoto, bike_named, photo_of_bike};

use crate::fault::Fault;
use args::Command;

/// Checks what a command would bring into a book that is made for it: a file that is refused makes none.
fn check(command: &Command) -> Result<(), Fault> {
    match command {
        Command::New(call) => change::named(call).map(drop),
        Command::Add(call) => change::check_files(call),
        Command::Catalogue(call) => catalogues::check(call),
        Command::Bundle(args::Bundle::Read { file, .. }) => exchange::opened(file).map(drop),
        Command::Table(args::Table::Read { file, partial, .. }) => exchange::check_table(file, *partial),
        Command::Photo(args::Photo::Add { bike, file, .. }) => photos::check(bike.as_deref(), file),
        _ => Ok(()),
    }
}

pub(crate) fn run(call: Book) -> Result<(), Fault> {
    let json = call.json;
    if call.command.begins() && !place::is_there(call.book.as_ref())? {
        check(&call.command)?;
    }
    let book = &mut place::open(call.book, call.command.begins())?;
    match &call.command {
        Command::Bikes(call) => bikes::list(book, call, json),
        Command::Tags => bikes::tags(book, json),
        Command::Show(call) => bikes::show(book, &call.bike, json),
        Command::Export(call) => bikes::export(book, call, json),
        Command::New(call) => change::new(book, call, json),
        Command::Add(call) => change::add(book, call, json),
        Command::Edit(call) => change::edit(book, call, json),
        Command::See(call) => change::see(book, call, json),
        Command::Archive(call) => change::archive(book, &call.bike, true, json),
        Command::Restore(call) => match &call.row {
            None => change::archive(book, &call.bike, false, json),
            Some(row) => log::restore(book, &call.bike, row, json),
        },
        Command::Delete(call) => change::delete(book, call, json),
        Command::Tag(call) => change::tag(book, call, true, json),
        Command::Untag(call) => change::tag(book, call, false, json),
        Command::Note(call) => change::note(book, call, json),
        Command::Measure(call) => measure::measure(book, call, json),
        Command::Strike(call) => log::strike(book, call, json),
        Command::Check(call) => checks::check(book, call, json),
        Command::Keep(call) => checks::keep(book, call, json),
        Command::Fitted(call) => checks::fitted(book, call, json),
        Command::Removed(call) => checks::removed(book, &call.bike, json),
        Command::Compare(call) => compare::compare(book, &call.bike, json),
        Command::Catalogues => catalogues::list(book, json),
        Command::Catalogue(call) => catalogues::change(book, call, json),
        Command::Bundle(call) => exchange::bundle(book, call, json),
        Command::Table(call) => exchange::table(book, call, json),
        Command::Photo(call) => photos::run(book, call, json),
        Command::Order(call) => order::run(book, call, json),
        Command::Undo => steps::undo(book, json),
        Command::Redo => steps::redo(book, json),
        Command::Examine => steps::examine(book, json),
    }
}
