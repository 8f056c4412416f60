"""Pictures of the scenes, by ray casting: `python3 tests/scenes/render.py FOLDER [--count N] [--first N] [--scale S]`.

Writes scene-NNN.jpg, and scene-NNN.json for each: the truth, and in pixels of that picture the exact marks, the marks
of a hand and rough taps (`marks`, `hand`, `taps`). Tyres are rings of their real width, tubes, spokes and fork legs
round bars, all hit by straight rays through a lens with its distortion; then lighting, blur, sharpening, noise and
JPEG. OpenCV only blurs and writes. `--scale 0.5`, the usual one, gives half the pixels along each side of twelve
million; noise and blur are those of the whole picture.

The outlines from which the marks are taken are first compared with the rays' hits.
"""

import argparse
import json
import multiprocessing
import pathlib

import cv2
import numpy as np

import rays
from bike import around, outline, unit
from scenes import NOISE, by_hand, exact_marks, scene

INSIDE = 2  # Rays per pixel along each side.
TAP = 25.0  # How far off a tap may be, pixels of the whole picture.


class Things:
    """The objects in the picture."""

    def __init__(self):
        self.rows, self.hulls = [], []

    def bar(self, a, b, radius, colour, shine=0.2, look=(0, 0, 0)):
        a, b = np.asarray(a, float), np.asarray(b, float)
        self.rows.append([rays.BAR, *a, *b, radius, 0, shine, *colour, *look])
        self.hulls.append((np.array([a, b]), radius))

    def ring(self, centre, normal, radius, section, colour, shine=0.05, knob=None):
        kind = rays.RING if knob is None else rays.TYRE
        self.rows.append([kind, *centre, *normal, radius, section, shine, *colour, 0, knob or 0, 0])
        e1, e2 = around(np.asarray(normal, float))
        t = np.linspace(0, 2 * np.pi, 48)
        self.hulls.append((centre + radius * (np.cos(t)[:, None] * e1 + np.sin(t)[:, None] * e2), section * 1.1))

    def plane(self, point, normal, kind, colour):
        self.rows.append([rays.PLANE, *point, *normal, 0, 0, 0, *colour, kind, 0, 0])
        self.hulls.append(None)

    def boxes(self, camera, scale, width, height):
        """Columns and rows that each object covers."""
        found = []
        for hull in self.hulls:
            if hull is None:
                found.append([0, width, 0, height])
                continue
            points, room = hull
            corners = np.stack(np.meshgrid(*[[-room, room]] * 3), -1).reshape(-1, 3)
            at = camera.pixels((points[:, None] + corners).reshape(-1, 3)) * scale
            x0, y0 = np.maximum(np.floor(at.min(0)).astype(int) - 2, 0)
            x1, y1 = np.minimum(np.ceil(at.max(0)).astype(int) + 3, [width, height])
            found.append([x0, max(x1, x0), y0, max(y1, y0)])
        return np.array(found)

    def shadows(self, light, s):
        """Cells of the shadow map, columns and rows, that each object can darken; none for a plane."""
        found = []
        for hull in self.hulls:
            if hull is None:
                found.append([0, 0, 0, 0])
                continue
            points, room = hull
            ground = (points - points[:, 1:2] / light[1] * light)[:, [0, 2]]
            low, high = ground.min(0) - room / light[1], ground.max(0) + room / light[1]
            cells, many = np.array([low, high]) - [s["x0"], s["z0"]], np.array([s["nx"], s["nz"]])
            first, last = np.clip(np.floor(cells / s["cell"]).astype(int) + [[-1], [2]], 0, many)
            found.append([first[0], last[0], first[1], last[1]])
        return np.array(found)


def grey(tone):
    return (tone, tone, tone)


