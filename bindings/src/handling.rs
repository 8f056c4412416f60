//! How a bike steers, before and after a change.

use crate::{Amount, Book, Figure, LocalizedText, NamedDrawing, Quantity, SteerwrightError, Theme};
use steerwright_core::book::BikeId;
use steerwright_core::quantity::Estimate;
use steerwright_core::report::{Handling, Modification, handling, side_view_picture};

/// What is done to the bike; lengths in mm, degrees slacker positive. With nothing in it the bike as it stands.
#[derive(Debug, Clone, PartialEq, Default, uniffi::Record)]
pub struct HandlingChange {
    /// A plain tilt of the steering axis, degrees.
    #[uniffi(default = None)]
    pub tilt_deg: Option<f64>,
    /// Whatever tilt gives a figure a value, in place of `tilt_deg`.
    #[uniffi(default = None)]
    pub target: Option<WantedFigure>,
    /// Another fork's length.
    #[uniffi(default = None)]
    pub axle_to_crown: Option<f64>,
    /// Another fork's offset.
    #[uniffi(default = None)]
    pub fork_offset: Option<f64>,
    /// Another front tyre's outside diameter.
    #[uniffi(default = None)]
    pub front_tyre: Option<f64>,
    /// Another rear tyre's outside diameter.
    #[uniffi(default = None)]
    pub rear_tyre: Option<f64>,
    /// Another lower stack.
    #[uniffi(default = None)]
    pub lower_stack: Option<f64>,
    /// With the rider on, as far as the bike's own sag was measured.
    #[uniffi(default = false)]
    pub sag: bool,
}

/// A figure that is wanted.
#[derive(Debug, Clone, Copy, PartialEq, uniffi::Record)]
pub struct WantedFigure {
    /// Which.
    pub figure: Figure,
    /// Its value, mm or degrees.
    pub value: f64,
}

/// One figure before and after.
#[derive(Debug, Clone, PartialEq, uniffi::Record)]
pub struct FigureView {
    /// Which.
    pub figure: Figure,
    /// As the bike stands.
    pub before: Option<Amount>,
    /// With the change.
    pub after: Option<Amount>,
    /// After less before; errors that both share cancel.
    pub change: Option<Amount>,
    /// Readings that together would give it, where it is not known.
    pub needs: Vec<Quantity>,
}

/// How a bike steers; `json` has all of it.
#[derive(Debug, Clone, PartialEq, uniffi::Record)]
pub struct HandlingView {
    /// Every figure.
    pub figures: Vec<FigureView>,
    /// How much the steering axis turns in the frame, slacker positive.
    pub tilt: Option<Amount>,
    /// How much the frame turns on its wheels, positive where the front rises.
    pub pitch: Option<Amount>,
    /// What is wrong or odd in the readings themselves.
    pub readings: Vec<LocalizedText>,
    /// What an adviser would add.
    pub notes: Vec<LocalizedText>,
    /// The bike from the side, where every number for it is known.
    pub side_view: Option<NamedDrawing>,
    /// All of it (`steerwright.handling/1`).
    pub json: String,
}

impl From<HandlingChange> for Modification {
    fn from(change: HandlingChange) -> Self {
        Self {
            tilt_deg: change.tilt_deg,
            target: change.target.map(|it| (it.figure, it.value)),
            kit: None,
            axle_to_crown: change.axle_to_crown,
            fork_offset: change.fork_offset,
            front_tyre: change.front_tyre.map(Estimate::exact),
            rear_tyre: change.rear_tyre.map(Estimate::exact),
            lower_stack: change.lower_stack,
            sag: change.sag,
        }
    }
}

impl HandlingView {
    pub(crate) fn new(it: &Handling, theme: Theme) -> Result<Self, SteerwrightError> {
        let figure = |figure: Figure| FigureView {
            figure,
            before: it.before.get(&figure).copied().map(Amount::from),
            after: it.after.get(&figure).copied().map(Amount::from),
            change: it.change.get(&figure).copied().map(Amount::from),
            needs: it
                .missing
                .iter()
                .find(|missing| missing.result == figure)
                .map(|missing| missing.needs.clone())
                .unwrap_or_default(),
        };
        Ok(Self {
            figures: Figure::ALL.into_iter().map(figure).collect(),
            tilt: it.tilt_deg.map(Amount::deg),
            pitch: it.pitch_deg.map(Amount::deg),
            readings: it.readings.iter().cloned().map(Into::into).collect(),
            notes: it.notes.iter().cloned().map(Into::into).collect(),
            side_view: side_view_picture(it)
                .map(|drawing| NamedDrawing::new("side-view".to_owned(), drawing, theme)),
            json: serde_json::to_string(it).map_err(SteerwrightError::internal)?,
        })
    }
}

#[uniffi::export]
impl Book {
    /// How a bike steers before and after a change that is tried out; nothing is written.
    pub fn handling(
        &self,
        bike: BikeId,
        change: HandlingChange,
        theme: Theme,
    ) -> Result<HandlingView, SteerwrightError> {
        self.read(|reader| {
            let instruments = reader.instruments()?;
            let bike = reader.bike_screen(bike)?.record.bike;
            HandlingView::new(&handling(&bike, &instruments, &change.into())?, theme)
        })
    }
}
