//! What a kit, another fork or another wheel does to a bicycle.

use super::bicycle::{DEEPEST, SHORTEST};
use super::error::{LONGEST, within};
use super::kernel::{self, Settled};
use super::{Bicycle, GeometryError, SideView};
use crate::tilt::Offsets;

/// A change to a bicycle; what is `None` stays as it is. Lengths in mm.
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
    /// How much the fork sinks along its legs; the bike is looked at so both before and after.
    pub front_sag: f64,
    /// How much the rear axle rises into the frame, square to the ground; looked at so both before and after.
    pub rear_sag: f64,
}

/// Every number after a change, what stays included; mm.
#[derive(Debug, Clone, Copy, PartialEq)]
pub(super) struct Resolved {
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
    /// Only the sag of this change: the state in which before and after are compared.
    pub(super) fn sag_only(&self) -> Self {
        Self { front_sag: self.front_sag, rear_sag: self.rear_sag, ..Self::default() }
    }

    /// Whether the bike is looked at under its rider.
    pub(super) fn is_sagged(&self) -> bool {
        self.front_sag != 0.0 || self.rear_sag != 0.0
    }

    #[inline(always)]
    pub(super) fn resolve(&self, b: &Bicycle) -> Resolved {
        let kit = self.kit.unwrap_or(Offsets::NONE);
        Resolved {
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

impl Resolved {
    fn check(&self) -> Result<(), GeometryError> {
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
    /// As it stands now, sagged if the change says so.
    pub before: SideView,
    /// After the change, settled on its wheels.
    pub after: SideView,
    /// How much the steering axis turns in the frame, degrees, slacker positive.
    pub tilt_deg: f64,
    /// How much the frame turns on its wheels because of the change, degrees, nose up positive.
    pub pitch_deg: f64,
}

/// Applies a change to a bicycle and lets it settle on its wheels.
///
/// The head angle on the ground changes by less than the kit's tilt, since a slacker fork also lowers the
/// front: `after.head_angle = before.head_angle - tilt_deg - pitch_deg`.
///
/// # Errors
/// If a number is outside its range, or the frame or the steering axis would turn by more than 30 degrees.
pub fn changed(bicycle: &Bicycle, change: &Change) -> Result<Changed, GeometryError> {
    bicycle.check()?;
    change.resolve(bicycle).check()?;
    let (before, after) = compare(*bicycle, change);
    let sound = [before, after].iter().all(|s| {
        s.pitch.is_finite() && s.tilt.is_finite() && s.view.figures().iter().all(|figure| figure.is_finite())
    });
    if !sound {
        return Err(GeometryError::NoStance);
    }
    Ok(Changed {
        before: before.view,
        after: after.view,
        tilt_deg: after.tilt,
        pitch_deg: after.pitch - before.pitch,
    })
}

/// Before and after without any check: NaN where there is no stance.
#[inline(always)]
pub(super) fn compare(bicycle: Bicycle, change: &Change) -> (Settled, Settled) {
    let standing = kernel::stand(bicycle);
    let after = kernel::settle(bicycle, &standing, change.resolve(&bicycle));
    let before = if change.is_sagged() {
        kernel::settle(bicycle, &standing, change.sag_only().resolve(&bicycle))
    } else {
        Settled { view: standing, tilt: 0.0, pitch: 0.0 }
    };
    (before, after)
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
