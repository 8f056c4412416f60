"""Pictures of the scenes, by ray casting: `python3 tests/scenes/render.py FOLDER [NUMBER ...]`.

Writes scene-NNN.jpg, and beside each scene-NNN.json with the truth and the exact marks of that picture; without numbers
the first dozen. `--scale 0.5` gives half the pixels along each side. Tyres are rings of their real width, tubes, spokes
and fork legs round bars, all met by straight rays through a lens with its distortion; then lighting, blur, noise and
JPEG. OpenCV only blurs, shrinks and writes.
"""

import argparse
import json
import pathlib

import cv2
import numpy as np

from bike import around, outline, unit
from scenes import exact_marks, scene

INSIDE = 2  # Rays per pixel along each side.


def meet_ring(eye, rays, centre, normal, radius, section):
    """How far along each ray a ring of circular section is met, infinite where it is not; with the ring's own frame,
    the eye and the rays in it."""
    e1, e2 = around(normal)
    frame = np.array([e1, e2, normal])
    eye, local = frame @ (eye - centre), rays @ frame.T

    def distance(points):
        flat = np.hypot(points[:, 0], points[:, 1])
        return np.hypot(flat - radius, points[:, 2]) - section

    # From the front of the slab that holds the ring to its back.
    front, back = ((s * section - eye[2]) / local[:, 2] for s in (1, -1))
    at, end = np.minimum(front, back) - 1, np.maximum(front, back) + 1
    depth = np.full(len(rays), np.inf)
    going = np.arange(len(rays))
    for _ in range(70):
        away = distance(eye + at[going, None] * local[going])
        hit = away < 0.02
        depth[going[hit]] = at[going[hit]]
        at[going] += away
        going = going[~hit & (at[going] < end[going])]
        if not len(going):
            break
    return frame, eye, local, depth


class Picture:
    """Rays, and what each has met first."""

    def __init__(self, camera, scale):
        self.camera, self.scale = camera, scale
        self.width, self.height = round(camera.width * scale) * INSIDE, round(camera.height * scale) * INSIDE
        x, y = np.meshgrid(np.arange(self.width) + 0.5, np.arange(self.height) + 0.5)
        at = np.column_stack([x.ravel(), y.ravel()]) / (scale * INSIDE)
        self.rays = camera.rays(at).reshape(self.height, self.width, 3)
        self.depth = np.full((self.height, self.width), np.inf)
        self.colour = np.zeros((self.height, self.width, 3))

    def box(self, points, room):
        """Rows and columns that some points with room around them take up."""
        corners = [points + room * np.array(o) for o in np.stack(np.meshgrid(*[[-1, 1]] * 3), -1).reshape(-1, 3)]
        at = self.camera.pixels(np.vstack(corners)) * self.scale * INSIDE
        low, high = np.floor(at.min(0)).astype(int) - 2, np.ceil(at.max(0)).astype(int) + 3
        low, high = np.maximum(low, 0), np.minimum(high, [self.width, self.height])
        return (slice(low[1], high[1]), slice(low[0], high[0])) if np.all(high > low) else None

    def put(self, box, depth, normal, paint, light, shine=0.0):
        """Paints what is nearer than before; `paint(points, normals)` gives the colours."""
        nearer = depth < self.depth[box]
        if not nearer.any():
            return
        rays, depth, normal = self.rays[box][nearer], depth[nearer], normal[nearer]
        points = self.camera.eye + depth[:, None] * rays
        facing = np.clip(normal @ light, 0, 1)
        mirrored = 2 * np.sum(normal * light, 1, keepdims=True) * normal - light
        gleam = shine * np.clip(-np.sum(mirrored * rays, 1), 0, 1) ** 24
        colour = paint(points, normal) * (0.35 + 0.65 * facing)[:, None] + gleam[:, None]
        part = self.colour[box]
        part[nearer] = colour
        self.depth[box][nearer] = depth

    def bar(self, a, b, radius, paint, light, shine=0.2, radius_b=None):
        """A round bar with round ends."""
        a, b = np.asarray(a, float), np.asarray(b, float)
        box = self.box(np.array([a, b]), radius)
        if box is None:
            return
        rays = self.rays[box]
        along, eye = b - a, self.camera.eye - a
        bb, bd, be = along @ along, rays @ along, along @ eye
        de, ee = rays @ eye, eye @ eye
        p, q, r = bb - bd**2, bb * de - be * bd, bb * ee - be**2 - radius**2 * bb
        root = q * q - p * r
        t = np.where(root > 0, (-q - np.sqrt(np.maximum(root, 0))) / p, np.inf)
        place = be + t * bd
        inside = (root > 0) & (place > 0) & (place < bb) & (t > 0)
        depth = np.where(inside, t, np.inf)
        for end in (a, b):
            off = self.camera.eye - end
            m = rays @ off
            ball = m * m - off @ off + radius**2
            near = np.where(ball > 0, -m - np.sqrt(np.maximum(ball, 0)), np.inf)
            depth = np.minimum(depth, np.where(near > 0, near, np.inf))
        met = np.where(np.isfinite(depth), depth, 0)
        points = self.camera.eye - a + met[..., None] * rays
        share = np.clip((points @ along) / bb, 0, 1)
        normal = (points - share[..., None] * along) / radius
        self.put(box, depth, normal, paint, light, shine)

    def ring(self, centre, normal, radius, section, paint, light, shine=0.05):
        """A ring of circular section: the ray is followed by its distance to the surface."""
        e1, e2 = around(normal)
        t = np.linspace(0, 2 * np.pi, 48)
        box = self.box(centre + radius * (np.cos(t)[:, None] * e1 + np.sin(t)[:, None] * e2), section * 1.1)
        if box is None:
            return
        shape = self.rays[box].shape[:2]
        rays = self.rays[box].reshape(-1, 3)
        frame, eye, local, depth = meet_ring(self.camera.eye, rays, centre, normal, radius, section)
        met = np.where(np.isfinite(depth), depth, 0)
        points = eye + met[:, None] * local
        flat = np.hypot(points[:, 0], points[:, 1])
        middle = np.column_stack([points[:, :2] * (radius / np.maximum(flat, 1e-9))[:, None], np.zeros(len(points))])
        away = (points - middle) / section
        self.put(box, depth.reshape(shape), (away @ frame).reshape(*shape, 3), paint, light, shine)

    def plane(self, point, normal, paint, light, box=None):
        box = box or (slice(0, self.height), slice(0, self.width))
        facing = self.rays[box] @ normal
        t = ((point - self.camera.eye) @ normal) / np.where(np.abs(facing) > 1e-9, facing, 1e-9)
        depth = np.where(t > 0, t, np.inf)
        self.put(box, depth, np.broadcast_to(normal, (*depth.shape, 3)), paint, light)


