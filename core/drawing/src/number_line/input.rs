//! Input of the number lines.

use crate::DrawingError;
use crate::error::within;
use serde::{Deserialize, Serialize};
use steerwright_metrology::quantity::Unit;

/// Quantities with the stretch of each in which an answer holds, everything else as it is.
#[derive(Debug, Clone, PartialEq, Serialize, Deserialize)]
pub struct NumberLineInput {
    /// Title of the picture.
    pub title: String,
    /// The answer that holds, in a few words: "fits".
    pub holds: String,
    /// The quantities, the tightest first. One row each; those after the fourth are not drawn.
    pub rows: Vec<NumberLineRow>,
}

/// One quantity.
#[derive(Debug, Clone, PartialEq, Serialize, Deserialize)]
pub struct NumberLineRow {
    /// Its name: "upper bore diameter".
    pub label: String,
    /// The unit of every number of the row.
    pub unit: Unit,
    /// Its value now.
    pub value: f64,
    /// Its standard uncertainty; not negative.
    pub u: f64,
    /// The lower end of the stretch; `None`: it goes on. At least one of the two is needed.
    pub from: Option<StretchEnd>,
    /// The upper end of the stretch; `None`: it goes on.
    pub to: Option<StretchEnd>,
}

/// An end of a stretch.
#[derive(Debug, Clone, PartialEq, Serialize, Deserialize)]
pub struct StretchEnd {
    /// The last value at which the answer holds.
    pub at: f64,
    /// The answer beyond it, in a few words.
    pub beyond: String,
}

/// Magnitude of any number of a row.
const LARGEST: f64 = 1e5;

impl NumberLineInput {
    pub(super) fn check(&self) -> Result<(), DrawingError> {
        if self.rows.is_empty() {
            let why = "there is no quantity in it".to_owned();
            return Err(DrawingError::Contradiction { field: "rows".to_owned(), why });
        }
        self.rows.iter().enumerate().try_for_each(|(index, row)| row.check(&format!("rows[{index}]")))
    }
}

impl NumberLineRow {
    fn check(&self, name: &str) -> Result<(), DrawingError> {
        within(&format!("{name}.value"), self.value, -LARGEST, LARGEST)?;
        within(&format!("{name}.u"), self.u, 0.0, LARGEST)?;
        for (end, of) in [(&self.from, "from"), (&self.to, "to")] {
            if let Some(end) = end {
                within(&format!("{name}.{of}.at"), end.at, -LARGEST, LARGEST)?;
            }
        }
        let contradiction =
            |why: &str| Err(DrawingError::Contradiction { field: name.to_owned(), why: why.to_owned() });
        if self.from.is_none() && self.to.is_none() {
            return contradiction("its stretch has no end");
        }
        let below = self.from.as_ref().is_some_and(|end| end.at > self.value);
        let above = self.to.as_ref().is_some_and(|end| end.at < self.value);
        if below || above {
            return contradiction("the value is outside its stretch");
        }
        Ok(())
    }
}
