//! The field book: storage, list, export and import, migration and recovery.

mod backups;
mod bikes;
mod bundle;
mod catalogues;
mod csv;
mod damage;
mod fitted;
mod list;
mod photos;
mod private;
mod promises;
mod recovery;
mod undo;
