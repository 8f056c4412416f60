//! The field book: bikes, their logs, stored checks, photos' rows and makers' catalogues, in one SQLite file.
//!
//! [`FieldBook::open`] creates, opens, migrates or recovers a book. Every change goes through [`FieldBook::transact`],
//! which commits all of it or nothing, reports which screens are stale ([`Changes`]) and can be undone
//! ([`FieldBook::undo`]). Displayed data comes from a [`Reader`], which cannot write. Once `transact` returns, the
//! change survives the program being killed, and a loss of power if the device honours a sync.
//!
//! This is the only crate of the core that reads and writes files. It has no clock of its own: see [`Clock`].

mod backup;
mod bikes;
mod bundle;
mod catalogues;
mod checks;
mod clock;
mod connection;
mod csv;
mod deletion;
mod drafts;
mod erasure;
mod error;
mod files;
mod in_doubt;
mod journal;
mod list;
mod log;
mod marks;
mod migrate;
#[cfg(test)]
mod migration_tests;
mod open;
pub mod orders;
mod photos;
mod private;
mod progress;
mod promises;
mod reader;
mod recover;
mod repair;
mod salvage;
mod screen;
mod settings;
mod signature;
mod sort_key;
mod stored;
mod summary;
mod text;
mod transact;
mod words;

pub use bikes::{BikeEdit, BikeRecord};
pub use bundle::{
    Bundle, BundleAcceptance, BundleChange, BundleChangeKind, BundleMerged, BundlePreview, BundleProblem,
    BundleSchema, BundleScope, BundleWritten, MOST_BUNDLE_BYTES, Manifest, ManifestEntry,
};
pub use catalogues::{CatalogueImport, CatalogueRow, ImportedCatalogue, MakerRow};
pub use checks::{KeptCheck, NewCheck};
pub use clock::Clock;
pub use csv::{CsvError, CsvErrors, CsvImported, CsvRow, CsvStyle, CsvTable, CsvValue};
pub use error::BookError;
pub use files::open_plain;
pub use list::{Archived, BikePage, BikeQuery, BikeRow, Cursor, Sort};
pub use log::{LogEntry, Struck, changes_with_a_kit};
pub use marks::{MarksRow, PhotoMeasured};
pub use open::{FieldBook, Opened};
pub use photos::{NewPhoto, PhotoAdded, PhotoEdit, PhotoFile, PhotoRow, ShownPhoto};
pub use private::make_private;
pub use progress::{NoProgress, Progress};
pub use promises::{Promise, StockClash};
pub use reader::Reader;
pub use recover::{Lost, Recovery, Saved};
pub use screen::{BikeScreen, OrderSummary};
pub use signature::{PublicKey, SignatureStatus};
pub use steerwright_fit::report::Comparison;
pub use steerwright_metrology::ids::{BikeId, CheckId, MarksId, MeasurementId, MessageId, OrderId, PhotoId};
pub use steerwright_metrology::timestamp::Timestamp;
pub use summary::{ActionSummary, Thing};
pub use transact::{Changes, Op, Outcome, Screen, Work};

// For the `orders` module, whose tables are in the same file.
pub(crate) use catalogues::{catalogue as catalogue_of, is_kept, number_in_use};
pub(crate) use error::Inner;
pub(crate) use files::{get as photo_file, length as photo_length, path as photo_path, sha256};
pub(crate) use photos::find as photo_row;
pub(crate) use screen::current_bike;
pub(crate) use settings::instruments;
pub(crate) use stored::{EnumText, JsonText};
pub(crate) use text::{Lines, check as check_text, needed as needed_text, who as check_who};
