//! Showing, resending, withdrawing and erasing order requests.

use super::args::One;
use super::holds::tightest;
use super::{every, find, number};
use crate::book::done::Done;
use crate::book::which::{self, Named};
use crate::fault::Fault;
use crate::{output, text};
use serde::Serialize;
use serde_json::json;
use steerwright_core::book::{BikeId, FieldBook, Op};
use steerwright_core::orders::{Order, State};

/// An order request in the list.
#[derive(Debug, Serialize)]
pub(crate) struct Listed {
    /// Display number.
    pub(crate) number: usize,
    /// Current name of its bike.
    pub(crate) bike_name: Option<String>,
    #[serde(flatten)]
    pub(crate) order: Order,
}

fn name_of(book: &FieldBook, bike: Option<BikeId>) -> Result<Option<String>, Fault> {
    Ok(bike.map(|id| which::bike(book, &id.to_string())).transpose()?.map(|bike| bike.name))
}

/// The order requests of one bike or all bikes, latest first.
pub(super) fn listed(book: &FieldBook, bike: Option<BikeId>) -> Result<Vec<Listed>, Fault> {
    let names = which::every(book)?;
    let mut listed: Vec<Listed> = (1..)
        .zip(every(book)?)
        .filter(|(_, order)| bike.is_none_or(|bike| order.bike == Some(bike)))
        .map(|(number, order)| {
            let row = names.iter().find(|row| Some(row.id) == order.bike);
            Listed { number, bike_name: row.map(|row| row.name.clone()), order }
        })
        .collect();
    listed.reverse();
    Ok(listed)
}

pub(super) fn list(book: &FieldBook, bike: Option<&str>, json: bool) -> Result<(), Fault> {
    let bike = bike.map(|bike| which::bike(book, bike)).transpose()?;
    let listed = listed(book, bike.as_ref().map(|bike| bike.id))?;
    let changes = book.read().verdict_changes(bike.as_ref().map(|bike| bike.id))?;
    let clashes = book.read().stock_clashes()?;
    let shop = book.read().shop()?;
    if json {
        let bike = bike.as_ref().map(Named::from);
        return output::print_json(&json!({
            "bike": bike,
            "shop": shop,
            "orders": listed,
            "verdict_changes": changes,
            "stock_clashes": clashes,
        }));
    }
    let name = bike.as_ref().map(|bike| bike.name.as_str());
    output::print(&text::book::orders(name, &listed, &changes, &clashes, shop.as_ref()))
}

pub(super) fn show(book: &FieldBook, call: &One, json: bool) -> Result<(), Fault> {
    let (number, order) = find(book, &call.order)?;
    let screen = book.read().order(order.id)?;
    let bike = name_of(book, order.bike)?;
    let tightest = tightest(book, &screen.request)?;
    let shop = book.read().shop()?;
    if json {
        return output::print_json(&json!({
            "number": number,
            "bike_name": bike,
            "order": screen.order,
            "messages": screen.messages,
            "verdict_change": screen.changed,
            "request": screen.request,
            "holds": tightest,
            "shop": shop,
        }));
    }
    let all = every(book)?;
    let place = |id| (1..).zip(&all).find(|(_, it)| Some(it.id) == id).map(|(number, _)| number);
    let chain = (place(order.replaces), place(order.replaced_by));
    output::print(&text::book::order(
        number,
        &screen,
        bike.as_deref(),
        tightest.as_ref(),
        chain,
        shop.as_ref(),
    ))
}

pub(super) fn again(book: &mut FieldBook, call: &One, json: bool) -> Result<(), Fault> {
    let (old, before) = find(book, &call.order)?;
    if before.messages_rejected > 0 {
        return super::tell::again(book, (old, &before), json);
    }
    if !matches!(before.state, State::Held | State::Rejected) {
        let text = before.state.description();
        return Err(Fault::Words(format!("order request {old} {text}: there is nothing to send again")));
    }
    if before.state == State::Rejected
        && let Some(reason) = before.reason.as_ref().filter(|reason| !reason.same_again())
    {
        return Err(Fault::Words(format!(
            "order request {old} cannot be sent again as it is. {} `steerwright book order edit {old} …` does.",
            reason.description()
        )));
    }
    let id = book.transact(Op::Order, |work| work.send_order_again(before.id))?.output;
    let number = number(book, id)?;
    let screen = book.read().order(id)?;
    let text = text::book::sent_again((old, &before), number, &screen);
    let done = Done::new(Op::Order, text).with("order", id).with("number", number);
    done.with("state", screen.order.state).with("kind", screen.order.kind).print(json)
}

pub(super) fn erase(book: &mut FieldBook, called: Option<&str>, json: bool) -> Result<(), Fault> {
    let asked = match called {
        Some(called) => vec![find(book, called)?],
        None => (1..).zip(every(book)?).collect(),
    };
    let before: Vec<(usize, Order)> =
        asked.into_iter().filter(|(_, order)| order.erased_at.is_none()).collect();
    book.transact(Op::Order, |work| before.iter().try_for_each(|(_, order)| work.erase_contact(order.id)))?;
    let gone = book.finish_erasing()?;
    let mut after = Vec::new();
    for (number, order) in &before {
        after.push((*number, order.state, book.read().order(order.id)?.order));
    }
    let text = text::book::erased(&after, gone);
    let numbers: Vec<usize> = before.iter().map(|(number, _)| *number).collect();
    Done::new(Op::Order, text).with("erased", numbers).with("no_trace_left", gone).print(json)
}