def surroundings(things, draw, bike):
    dark = draw.random() < 0.25
    earth = draw.uniform(0.04, 0.12, 3) if dark else draw.uniform(0.25, 0.6, 3)
    things.plane(np.zeros(3), np.array([0.0, 1.0, 0.0]), 0, earth * [1, 0.95, 0.85])
    kind = int(draw.choice([1, 2, 3, 4, 5], p=[0.25, 0.2, 0.15, 0.2, 0.2]))
    wall = {4: np.array([0.3, 0.45, 0.2]), 5: np.array([0.9, 0.95, 1.0])}.get(kind, draw.uniform(0.3, 0.85, 3))
    away = draw.uniform(500, 1500) if kind < 4 else draw.uniform(1500, 6000)
    things.plane(np.array([0.0, 0.0, -away]), np.array([0.0, 0.0, 1.0]), kind, wall)
    if draw.random() < 0.2:
        # A fence: rails and posts.
        z, tone = -draw.uniform(250, 480), draw.uniform(0.05, 0.7, 3)
        for high in (300, 620, 940):
            things.bar([-3000, high, z], [4500, high + draw.uniform(-20, 20), z], draw.uniform(8, 35), tone)
        for x in np.arange(-2800, 4500, draw.uniform(700, 1500)):
            things.bar([x, 0, z], [x, 1050, z], 40, tone)
    # Clutter behind the bike: posts, poles, hoops and a person's legs, some as dark as a tyre.
    for _ in range(int(draw.integers(3, 9))):
        x, z = draw.uniform(-900, bike.wheelbase + 900), -draw.uniform(140, 450)
        tone, thick = draw.uniform(0.03, 0.8, 3), draw.uniform(8, 60)
        foot = np.array([x, 0.0, z])
        way = draw.random()
        if way < 0.4:
            things.bar(foot, foot + [draw.uniform(-150, 150), draw.uniform(200, 1400), 0], thick, tone)
        elif way < 0.6:
            things.bar(foot, foot + [draw.uniform(-700, 700), draw.uniform(0, 60), 0], thick, tone)
        elif way < 0.8:
            for side in (0, draw.uniform(150, 300)):
                things.bar(foot + [side, 0, 0], foot + [side, 480, 0], 55, tone, 0)
                things.bar(foot + [side, 480, 0], foot + [side + draw.uniform(-60, 60), 950, 0], 75, tone, 0)
        else:
            radius = draw.uniform(120, 330)
            things.ring(foot + [0, radius, 0], np.array([0.0, 0.0, 1.0]), radius, thick / 3, tone)


def wheel(things, draw, centre, normal, radius, width):
    rubber, knob = draw.uniform(0.03, 0.1), draw.uniform(18, 30)
    e1, e2 = around(normal)
    things.ring(centre, normal, radius - width / 2, width / 2, grey(rubber), knob=knob)
    rim = radius - width - 2
    things.ring(centre, normal, rim, 11, grey(draw.uniform(0.05, 0.6)), 0.3)
    things.bar(centre - 55 * normal, centre + 55 * normal, 14, grey(0.3))
    things.ring(centre + 40 * normal, normal, 90 if draw.random() < 0.5 else 78, 4, grey(0.4), 0.4)
    first = draw.uniform(0, 2 * np.pi)
    for spoke in range(28):
        side, t = (1 if spoke % 2 else -1), first + 2 * np.pi * spoke / 28
        lead = t + (0.9 if spoke % 4 < 2 else -0.9)
        foot = centre + 28 * (np.cos(lead) * e1 + np.sin(lead) * e2) + side * 30 * normal
        things.bar(foot, centre + rim * (np.cos(t) * e1 + np.sin(t) * e2), 1.1, grey(0.55))


DARK = (0.06, 0.06, 0.07)


def plain_fork(things, bike, bright):
    """Stanchions from the crown, thicker lower legs to the axle."""
    for side in (1.0, -1.0):
        top, middle, low = (bike.on_leg(below, side) for below in (0, 250, bike.axle_to_crown - 25))
        things.bar(top, middle, bike.leg_radius, bright, 0.5)
        things.bar(middle, low, bike.leg_radius + 7, DARK)
        things.bar(low, bike.front + side * bike.leg * bike.front_normal, 14, DARK)
        things.bar(bike.crown, top, 17, DARK)


