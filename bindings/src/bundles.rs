//! Bundles: export and import of one bike or the whole book as a single file, for transfer or backup.

use crate::background::off_thread;
use crate::{Book, CancellationToken, Changes, ProgressListener, SteerwrightError};
use std::path::Path;
use std::sync::Arc;
use steerwright_core::book::{BikeId, BookError, Bundle, BundleProblem, BundleScope, PhotoId};

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

/// Result of merging a bundle.
#[derive(Debug, Clone, PartialEq, Eq, uniffi::Record)]
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
    /// Stale screens.
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

    /// Reads a bundle, validates all of it and merges it as one undo step, on a separate thread. It can be
    /// cancelled until the merge begins.
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
