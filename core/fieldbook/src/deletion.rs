//! Deleting bikes, and emptying the trash.
//!
//! Deleting takes a bike's rows out of their tables. The undo journal has them, so it is the trash: the bike comes back
//! by undoing, until a hundred later actions push it out of the journal or the trash is emptied.

use super::error::Inner;
use super::transact::Op;
use super::{BikeId, BookError, FieldBook, Reader, Screen, Work, bikes, journal};
use rusqlite::{Connection, params};

/// Deletes a bike with its log, checks and photos. Order requests for it stay, without the bike.
fn delete(work: &mut Work<'_>, id: BikeId) -> Result<(), Inner> {
    let key = bikes::key_of(work.tx(), id)?;
    // Rows go table by table, and a reference may dangle until all are gone.
    work.tx().pragma_update(None, "defer_foreign_keys", true)?;
    let action = journal::current(work.tx())?;
    journal::unlink_orders(work.tx(), action, "?1", &[&key], journal::Unlink::All)?;
    work.touch(Screen::Orders);
    // A photo that readings of another bike were taken from belongs to no bike from then on.
    work.tx().execute(
        "UPDATE photos SET bike = NULL WHERE bike = ?1
             AND EXISTS (SELECT 1 FROM measurements m WHERE m.photo = photos.key AND m.bike <> ?1)",
        [key],
    )?;
    for sql in [
        "DELETE FROM measurements WHERE bike = ?1",
        "DELETE FROM photo_marks WHERE photo IN (SELECT key FROM photos WHERE bike = ?1)",
        "DELETE FROM photos WHERE bike = ?1",
        "DELETE FROM checks WHERE bike = ?1",
        "DELETE FROM bike_tags WHERE bike = ?1",
        "DELETE FROM bikes WHERE key = ?1",
    ] {
        work.tx().execute(sql, [key])?;
    }
    Ok(())
}

/// The names of the bikes in the trash, the latest first.
fn trash(conn: &Connection) -> Result<Vec<String>, Inner> {
    let mut rows = conn.prepare(
        "SELECT b.name FROM actions AS a CROSS JOIN undo_bikes AS b ON b.action = a.key
         WHERE a.made = '' AND a.op = ?1 AND a.state = 'done' ORDER BY a.key DESC, b.key",
    )?;
    let rows = rows.query_map([Op::DeleteBike.name()], |row| row.get(0))?;
    Ok(rows.collect::<Result<_, _>>()?)
}

/// Empties the undo journal: an older action may hold a row of a deleted bike as well.
fn purge(work: &mut Work<'_>) -> Result<usize, Inner> {
    let gone = trash(work.tx())?.len();
    let current = journal::current(work.tx())?;
    for table in journal::UNDOABLE {
        work.tx().execute(&format!("DELETE FROM undo_{table}"), params![])?;
    }
    work.tx().execute("DELETE FROM actions WHERE key <> ?1", [current])?;
    work.tx().execute("DELETE FROM photo_drafts WHERE photo NOT IN (SELECT id FROM photos)", [])?;
    work.rewrite_after()?;
    Ok(gone)
}

impl Work<'_> {
    /// Deletes a bike with its log, its checks and its photos; undoing brings all of it back. Order requests for it stay.
    /// A bundle that holds the bike brings it back as well.
    ///
    /// # Errors
    /// No such bike.
    pub fn delete_bike(&mut self, id: BikeId) -> Result<(), BookError> {
        self.step(|work| delete(work, id))
    }
}

impl FieldBook {
    /// Empties the trash: nothing that was done so far can be undone afterwards, and what was deleted is neither in the
    /// file nor in a backup. Returns how many deleted bikes are gone for good, and whether no trace is left: while another
    /// program reads the book, the file cannot be rewritten, and a later call does it.
    ///
    /// # Errors
    /// Those of writing.
    pub fn purge_deleted(&mut self) -> Result<(usize, bool), BookError> {
        let gone = self.transact(Op::DeleteBike, |work| work.step(purge))?.output;
        let clean = self.finish_erasing()?;
        self.sweep_photos()?;
        Ok((gone, clean))
    }
}

impl Reader {
    /// The names of the bikes in the trash, the latest deleted first.
    ///
    /// # Errors
    /// Only those of reading.
    pub fn deleted_bikes(&self) -> Result<Vec<String>, BookError> {
        self.read(trash)
    }
}