def parts(things, draw, bike, fork=plain_fork):
    paint = draw.uniform(0.05, 0.9, 3)
    dark, bright = DARK, (0.75, 0.65, 0.4) if draw.random() < 0.4 else (0.2, 0.2, 0.22)
    z = np.array([0.0, 0.0, 1.0])
    for _, *rest in bike.wheels():
        wheel(things, draw, *rest)
    fork(things, bike, bright)
    things.bar(bike.crown, bike.bottom, 22, dark)
    things.bar(bike.bottom + 14 * bike.up, bike.top - 14 * bike.up, 26, paint)
    things.bar(bike.top, bike.top + 75 * bike.up, 16, dark)
    stem = bike.top + 55 * bike.up
    bar = bike.turned(stem + 45 * bike.ahead)
    things.bar(stem, bar, 15, dark)
    sideways = bike.steer @ z
    things.bar(bar - 380 * sideways, bar + 380 * sideways, 14, dark)
    seat = bike.bb + 430 * bike.seat
    things.bar(bike.bb, seat, 17, paint)
    things.bar(seat, seat + 160 * bike.seat, 14, dark)
    saddle = seat + 170 * bike.seat
    things.bar(saddle - [110, 0, 0], saddle + [130, 0, 0], 22, dark)
    things.bar(bike.bb, bike.bottom + 22 * bike.up, 24, paint)
    things.bar(seat - 40 * bike.seat, bike.top - 18 * bike.up, 18, paint)
    for side in (1.0, -1.0):
        drop = bike.rear + side * 72 * z
        things.bar(bike.bb + side * 35 * z, drop, 10, paint)
        things.bar(seat - 60 * bike.seat + side * 20 * z, drop, 8, paint)
        arm = unit([np.cos(0.4), side * np.sin(0.4), 0])
        end = bike.bb + side * bike.crank * z
        things.bar(end, end + side * 165 * arm, 9, dark)
    for teeth in range(3):
        things.ring(bike.bb + 50 * z, z, 62 - 6 * teeth, 3, grey(0.25))
    things.bar(bike.bb - bike.crank * z, bike.bb + bike.crank * z, 13, grey(0.5))


# The shadow map on the ground, mm.
SHADOW = dict(x0=-1200.0, z0=-1500.0, cell=7.0, nx=543, nz=372)


def render(number, scale):
    """The picture as 8-bit BGR, its JPEG quality, and its contents."""
    bike, camera, _, _ = exact_marks(number)
    draw = np.random.default_rng([20260505, number])
    light = unit([draw.uniform(-0.6, 0.6), draw.uniform(0.5, 1), draw.uniform(0.4, 1)])
    things = Things()
    surroundings(things, draw, bike)
    parts(things, draw, bike)
    return developed(things, bike, camera, light, draw, scale)