def plain(*colour):
    return lambda points, normals: np.broadcast_to(np.array(colour), points.shape)


def noise_of(draw, cell):
    """Smooth noise over two coordinates, between 0 and 1."""
    grid = draw.random((256, 256))

    def at(u, v):
        u, v = u / cell, v / cell
        i, j = np.floor(u).astype(int), np.floor(v).astype(int)
        a, b = u - i, v - j
        a, b = a * a * (3 - 2 * a), b * b * (3 - 2 * b)
        g = lambda x, y: grid[x % 256, y % 256]
        low = g(i, j) * (1 - a) + g(i + 1, j) * a
        return low * (1 - b) + (g(i, j + 1) * (1 - a) + g(i + 1, j + 1) * a) * b

    return at


def surroundings(picture, draw, bike, light):
    rough, fine = noise_of(draw, 160), noise_of(draw, 12)
    earth, wall = draw.uniform(0.25, 0.6, 3) * [1, 0.95, 0.85], draw.uniform(0.3, 0.85, 3)
    contacts = [centre[[0, 2]] for _, centre, *_ in bike.wheels()]

    def ground(points, normals):
        x, z = points[:, 0], points[:, 2]
        tone = 0.7 + 0.35 * rough(x, z) + 0.25 * (fine(x, z) - 0.5)
        for cx, cz in contacts:
            tone = tone * (1 - 0.6 * np.exp(-(((x - cx) / 150) ** 2) - ((z - cz) / 45) ** 2))
        return earth * tone[:, None]

    bricks = draw.random() < 0.5

    def back(points, normals):
        x, y = points[:, 0], points[:, 1]
        tone = 0.85 + 0.25 * rough(x, y)
        if bricks:
            row = np.floor(y / 75)
            seam = (np.mod(y, 75) < 10) | (np.mod(x + 115 * np.mod(row, 2), 230) < 10)
            tone = tone * np.where(seam, 0.75, 1)
        return wall * tone[:, None]

    picture.plane(np.zeros(3), np.array([0.0, 1.0, 0.0]), ground, light)
    picture.plane(np.array([0.0, 0.0, -draw.uniform(500, 1500)]), np.array([0.0, 0.0, 1.0]), back, light)
    # Clutter: posts, poles and hoops behind the bike, some as dark as a tyre.
    for _ in range(int(draw.integers(4, 10))):
        x, z = draw.uniform(-900, bike.wheelbase + 900), -draw.uniform(140, 450)
        tone, thick = draw.uniform(0.03, 0.8, 3), draw.uniform(8, 70)
        foot = np.array([x, 0.0, z])
        kind = draw.random()
        if kind < 0.5:
            picture.bar(foot, foot + [draw.uniform(-150, 150), draw.uniform(200, 1400), 0], thick, plain(*tone), light)
        elif kind < 0.8:
            picture.bar(foot, foot + [draw.uniform(-700, 700), draw.uniform(0, 60), 0], thick, plain(*tone), light)
        else:
            radius = draw.uniform(120, 330)
            picture.ring(foot + [0, radius, 0], np.array([0.0, 0.0, 1.0]), radius, thick / 3, plain(*tone), light)


