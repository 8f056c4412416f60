//! Sending order requests and querying the shop's answers.

use super::{Listed, every, outbox};
use crate::fault::Fault;
use crate::{output, text};
use serde_json::json;
use signal_hook::consts::{SIGINT, SIGTERM};
use signal_hook::flag;
use std::path::{Path, PathBuf};
use std::sync::Arc;
use steerwright_core::book::{FieldBook, OrderId};
use steerwright_workshop::delivery::{
    LoopControl, OutboxWorker, RoutingTable, SystemLoopControl, Timeouts, Trust, system_now,
};

/// How long to go on, and whom to trust.
#[derive(Debug, clap::Args)]
pub(in crate::book) struct Send {
    /// Make one call for each request that has one due, and end.
    #[arg(long, conflicts_with = "until_empty")]
    once: bool,
    /// Go on until nothing waits to be sent, however long the network or the shop is away.
    #[arg(long)]
    until_empty: bool,
    /// The file with the shop's own certificate (PEM), which then counts in place of those that this machine trusts.
    #[arg(long, value_name = "FILE")]
    trust: Option<PathBuf>,
}

pub(super) fn send(book: &mut FieldBook, call: &Send, json: bool) -> Result<(), Fault> {
    deliver(book, call, None, json)
}

/// Asks the shop now about one request or all.
pub(super) fn ask(
    book: &mut FieldBook,
    order: Option<&str>,
    trust: Option<&Path>,
    json: bool,
) -> Result<(), Fault> {
    let order = order.map(|called| super::find(book, called)).transpose()?.map(|(_, order)| order.id);
    let call = Send { once: false, until_empty: false, trust: trust.map(Path::to_owned) };
    deliver(book, &call, Some(order), json)
}

/// `ask`: which request's answer is asked for at once, or those of all.
fn deliver(book: &mut FieldBook, call: &Send, ask: Option<Option<OrderId>>, json: bool) -> Result<(), Fault> {
    let shop = book.read().shop()?;
    // An earlier shop with consent can still be queried, whatever the state of the current shop.
    let elsewhere = every(book)?.iter().any(|order| order.at.as_ref().is_some_and(|at| at.agreed));
    if let Some(why) = text::book::no_sending(shop.as_ref()).filter(|_| !elsewhere) {
        return Err(Fault::Words(why));
    }
    let trust = match &call.trust {
        None => Trust::Platform,
        Some(path) => {
            Trust::read(path).map_err(|error| Fault::Input(format!("{}: {error}", path.display())))?
        }
    };
    let machine =
        |error: std::io::Error| Fault::Machine { doing: "setting up", what: "the sending".to_owned(), error };
    let worker = OutboxWorker::new(&trust, Timeouts::default(), Box::new(RoutingTable));
    let mut worker = worker.map_err(|error| machine(std::io::Error::other(error)))?;
    let mut control = SystemLoopControl::default();
    for signal in [SIGINT, SIGTERM] {
        // A second signal terminates immediately; the book has a record of the call in progress.
        flag::register_conditional_shutdown(signal, 1, Arc::clone(&control.stop)).map_err(machine)?;
        flag::register(signal, Arc::clone(&control.stop)).map_err(machine)?;
    }
    let before = every(book)?;
    let fetch_before = book.read().catalogue_fetch()?;
    // A manual send clears earlier network failures; a missing network is detected again at once.
    book.network_restored(system_now())?;
    if let Some(order) = ask {
        book.ask_now(order, system_now())?;
    }
    let round = if call.once {
        worker.sync_once(book, &mut control)?
    } else if call.until_empty {
        worker.sync_until_empty(book, &mut control)?
    } else {
        worker.sync_until_idle(book, &mut control)?
    };
    let stopped = control.is_cancelled();
    let fetch = book.read().catalogue_fetch()?.filter(|fetch| fetch_before.as_ref() != Some(fetch));
    let after = outbox::listed(book, None)?;
    let changed = |row: &&Listed| before.iter().find(|order| order.id == row.order.id) != Some(&row.order);
    let orders: Vec<&Listed> = after.iter().filter(changed).collect();
    if json {
        return output::print_json(&json!({
            "shop": shop,
            "calls": round.calls,
            "answered": round.answered,
            "no_network": round.offline,
            "stopped": stopped,
            "orders": orders,
            "catalogue": fetch,
        }));
    }
    let asks = after.iter().any(|row| text::book::is_asked(&row.order));
    let waiting = after.iter().filter(|row| row.order.next_at.is_some()).count();
    output::print(&text::book::sent(
        &orders,
        text::book::Left { waiting, asks },
        round.calls,
        round.offline,
        shop.as_ref(),
        fetch.as_ref(),
    ))
}
