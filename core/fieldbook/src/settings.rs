//! The user's own settings.

use super::error::Inner;
use super::stored::JsonText;
use super::{BookError, Work};
use rusqlite::{Connection, OptionalExtension, params};
use steerwright_metrology::quantity::Instruments;

const INSTRUMENTS: &str = "instruments";

pub(crate) fn instruments(conn: &Connection) -> Result<Instruments, Inner> {
    let own = conn
        .prepare_cached("SELECT value FROM settings WHERE name = ?1")?
        .query_row([INSTRUMENTS], |row| row.get(0))
        .optional()?;
    Ok(own.map_or_else(Instruments::default, |JsonText(own)| own))
}

impl Work<'_> {
    /// Replaces the program's table of instruments by the user's own; `None` restores the program's.
    ///
    /// # Errors
    /// A half-width that is not a finite number above 0.
    pub fn set_instruments(&mut self, instruments: Option<&Instruments>) -> Result<(), BookError> {
        self.step(|work| {
            let Some(instruments) = instruments else {
                work.tx().execute("DELETE FROM settings WHERE name = ?1", [INSTRUMENTS])?;
                return Ok(());
            };
            let widths = instruments.0.iter().flat_map(|(tool, reach)| {
                [reach.plus_minus_mm, reach.plus_minus_deg].into_iter().flatten().map(move |it| (tool, it))
            });
            for (tool, width) in widths {
                if !(width.is_finite() && width > 0.0) {
                    let reason = format!("the {tool} has a half-width of {width}; expected a number above 0");
                    return Err(Inner::rule("instrument.half_width", reason).with("tool", tool.name()));
                }
            }
            work.tx()
                .prepare_cached(
                    "INSERT INTO settings (name, value) VALUES (?1, ?2)
                     ON CONFLICT (name) DO UPDATE SET value = excluded.value",
                )?
                .execute(params![INSTRUMENTS, JsonText(instruments)])?;
            Ok(())
        })
    }
}