def developed(things, bike, camera, light, draw, scale):
    """The picture of the things by a camera: light, shadow, blur, sharpening, noise."""
    rows = np.array(things.rows)
    width, height = round(camera.width * scale), round(camera.height * scale)
    across, down = width * INSIDE, height * INSIDE
    sight = np.empty((down, across, 3))
    lens = (camera.turn, camera.axis, camera.half, camera.focal_px, camera.distortion)
    rays.sights(*lens, camera.width if camera.flipped else 0, 1 / (scale * INSIDE), sight)
    boxes = things.boxes(camera, scale * INSIDE, across, down)
    depth, which = rays.nearest(camera.eye, sight, rows, boxes)
    # Direct sunlight, a veiled sun, or an overcast sky that leaves only darkness under the tyres.
    s = SHADOW
    strength, soft = [(0.75, 2.0), (0.5, 8.0), (0.0, 1.0)][int(draw.integers(0, 3))]
    boxes = things.shadows(light, s)
    shadow = rays.in_shadow(light, rows, boxes, s["x0"], s["z0"], s["cell"], s["nx"], s["nz"])
    shadow = strength * cv2.GaussianBlur(shadow, (0, 0), soft)
    cx, cz = (s[o] + (np.arange(s[n]) + 0.5) * s["cell"] for o, n in (("x0", "nx"), ("z0", "nz")))
    for _, centre, *_ in bike.wheels():
        near = np.exp(-(((cx - centre[0]) / 150) ** 2)[None] - (((cz - centre[2]) / 45) ** 2)[:, None])
        shadow = 1 - (1 - shadow) * (1 - 0.6 * near)
    image = np.zeros((height, width, 3), np.float32)
    rough, fine = draw.random((256, 256)), draw.random((256, 256))
    args = (rows, light, INSIDE, rough, fine, shadow.astype(np.float32), s["x0"], s["z0"], s["cell"], image)
    rays.shade(camera.eye, sight, depth, which, *args)
    gx, gy, fall = *draw.uniform(-0.3, 0.3, 2), draw.uniform(0, 0.25)
    x, y = np.linspace(-1, 1, width, dtype=np.float32)[None], np.linspace(-1, 1, height, dtype=np.float32)[:, None]
    image *= ((1 + gx * x + gy * y) * (1 - fall * (x * x + y * y)))[..., None]
    blur = draw.uniform(0.8, 3.2)
    image = cv2.GaussianBlur(image, (0, 0), max(blur * scale, 0.3))
    image = np.clip(image * draw.uniform(0.85, 1.25), 0, 1) ** np.float32(1 / 2.2) * 255
    sharpened = draw.random() < 0.4
    if sharpened:
        image = image + 0.6 * (image - cv2.GaussianBlur(image, (0, 0), max(2.0 * scale, 0.5)))
    noise = draw.uniform(1, 6)
    image = image + noise * draw.standard_normal(image.shape, dtype=np.float32)
    quality = int(draw.integers(60, 96))
    told = {"blur": round(blur, 2), "noise": round(noise, 2), "sharpened": sharpened, "quality": quality}
    told |= {"ground": round(float(rows[0, 11]), 2), "background": int(rows[1, 13]), "shadow": strength}
    return np.clip(np.round(image), 0, 255).astype(np.uint8)[..., ::-1], quality, told


def scaled(value, scale):
    """Marks in pixels of a picture at another scale."""
    if isinstance(value, np.ndarray):
        return value * scale
    if isinstance(value, dict):
        return {key: scaled(inner, scale) if key != "image" else inner for key, inner in value.items()}
    if isinstance(value, list):
        return [scaled(inner, scale) for inner in value]
    return value


def off(points, draw, most):
    """Points each moved by up to `most`, uniformly over that disc."""
    way, far = draw.uniform(0, 2 * np.pi, len(points)), most * np.sqrt(draw.random(len(points)))
    return points + far[:, None] * np.column_stack([np.cos(way), np.sin(way)])


def all_marks(number, scale):
    """Exact marks, a hand's marks, and rough taps: three on each tyre, two on each line; single points as by hand."""
    bike, camera, exact, draw = exact_marks(number)
    draw = np.random.default_rng([20260506, number])
    exact = scaled(exact, scale)
    exact["image"] = {"width": round(camera.width * scale), "height": round(camera.height * scale)}
    exact["noise_px"] = NOISE * scale
    hand = by_hand(exact, draw, NOISE * scale)
    taps = json.loads(json.dumps(hand))
    for name, centre, normal, radius, width in bike.wheels():
        angles = draw.uniform(0, 2 * np.pi) + np.array([0, 1, 2]) * 2 * np.pi / 3 + draw.uniform(-0.35, 0.35, 3)
        points = camera.pixels(outline(centre, normal, radius, width, camera.eye, angles)) * scale
        taps[name]["tyre"] = off(points, draw, TAP * scale).round(1).tolist()
    # One rough line along the nearer stanchion, whose centre line is snapped to, and one along the seat tube.
    if "stanchions" in taps:
        below = draw.uniform([25, 170], [50, 225])
        ends = np.array([bike.on_leg(at) for at in below])
        tapped = off(camera.pixels(ends) * scale, draw, 8.0 * scale).round(1).tolist()
        taps["stanchions"] = [{"points": tapped, "beside_mm": taps["stanchions"][0]["beside_mm"]}]
    if "seat_tube" in taps:
        line = taps["seat_tube"]["points"]
        line = off(np.array([line[0], line[-1]]), draw, 8.0 * scale).round(1).tolist()
        taps["seat_tube"]["points"] = line
    return {"marks": by_hand(exact, draw, 0.0), "hand": hand, "taps": taps}