def wheel(picture, draw, light, centre, normal, radius, width):
    rubber, knob = draw.uniform(0.03, 0.1), draw.uniform(18, 30)
    e1, e2 = around(normal)

    def tread(points, normals):
        off = points - centre
        turn = np.arctan2(off @ e2, off @ e1) * radius / knob
        outer = np.clip((np.linalg.norm(off, axis=1) - radius + 0.35 * width) / (0.3 * width), 0, 1)
        return np.repeat((rubber * (1 + outer * (np.mod(turn, 1) < 0.5)))[:, None], 3, 1)

    picture.ring(centre, normal, radius - width / 2, width / 2, tread, light)
    metal = plain(*np.repeat(draw.uniform(0.05, 0.6), 3))
    rim = radius - width - 2
    picture.ring(centre, normal, rim, 11, metal, light, 0.3)
    picture.bar(centre - 55 * normal, centre + 55 * normal, 14, plain(0.3, 0.3, 0.3), light)
    first = draw.uniform(0, 2 * np.pi)
    for spoke in range(28):
        side, t = (1 if spoke % 2 else -1), first + 2 * np.pi * spoke / 28
        lead = t + (0.9 if spoke % 4 < 2 else -0.9)
        foot = centre + 28 * (np.cos(lead) * e1 + np.sin(lead) * e2) + side * 30 * normal
        picture.bar(foot, centre + rim * (np.cos(t) * e1 + np.sin(t) * e2), 1.1, plain(0.55, 0.55, 0.55), light)


def parts(picture, draw, bike, light):
    paint = plain(*draw.uniform(0.05, 0.9, 3))
    dark, bright = plain(0.06, 0.06, 0.07), plain(0.75, 0.65, 0.4) if draw.random() < 0.4 else plain(0.2, 0.2, 0.22)
    z = np.array([0.0, 0.0, 1.0])
    for _, *rest in bike.wheels():
        wheel(picture, draw, light, *rest)
    # The fork: stanchions from the crown, thicker lower legs to the axle.
    for side in (1.0, -1.0):
        top, middle, low = (bike.on_leg(below, side) for below in (0, 230, bike.axle_to_crown - 25))
        picture.bar(top, middle, bike.leg_radius, bright, light, 0.5)
        picture.bar(middle, low, bike.leg_radius + 7, dark, light)
        picture.bar(low, bike.front + side * bike.leg * bike.front_normal, 14, dark, light)
        picture.bar(bike.crown, top, 17, dark, light)
    head = 26
    picture.bar(bike.crown, bike.bottom, 22, dark, light)
    picture.bar(bike.bottom + 14 * bike.up, bike.top - 14 * bike.up, head, paint, light)
    picture.bar(bike.top, bike.top + 75 * bike.up, 16, dark, light)
    stem = bike.top + 55 * bike.up
    bar = bike.turned(stem + 45 * bike.ahead)
    picture.bar(stem, bar, 15, dark, light)
    sideways = bike.steer @ z
    picture.bar(bar - 380 * sideways, bar + 380 * sideways, 14, dark, light)
    seat = bike.bb + 430 * bike.seat
    picture.bar(bike.bb, seat, 17, paint, light)
    picture.bar(seat, seat + 160 * bike.seat, 14, dark, light)
    saddle = seat + 170 * bike.seat
    picture.bar(saddle - [110, 0, 0], saddle + [130, 0, 0], 22, dark, light)
    picture.bar(bike.bb, bike.bottom + 22 * bike.up, 24, paint, light)
    picture.bar(seat - 40 * bike.seat, bike.top - 18 * bike.up, 18, paint, light)
    for side in (1.0, -1.0):
        drop = bike.rear + side * 72 * z
        picture.bar(bike.bb + side * 35 * z, drop, 10, paint, light)
        picture.bar(seat - 60 * bike.seat + side * 20 * z, drop, 8, paint, light)
        arm = unit([np.cos(0.4), side * np.sin(0.4), 0])
        end = bike.bb + side * bike.crank * z
        picture.bar(end, end + side * 165 * arm, 9, dark, light)
    for teeth in range(3):
        picture.ring(bike.bb + 50 * z, z, 62 - 6 * teeth, 3, plain(0.25, 0.25, 0.25), light)
    picture.bar(bike.bb - bike.crank * z, bike.bb + bike.crank * z, 13, plain(0.5, 0.5, 0.5), light)


