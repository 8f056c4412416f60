//! What a bundle would take away or write over, which is asked for apart.

use crate::{BikeId, Timestamp};
use serde::Serialize;
use std::collections::BTreeSet;
use steerwright_metrology::sentence::Sentence;

/// What may be taken from a bundle besides what is new. By default nothing.
#[derive(Debug, Clone, Copy, PartialEq, Eq, Default)]
pub struct BundleAcceptance {
    /// What was struck out, removed, archived or taken out of a bike there is so here too.
    pub removals: bool,
    /// Names, owners, notes, what was seen, and which kit is in: what was written there later replaces what is here.
    pub replacements: bool,
}

impl BundleAcceptance {
    /// Everything: for a bundle of one's own.
    pub const ALL: Self = Self { removals: true, replacements: true };

    fn takes(self, kind: BundleChangeKind) -> bool {
        match kind {
            BundleChangeKind::Removal => self.removals,
            BundleChangeKind::Replacement => self.replacements,
        }
    }
}

/// How a change affects what is in the book.
#[derive(Debug, Clone, Copy, PartialEq, Eq, PartialOrd, Ord, Hash, Serialize)]
#[serde(rename_all = "snake_case")]
pub enum BundleChangeKind {
    /// Something no longer counts or is no longer shown.
    Removal,
    /// Something reads otherwise.
    Replacement,
}

/// One change that a bundle would make to what is in the book already.
#[derive(Debug, Clone, PartialEq, Serialize)]
pub struct BundleChange {
    /// How it affects what is there.
    pub kind: BundleChangeKind,
    /// The bike; absent for a photo of no bike.
    pub bike: Option<BikeId>,
    /// What the bundle says, as a clause without an end.
    pub text: Sentence,
    /// Who did it, by the bundle's own account.
    pub who: Option<String>,
    /// When, by the bundle's own account; never later than now.
    pub at: Option<Timestamp>,
    /// Whether it was accepted, or would be.
    pub taken: bool,
}

/// Collects the changes of one merge and decides on each.
pub(super) struct Changes {
    accept: BundleAcceptance,
    pub(super) listed: Vec<BundleChange>,
    /// How many more there are.
    pub(super) more: usize,
    /// Names of people in rows that are new.
    pub(super) people: BTreeSet<String>,
}

impl Changes {
    /// Changes and names up to this number are listed; more are only counted.
    pub(super) const MOST: usize = 1_000;

    pub(super) fn new(accept: BundleAcceptance) -> Self {
        Self { accept, listed: Vec::new(), more: 0, people: BTreeSet::new() }
    }

    /// Notes a change and tells whether it is taken.
    pub(super) fn ask(
        &mut self,
        kind: BundleChangeKind,
        bike: Option<BikeId>,
        who: Option<&str>,
        at: Option<Timestamp>,
        text: Sentence,
    ) -> bool {
        let taken = self.accept.takes(kind);
        if self.listed.len() < Self::MOST {
            self.listed.push(BundleChange { kind, bike, text, who: who.map(str::to_owned), at, taken });
        } else {
            self.more += 1;
        }
        taken
    }

    /// Notes who a new row is from.
    pub(super) fn from(&mut self, who: Option<&str>) {
        if let Some(who) = who
            && self.people.len() < Self::MOST
        {
            self.people.insert(who.to_owned());
        }
    }
}
