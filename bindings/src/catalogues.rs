//! Makers' catalogues.

use crate::{Book, Changes, LocalizedText, SignatureStatus, SteerwrightError};
use steerwright_core::book::{CatalogueImport, MakerRow, Op, PublicKey, Timestamp};

/// What an import did.
#[derive(Debug, Clone, PartialEq, Eq, uniffi::Record)]
pub struct CatalogueImported {
    /// Whose catalogue it is.
    pub maker: String,
    /// Its number.
    pub number: u32,
    /// How it stands to the maker's key.
    pub signature_status: SignatureStatus,
    /// False if the very same file was there already.
    pub is_new: bool,
    /// The same in a sentence or two.
    pub english: String,
    /// Which screens are stale.
    pub changes: Changes,
}

/// A catalogue that is kept.
#[derive(Debug, Clone, PartialEq, Eq, uniffi::Record)]
pub struct CatalogueLine {
    /// Its number.
    pub number: u32,
    /// Date of issue.
    pub issued: String,
    /// How many kits it has.
    pub kits: u32,
    /// How it stands to the maker's key.
    pub signature_status: SignatureStatus,
    /// When it came in.
    pub imported_at: Timestamp,
    /// Whether it is the one that is used.
    pub in_use: bool,
}

/// A maker with the catalogues kept of it.
#[derive(Debug, Clone, PartialEq, Eq, uniffi::Record)]
pub struct MakerLine {
    /// The maker, as its catalogues write it.
    pub maker: String,
    /// The key that was pinned, as text.
    pub pinned: Option<String>,
    /// The catalogues, the highest number first.
    pub catalogues: Vec<CatalogueLine>,
}

/// How fetching the shop's catalogue stands.
#[derive(Debug, Clone, PartialEq, uniffi::Record)]
pub struct CatalogueFetch {
    /// Whether it is fetched once a day.
    pub daily: bool,
    /// Whether it was asked for and has not come yet.
    pub asked: bool,
    /// When the shop last gave it, or said that it has no other.
    pub fetched_at: Option<Timestamp>,
    /// What went wrong last.
    pub fault: Option<LocalizedText>,
    /// When it is due next.
    pub next_at: Option<Timestamp>,
}

impl From<MakerRow> for MakerLine {
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
    /// Imports a catalogue and uses it from now on. `signature` is the maker's, in hexadecimal digits or base64; an older
    /// number than the one in use is only taken if that is asked for.
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

    /// Every maker with the catalogues that are kept.
    pub fn makers(&self) -> Result<Vec<MakerLine>, SteerwrightError> {
        self.read(|reader| Ok(reader.makers()?.into_iter().map(Into::into).collect()))
    }

    /// Asks for the shop's catalogue at the next delivery, and with `daily` once a day from then on.
    #[uniffi::method(default(daily = true))]
    pub fn fetch_catalogue(&self, daily: bool) -> Result<Changes, SteerwrightError> {
        Ok(self.change(Op::ChangeSettings, |work| work.fetch_catalogue(daily))?.changes.into())
    }

    /// Fetches the shop's catalogue no more.
    pub fn end_fetching_catalogues(&self) -> Result<Changes, SteerwrightError> {
        Ok(self.change(Op::ChangeSettings, |work| work.end_fetching_catalogues())?.changes.into())
    }

    /// How fetching the shop's catalogue stands; absent if that was never asked for.
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

    /// Pins the key that a maker's catalogues are signed with from now on (64 hexadecimal digits or base64), or forgets it.
    pub fn pin_maker(&self, maker: String, key: Option<String>) -> Result<Changes, SteerwrightError> {
        let key = key.map(|text| PublicKey::read(&text)).transpose()?;
        Ok(self.change(Op::PinMaker, |work| work.pin_maker(&maker, key.as_ref()))?.changes.into())
    }
}
