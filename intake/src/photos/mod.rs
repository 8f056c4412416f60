//! Photos: storage, upload in parts, and validation that they contain nothing but pixels.

mod content_range;
mod jpeg;
mod store;
mod upload;

pub use content_range::{ContentRange, ContentRangeError};
pub use jpeg::{JpegError, check_jpeg};
pub use store::{PhotoStore, PhotoStoreError};
pub use upload::{Photo, UploadError, UploadProgress, delete_unreferenced, progress, read, store_part};
