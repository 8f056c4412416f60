//! A bike as shapes, and the figures computed from its points.

use super::input::BikePoints;
use crate::world::World;
use crate::{Fill, Role};

/// Half the drawn width of a head tube, mm; its true width is not an input of the side view.
const HALF_TUBE_MM: f64 = 23.0;

type Place = (f64, f64);

fn place([x, y]: [f64; 2]) -> Place {
    (x, y)
}

fn between(from: Place, to: Place, share: f64) -> Place {
    (from.0 + (to.0 - from.0) * share, from.1 + (to.1 - from.1) * share)
}

/// The numbers shown, computed from the points; mm and degrees. `None` without a bottom bracket.
pub(crate) struct Numbers {
    pub(crate) head_angle: f64,
    pub(crate) bottom_bracket_height: Option<f64>,
    pub(crate) reach: Option<f64>,
    pub(crate) stack: Option<f64>,
    pub(crate) wheelbase: f64,
    pub(crate) trail: f64,
}

impl BikePoints {
    /// Intersection of the steering axis with the ground, mm forward of the origin.
    pub(crate) fn axis_on_ground(&self) -> f64 {
        let [x, y] = self.crown;
        x + y / libm::tan(self.head_angle_deg.to_radians())
    }

    /// A point on the steering axis by its distance up from the crown race seat.
    pub(crate) fn on_axis(&self, up: f64) -> Place {
        let [x, y] = self.crown;
        let (sin, cos) = libm::sincos(self.head_angle_deg.to_radians());
        (x - up * cos, y + up * sin)
    }

    /// Distance from the crown race seat up to the level of the head tube's upper face.
    pub(crate) fn to_top(&self) -> f64 {
        let ([_, crown_y], [_, top_y]) = (self.crown, self.head_tube_top);
        (top_y - crown_y) / libm::sin(self.head_angle_deg.to_radians())
    }

    pub(crate) fn numbers(&self) -> Numbers {
        let ([rear_x, _], [front_x, _]) = (self.rear_axle, self.front_axle);
        let [top_x, top_y] = self.head_tube_top;
        Numbers {
            head_angle: self.head_angle_deg,
            bottom_bracket_height: self.bottom_bracket.map(|[_, y]| y),
            reach: self.bottom_bracket.map(|[x, _]| top_x - x),
            stack: self.bottom_bracket.map(|[_, y]| top_y - y),
            wheelbase: front_x - rear_x,
            trail: self.axis_on_ground() - front_x,
        }
    }

    /// Adds the bike: wheels, frame and fork.
    pub(crate) fn shapes(&self, world: &mut World, role: Role) {
        let (rear, front, crown) = (place(self.rear_axle), place(self.front_axle), place(self.crown));
        for axle in [rear, front] {
            world.circle(role, axle, axle.1);
            world.circle(role, axle, 14.0);
        }
        // The legs run parallel to the steering axis, ahead of it by the offset.
        let (sin, cos) = libm::sincos(self.head_angle_deg.to_radians());
        let length = (crown.0 - front.0) * -cos + (crown.1 - front.1) * sin;
        world.chain(role, [front, (front.0 - length * cos, front.1 + length * sin), crown]);
        let (top, bottom) = (place(self.head_tube_top), place(self.head_tube_bottom));
        let tube = libm::hypot(top.0 - bottom.0, top.1 - bottom.1);
        let across = ((top.1 - bottom.1) / tube * HALF_TUBE_MM, (bottom.0 - top.0) / tube * HALF_TUBE_MM);
        let corner = |end: Place, side: f64| (end.0 + side * across.0, end.1 + side * across.1);
        let corners = [corner(top, 1.0), corner(bottom, 1.0), corner(bottom, -1.0), corner(top, -1.0)];
        world.chain(role, corners.iter().chain(corners.first()).copied());
        let Some(bottom_bracket) = self.bottom_bracket.map(place) else { return };
        world.circle(role, bottom_bracket, 20.0);
        world.chain(role, [rear, bottom_bracket]);
        let rear_of = |share: f64| {
            let middle = between(bottom, top, share);
            corner(middle, -1.0)
        };
        world.chain(role, [rear_of(0.2), bottom_bracket]);
        if let Some(angle) = self.seat_angle_deg {
            let (sin, cos) = libm::sincos(angle.to_radians());
            let up = (top.1 - bottom_bracket.1).max(100.0) * 0.8;
            let seat = |share: f64| {
                let length = up * share / sin;
                (bottom_bracket.0 - length * cos, bottom_bracket.1 + length * sin)
            };
            world.chain(role, [bottom_bracket, seat(1.0)]);
            world.chain(role, [rear_of(0.85), seat(0.82)]);
            world.chain(role, [rear, seat(0.78)]);
        }
    }

    /// The steering axis from the ground to well above the head tube.
    pub(crate) fn axis(&self, world: &mut World, role: Role) {
        world.chain(role, [(self.axis_on_ground(), 0.0), self.on_axis(self.to_top() + 170.0)]);
    }
}

/// The ground between two positions.
pub(crate) fn ground(world: &mut World, from: f64, to: f64) {
    world.chain(Role::Ground, [(from, 0.0), (to, 0.0)]);
    world.surface(
        Role::Ground,
        Fill::Hatch { spacing_mm: 1.4, direction_deg: 45.0 },
        [(from, 0.0), (to, 0.0), (to, -28.0), (from, -28.0)],
    );
}
