//! Observations and readings of one seat.

use super::{End, SeatCode};
use serde::{Deserialize, Serialize};
use steerwright_metrology::quantity::{Estimate, Quantity};

/// The appearance of a seat from outside.
#[derive(Debug, Clone, Copy, PartialEq, Eq, Hash, Serialize, Deserialize, schemars::JsonSchema)]
#[serde(rename_all = "snake_case")]
pub enum ObservedSeat {
    /// The bearing sits directly in the frame.
    DropIn,
    /// A thin lip of a cup is on the frame's face.
    ThinLip,
    /// A cup is outside the frame.
    ExternalCup,
    /// It could not be seen.
    NotSeen,
}

impl ObservedSeat {
    /// The informative observations.
    pub const SEEN: [Self; 3] = [Self::DropIn, Self::ThinLip, Self::ExternalCup];
}

/// A dimension that depends on the size of a seat.
#[derive(Debug, Clone, Copy, PartialEq, Eq, PartialOrd, Ord, Hash)]
pub enum SeatDimension {
    /// Outside diameter of the bearing.
    BearingOuter,
    /// Inside diameter of the bearing.
    BearingInner,
    /// Height of the bearing.
    BearingHeight,
    /// Bore of the frame.
    Bore,
    /// Outside diameter of the cup where it is pressed in.
    CupOuter,
}

impl SeatDimension {
    /// Every dimension.
    pub const ALL: [Self; 5] =
        [Self::BearingOuter, Self::BearingInner, Self::BearingHeight, Self::Bore, Self::CupOuter];

    /// The measured quantity at one end.
    pub fn quantity(self, end: End) -> Quantity {
        match (self, end) {
            (Self::BearingOuter, End::Upper) => Quantity::UpperBearingOuterDiameter,
            (Self::BearingOuter, End::Lower) => Quantity::LowerBearingOuterDiameter,
            (Self::BearingInner, End::Upper) => Quantity::UpperBearingInnerDiameter,
            (Self::BearingInner, End::Lower) => Quantity::LowerBearingInnerDiameter,
            (Self::BearingHeight, End::Upper) => Quantity::UpperBearingHeight,
            (Self::BearingHeight, End::Lower) => Quantity::LowerBearingHeight,
            (Self::Bore, End::Upper) => Quantity::UpperBoreDiameter,
            (Self::Bore, End::Lower) => Quantity::LowerBoreDiameter,
            (Self::CupOuter, End::Upper) => Quantity::UpperCupOuterDiameter,
            (Self::CupOuter, End::Lower) => Quantity::LowerCupOuterDiameter,
        }
    }

    /// The end and dimension of a quantity; `None` if it does not depend on the size of a seat.
    pub fn of(quantity: Quantity) -> Option<(End, Self)> {
        End::BOTH
            .into_iter()
            .flat_map(|end| Self::ALL.into_iter().map(move |dimension| (end, dimension)))
            .find(|(end, dimension)| dimension.quantity(*end) == quantity)
    }
}

/// The evidence on one seat. A reading that is not finite, or has a negative u, counts as absent.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct SeatEvidence {
    /// The end of the head tube.
    pub end: End,
    /// The code of the half of a kit that sits in it, as it was fitted.
    pub fitted: Option<SeatCode>,
    /// Its appearance.
    pub observed: Option<ObservedSeat>,
    /// Whether the fork was removed for the observation; unknown counts as installed.
    pub fork_out: Option<bool>,
    /// Bearing outside diameter, mm.
    pub bearing_outer: Option<Estimate>,
    /// Bearing inside diameter, mm.
    pub bearing_inner: Option<Estimate>,
    /// Bearing height, mm.
    pub bearing_height: Option<Estimate>,
    /// Frame bore, mm.
    pub bore: Option<Estimate>,
    /// Cup outside diameter, mm.
    pub cup_outer: Option<Estimate>,
}

impl SeatEvidence {
    /// No evidence.
    pub const fn none(end: End) -> Self {
        Self {
            end,
            fitted: None,
            observed: None,
            fork_out: None,
            bearing_outer: None,
            bearing_inner: None,
            bearing_height: None,
            bore: None,
            cup_outer: None,
        }
    }

    /// The reading of one dimension, if it is sound.
    pub fn reading(&self, dimension: SeatDimension) -> Option<Estimate> {
        match dimension {
            SeatDimension::BearingOuter => self.bearing_outer,
            SeatDimension::BearingInner => self.bearing_inner,
            SeatDimension::BearingHeight => self.bearing_height,
            SeatDimension::Bore => self.bore,
            SeatDimension::CupOuter => self.cup_outer,
        }
        .filter(|estimate| estimate.is_sound())
    }

    /// Adds a reading, or replaces the one of that dimension.
    #[must_use]
    pub fn with(mut self, dimension: SeatDimension, reading: Estimate) -> Self {
        *self.place(dimension) = Some(reading);
        self
    }

    /// Removes the reading of one dimension.
    #[must_use]
    pub fn without(mut self, dimension: SeatDimension) -> Self {
        *self.place(dimension) = None;
        self
    }

    fn place(&mut self, dimension: SeatDimension) -> &mut Option<Estimate> {
        match dimension {
            SeatDimension::BearingOuter => &mut self.bearing_outer,
            SeatDimension::BearingInner => &mut self.bearing_inner,
            SeatDimension::BearingHeight => &mut self.bearing_height,
            SeatDimension::Bore => &mut self.bore,
            SeatDimension::CupOuter => &mut self.cup_outer,
        }
    }

    /// Adds an observation of the seat.
    #[must_use]
    pub fn looked(mut self, seen: ObservedSeat, fork_out: bool) -> Self {
        self.observed = Some(seen);
        self.fork_out = Some(fork_out);
        self
    }
}
