//! Telling the shop something about a request: a message, or that it is withdrawn.

use super::args::One;
use super::find;
use crate::book::done::Done;
use crate::fault::Fault;
use crate::text;
use steerwright_core::book::{FieldBook, MessageId, Op, OrderId};
use steerwright_core::orders::{MessageState, Order, State};

pub(super) fn withdraw(book: &mut FieldBook, call: &One, json: bool) -> Result<(), Fault> {
    let (number, before) = find(book, &call.order)?;
    if before.state == State::Underway {
        return Err(Fault::Words(format!("order request {number} is being sent just now; wait a moment")));
    }
    if before.state == State::Withdrawn || before.withdrawal {
        return Err(Fault::Words(format!("order request {number} is withdrawn already")));
    }
    book.transact(Op::Order, |work| work.withdraw_order(before.id))?;
    let order = book.read().order(before.id)?.order;
    let text = text::book::withdrawn(number, &order, book.read().shop()?.as_ref());
    let done = Done::new(Op::Order, text).with("order", order.id).with("number", number);
    let done = done.with("state", order.state).with("messages_waiting", order.messages_waiting);
    done.with("may_be_with_shop", order.may_be_with_shop).print(json)
}

pub(super) fn message(book: &mut FieldBook, call: &One, words: &str, json: bool) -> Result<(), Fault> {
    let (number, before) = find(book, &call.order)?;
    if before.state != State::Delivered {
        let state = before.state.description();
        return Err(Fault::Words(format!(
            "order request {number} {state}, so no shop can be told about it; `steerwright book order edit {number} …` \
             changes it"
        )));
    }
    let told = book.transact(Op::Order, |work| work.tell_shop(before.id, words, None))?.output;
    let text = text::book::message_queued(number, book.read().shop()?.as_ref());
    let done = Done::new(Op::Order, text).with("order", before.id).with("number", number);
    done.with("message", told.message).print(json)
}

/// The messages of a request in these states, oldest first.
fn of(book: &FieldBook, order: OrderId, states: &[MessageState]) -> Result<Vec<MessageId>, Fault> {
    let messages = book.read().order(order)?.messages.into_iter();
    Ok(messages.filter(|it| states.contains(&it.state)).map(|it| it.id).collect())
}

pub(super) fn take_back(book: &mut FieldBook, call: &One, json: bool) -> Result<(), Fault> {
    let (number, order) = find(book, &call.order)?;
    let open = of(book, order.id, &[MessageState::Queued, MessageState::Rejected])?;
    if open.is_empty() {
        return Err(Fault::Words(format!("nothing about order request {number} waits to be told")));
    }
    book.transact(Op::Order, |work| open.iter().try_for_each(|id| work.take_message_back(*id)))?;
    let text =
        format!("What was to be told about order request {number} is taken back; the shop is not told.");
    Done::new(Op::Order, text).with("order", order.id).with("number", number).print(json)
}

pub(super) fn again(book: &mut FieldBook, order: (usize, &Order), json: bool) -> Result<(), Fault> {
    let (number, order) = order;
    let rejected = of(book, order.id, &[MessageState::Rejected])?;
    book.transact(Op::Order, |work| rejected.iter().try_for_each(|id| work.send_message_again(*id)))?;
    let text = text::book::message_queued(number, book.read().shop()?.as_ref());
    Done::new(Op::Order, text).with("order", order.id).with("number", number).print(json)
}
