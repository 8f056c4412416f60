//! Which edge pixels hang together.

use super::map::Edgel;

/// Edge pixels in order of rows, with the sets of those that touch.
pub(super) struct Chains {
    edgels: Vec<Edgel>,
    columns: Vec<u32>,
    /// An earlier one of the same set, or itself; those of one set lead to the same first one.
    parents: Vec<u32>,
    /// Of a set's first one: whether one of the set is clear.
    clear: Vec<bool>,
    threshold: i16,
    /// Where the present row begins, and where in the row above to look next.
    row: usize,
    above: usize,
}

impl Chains {
    pub(super) fn new(threshold: i16) -> Self {
        Self {
            edgels: Vec::new(),
            columns: Vec::new(),
            parents: Vec::new(),
            clear: Vec::new(),
            threshold,
            row: 0,
            above: 0,
        }
    }

    pub(super) fn next_row(&mut self) {
        self.above = self.row;
        self.row = self.edgels.len();
    }

    /// One further to the right in the present row.
    #[inline]
    pub(super) fn push(&mut self, column: u32, length: i16, edgel: Edgel) {
        let own = self.edgels.len();
        self.edgels.push(edgel);
        self.columns.push(column);
        self.parents.push(own as u32);
        self.clear.push(length >= self.threshold);
        if own > self.row && self.column(own - 1) + 1 == column {
            self.join(own - 1, own);
        }
        while self.above < self.row && self.column(self.above) + 1 < column {
            self.above += 1;
        }
        for near in self.above..self.row.min(self.above + 3) {
            if self.column(near) > column + 1 {
                break;
            }
            self.join(near, own);
        }
    }

    fn column(&self, of: usize) -> u32 {
        self.columns.get(of).copied().unwrap_or(u32::MAX)
    }

    #[expect(clippy::indexing_slicing, reason = "parents are places in the list they stand in")]
    fn first(&mut self, mut of: usize) -> usize {
        loop {
            let parent = self.parents[of] as usize;
            if parent == of {
                return of;
            }
            self.parents[of] = self.parents[parent];
            of = parent;
        }
    }

    #[expect(clippy::indexing_slicing, reason = "as above")]
    fn join(&mut self, one: usize, other: usize) {
        let (one, other) = (self.first(one), self.first(other));
        let (early, late) = (one.min(other), one.max(other));
        self.parents[late] = early as u32;
        self.clear[early] |= self.clear[late];
    }

    /// Those of sets with a clear one.
    pub(super) fn kept(mut self) -> Vec<Edgel> {
        let edgels = std::mem::take(&mut self.edgels);
        let kept = edgels.into_iter().enumerate().filter(|(of, _)| {
            let first = self.first(*of);
            self.clear.get(first).copied().unwrap_or(false)
        });
        kept.map(|(_, edgel)| edgel).collect()
    }
}
