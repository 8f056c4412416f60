//! Times in the future, which would make a row the latest for good.

use super::record::BundleBike;
use crate::{KeptCheck, PhotoRow, Timestamp};

/// Sets times that are later than now to now, and counts them.
pub(super) struct Future {
    now: Timestamp,
    pub(super) found: usize,
}

impl Future {
    pub(super) fn new(now: Timestamp) -> Self {
        Self { now, found: 0 }
    }

    /// True if the time was in the future.
    fn time(&mut self, at: &mut Timestamp) -> bool {
        let ahead = *at > self.now;
        if ahead {
            *at = self.now;
            self.found += 1;
        }
        ahead
    }

    /// The times of a bike's own fields. True if one was that decides which side wrote them last.
    pub(super) fn bike(&mut self, it: &mut BundleBike) -> bool {
        self.time(&mut it.created_at);
        if let Some(at) = &mut it.archived_at {
            self.time(at);
        }
        let observed = self.time(&mut it.observed_at);
        self.time(&mut it.touched_at) || observed
    }

    /// The times of a bike's log.
    pub(super) fn log(&mut self, it: &mut BundleBike) {
        for row in &mut it.log {
            self.time(&mut row.recorded_at);
            if let Some(struck) = &mut row.struck {
                self.time(&mut struck.at);
            }
        }
    }

    pub(super) fn photos(&mut self, photos: &mut [PhotoRow]) {
        for photo in photos {
            self.time(&mut photo.added_at);
            if let Some(at) = &mut photo.removed_at {
                self.time(at);
            }
            for marks in &mut photo.marks {
                self.time(&mut marks.set_at);
            }
        }
    }

    pub(super) fn check(&mut self, it: &mut KeptCheck) {
        self.time(&mut it.made_at);
        for at in [&mut it.fitted_at, &mut it.removed_at].into_iter().flatten() {
            self.time(at);
        }
    }
}
