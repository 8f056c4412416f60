//! Merging a bundle into a book.
//!
//! Rows are the union by id. What is new is taken. A row that is struck out or removed on either side, and fields of a bike
//! that the other side wrote later, are changes to what is here: each is listed and taken only if the user accepts its
//! kind. Where all are accepted every rule is symmetric, so two books that exchange bundles end with the same content.
//!
//! The times of a row that both sides have are those of the book that reads: a clock that ran ahead is no conflict.

use super::change::{BundleAcceptance, BundleChange, BundleChangeKind, Changes};
use super::future::Future;
use super::merge_bike::{add_bike, bike_key, merge_bike};
use super::merge_rows::{Of, merge_check, merge_photo, merge_row, one_kit};
use super::record::BundleBike;
use super::{Bundle, BundleProblem};
use crate::error::Inner;
use crate::{BookError, FieldBook, NoProgress, Op, Outcome, Progress, Work, bikes, files, log};
use serde::Serialize;
use std::fs::File;
use std::io::{BufReader, Read, Seek};
use std::path::Path;
use steerwright_fit::bike::Bike;

/// The result of merging a bundle, or what merging it would do.
#[derive(Debug, Clone, PartialEq, Default, Serialize)]
pub struct BundleMerged {
    /// Bikes that were not in the book.
    pub bikes_added: usize,
    /// Bikes that were in the book already.
    pub bikes_known: usize,
    /// Measurements that were not in the book.
    pub measurements_added: usize,
    /// Measurements that were in the book already.
    pub measurements_known: usize,
    /// Checks that were not in the book.
    pub checks_added: usize,
    /// Photos that were not in the book.
    pub photos_added: usize,
    /// Names of the people whose rows are new, by the bundle's own account.
    pub people: Vec<String>,
    /// What it takes away or writes over, and whether that is taken.
    pub changes: Vec<BundleChange>,
    /// How many more such changes there are than are listed.
    pub more_changes: usize,
    /// Times that were in the future and were set to now.
    pub future_times: usize,
}

impl BundleMerged {
    /// The changes of a kind that were not taken.
    pub fn left(&self, kind: BundleChangeKind) -> impl Iterator<Item = &BundleChange> {
        self.changes.iter().filter(move |change| change.kind == kind && !change.taken)
    }
}

/// What merging a bundle would do, with nothing of it done.
#[derive(Debug, Clone, PartialEq, Serialize)]
pub struct BundlePreview {
    /// When the bundle was made, by its own account.
    pub made_at: String,
    /// Version of the program that made it, by its own account.
    pub made_by: String,
    /// The names of its bikes.
    pub bikes: Vec<String>,
    /// What merging would do with this acceptance.
    #[serde(flatten)]
    pub merged: BundleMerged,
}

impl From<BundleProblem> for Inner {
    fn from(problem: BundleProblem) -> Self {
        Self::Caller(BookError::Bundle(problem))
    }
}

/// One merge under way.
pub(super) struct Merge {
    told: BundleMerged,
    pub(super) changes: Changes,
    future: Future,
}

/// The log and the checks of a bike.
fn merge_history<R: Read + Seek>(
    work: &Work<'_>,
    merge: &mut Merge,
    bundle: &mut Bundle<R>,
    bike: &Of,
    it: &BundleBike,
) -> Result<(), Inner> {
    for id in &it.checks {
        if let Some(mut check) = bundle.kept_check(*id)? {
            merge.future.check(&mut check);
            merge.told.checks_added += usize::from(merge_check(work, merge, bike, check)?);
        }
    }
    one_kit(work, bike.key)?;
    let here = log::of_bike(work.tx(), bike.key, None)?;
    let mut added = 0;
    for row in &it.log {
        let new = merge_row(work, merge, bike, row, &here)?;
        added += usize::from(new);
        merge.told.measurements_known += usize::from(!new);
    }
    merge.told.measurements_added += added;
    if here.len() + added > Bike::MOST_MEASURED {
        let most = Bike::MOST_MEASURED;
        let reason = format!("the log of {} would have more than {most} rows", it.bike.name);
        return Err(Inner::rule("bundle.log_full", reason)
            .with("bike", it.bike.name.as_str())
            .with("most", most));
    }
    Ok(())
}

