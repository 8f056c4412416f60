//! Order requests to a shop.

mod args;
mod ask;
mod holds;
mod outbox;
mod send;
mod sending;
mod tell;

pub(super) use args::{HELP, Order};
pub(crate) use outbox::Listed;

use super::which;
use crate::fault::Fault;
use steerwright_core::book::FieldBook;
use steerwright_core::orders;

pub(super) fn run(book: &mut FieldBook, call: &Order, json: bool) -> Result<(), Fault> {
    match call {
        Order::New(call) => ask::new(book, call, json),
        Order::Edit(call) => ask::edit(book, call, json),
        Order::List { bike } => outbox::list(book, bike.as_deref(), json),
        Order::Show(call) => outbox::show(book, call, json),
        Order::Again(call) => outbox::again(book, call, json),
        Order::Withdraw(call) => tell::withdraw(book, call, json),
        Order::Message { order, text: Some(text), .. } => tell::message(book, order, text, json),
        Order::Message { order, text: None, .. } => tell::take_back(book, order, json),
        Order::Ask { order, trust } => send::ask(book, order.as_deref(), trust.as_deref(), json),
        Order::EraseContact { order, .. } => outbox::erase(book, order.as_deref(), json),
        Order::Send(call) => send::send(book, call, json),
        Order::Consent { yes, no, who } => sending::consent(book, *yes, *no, who.as_deref(), json),
        Order::Catalogue { daily, stop } => sending::catalogue(book, *daily, *stop, json),
        Order::Shop { forget: Some(base), .. } => sending::forget(book, base, json),
        Order::Shop { address, token_file, forget: None } => {
            sending::shop(book, address.as_deref(), token_file.as_deref(), json)
        }
    }
}

/// All order requests, oldest first. The 1-based index is the displayed number. Numbers are stable because
/// requests are never deleted.
fn every(book: &FieldBook) -> Result<Vec<orders::Order>, Fault> {
    let mut all = book.read().orders(None)?;
    all.reverse();
    Ok(all)
}

/// The named order request and its number.
fn find(book: &FieldBook, called: &str) -> Result<(usize, orders::Order), Fault> {
    let all = every(book)?;
    let (number, order) = which::numbered(&all, |order| order.id, "order request", called)?;
    Ok((number, order.clone()))
}

/// The number of an order request.
fn number(book: &FieldBook, id: steerwright_core::book::OrderId) -> Result<usize, Fault> {
    Ok(find(book, &id.to_string())?.0)
}
