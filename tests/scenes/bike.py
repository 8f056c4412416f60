"""A synthetic bike in space, and the projection of its parts into a picture.

World: X forward, Y up, Z towards the camera, mm; the bike's plane is Z = 0 and it stands on Y = 0. The bike heads
right, as seen from its drive side. Everything is derived from the geometry itself and shares no code with the program.
"""

import dataclasses

import numpy as np


def unit(v):
    v = np.asarray(v, float)
    return v / np.linalg.norm(v)


def about(axis, degrees):
    """Rotation matrix about an axis (Rodrigues)."""
    x, y, z = unit(axis)
    k = np.array([[0, -z, y], [z, 0, -x], [-y, x, 0]])
    t = np.radians(degrees)
    return np.eye(3) + np.sin(t) * k + (1 - np.cos(t)) * k @ k


@dataclasses.dataclass
class Bike:
    head_angle: float
    seat_angle: float
    wheelbase: float
    front_radius: float
    rear_radius: float
    front_width: float
    rear_width: float
    axle_to_crown: float
    fork_offset: float
    lower_stack: float
    head_tube: float
    bottom_bracket_height: float
    chainstay: float
    # Distance of the stanchions from the plane, and their radius.
    leg: float
    leg_radius: float
    # Turn of the front wheel about the steering axis, degrees.
    turn: float
    # Distance of the crank's end from the plane.
    crank: float

    def __post_init__(self):
        h = np.radians(self.head_angle)
        self.up = np.array([-np.cos(h), np.sin(h), 0.0])
        self.ahead = np.array([np.sin(h), np.cos(h), 0.0])
        self.rear = np.array([0.0, self.rear_radius, 0.0])
        front = np.array([self.wheelbase, self.front_radius, 0.0])
        self.crown = front + self.axle_to_crown * self.up - self.fork_offset * self.ahead
        self.bottom = self.crown + self.lower_stack * self.up
        self.top = self.bottom + self.head_tube * self.up
        drop = self.bottom_bracket_height - self.rear_radius
        self.bb = np.array([np.sqrt(self.chainstay**2 - drop**2), self.bottom_bracket_height, 0.0])
        s = np.radians(self.seat_angle)
        self.seat = np.array([-np.cos(s), np.sin(s), 0.0])
        # Rotating the fork moves the front wheel too.
        self.steer = about(self.up, self.turn)
        self.straight_front = front
        self.front = self.turned(front)
        self.front_normal = self.steer @ np.array([0.0, 0.0, 1.0])

    def turned(self, point):
        return self.crown + self.steer @ (np.asarray(point) - self.crown)

    def on_leg(self, below, side=1.0, sideways=0.0):
        """A point of a stanchion's centre line at a distance below the crown; sideways is along `ahead`."""
        lead = 0.55 * self.fork_offset
        point = self.crown - below * self.up + (lead + sideways) * self.ahead
        return self.turned(point + np.array([0.0, 0.0, side * self.leg]))

    def truth(self):
        return dict(
            head_angle=self.head_angle,
            seat_angle=self.seat_angle,
            wheelbase=self.wheelbase,
            chainstay_length=self.chainstay,
            bottom_bracket_height=self.bottom_bracket_height,
            front_centre=float(np.linalg.norm(self.straight_front - self.bb)),
            axle_to_crown=self.axle_to_crown,
            head_tube_length=self.head_tube,
            reach=float(self.top[0] - self.bb[0]),
            stack=float(self.top[1] - self.bb[1]),
            front_tyre_diameter=2 * self.front_radius,
            rear_tyre_diameter=2 * self.rear_radius,
        )

    def wheels(self):
        """Name, centre, normal, radius, width."""
        return [
            ("front", self.front, self.front_normal, self.front_radius, self.front_width),
            ("rear", self.rear, np.array([0.0, 0.0, 1.0]), self.rear_radius, self.rear_width),
        ]


def around(normal):
    """Two directions perpendicular to a normal and to each other."""
    e1 = unit(np.cross([0.0, 1.0, 0.0], normal))
    return e1, np.cross(normal, e1)


def outline(centre, normal, radius, width, eye, angles):
    """Points of a tyre's outer apparent edge: a ring whose surface there is tangent to the line of sight.

    The ring is a circle of radius radius - width/2 with a section of radius width/2. At the angle t around it, the
    surface point with the section's angle f has the normal cos f e + sin f n, and it is on the outline where cos f (e
    D) + sin f (n D) + width/2 = 0 with D from the eye to the section's centre.
    """
    e1, e2 = around(normal)
    a = width / 2
    points = []
    for t in angles:
        e = np.cos(t) * e1 + np.sin(t) * e2
        middle = centre + (radius - a) * e
        d = middle - eye
        p, q = e @ d, normal @ d
        half = np.arccos(np.clip(-a / np.hypot(p, q), -1, 1))
        both = [np.arctan2(q, p) + half, np.arctan2(q, p) - half]
        f = max(both, key=np.cos)
        points.append(middle + a * (np.cos(f) * e + np.sin(f) * normal))
    return np.array(points)


def edges(start, end, radius, eye):
    """The two apparent edges of a round bar, each as its ends: where its surface is tangent to the line of sight."""
    along = unit(end - start)
    to_eye = eye - start
    to_eye = to_eye - (to_eye @ along) * along
    distance = np.linalg.norm(to_eye)
    side = np.cross(along, to_eye / distance)
    c = radius / distance
    offsets = [radius * (c * to_eye / distance + s * np.sqrt(1 - c * c) * side) for s in (1, -1)]
    return [(start + o, end + o) for o in offsets]


@dataclasses.dataclass
class Camera:
    width: int
    height: int
    # 35 mm equivalent focal length, for a diagonal of 43.267 mm.
    focal: float
    eye: np.ndarray
    # Rows: right, down, ahead.
    turn: np.ndarray
    # Principal point, px.
    axis: np.ndarray
    # p (1 + k p^2), p in half diagonals.
    distortion: float
    flipped: bool

    @property
    def half(self):
        return np.hypot(self.width, self.height) / 2

    @property
    def focal_px(self):
        return self.focal / 43.267 * 2 * self.half

    @classmethod
    def aimed(cls, target, distance, yaw, pitch, roll, **rest):
        y, p = np.radians([yaw, pitch])
        away = np.array([np.sin(y) * np.cos(p), np.sin(p), np.cos(y) * np.cos(p)])
        right = unit(np.cross([0.0, 1.0, 0.0], away))
        turn = np.array([right, -np.cross(away, right), -away])
        return cls(eye=np.asarray(target) + distance * away, turn=about([0, 0, 1], roll) @ turn, **rest)

    def pixels(self, points):
        local = (np.atleast_2d(points) - self.eye) @ self.turn.T
        p = local[:, :2] / local[:, 2:] * self.focal_px / self.half
        p = p * (1 + self.distortion * np.sum(p**2, axis=1, keepdims=True))
        at = self.axis + p * self.half
        if self.flipped:
            at[:, 0] = self.width - at[:, 0]
        return at

    def rays(self, at):
        """Directions in the world of the rays through pixels; the distortion is inverted by iteration."""
        at = np.array(at, float)
        if self.flipped:
            at[:, 0] = self.width - at[:, 0]
        bent = (at - self.axis) / self.half
        p = bent.copy()
        for _ in range(12):
            p = bent / (1 + self.distortion * np.sum(p**2, axis=1, keepdims=True))
        local = np.column_stack([p * self.half / self.focal_px, np.ones(len(p))])
        return (local / np.linalg.norm(local, axis=1, keepdims=True)) @ self.turn
