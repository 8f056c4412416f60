//! Photos: add, show, remove.

use crate::background::{ProgressReporter, off_thread};
use crate::{Book, CancellationToken, Changes, Marks, ProgressListener, ShellError, SteerwrightError};
use std::path::Path;
use std::sync::Arc;
use steerwright_core::book::{
    BikeId, BookError, MarksId, NewPhoto, Op, PhotoFile, PhotoId, ShownPhoto, Timestamp, open_plain,
};
use steerwright_core::input::{ReadError, read_limited};
use steerwright_core::photo::{BuiltIn, Colour, Format, Limits, PhotoError, PixelSource, Pixels, ingest};

/// Decodes images that only the platform supports: HEIC.
#[uniffi::export(foreign)]
pub trait PhotoDecoder: Send + Sync {
    /// Decodes a HEIC file to at least `at_least` pixels on the long side, or to full size if it is smaller.
    /// Returns nothing if it cannot be decoded.
    fn heic(&self, bytes: Vec<u8>, at_least: u32) -> Result<Option<DecodedPhoto>, ShellError>;
}

/// An upright image decoded by the platform.
#[derive(Debug, Clone, PartialEq, Eq, uniffi::Record)]
pub struct DecodedPhoto {
    /// Width in pixels.
    pub width: u32,
    /// Height in pixels.
    pub height: u32,
    /// RGB, three bytes per pixel, row by row.
    pub rgb: Vec<u8>,
    /// Width of the full-size image in upright orientation, pixels.
    pub full_width: u32,
    /// Height of the full-size image in upright orientation, pixels.
    pub full_height: u32,
}

/// Source of a photo.
#[derive(Debug, Clone, PartialEq, Eq, uniffi::Enum)]
pub enum PhotoSource {
    /// A file.
    File {
        /// The path.
        path: String,
    },
    /// A complete file in memory.
    Bytes {
        /// The file's bytes.
        bytes: Vec<u8>,
    },
}

/// A photo to add, with its metadata.
#[derive(Debug, Clone, PartialEq, Eq, uniffi::Record)]
pub struct IncomingPhoto {
    /// The source of the photo.
    pub source: PhotoSource,
    /// The bike it shows.
    #[uniffi(default = None)]
    pub bike: Option<BikeId>,
    /// Free-text note.
    #[uniffi(default = "")]
    pub note: String,
    /// Whether to discard the original file, which may contain the location, and keep only the copies.
    #[uniffi(default = false)]
    pub forget_original: bool,
}

/// Result of adding one photo.
#[derive(Debug, Clone, PartialEq, uniffi::Enum)]
pub enum PhotoAddResult {
    /// The photo is in the book.
    Added {
        /// Id in the book.
        id: PhotoId,
        /// Whether the same file was already stored for the same bike; nothing was added then.
        known: bool,
    },
    /// The photo was not added. The other photos are not affected.
    Failed {
        /// The reason.
        error: SteerwrightError,
    },
}

/// Result of adding photos.
#[derive(Debug, Clone, PartialEq, uniffi::Record)]
pub struct PhotosAdded {
    /// Results in the order of the input. Photos after a cancellation are missing.
    pub photos: Vec<PhotoAddResult>,
    /// Whether the work was cancelled before all photos were added.
    pub cancelled: bool,
    /// Stale screens.
    pub changes: Changes,
}

/// A photo as a screen shows it.
#[derive(Debug, Clone, PartialEq, uniffi::Record)]
pub struct StoredPhoto {
    /// Id in the book.
    pub id: PhotoId,
    /// The bike it shows.
    pub bike: Option<BikeId>,
    /// Width in upright orientation, pixels.
    pub width: u32,
    /// Height in upright orientation, pixels.
    pub height: u32,
    /// When it was taken, as recorded by the camera.
    pub taken_at: Option<String>,
    /// 35 mm equivalent focal length, mm.
    pub focal_length_35mm: Option<f64>,
    /// Free-text note.
    pub note: String,
    /// When it was added.
    pub added_at: Timestamp,
    /// Path of the thumbnail; absent if the file is missing.
    pub thumbnail_file: Option<String>,
    /// Path of the upright working copy, for display and marking. Its only metadata is the orientation.
    pub working_file: Option<String>,
    /// The current marks, if any.
    pub marks: Option<MarksView>,
}

