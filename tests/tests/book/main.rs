//! The field book: what it keeps, lists, gives away and takes in, and what becomes of it when it is old or damaged.

mod backups;
mod bikes;
mod bundle;
mod catalogues;
mod csv;
mod damage;
mod list;
mod photos;
mod recovery;
mod undo;
