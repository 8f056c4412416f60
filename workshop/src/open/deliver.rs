//! Delivery in the background, while the page is open.

use crate::book::place;
use crate::fault::Fault;
use std::path::PathBuf;
use std::sync::Arc;
use std::time::Duration;
use steerwright_workshop::delivery::{
    Network, OutboxWorker, RoutingTable, SystemLoopControl, Timeouts, Trust, system_now,
};
use tokio::sync::Notify;

/// Longest wait between two looks at what is due: the network may be back, and a shop may have answered.
const LONGEST: Duration = Duration::from_secs(60);

/// Delivers what is due now, whenever `wanted` is notified, and once a minute. Nothing is sent without consent; the book
/// decides what is due.
pub(super) async fn run(path: Option<PathBuf>, wanted: Arc<Notify>) {
    let mut was_offline = false;
    loop {
        let path = path.clone();
        let round = tokio::task::spawn_blocking(move || once(path, was_offline));
        // A book that is busy or a call that failed is tried again with the next round; the outbox says what went wrong.
        was_offline = matches!(round.await, Ok(Ok(true)));
        tokio::select! {
            () = wanted.notified() => {}
            () = tokio::time::sleep(LONGEST) => {}
        }
    }
}

/// Makes the calls that are due. Returns whether there was no network.
fn once(path: Option<PathBuf>, was_offline: bool) -> Result<bool, Fault> {
    let mut book = place::open(path, false)?;
    let Some(shop) = book.read().shop()?.filter(|shop| shop.agreement.is_some()) else { return Ok(false) };
    if was_offline {
        if !RoutingTable.is_reachable(&shop.base) {
            return Ok(true);
        }
        book.network_restored(system_now())?;
    }
    let worker = OutboxWorker::new(&Trust::Platform, Timeouts::default(), Box::new(RoutingTable));
    let mut worker = worker.map_err(|error| Fault::Words(error.to_string()))?;
    let round = worker.sync_until_idle(&mut book, &mut SystemLoopControl::default())?;
    Ok(round.offline)
}