/// Marks stored for a photo.
#[derive(Debug, Clone, PartialEq, uniffi::Record)]
pub struct MarksView {
    /// Id of the marks in the book.
    pub id: MarksId,
    /// The marks as stored.
    pub marks: Marks,
    /// The person who set them.
    pub who: Option<String>,
    /// When they were set.
    pub set_at: Timestamp,
}

impl From<ShownPhoto> for StoredPhoto {
    fn from(it: ShownPhoto) -> Self {
        let path = |path: Option<std::path::PathBuf>| path.map(|path| path.display().to_string());
        let ShownPhoto { row, thumbnail_file, working_file, original_file: _ } = it;
        Self {
            id: row.id,
            bike: row.bike,
            width: row.width,
            height: row.height,
            taken_at: row.taken_at,
            focal_length_35mm: row.focal_length_35mm,
            note: row.note,
            added_at: row.added_at,
            thumbnail_file: path(thumbnail_file),
            working_file: path(working_file),
            marks: row.marks.into_iter().next_back().map(|it| MarksView {
                id: it.id,
                marks: it.marks,
                who: it.who,
                set_at: it.set_at,
            }),
        }
    }
}

/// The built-in decoders, and the host app's decoder for the other formats.
struct Decoders {
    own: BuiltIn,
    shell: Option<Arc<dyn PhotoDecoder>>,
    threw: std::sync::Mutex<Option<ShellError>>,
}

impl PixelSource for Decoders {
    fn reads(&self, format: Format) -> bool {
        self.own.reads(format) || (format == Format::Heic && self.shell.is_some())
    }

    fn pixels(
        &self,
        bytes: &[u8],
        format: Format,
        at_least: u32,
        limits: &Limits,
    ) -> Result<Pixels, PhotoError> {
        let Some(shell) = self.shell.as_ref().filter(|_| format == Format::Heic) else {
            return self.own.pixels(bytes, format, at_least, limits);
        };
        let it = match shell.heic(bytes.to_vec(), at_least) {
            Ok(it) => it.ok_or(PhotoError::Damaged { format })?,
            Err(threw) => {
                if let Ok(mut slot) = self.threw.lock() {
                    *slot = Some(threw);
                }
                return Err(PhotoError::Damaged { format });
            }
        };
        let DecodedPhoto { width, height, rgb, full_width, full_height } = it;
        let step = f64::from(full_width.max(1)) / f64::from(width.max(1));
        Ok(Pixels {
            width,
            height,
            colour: Colour::Rgb,
            data: rgb,
            full_width,
            full_height,
            step: step.max(1.0),
            upright: true,
        })
    }
}

impl Decoders {
    fn new(shell: Option<Arc<dyn PhotoDecoder>>) -> Self {
        Self { own: BuiltIn, shell, threw: std::sync::Mutex::default() }
    }

    /// The error thrown by the host app's decoder, if any.
    fn threw(&self) -> Option<ShellError> {
        self.threw.lock().ok().and_then(|mut slot| slot.take())
    }
}

fn bytes(source: PhotoSource) -> Result<Vec<u8>, SteerwrightError> {
    match source {
        PhotoSource::Bytes { bytes } => Ok(bytes),
        PhotoSource::File { path } => {
            let reading = |error: std::io::Error| SteerwrightError::Device {
                reason: format!("reading {path} failed: {error}"),
            };
            let limit = Limits::default().bytes;
            // A pipe or device is not opened: it might never end.
            let file = open_plain(Path::new(&path)).map_err(reading)?;
            let file = file.ok_or_else(|| reading(std::io::Error::other("it is no plain file")))?;
            match read_limited(file, limit) {
                Ok(bytes) => Ok(bytes),
                Err(ReadError::Io(error)) => Err(reading(error)),
                Err(ReadError::TooLarge { .. }) => {
                    Err(BookError::Photo(PhotoError::TooManyBytes { bytes: usize::MAX, limit }).into())
                }
            }
        }
    }
}

