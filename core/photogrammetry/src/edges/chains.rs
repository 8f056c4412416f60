//! Connected components of edge pixels, for hysteresis thresholding.

use super::map::Edgel;

/// Edge pixels in row order, with the components they belong to (union-find).
pub(super) struct Chains {
    edgels: Vec<Edgel>,
    columns: Vec<u32>,
    /// Union-find parent: an earlier pixel of the same component, or itself. All pixels of a component lead
    /// to the same root.
    parents: Vec<u32>,
    /// For the root of a component: whether the component has a pixel above the clear threshold.
    clear: Vec<bool>,
    threshold: i16,
    /// Start of the current row, and the next position to examine in the row above.
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

    /// Adds a pixel further right in the current row.
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

    /// The pixels of components that contain a clear pixel.
    pub(super) fn kept(mut self) -> Vec<Edgel> {
        let edgels = std::mem::take(&mut self.edgels);
        let kept = edgels.into_iter().enumerate().filter(|(of, _)| {
            let first = self.first(*of);
            self.clear.get(first).copied().unwrap_or(false)
        });
        kept.map(|(_, edgel)| edgel).collect()
    }
}
