//! Makers' catalogues.

use crate::{Book, Changes, LocalizedText, SignatureStatus, SteerwrightError};
use steerwright_core::book::{CatalogueImport, MakerRow, Op, PublicKey, Timestamp};

/// Result of a catalogue import.
#[derive(Debug, Clone, PartialEq, Eq, uniffi::Record)]
pub struct CatalogueImported {
    /// The maker of the catalogue.
    pub maker: String,
    /// The catalogue's issue number.
    pub number: u32,
    /// Result of the signature check against the maker's key.
    pub signature_status: SignatureStatus,
    /// False if the identical file was already imported.
    pub is_new: bool,
    /// The result as text, one or two sentences.
    pub english: String,
    /// Stale screens.
    pub changes: Changes,
}

/// A stored catalogue.
#[derive(Debug, Clone, PartialEq, Eq, uniffi::Record)]
pub struct CatalogueLine {
    /// The catalogue's issue number.
    pub number: u32,
    /// Date of issue.
    pub issued: String,
    /// Number of kits.
    pub kits: u32,
    /// Result of the signature check against the maker's key.
    pub signature_status: SignatureStatus,
    /// Time of import.
    pub imported_at: Timestamp,
    /// Whether this catalogue is the active one of its maker.
    pub in_use: bool,
}

/// A maker with its stored catalogues.
#[derive(Debug, Clone, PartialEq, Eq, uniffi::Record)]
pub struct MakerWithCatalogues {
    /// The maker's name as written in its catalogues.
    pub maker: String,
    /// The pinned public key as text.
    pub pinned: Option<String>,
    /// The catalogues, highest number first.
    pub catalogues: Vec<CatalogueLine>,
}

/// State of the catalogue download from the shop.
#[derive(Debug, Clone, PartialEq, uniffi::Record)]
pub struct CatalogueFetch {
    /// Whether the catalogue is downloaded once a day.
    pub daily: bool,
    /// Whether a download was requested and is still outstanding.
    pub asked: bool,
    /// When the shop last sent the catalogue or reported it unchanged.
    pub fetched_at: Option<Timestamp>,
    /// The last error.
    pub fault: Option<LocalizedText>,
    /// When the next download is due.
    pub next_at: Option<Timestamp>,
}

impl From<MakerRow> for MakerWithCatalogues {
    fn from(row: MakerRow) -> Self {
        let catalogues = row.catalogues.into_iter().map(|it| CatalogueLine {
            number: it.number,
            issued: it.issued,
            kits: it.kits,
            signature_status: it.signature_status,
            imported_at: it.imported_at,
            in_use: it.in_use,
        });
        Self {
            maker: row.maker,
            pinned: row.pinned.map(|key| key.to_string()),
            catalogues: catalogues.collect(),
        }
    }
}

#[uniffi::export]
impl Book {
    /// Imports a catalogue and makes it the active one. `signature` is the maker's, in hexadecimal or base64.
    /// An issue number lower than the active one's is accepted only with `allow_older`.
    #[uniffi::method(default(signature = None, allow_older = false))]
    pub fn import_catalogue(
        &self,
        bytes: Vec<u8>,
        file: String,
        signature: Option<String>,
        allow_older: bool,
    ) -> Result<CatalogueImported, SteerwrightError> {
        let incoming =
            CatalogueImport { bytes: &bytes, file: &file, signature: signature.as_deref(), allow_older };
        let done = self.change(Op::ImportCatalogue, |work| work.import_catalogue(&incoming))?;
        Ok(CatalogueImported {
            maker: done.output.maker,
            number: done.output.number,
            signature_status: done.output.signature_status,
            is_new: done.output.new,
            english: done.output.text,
            changes: done.changes.into(),
        })
    }

    /// Every maker with its stored catalogues.
    pub fn makers(&self) -> Result<Vec<MakerWithCatalogues>, SteerwrightError> {
        self.read(|reader| Ok(reader.makers()?.into_iter().map(Into::into).collect()))
    }

    /// Requests the shop's catalogue with the next delivery. With `daily` it is requested once a day from then on.
    #[uniffi::method(default(daily = true))]
    pub fn fetch_catalogue(&self, daily: bool) -> Result<Changes, SteerwrightError> {
        Ok(self.change(Op::ChangeSettings, |work| work.fetch_catalogue(daily))?.changes.into())
    }

    /// Stops downloading the shop's catalogue.
    pub fn end_fetching_catalogues(&self) -> Result<Changes, SteerwrightError> {
        Ok(self.change(Op::ChangeSettings, |work| work.end_fetching_catalogues())?.changes.into())
    }

    /// State of the catalogue download; absent if it was never requested.
    pub fn catalogue_fetch(&self) -> Result<Option<CatalogueFetch>, SteerwrightError> {
        self.read(|reader| {
            Ok(reader.catalogue_fetch()?.map(|it| CatalogueFetch {
                daily: it.daily,
                asked: it.asked,
                fetched_at: it.fetched_at,
                fault: it
                    .fault
                    .as_ref()
                    .map(|it| LocalizedText::tagged("order.fault", "what", it, &it.description())),
                next_at: it.next_at,
            }))
        })
    }

    /// Pins the public key for a maker's catalogue signatures (64 hexadecimal digits or base64), or removes the pin.
    pub fn pin_maker(&self, maker: String, key: Option<String>) -> Result<Changes, SteerwrightError> {
        let key = key.map(|text| PublicKey::read(&text)).transpose()?;
        Ok(self.change(Op::PinMaker, |work| work.pin_maker(&maker, key.as_ref()))?.changes.into())
    }
}
