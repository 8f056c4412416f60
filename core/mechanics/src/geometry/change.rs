//! The effect of a kit, another fork or another wheel on a bicycle.

use super::bicycle::{DEEPEST, SHORTEST};
use super::error::{LONGEST, within};
use super::stance::{Settled, settle, stand};
use super::{Bicycle, GeometryError, SideView};
use crate::tilt::Offsets;

/// A change to a bicycle; `None` leaves a number unchanged. Lengths in mm.
#[derive(Debug, Clone, Copy, PartialEq, Default)]
pub struct Change {
    /// The bearing planes and offsets of an angle kit, already signed: slackening ones have the upper offset
    /// rearward (negative) of the lower.
    pub kit: Option<Offsets>,
    /// Another fork's length from axle to crown race seat, unsagged.
    pub axle_to_crown: Option<f64>,
    /// Another fork's offset.
    pub fork_offset: Option<f64>,
    /// Another front wheel's or tyre's radius.
    pub front_radius: Option<f64>,
    /// Another rear wheel's or tyre's radius.
    pub rear_radius: Option<f64>,
    /// Another lower stack: from the head tube's lower face to the crown race seat, along the new axis.
    pub lower_stack: Option<f64>,
    /// Compression of the fork along its legs, before and after the change.
    pub front_sag: f64,
    /// Rise of the rear axle towards the frame, normal to the ground, before and after the change.
    pub rear_sag: f64,
}

/// Every number after a change, including the unchanged ones; mm.
#[derive(Debug, Clone, Copy, PartialEq)]
pub(super) struct ResolvedChange {
    pub(super) upper_plane: f64,
    pub(super) lower_plane: f64,
    pub(super) upper: f64,
    pub(super) lower: f64,
    pub(super) axle_to_crown: f64,
    pub(super) fork_offset: f64,
    pub(super) front_radius: f64,
    pub(super) rear_radius: f64,
    pub(super) lower_stack: f64,
    pub(super) rear_sag: f64,
}

impl Change {
    /// The sag of this change alone: the state in which before and after are compared.
    fn sag_only(&self) -> Self {
        Self { front_sag: self.front_sag, rear_sag: self.rear_sag, ..Self::default() }
    }

    fn is_sagged(&self) -> bool {
        self.front_sag != 0.0 || self.rear_sag != 0.0
    }

    pub(super) fn resolve(&self, b: &Bicycle) -> ResolvedChange {
        let kit = self.kit.unwrap_or(Offsets::NONE);
        ResolvedChange {
            upper_plane: kit.upper_plane,
            lower_plane: kit.lower_plane,
            upper: kit.upper,
            lower: kit.lower,
            axle_to_crown: self.axle_to_crown.unwrap_or(b.axle_to_crown) - self.front_sag,
            fork_offset: self.fork_offset.unwrap_or(b.fork_offset),
            front_radius: self.front_radius.unwrap_or(b.front_radius),
            rear_radius: self.rear_radius.unwrap_or(b.rear_radius),
            lower_stack: self.lower_stack.unwrap_or(b.lower_stack),
            rear_sag: self.rear_sag,
        }
    }
}

impl ResolvedChange {
    pub(super) fn check(&self) -> Result<(), GeometryError> {
        within("upper_plane", self.upper_plane, -LONGEST, LONGEST)?;
        within("lower_plane", self.lower_plane, -LONGEST, LONGEST)?;
        within("upper_offset", self.upper, -LONGEST, LONGEST)?;
        within("lower_offset", self.lower, -LONGEST, LONGEST)?;
        within("axle_to_crown", self.axle_to_crown, SHORTEST, LONGEST)?;
        within("fork_offset", self.fork_offset, -LONGEST, LONGEST)?;
        within("front_radius", self.front_radius, SHORTEST, LONGEST)?;
        within("rear_radius", self.rear_radius, SHORTEST, LONGEST)?;
        within("lower_stack", self.lower_stack, DEEPEST, LONGEST)?;
        within("rear_sag", self.rear_sag, -LONGEST, LONGEST)
    }
}

/// A bicycle before and after a change.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct Changed {
    /// Before the change, with its sag.
    pub before: SideView,
    /// After the change, on its wheels.
    pub after: SideView,
    /// The rotation of the steering axis in the frame, degrees, slacker positive.
    pub tilt_deg: f64,
    /// The turn of the frame on its wheels due to the change, degrees, positive where the front rises.
    pub pitch_deg: f64,
}

/// Applies a change to a bicycle and settles it on its wheels.
///
/// `after.head_angle = before.head_angle - tilt_deg - pitch_deg`. A slacker fork lowers the front, so the head angle
/// changes by less than the tilt of the kit.
///
/// # Errors
/// If a number is outside its range, or the frame or the steering axis would turn by more than 30 degrees.
pub fn changed(bicycle: &Bicycle, change: &Change) -> Result<Changed, GeometryError> {
    let standing = stand(bicycle)?;
    let after = settle(bicycle, &standing, &change.resolve(bicycle))?;
    let before = if change.is_sagged() {
        settle(bicycle, &standing, &change.sag_only().resolve(bicycle))?
    } else {
        Settled { view: standing, tilt: 0.0, pitch: 0.0 }
    };
    Ok(Changed {
        before: before.view,
        after: after.view,
        tilt_deg: after.tilt,
        pitch_deg: after.pitch - before.pitch,
    })
}

#[cfg(test)]
mod tests {
    use super::*;

    /// The worked example, computed twice by hand from the formulas: 1.5 degrees between planes 5 mm outside
    /// both faces.
    #[test]
    fn one_and_a_half_degrees_on_a_trail_bike() {
        let bike = Bicycle {
            wheelbase: 1220.0,
            head_angle: 66.0,
            axle_to_crown: 555.0,
            fork_offset: 44.0,
            lower_stack: 12.0,
            head_tube_length: 115.0,
            front_radius: 372.0,
            rear_radius: 372.0,
            chainstay: 435.0,
            bottom_bracket_height: 340.0,
            seat_angle: 76.0,
        };
        let kit = Offsets::for_tilt(1.5, 115.0, 5.0, 5.0).unwrap();
        let change = Change { kit: Some(kit), lower_stack: Some(14.0), ..Change::default() };
        let Changed { before, after, tilt_deg, pitch_deg } = changed(&bike, &change).unwrap();
        let expected = [
            (before.reach, 468.59, 0.005),
            (before.stack, 637.14, 0.005),
            (before.trail, 117.46, 0.005),
            (before.wheel_flop, 43.65, 0.005),
            (after.head_angle, 64.781, 0.0005),
            (after.seat_angle, 76.281, 0.0005),
            (after.bottom_bracket_height, 337.87, 0.005),
            (after.reach, 471.71, 0.005),
            (after.stack, 634.83, 0.005),
            (after.wheelbase, 1235.25, 0.005),
            (after.trail, 126.56, 0.005),
            (after.wheel_flop, 48.79, 0.005),
            (tilt_deg, 1.5, 1e-12),
            (pitch_deg, -0.281, 0.0005),
        ];
        for (i, (value, printed, tolerance)) in expected.into_iter().enumerate() {
            assert!((value - printed).abs() <= tolerance, "{i}: {value} but {printed} is printed");
        }
    }
}