def render(number, scale):
    """The picture as 8-bit BGR, and its JPEG quality."""
    bike, camera, _, _ = exact_marks(number)
    draw = np.random.default_rng([20260505, number])
    light = unit([draw.uniform(-0.6, 0.6), draw.uniform(0.5, 1), draw.uniform(0.4, 1)])
    picture = Picture(camera, scale)
    surroundings(picture, draw, bike, light)
    parts(picture, draw, bike, light)
    image = cv2.resize(picture.colour, None, fx=1 / INSIDE, fy=1 / INSIDE, interpolation=cv2.INTER_AREA)
    height, width = image.shape[:2]
    x, y = np.meshgrid(np.linspace(-1, 1, width), np.linspace(-1, 1, height))
    gx, gy = draw.uniform(-0.3, 0.3, 2)
    image = image * ((1 + gx * x + gy * y) * (1 - draw.uniform(0, 0.25) * (x * x + y * y)))[..., None]
    blur = draw.uniform(0.4, 1.6) * scale * 2
    image = cv2.GaussianBlur(image, (0, 0), max(blur, 0.3))
    image = np.clip(image * draw.uniform(0.85, 1.25), 0, 1) ** (1 / 2.2) * 255
    image = image + draw.normal(0, draw.uniform(1, 6), image.shape)
    return np.clip(np.round(image), 0, 255).astype(np.uint8)[..., ::-1], int(draw.integers(60, 96))


def check(number):
    """The outlines that the marks are taken from are the edges of what the rays meet: half a pixel inside a ray meets
    the tyre, half a pixel outside it does not."""
    bike, camera, _, _ = exact_marks(number)
    for name, centre, normal, radius, width in bike.wheels():
        edge = camera.pixels(outline(centre, normal, radius, width, camera.eye, np.linspace(0, 2 * np.pi, 90)))
        along = np.gradient(edge, axis=0)[1:-1]
        out = np.column_stack([along[:, 1], -along[:, 0]]) / np.linalg.norm(along, axis=1, keepdims=True)
        out = out * np.sign(np.sum(out * (edge[1:-1] - edge.mean(0)), axis=1, keepdims=True))
        for step, meets in ((-0.5, True), (0.5, False)):
            rays = camera.rays(edge[1:-1] + step * out)
            depth = meet_ring(camera.eye, rays, centre, normal, radius - width / 2, width / 2)[3]
            wrong = int(np.sum(np.isfinite(depth) != meets))
            if wrong:
                raise SystemExit(f"scene {number}: {wrong} of {len(rays)} rays by the {name} tyre's edge are wrong")


def main():
    parser = argparse.ArgumentParser()
    parser.add_argument("folder", type=pathlib.Path)
    parser.add_argument("numbers", type=int, nargs="*")
    parser.add_argument("--scale", type=float, default=0.5)
    call = parser.parse_args()
    call.folder.mkdir(parents=True, exist_ok=True)
    for number in call.numbers or range(12):
        check(number)
        image, quality = render(number, call.scale)
        name = call.folder / f"scene-{number:03d}"
        cv2.imwrite(f"{name}.jpg", image, [cv2.IMWRITE_JPEG_QUALITY, quality])
        # The exact marks, in pixels of the whole picture: a picture at half scale has half of each.
        told = scene(number, noise=0.0) | {"scale": call.scale}
        pathlib.Path(f"{name}.json").write_text(json.dumps(told, indent=1) + "\n")
        print(name, image.shape, quality)


if __name__ == "__main__":
    main()
