//! Handling figures of a bike before and after a change.

use crate::{Amount, Book, Figure, LocalizedText, NamedDrawing, Quantity, SteerwrightError, Theme};
use steerwright_core::book::BikeId;
use steerwright_core::quantity::Estimate;
use steerwright_core::report::{Handling, Modification, handling, side_view_picture};

/// Changes to the bike: lengths in mm, angles in degrees, slacker positive. Without any entry, the bike in
/// its current state.
#[derive(Debug, Clone, PartialEq, Default, uniffi::Record)]
pub struct HandlingChange {
    /// Tilt of the steering axis, degrees.
    #[uniffi(default = None)]
    pub tilt_deg: Option<f64>,
    /// A figure to reach; the tilt is solved for it and replaces `tilt_deg`.
    #[uniffi(default = None)]
    pub target: Option<WantedFigure>,
    /// Axle-to-crown length of another fork.
    #[uniffi(default = None)]
    pub axle_to_crown: Option<f64>,
    /// Offset of another fork.
    #[uniffi(default = None)]
    pub fork_offset: Option<f64>,
    /// Outside diameter of another front tyre.
    #[uniffi(default = None)]
    pub front_tyre: Option<f64>,
    /// Outside diameter of another rear tyre.
    #[uniffi(default = None)]
    pub rear_tyre: Option<f64>,
    /// Another lower stack height.
    #[uniffi(default = None)]
    pub lower_stack: Option<f64>,
    /// Whether the rider is on the bike, as far as the bike's own sag was measured.
    #[uniffi(default = false)]
    pub sag: bool,
}

/// Target value of a figure.
#[derive(Debug, Clone, Copy, PartialEq, uniffi::Record)]
pub struct WantedFigure {
    /// The figure.
    pub figure: Figure,
    /// Target value, mm or degrees.
    pub value: f64,
}

/// One figure before and after the change.
#[derive(Debug, Clone, PartialEq, uniffi::Record)]
pub struct FigureView {
    /// The figure.
    pub figure: Figure,
    /// Value in the current state.
    pub before: Option<Amount>,
    /// Value with the change.
    pub after: Option<Amount>,
    /// `after - before`; errors common to both cancel.
    pub change: Option<Amount>,
    /// Measurements that together would determine it, if it is unknown.
    pub needs: Vec<Quantity>,
}

/// Handling figures of a bike; `json` is the complete report.
#[derive(Debug, Clone, PartialEq, uniffi::Record)]
pub struct HandlingView {
    /// Every figure.
    pub figures: Vec<FigureView>,
    /// Rotation of the steering axis in the frame, slacker positive.
    pub tilt: Option<Amount>,
    /// How much the frame turns on its wheels, positive where the front rises.
    pub pitch: Option<Amount>,
    /// Quantities that were not measured and for which usual values stand in the changed figures.
    pub assumed: Vec<Quantity>,
    /// Errors and inconsistencies in the measurements.
    pub readings: Vec<LocalizedText>,
    /// Additional advice.
    pub notes: Vec<LocalizedText>,
    /// Side view of the bike, if every required number is known.
    pub side_view: Option<NamedDrawing>,
    /// The complete report (`steerwright.handling/1`).
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
            assumed: it.assumed.clone(),
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
    /// Handling figures before and after a tentative change. Nothing is written to the book.
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
