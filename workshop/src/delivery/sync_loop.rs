//! The delivery loop.

use super::client::OutboxWorker;
use super::loop_control::LoopControl;
use std::time::Duration;
use steerwright_core::book::{BookError, FieldBook};
use steerwright_core::orders::{CallOutcome, State};

/// Summary of calls.
#[derive(Debug, Clone, Copy, PartialEq, Eq, Default)]
pub struct SyncReport {
    /// Calls that were made, including those not sent for lack of a network.
    pub calls: u32,
    /// Calls that received a response, whatever its status.
    pub answered: u32,
    /// Whether the network is missing; the remaining calls were not attempted.
    pub offline: bool,
}

impl SyncReport {
    fn and(self, other: Self) -> Self {
        Self {
            calls: self.calls.saturating_add(other.calls),
            answered: self.answered.saturating_add(other.answered),
            offline: other.offline,
        }
    }
}

/// Longest wait between two looks at the book: another process may change it, and the clock may be set.
const LONGEST: Duration = Duration::from_secs(30);
/// Shortest wait, for a due call that another process is making.
const SHORTEST: Duration = Duration::from_millis(500);

impl OutboxWorker {
    /// Makes every call that is due now, at most one per order request.
    ///
    /// # Errors
    /// Those of the book. A call whose outcome could not be recorded counts as interrupted after five minutes.
    pub fn sync_once(
        &mut self,
        book: &mut FieldBook,
        control: &mut dyn LoopControl,
    ) -> Result<SyncReport, BookError> {
        let mut round = SyncReport::default();
        for call in book.due(control.now())? {
            if control.is_cancelled() || round.offline {
                break;
            }
            if !book.begin_call(&call, control.now())? {
                continue;
            }
            let outcome = self.send(&call);
            round.calls += 1;
            round.answered += u32::from(matches!(outcome, CallOutcome::Answer(_)));
            round.offline = outcome == CallOutcome::NoNetwork;
            book.finish_call(call.id, &outcome, control.now())?;
        }
        Ok(round)
    }

    /// Makes calls until nothing is due, there is no network, or it is cancelled.
    ///
    /// # Errors
    /// Those of [`Self::sync_once`].
    pub fn sync_until_idle(
        &mut self,
        book: &mut FieldBook,
        control: &mut dyn LoopControl,
    ) -> Result<SyncReport, BookError> {
        let mut all = SyncReport::default();
        loop {
            let round = self.sync_once(book, control)?;
            all = all.and(round);
            if round.calls == 0 || round.offline || control.is_cancelled() {
                return Ok(all);
            }
        }
    }

    /// Makes calls, sleeping in between, until no request is waiting to be sent or it is cancelled. It does
    /// not wait for the shop's decision on delivered requests.
    ///
    /// # Errors
    /// Those of [`Self::sync_once`].
    pub fn sync_until_empty(
        &mut self,
        book: &mut FieldBook,
        control: &mut dyn LoopControl,
    ) -> Result<SyncReport, BookError> {
        let mut all = SyncReport::default();
        loop {
            let round = self.sync_until_idle(book, control)?;
            all = all.and(round);
            let waiting = waiting(book)?;
            if waiting.is_empty() || control.is_cancelled() {
                return Ok(all);
            }
            let now = control.now();
            let soonest = waiting.iter().flatten().map(|at| at.saturating_sub(now.0)).min();
            let own = u64::try_from(soonest.unwrap_or(i64::MAX)).unwrap_or(0);
            control.sleep(Duration::from_millis(own).clamp(SHORTEST, LONGEST));
            if round.offline
                && let Some(shop) = book.read().shop()?
                && self.network.is_reachable(&shop.base)
            {
                book.network_restored(control.now())?;
            }
        }
    }
}

/// The due time of each request that is waiting to be sent, or about which the shop is to be told something; `None` for
/// one in progress. A request is skipped
/// if the shop that may have it cannot be queried for lack of consent.
fn waiting(book: &FieldBook) -> Result<Vec<Option<i64>>, BookError> {
    let orders = book.read().orders(None)?;
    let agreed = book.read().shop()?.is_some_and(|shop| shop.agreement.is_some());
    let waits = orders.iter().filter(|order| match order.state {
        State::Underway => true,
        State::Queued | State::InDoubt => {
            order.next_at.is_some() && order.at.as_ref().map_or(agreed, |at| at.agreed)
        }
        State::Delivered | State::Withdrawn => {
            order.messages_waiting > 0
                && order.next_at.is_some()
                && order.at.as_ref().is_some_and(|at| at.agreed)
        }
        _ => false,
    });
    Ok(waits.map(|order| order.next_at.map(|at| at.0)).collect())
}
