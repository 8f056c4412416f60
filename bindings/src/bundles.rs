//! Bundles: export and import of one bike or the whole book as a single file, for transfer or backup.

use crate::background::off_thread;
use crate::{Book, CancellationToken, Changes, LocalizedText, ProgressListener, SteerwrightError};
use std::path::Path;
use std::sync::Arc;
use steerwright_core::book::{
    self, BikeId, BookError, Bundle, BundleChangeKind, BundleScope, PhotoId, Timestamp,
};

/// Contents of a written bundle.
#[derive(Debug, Clone, PartialEq, Eq, uniffi::Record)]
pub struct BundleWritten {
    /// Number of bikes.
    pub bikes: u64,
    /// Number of log rows.
    pub measurements: u64,
    /// Number of stored checks.
    pub checks: u64,
    /// Number of photos.
    pub photos: u64,
    /// Photos whose files are missing or damaged.
    pub missing: Vec<PhotoId>,
    /// File size in bytes.
    pub bytes: u64,
}

/// What may be taken from a bundle besides what is new. The app asks the user for each apart.
#[derive(Debug, Clone, Copy, PartialEq, Eq, uniffi::Record)]
pub struct BundleAcceptance {
    /// What was struck out, removed, archived or taken out of a bike there is so here too.
    pub removals: bool,
    /// Names, owners, notes, observations and the fitted kit that were written there later replace those here.
    pub replacements: bool,
}

/// One change that a bundle makes to what is in the book already.
#[derive(Debug, Clone, PartialEq, uniffi::Record)]
pub struct BundleDifference {
    /// What has to be accepted for it.
    pub kind: BundleChangeKind,
    /// The bike; absent for a photo of no bike.
    pub bike: Option<BikeId>,
    /// What the bundle says, as a clause.
    pub text: LocalizedText,
    /// Who did it, by the bundle's own account.
    pub who: Option<String>,
    /// When, by the bundle's own account.
    pub at: Option<Timestamp>,
    /// Whether it was accepted, or would be.
    pub taken: bool,
}

/// What merging a bundle did, or would do.
#[derive(Debug, Clone, PartialEq, uniffi::Record)]
pub struct BundleMerged {
    /// Bikes that were new to the book.
    pub bikes_added: u64,
    /// Bikes that were already in the book.
    pub bikes_known: u64,
    /// Measurements that were new to the book.
    pub measurements_added: u64,
    /// Measurements that were already in the book.
    pub measurements_known: u64,
    /// Checks that were new to the book.
    pub checks_added: u64,
    /// Photos that were new to the book.
    pub photos_added: u64,
    /// Names of the people whose rows are new, by the bundle's own account.
    pub people: Vec<String>,
    /// What it takes away or replaces, at most a thousand.
    pub differences: Vec<BundleDifference>,
    /// Number of further differences.
    pub more_differences: u64,
    /// Number of times that were in the future and count as now.
    pub future_times: u64,
    /// Stale screens; none after a preview.
    pub changes: Changes,
}

/// What a bundle contains and what merging it would do.
#[derive(Debug, Clone, PartialEq, uniffi::Record)]
pub struct BundlePreview {
    /// When it was made, by its own account.
    pub made_at: String,
    /// Version of the program that made it, by its own account.
    pub made_by: String,
    /// The names of its bikes.
    pub bikes: Vec<String>,
    /// What merging it with this acceptance would do.
    pub merged: BundleMerged,
}

fn accepted(accept: Option<BundleAcceptance>) -> book::BundleAcceptance {
    accept.map_or_else(book::BundleAcceptance::default, |BundleAcceptance { removals, replacements }| {
        book::BundleAcceptance { removals, replacements }
    })
}

fn merged(it: book::BundleMerged, changes: Changes) -> BundleMerged {
    let difference = |it: book::BundleChange| BundleDifference {
        kind: it.kind,
        bike: it.bike,
        text: it.text.into(),
        who: it.who,
        at: it.at,
        taken: it.taken,
    };
    BundleMerged {
        bikes_added: it.bikes_added as u64,
        bikes_known: it.bikes_known as u64,
        measurements_added: it.measurements_added as u64,
        measurements_known: it.measurements_known as u64,
        checks_added: it.checks_added as u64,
        photos_added: it.photos_added as u64,
        people: it.people,
        differences: it.changes.into_iter().map(difference).collect(),
        more_differences: it.more_changes as u64,
        future_times: it.future_times as u64,
        changes,
    }
}

#[uniffi::export]
impl Book {
    /// Exports one bike, or the whole book if `bike` is absent, to a file, on a separate thread. An existing
    /// file is replaced only once the new one is complete. Photos are exported without their location.
    #[uniffi::method(default(bike = None, listener = None, cancellation = None))]
    pub async fn write_bundle(
        self: Arc<Self>,
        path: String,
        bike: Option<BikeId>,
        listener: Option<Arc<dyn ProgressListener>>,
        cancellation: Option<Arc<CancellationToken>>,
    ) -> Result<BundleWritten, SteerwrightError> {
        off_thread(listener, cancellation, move |progress| {
            let what = bike.map_or(BundleScope::Book, BundleScope::Bike);
            let now = self.now();
            let told =
                self.read(|reader| Ok(reader.write_bundle(what, Path::new(&path), now, progress)?))?;
            Ok(BundleWritten {
                bikes: told.bikes as u64,
                measurements: told.measurements as u64,
                checks: told.checks as u64,
                photos: told.photos as u64,
                missing: told.missing,
                bytes: told.bytes,
            })
        })
        .await
    }

    /// Reads a bundle, validates all of it and tells what merging it would do, on a separate thread. Nothing is
    /// changed. It can be cancelled until the comparison begins.
    #[uniffi::method(default(accept = None, listener = None, cancellation = None))]
    pub async fn preview_bundle(
        self: Arc<Self>,
        path: String,
        accept: Option<BundleAcceptance>,
        listener: Option<Arc<dyn ProgressListener>>,
        cancellation: Option<Arc<CancellationToken>>,
    ) -> Result<BundlePreview, SteerwrightError> {
        off_thread(listener, cancellation, move |progress| {
            let mut bundle = Bundle::open(Path::new(&path), progress)?;
            if progress.is_cancelled() {
                return Err(BookError::Cancelled.into());
            }
            let it = self.writer().preview(&mut bundle, accepted(accept))?;
            let nothing = book::Changes::default();
            Ok(BundlePreview {
                made_at: it.made_at,
                made_by: it.made_by,
                bikes: it.bikes,
                merged: merged(it.merged, nothing.into()),
            })
        })
        .await
    }

    /// Reads a bundle, validates all of it and merges it as one undo step, on a separate thread. What is new is
    /// taken; what it takes away or replaces only as far as it is accepted. It can be cancelled until the merge begins.
    #[uniffi::method(default(accept = None, listener = None, cancellation = None))]
    pub async fn read_bundle(
        self: Arc<Self>,
        path: String,
        accept: Option<BundleAcceptance>,
        listener: Option<Arc<dyn ProgressListener>>,
        cancellation: Option<Arc<CancellationToken>>,
    ) -> Result<BundleMerged, SteerwrightError> {
        off_thread(listener, cancellation, move |progress| {
            let bundle = Bundle::open(Path::new(&path), progress)?;
            if progress.is_cancelled() {
                return Err(BookError::Cancelled.into());
            }
            let done = self.writer().merge(bundle, accepted(accept))?;
            Ok(merged(done.output, done.changes.into()))
        })
        .await
    }
}
