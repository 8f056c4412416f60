//! Everything that is due, again and again.

use super::client::Courier;
use super::pace::Pace;
use std::time::Duration;
use steerwright_core::book::{BookError, FieldBook};
use steerwright_core::orders::{Came, State};

/// What came of calls.
#[derive(Debug, Clone, Copy, PartialEq, Eq, Default)]
pub struct Round {
    /// Calls that were made, or would have been but for the network.
    pub calls: u32,
    /// Calls that were answered, whatever the answer.
    pub answered: u32,
    /// Whether there is no network: what is left was not tried.
    pub offline: bool,
}

impl Round {
    fn and(self, other: Self) -> Self {
        Self {
            calls: self.calls.saturating_add(other.calls),
            answered: self.answered.saturating_add(other.answered),
            offline: other.offline,
        }
    }
}

/// The longest wait before looking again: another program may have changed the book, and clocks are set.
const LONGEST: Duration = Duration::from_secs(30);
/// The shortest, where something is due that another program is at.
const SHORTEST: Duration = Duration::from_millis(500);

impl Courier {
    /// Makes every call that is due now, at most one for each request.
    ///
    /// # Errors
    /// Those of the book; a call whose end could not be written down counts as cut short after five minutes.
    pub fn round(&mut self, book: &mut FieldBook, pace: &mut dyn Pace) -> Result<Round, BookError> {
        let mut round = Round::default();
        for errand in book.due(pace.now())? {
            if pace.is_over() || round.offline {
                break;
            }
            if !book.began(&errand, pace.now())? {
                continue;
            }
            let came = self.carry(&errand);
            round.calls += 1;
            round.answered += u32::from(matches!(came, Came::Answer(_)));
            round.offline = came == Came::NoNetwork;
            book.came_back(errand.id, &came, pace.now())?;
        }
        Ok(round)
    }

    /// Makes calls until nothing is due any more, there is no network, or it is time to stop.
    ///
    /// # Errors
    /// As those of a round.
    pub fn serve(&mut self, book: &mut FieldBook, pace: &mut dyn Pace) -> Result<Round, BookError> {
        let mut all = Round::default();
        loop {
            let round = self.round(book, pace)?;
            all = all.and(round);
            if round.calls == 0 || round.offline || pace.is_over() {
                return Ok(all);
            }
        }
    }

    /// Goes on, waiting in between as long as has to be, until no request waits to be sent or it is time to stop. The
    /// shop's word on what it has is not waited for.
    ///
    /// # Errors
    /// As those of a round.
    pub fn until_empty(&mut self, book: &mut FieldBook, pace: &mut dyn Pace) -> Result<Round, BookError> {
        let mut all = Round::default();
        loop {
            let round = self.serve(book, pace)?;
            all = all.and(round);
            let waiting = waiting(book)?;
            if waiting.is_empty() || pace.is_over() {
                return Ok(all);
            }
            let now = pace.now();
            let soonest = waiting.iter().flatten().map(|at| at.saturating_sub(now.0)).min();
            let own = u64::try_from(soonest.unwrap_or(i64::MAX)).unwrap_or(0);
            pace.rest(Duration::from_millis(own).clamp(SHORTEST, LONGEST));
            if round.offline
                && let Some(shop) = book.read().shop()?
                && self.network.is_there(&shop.base)
            {
                book.network_is_back(pace.now())?;
            }
        }
    }
}

/// When each request that waits to be sent is due; `None` for one that is on its way. Where the shop that may have it
/// cannot be asked, it is not waited for.
fn waiting(book: &FieldBook) -> Result<Vec<Option<i64>>, BookError> {
    let orders = book.read().orders(None)?;
    let agreed = book.read().shop()?.is_some_and(|shop| shop.agreement.is_some());
    let waits = orders.iter().filter(|order| match order.state {
        State::Underway => true,
        State::Queued | State::PerhapsSent => {
            order.next_at.is_some() && order.at.as_ref().map_or(agreed, |at| at.agreed)
        }
        _ => false,
    });
    Ok(waits.map(|order| order.next_at.map(|at| at.0)).collect())
}