impl Book {
    /// Adds one photo. It is decoded before the write transaction starts, so that other calls do not wait for
    /// the decoding.
    fn take(
        &self,
        photo: IncomingPhoto,
        decoders: &Decoders,
        progress: &ProgressReporter,
    ) -> Result<(PhotoAddResult, Changes), SteerwrightError> {
        let bytes = bytes(photo.source)?;
        let intake = ingest(&bytes, &Limits::default(), decoders).map_err(|error| {
            decoders.threw().map_or_else(|| BookError::Photo(error).into(), SteerwrightError::from)
        })?;
        if progress.is_cancelled() {
            return Err(BookError::Cancelled.into());
        }
        let new = NewPhoto { bike: photo.bike, note: &photo.note, forget_original: photo.forget_original };
        let done = self.change(Op::AddPhoto, |work| work.add_photo(&intake, &bytes, &new))?;
        let taken = PhotoAddResult::Added { id: done.output.id, known: done.output.known };
        Ok((taken, done.changes.into()))
    }
}

#[uniffi::export]
impl Book {
    /// Adds photos one by one, on a separate thread; each is one undo step. A photo that cannot be added is
    /// reported, and the others continue. A cancellation keeps the photos added so far.
    #[uniffi::method(default(decoder = None, listener = None, cancellation = None))]
    pub async fn add_photos(
        self: Arc<Self>,
        photos: Vec<IncomingPhoto>,
        decoder: Option<Arc<dyn PhotoDecoder>>,
        listener: Option<Arc<dyn ProgressListener>>,
        cancellation: Option<Arc<CancellationToken>>,
    ) -> Result<PhotosAdded, SteerwrightError> {
        off_thread(listener, cancellation, move |progress| {
            let decoders = Decoders::new(decoder);
            let mut told = PhotosAdded {
                photos: Vec::new(),
                cancelled: false,
                changes: Changes { screens: Vec::new() },
            };
            let of = photos.len() as u64;
            for (done, photo) in photos.into_iter().enumerate() {
                match progress.step(done as u64, of) {
                    Ok(()) => {}
                    Err(SteerwrightError::Cancelled { .. }) => {
                        told.cancelled = true;
                        return Ok(told);
                    }
                    // An error in the progress listener also ends the work. The photos added so far stay.
                    Err(error) => return Err(error),
                }
                match self.take(photo, &decoders, progress) {
                    Ok((taken, changes)) => {
                        told.photos.push(taken);
                        for screen in changes.screens {
                            if !told.changes.screens.contains(&screen) {
                                told.changes.screens.push(screen);
                            }
                        }
                    }
                    Err(SteerwrightError::Cancelled { .. }) => {
                        told.cancelled = true;
                        return Ok(told);
                    }
                    Err(error) => told.photos.push(PhotoAddResult::Failed { error }),
                }
            }
            let _ = progress.step(of, of);
            Ok(told)
        })
        .await
    }

    /// One photo.
    pub fn photo(&self, id: PhotoId) -> Result<StoredPhoto, SteerwrightError> {
        self.read(|reader| Ok(reader.photo(id)?.into()))
    }

    /// Photos without a bike, oldest first.
    pub fn loose_photos(&self) -> Result<Vec<StoredPhoto>, SteerwrightError> {
        self.read(|reader| Ok(reader.loose_photos()?.into_iter().map(Into::into).collect()))
    }

    /// The bytes of a photo's working copy, a JPEG whose only metadata is the orientation: the version that
    /// may leave the device. Absent if the file is missing or damaged.
    pub fn photo_bytes(&self, id: PhotoId) -> Result<Option<Vec<u8>>, SteerwrightError> {
        self.read(|reader| Ok(reader.photo_bytes(id, PhotoFile::Working)?))
    }

    /// Changes a photo's note.
    pub fn edit_photo(&self, id: PhotoId, note: String) -> Result<Changes, SteerwrightError> {
        let edit = steerwright_core::book::PhotoEdit { bike: None, note: Some(note) };
        Ok(self.change(Op::EditPhoto, |work| work.edit_photo(id, &edit))?.changes.into())
    }

    /// Assigns a photo to a bike, or to none.
    pub fn assign_photo(&self, id: PhotoId, bike: Option<BikeId>) -> Result<Changes, SteerwrightError> {
        let edit = steerwright_core::book::PhotoEdit { bike: Some(bike), note: None };
        Ok(self.change(Op::EditPhoto, |work| work.edit_photo(id, &edit))?.changes.into())
    }

    /// Removes a photo. Readings taken from it stay.
    pub fn remove_photo(&self, id: PhotoId) -> Result<Changes, SteerwrightError> {
        Ok(self.change(Op::RemovePhoto, |work| work.remove_photo(id))?.changes.into())
    }
}