fn merge<R: Read + Seek>(
    work: &Work<'_>,
    bundle: &mut Bundle<R>,
    accept: BundleAcceptance,
) -> Result<BundleMerged, Inner> {
    let mut merge = Merge {
        told: BundleMerged::default(),
        changes: Changes::new(accept),
        future: Future::new(work.now()),
    };
    // A log refers to photos of any bike of the bundle, so all bikes and photos come before the logs. Each bike is read
    // twice instead of keeping all of them.
    let mut all = Vec::new();
    for at in 0..bundle.bike_count() {
        let Some(mut it) = bundle.bike(at)? else { continue };
        let ahead = merge.future.bike(&mut it);
        merge.future.photos(&mut it.photos);
        let known = bike_key(work.tx(), it.id)?.is_some();
        let key = if known { merge_bike(work, &mut merge, &it, ahead)? } else { add_bike(work, &it)? };
        merge.told.bikes_known += usize::from(known);
        merge.told.bikes_added += usize::from(!known);
        for photo in &it.photos {
            merge.told.photos_added += usize::from(merge_photo(work, &mut merge, photo)?);
        }
        all.push((key, known));
    }
    let mut loose = bundle.loose()?;
    merge.future.photos(&mut loose);
    for photo in &loose {
        merge.told.photos_added += usize::from(merge_photo(work, &mut merge, photo)?);
    }
    for (at, (key, known)) in all.into_iter().enumerate() {
        let Some(mut it) = bundle.bike(at)? else { continue };
        merge.future.log(&mut it);
        let name = bikes::record(work.tx(), it.id)?.1.bike.name;
        let of = Of { key, id: it.id, name, known };
        merge_history(work, &mut merge, bundle, &of, &it)?;
    }
    let Merge { mut told, changes, future } = merge;
    told.people = changes.people.into_iter().collect();
    (told.changes, told.more_changes, told.future_times) = (changes.listed, changes.more, future.found);
    Ok(told)
}

impl FieldBook {
    /// Merges a checked bundle as one step to undo. What it would take away or write over is taken only as far as `accept`
    /// says; the result lists it either way. The files of its photos are synced to the disk before the rows that refer to
    /// them are written.
    ///
    /// # Errors
    /// A row that exists already with other data, a log that would become too long, and those of writing. Nothing is
    /// written then.
    pub fn merge<R: Read + Seek>(
        &mut self,
        mut bundle: Bundle<R>,
        accept: BundleAcceptance,
    ) -> Result<Outcome<BundleMerged>, BookError> {
        self.transact(Op::Import, |work| {
            work.step(|work| work.back_up_before_import(bundle.rows()))?;
            for hash in bundle.files() {
                let bytes = bundle.file(&hash).map_err(BookError::Bundle)?;
                work.step(|work| work.put(&hash, &bytes))?;
            }
            work.step(|work| merge(work, &mut bundle, accept))
        })
    }

    /// What [`FieldBook::merge`] would do with a checked bundle. Nothing is written: the merge is made and rolled back.
    ///
    /// # Errors
    /// Those of [`FieldBook::merge`].
    pub fn preview<R: Read + Seek>(
        &mut self,
        bundle: &mut Bundle<R>,
        accept: BundleAcceptance,
    ) -> Result<BundlePreview, BookError> {
        let mut told = None;
        let rolled_back = self.transact(Op::Import, |work| {
            told = Some(work.step(|work| merge(work, bundle, accept))?);
            Err::<(), _>(BookError::Cancelled)
        });
        match (told, rolled_back) {
            (Some(merged), _) => Ok(BundlePreview {
                made_at: bundle.manifest().made_at.clone(),
                made_by: bundle.manifest().made_by.clone(),
                bikes: bundle.bikes().map(str::to_owned).collect(),
                merged,
            }),
            (None, Err(error)) => Err(error),
            (None, Ok(_)) => Err(BookError::Cancelled),
        }
    }

    /// Reads the bundle at `path` and merges it: [`Bundle::open`], then [`FieldBook::merge`].
    ///
    /// # Errors
    /// Theirs.
    pub fn read_bundle(
        &mut self,
        path: &Path,
        accept: BundleAcceptance,
    ) -> Result<Outcome<BundleMerged>, BookError> {
        self.merge(Bundle::open(path, &mut NoProgress)?, accept)
    }
}

impl Bundle<BufReader<File>> {
    /// Opens the bundle at `path` and checks it: [`Bundle::check_with_progress`].
    ///
    /// # Errors
    /// Its own, and those of opening the file. What is no plain file, such as a pipe, is refused without opening it.
    pub fn open(path: &Path, progress: &mut dyn Progress) -> Result<Self, BookError> {
        let opening = || format!("opening {}", path.display());
        let file = files::open_plain(path).map_err(Inner::io(opening()))?;
        let Some(file) = file else {
            let why = "it is no plain file".to_owned();
            return Err(BookError::Bundle(BundleProblem::NotABundle { why }));
        };
        Bundle::check_with_progress(BufReader::new(file), progress)
    }
}
