//! Photos: storage, upload in parts, and validation that they contain nothing but pixels.

mod content_range;
mod jpeg;
mod store;
mod sweep;
mod upload;

pub use content_range::{ContentRange, ContentRangeError};
pub use jpeg::{JpegError, MAX_SIDE, check_jpeg, check_pixels};
pub use store::{PhotoStore, PhotoStoreError};
pub use sweep::sweep;
pub use upload::{Photo, UploadError, UploadProgress, delete_unreferenced, progress, read, store_part};
