//! Where the bytes of photos lie: a folder, or a bucket that speaks S3.

use bytes::Bytes;
use object_store::aws::AmazonS3Builder;
use object_store::local::LocalFileSystem;
use object_store::path::Path;
use object_store::{ObjectStore, ObjectStoreExt, PutPayload};
use std::sync::Arc;
use url::Url;

/// Why bytes were not kept or found.
#[derive(Debug, thiserror::Error)]
pub enum ShelfError {
    /// An address that is none.
    #[error("not an address for photos: {0}")]
    Address(&'static str),
    /// The folder cannot be made.
    #[error("the folder for photos: {0}")]
    Folder(#[from] std::io::Error),
    /// The store says no.
    #[error("the photo store: {0}")]
    Store(#[from] object_store::Error),
}

/// A place for photos, shared by every process that has the same address.
#[derive(Clone)]
pub struct Shelf {
    store: Arc<dyn ObjectStore>,
    under: Path,
}

impl Shelf {
    /// Opens a folder (a path, made if it is not there) or `s3://bucket/prefix`, whose keys and endpoint come from the
    /// environment as S3's own tools read them (`AWS_ACCESS_KEY_ID`, `AWS_ENDPOINT_URL` and so on).
    ///
    /// # Errors
    /// An address that is none, or a folder that cannot be made.
    pub fn open(address: &str) -> Result<Self, ShelfError> {
        if !address.contains("://") {
            std::fs::create_dir_all(address)?;
            let folder = LocalFileSystem::new_with_prefix(address)?.with_fsync(true);
            return Ok(Self { store: Arc::new(folder), under: Path::default() });
        }
        let url = Url::parse(address).map_err(|_| ShelfError::Address("it is no URL"))?;
        if url.scheme() != "s3" {
            return Err(ShelfError::Address("expected a folder or s3://bucket/prefix"));
        }
        let under = Path::from_url_path(url.path()).map_err(object_store::Error::from)?;
        // One by one, since not every store that speaks S3 deletes many at once.
        let store = AmazonS3Builder::from_env().with_url(address).with_disable_bulk_delete(true).build()?;
        Ok(Self { store: Arc::new(store), under })
    }

    fn at(&self, name: &str) -> Path {
        name.split('/').fold(self.under.clone(), |path, part| path.join(part))
    }

    /// Puts bytes there; one that is there already is replaced in one step.
    ///
    /// # Errors
    /// The store's.
    pub async fn put(&self, name: &str, bytes: Bytes) -> Result<(), ShelfError> {
        self.store.put(&self.at(name), PutPayload::from_bytes(bytes)).await?;
        Ok(())
    }

    /// The bytes, or `None` if they are not there.
    ///
    /// # Errors
    /// The store's.
    pub async fn get(&self, name: &str) -> Result<Option<Bytes>, ShelfError> {
        match self.store.get(&self.at(name)).await {
            Ok(found) => Ok(Some(found.bytes().await?)),
            Err(object_store::Error::NotFound { .. }) => Ok(None),
            Err(error) => Err(error.into()),
        }
    }

    /// Takes bytes away; that they are gone already is no error.
    ///
    /// # Errors
    /// The store's.
    pub async fn delete(&self, name: &str) -> Result<(), ShelfError> {
        match self.store.delete(&self.at(name)).await {
            Ok(()) | Err(object_store::Error::NotFound { .. }) => Ok(()),
            Err(error) => Err(error.into()),
        }
    }
}
