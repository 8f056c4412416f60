//! A catalogue's kits, laid out once for judging one bike after another against all of them.

use super::{PreparedKit, SeatSlot};
use std::collections::BTreeMap;

/// Kits by the pair of seats they need: a catalogue has thousands of kits but a few dozen pairs, and most bikes rule
/// most pairs out.
#[derive(Debug, Clone, Default)]
pub struct KitIndex {
    kits: Vec<PreparedKit>,
    groups: Vec<Group>,
}

/// The kits of one pair of seats.
#[derive(Debug, Clone)]
pub(super) struct Group {
    pub(super) seats: [Option<SeatSlot>; 2],
    /// Their places on the shelf, rising.
    pub(super) places: Vec<u32>,
}

impl KitIndex {
    /// Puts these kits on the shelf, in their order.
    pub fn new(kits: Vec<PreparedKit>) -> Self {
        let mut by_seats: BTreeMap<[Option<SeatSlot>; 2], Vec<u32>> = BTreeMap::new();
        for (place, kit) in (0u32..).zip(&kits) {
            by_seats.entry(kit.ends.each_ref().map(|end| end.seat)).or_default().push(place);
        }
        let groups = by_seats.into_iter().map(|(seats, places)| Group { seats, places }).collect();
        Self { kits, groups }
    }

    /// The kits in their order.
    pub fn kits(&self) -> &[PreparedKit] {
        &self.kits
    }

    pub(super) fn groups(&self) -> &[Group] {
        &self.groups
    }
}

impl FromIterator<PreparedKit> for KitIndex {
    fn from_iter<T: IntoIterator<Item = PreparedKit>>(kits: T) -> Self {
        Self::new(kits.into_iter().collect())
    }
}
