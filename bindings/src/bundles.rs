//! Bundles: a bike or the whole book in one file, to another book or for safe keeping.

use crate::background::off_thread;
use crate::{Book, CancellationToken, Changes, ProgressListener, SteerwrightError};
use std::path::Path;
use std::sync::Arc;
use steerwright_core::book::{BikeId, BookError, Bundle, BundleProblem, BundleScope, PhotoId};

/// What went into a bundle.
#[derive(Debug, Clone, PartialEq, Eq, uniffi::Record)]
pub struct BundleWritten {
    /// Bikes.
    pub bikes: u64,
    /// Rows of their logs.
    pub measurements: u64,
    /// Kept checks.
    pub checks: u64,
    /// Photos.
    pub photos: u64,
    /// Photos whose files are missing or damaged.
    pub missing: Vec<PhotoId>,
    /// Length of the file.
    pub bytes: u64,
}

/// What a bundle brought.
#[derive(Debug, Clone, PartialEq, Eq, uniffi::Record)]
pub struct BundleMerged {
    /// Bikes the book did not know.
    pub bikes_added: u64,
    /// Bikes it knew already.
    pub bikes_known: u64,
    /// Measurements it did not know.
    pub measurements_added: u64,
    /// Measurements it knew already.
    pub measurements_known: u64,
    /// Checks it did not know.
    pub checks_added: u64,
    /// Photos it did not know.
    pub photos_added: u64,
    /// Which screens are stale.
    pub changes: Changes,
}

fn opened(path: &str) -> Result<std::io::BufReader<std::fs::File>, SteerwrightError> {
    let opening = |error: std::io::Error| SteerwrightError::Device {
        reason: format!("opening {path} failed: {error}"),
    };
    let file = std::fs::File::open(path).map_err(opening)?;
    if !file.metadata().map_err(opening)?.is_file() {
        let why = "it is no plain file".to_owned();
        return Err(BookError::Bundle(BundleProblem::NotABundle { why }).into());
    }
    Ok(std::io::BufReader::new(file))
}

#[uniffi::export]
impl Book {
    /// Writes a bike, or without one the whole book, to a file, off the calling thread; a file that was there is replaced
    /// once the new one is complete. Photos go without a place.
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

    /// Reads a bundle, checks all of it and merges it, off the calling thread, as one step to undo. It can be stopped
    /// until it is merged.
    #[uniffi::method(default(listener = None, cancellation = None))]
    pub async fn read_bundle(
        self: Arc<Self>,
        path: String,
        listener: Option<Arc<dyn ProgressListener>>,
        cancellation: Option<Arc<CancellationToken>>,
    ) -> Result<BundleMerged, SteerwrightError> {
        off_thread(listener, cancellation, move |progress| {
            let bundle = Bundle::check_with_progress(opened(&path)?, progress)?;
            if progress.is_cancelled() {
                return Err(BookError::Cancelled.into());
            }
            let done = self.writer().merge(bundle)?;
            let it = done.output;
            Ok(BundleMerged {
                bikes_added: it.bikes_added as u64,
                bikes_known: it.bikes_known as u64,
                measurements_added: it.measurements_added as u64,
                measurements_known: it.measurements_known as u64,
                checks_added: it.checks_added as u64,
                photos_added: it.photos_added as u64,
                changes: done.changes.into(),
            })
        })
        .await
    }
}