def check(number):
    """Checks that the outlines from which the marks are taken are the edges of the rays' hits: half a pixel inside a
    ray hits the tyre, half a pixel outside it does not."""
    bike, camera, _, _ = exact_marks(number)
    for name, centre, normal, radius, width in bike.wheels():
        edge = camera.pixels(outline(centre, normal, radius, width, camera.eye, np.linspace(0, 2 * np.pi, 90)))
        along = np.gradient(edge, axis=0)[1:-1]
        out = np.column_stack([along[:, 1], -along[:, 0]]) / np.linalg.norm(along, axis=1, keepdims=True)
        out = out * np.sign(np.sum(out * (edge[1:-1] - edge.mean(0)), axis=1, keepdims=True))
        tyre = np.array([rays.RING, *centre, *normal, radius - width / 2, width / 2] + [0.0] * 7)
        for step, meets in ((-0.5, True), (0.5, False)):
            sight = camera.rays(edge[1:-1] + step * out)
            wrong = int(np.sum((rays.met(camera.eye, sight, tyre) < rays.FAR) != meets))
            if wrong:
                raise SystemExit(f"scene {number}: {wrong} of {len(sight)} rays by the {name} tyre's edge are wrong")


def one(call):
    folder, number, scale, most = call
    check(number)
    cv2.setNumThreads(1)
    image, quality, told = render(number, scale)
    name = folder / f"scene-{number:03d}"
    if most:
        # The highest JPEG quality that keeps the file small enough.
        while quality > 30:
            coded = cv2.imencode(".jpg", image, [cv2.IMWRITE_JPEG_QUALITY, quality])[1]
            if len(coded) <= most:
                break
            quality -= 5
    told["quality"] = quality
    cv2.imwrite(f"{name}.jpg", image, [cv2.IMWRITE_JPEG_QUALITY, quality])
    kept = {key: value for key, value in scene(number).items() if key != "marks"}
    text = json.dumps(kept | {"scale": scale, "made": told} | all_marks(number, scale), separators=(",", ":"))
    pathlib.Path(f"{name}.json").write_text(text + "\n")
    return f"{name}.jpg {image.shape[1]}x{image.shape[0]} {told}"


def main():
    parser = argparse.ArgumentParser()
    parser.add_argument("folder", type=pathlib.Path)
    parser.add_argument("--first", type=int, default=0)
    parser.add_argument("--count", type=int, default=12)
    parser.add_argument("--scale", type=float, default=0.5)
    parser.add_argument("--most-bytes", type=int, default=0)
    parser.add_argument("--processes", type=int, default=2)
    call = parser.parse_args()
    call.folder.mkdir(parents=True, exist_ok=True)
    numbers = range(call.first, call.first + call.count)
    # The first one alone, so that Numba's compilation is cached for all.
    tasks = [(call.folder, number, call.scale, call.most_bytes) for number in numbers]
    print(one(tasks[0]), flush=True)
    with multiprocessing.Pool(call.processes) as pool:
        for line in pool.imap(one, tasks[1:]):
            print(line, flush=True)


if __name__ == "__main__":
    main()
