//! The object store for photos: a folder or an S3 bucket.

use bytes::Bytes;
use futures_util::{Stream, TryStreamExt};
use object_store::aws::AmazonS3Builder;
use object_store::local::LocalFileSystem;
use object_store::path::Path;
use object_store::{ObjectStore, ObjectStoreExt, PutPayload};
use std::sync::Arc;
use steerwright_metrology::timestamp::Timestamp;
use url::Url;

/// Why an operation on the photo store failed.
#[derive(Debug, thiserror::Error)]
pub enum PhotoStoreError {
    /// An invalid address.
    #[error("not an address for photos: {0}")]
    Address(&'static str),
    /// The folder cannot be created.
    #[error("the folder for photos: {0}")]
    Folder(#[from] std::io::Error),
    /// An error of the store.
    #[error("the photo store: {0}")]
    Store(#[from] object_store::Error),
}

/// An object store by key, shared by every process with the same address.
#[derive(Clone)]
pub struct PhotoStore {
    store: Arc<dyn ObjectStore>,
    prefix: Path,
    /// Where the objects are, if in a folder.
    folder: Option<Arc<std::path::Path>>,
}

impl PhotoStore {
    /// Opens a folder, which is created if missing, or `s3://bucket/prefix`. Credentials and endpoint of a
    /// bucket come from the usual environment variables (`AWS_ACCESS_KEY_ID`, `AWS_ENDPOINT_URL` and so on).
    ///
    /// # Errors
    /// An invalid address, or a folder that cannot be created.
    pub fn open(address: &str) -> Result<Self, PhotoStoreError> {
        if !address.contains("://") {
            std::fs::create_dir_all(address)?;
            let folder = LocalFileSystem::new_with_prefix(address)?.with_fsync(true);
            return Ok(Self {
                store: Arc::new(folder),
                prefix: Path::default(),
                folder: Some(Arc::from(std::path::Path::new(address))),
            });
        }
        let url = Url::parse(address).map_err(|_| PhotoStoreError::Address("it is no URL"))?;
        if url.scheme() != "s3" {
            return Err(PhotoStoreError::Address("expected a folder or s3://bucket/prefix"));
        }
        let prefix = Path::from_url_path(url.path()).map_err(object_store::Error::from)?;
        // Not every S3-compatible store supports bulk deletion.
        let store = AmazonS3Builder::from_env().with_url(address).with_disable_bulk_delete(true).build()?;
        Ok(Self { store: Arc::new(store), prefix, folder: None })
    }

    /// Free space for photos in a folder, bytes; `None` in a bucket.
    pub fn free_bytes(&self) -> Option<u64> {
        let disk = rustix::fs::statvfs(self.folder.as_deref()?).ok()?;
        Some(disk.f_bavail.saturating_mul(disk.f_frsize))
    }

    fn path(&self, key: &str) -> Path {
        key.split('/').fold(self.prefix.clone(), |path, part| path.join(part))
    }

    /// Stores an object; an existing object with the same key is replaced atomically.
    ///
    /// # Errors
    /// [`PhotoStoreError::Store`].
    pub async fn put(&self, key: &str, bytes: Bytes) -> Result<(), PhotoStoreError> {
        self.store.put(&self.path(key), PutPayload::from_bytes(bytes)).await?;
        Ok(())
    }

    /// The bytes of an object, or `None` if it does not exist.
    ///
    /// # Errors
    /// [`PhotoStoreError::Store`].
    pub async fn get(&self, key: &str) -> Result<Option<Bytes>, PhotoStoreError> {
        match self.store.get(&self.path(key)).await {
            Ok(found) => Ok(Some(found.bytes().await?)),
            Err(object_store::Error::NotFound { .. }) => Ok(None),
            Err(error) => Err(error.into()),
        }
    }

    /// All objects: their keys, and when they were stored.
    pub fn list(&self) -> impl Stream<Item = Result<(String, Timestamp), PhotoStoreError>> + Unpin + use<'_> {
        let prefix = (!self.prefix.as_ref().is_empty()).then_some(&self.prefix);
        let objects = self.store.list(prefix).map_ok(|object| {
            let path = object.location.as_ref();
            let key = path.strip_prefix(self.prefix.as_ref()).unwrap_or(path).trim_start_matches('/');
            (key.to_owned(), Timestamp(object.last_modified.timestamp_millis()))
        });
        objects.map_err(PhotoStoreError::from)
    }

    /// Deletes an object. A missing object is not an error.
    ///
    /// # Errors
    /// [`PhotoStoreError::Store`].
    pub async fn delete(&self, key: &str) -> Result<(), PhotoStoreError> {
        match self.store.delete(&self.path(key)).await {
            Ok(()) | Err(object_store::Error::NotFound { .. }) => Ok(()),
            Err(error) => Err(error.into()),
        }
    }
}
