//! Photo ingest: orientation, facts, privacy, hostile files and the quality of the copies.

mod facts;
mod hostile;
mod made;
mod orientation;
mod privacy;
mod quality;
mod samples;
mod source;
