"""Scenes of a bike seen from the side, with marks as set by hand, and the truth.

`python3 tests/scenes/scenes.py` writes tests/data/photo/scenes.json: for each scene the camera, the truth and the marks
(`steerwright.marks/1`) with noise of 1.5 px along each axis. Everything follows from the scene's number.

The stated priors of each bike (tyre, offset, focal length, distances from the plane) are the truth with an error of the
stated standard uncertainty, so that the uncertainties of whole results can be tested.

It also writes scenes-bent.json: lenses with far more distortion than expected and no statement of it, but straight
objects marked in half of the scenes; scenes-pairs.json: one bike before and after its head angle was changed;
scenes-refused.json: pictures that must be refused, each with the nearest one that is accepted. `--kind KIND --first N
--count N --out FILE` writes other scenes elsewhere.
"""

import argparse
import copy
import dataclasses
import json
import pathlib
import platform

import numpy as np

from bike import Bike, Camera, edges, outline

COUNT = 360
BENT = 160
PAIRS = 100
REASONS = ["turned", "too_close", "too_oblique", "cut_off", "disagree"]
NOISE = 1.5


def drawn(number, bent=False):
    """Bike and camera of a scene, and its generator."""
    draw = np.random.default_rng([20260504, number])
    big = draw.random() < 0.7
    front = draw.uniform(366, 376) if big else draw.uniform(345, 354)
    rear = front if draw.random() < 0.6 else draw.uniform(345, 356)
    width = draw.uniform(52, 66)
    bike = Bike(
        head_angle=draw.uniform(61, 73),
        seat_angle=draw.uniform(71, 79),
        wheelbase=draw.uniform(1050, 1300),
        front_radius=front,
        rear_radius=rear,
        front_width=width,
        rear_width=width - draw.uniform(0, 6),
        axle_to_crown=draw.uniform(490, 590),
        fork_offset=draw.uniform(36, 52),
        lower_stack=draw.uniform(4, 16),
        head_tube=draw.uniform(95, 140),
        bottom_bracket_height=draw.uniform(320, 355),
        chainstay=draw.uniform(425, 455),
        leg=65 + 4 * draw.standard_normal(),
        leg_radius=draw.uniform(16, 19),
        turn=0.5 * draw.standard_normal(),
        crank=75 + 5 * draw.standard_normal(),
    )
    upright = draw.random() < 0.05
    size = (3024, 4032) if upright else (4032, 3024)
    # Every sixth picture squarely from the side, the others turned up to 30 degrees either way.
    yaw = draw.uniform(-3, 3) if number % 6 == 0 else draw.uniform(-30, 30)
    focal = draw.uniform(24, 70) if draw.random() < 0.8 else draw.uniform(50, 100)
    half = np.hypot(*size) / 2
    # Share of the picture's width that the bike fills.
    fills = draw.uniform(0.6, 0.85)
    length = (bike.wheelbase + 2 * front) * np.cos(np.radians(yaw))
    distance = focal / 43.267 * 2 * half * length / (fills * size[0])
    aim = [bike.wheelbase / 2 + draw.normal(0, 40), draw.uniform(400, 520), 0]
    pitch = draw.uniform(-3, 12)
    shared = dict(
        width=size[0],
        height=size[1],
        focal=focal,
        axis=np.array(size) / 2 + draw.normal(0, 0.01 * half, 2),
        distortion=0.01 * draw.standard_normal(),
        flipped=draw.random() < 0.3,
    )
    roll = draw.normal(0, 2)
    if bent:
        # A third has the barrel distortion of simple wide lenses, a third little, a third pincushion distortion.
        shared["distortion"] = draw.uniform(*[(-0.1, -0.05), (-0.05, -0.02), (0.02, 0.1)][number % 3])
    return bike, standing(bike, aim, distance, yaw, pitch, roll, shared), draw


def standing(bike, aim, distance, yaw, pitch, roll, shared):
    """A wide lens close by: the camera is moved back until both wheels are inside the picture."""
    size = np.array([shared["width"], shared["height"]])
    while True:
        camera = Camera.aimed(aim, distance, yaw, pitch, roll, **shared)
        rings = [outline(*wheel[1:], camera.eye, np.linspace(0, 2 * np.pi, 60)) for wheel in bike.wheels()]
        seen = camera.pixels(np.vstack(rings))
        margin = 0.01 * size[0]
        if np.all(seen > margin) and np.all(seen < size - margin):
            return camera
        distance *= 1.04


def told(draw, truth, u):
    return {"value": round(truth + u * draw.standard_normal(), 2), "u": u}


def straight_things(camera, draw, bike):
    """Marks along boards, posts and edges, near and far, high and low, vertical and horizontal."""
    lines = []
    while len(lines) < 3:
        z = -draw.uniform(0, 900)
        level = len(lines) % 2 == 0
        high, x = draw.uniform(0, 1100), draw.uniform(-700, bike.wheelbase + 700)
        a, b = ([-500, high, z], [bike.wheelbase + 500, high, z]) if level else ([x, 0, z], [x, 1100, z])
        at = camera.pixels(np.array(a) + np.linspace(0, 1, 7)[:, None] * np.subtract(b, a))
        at = at[np.all((at > 0) & (at < [camera.width, camera.height]), axis=1)]
        if len(at) >= 5:
            lines.append(at)
    return lines


def exact_marks(number, bent=False):
    """The marks without a hand's noise, and the scene's generator at the start of the noise."""
    bike, camera, draw = drawn(number, bent)
    return bike, camera, marks_of(bike, camera, draw, number, bent), draw


def marks_of(bike, camera, draw, number, bent):
    marks = {"schema": "steerwright.marks/1", "image": {"width": camera.width, "height": camera.height}}
    if draw.random() < 0.7:
        marks["lens"] = {"focal_length_35mm": told(draw, camera.focal, 0.02 * round(camera.focal))}
    marks["noise_px"] = NOISE
    if draw.random() < 0.5:
        marks["shows_drive_side"] = not camera.flipped
    for name, centre, normal, radius, width in bike.wheels():
        count = int(draw.integers(8, 17))
        angles = np.linspace(0, 2 * np.pi, count, endpoint=False) + draw.uniform(0, 2 * np.pi)
        angles = angles + draw.uniform(-0.3, 0.3, count) * 2 * np.pi / count
        marks[name] = {
            "tyre": camera.pixels(outline(centre, normal, radius, width, camera.eye, angles)),
            "diameter_mm": told(draw, 2 * radius, 2.0),
            "width_mm": told(draw, width, 2.0),
        }
    marks["front_wheel_turn_deg"] = {"value": 0, "u": 0.5}
    marks["fork_offset_mm"] = told(draw, bike.fork_offset, 1.0)

    def mark(point, beside, u, stands_out=None):
        out = point + np.array([0.0, 0.0, u * draw.standard_normal() if stands_out is None else stands_out])
        return {"at": camera.pixels(out)[0], "beside_mm": {"value": beside, "u": u}}

    marks["head_tube_top"] = mark(bike.top, 0, 2)
    marks["head_tube_bottom"] = mark(bike.bottom, 0, 2)
    if draw.random() < 0.7:
        marks["crown"] = mark(bike.crown, 0, 2)
    marks["bottom_bracket"] = mark(bike.bb, 75, 5, bike.crank)
    beside = {"value": 65, "u": 4}
    way = draw.random()
    ends = (bike.on_leg(20), bike.on_leg(20 + draw.uniform(120, 220)))
    if way < 0.45:
        lines = edges(*ends, bike.leg_radius, camera.eye)
    else:
        lines = [ends] if way < 0.85 else []
    if lines:
        steps = np.linspace(0, 1, 4)[:, None]
        marks["stanchions"] = [
            {"points": camera.pixels(a + steps * (b - a)), "beside_mm": beside} for a, b in lines
        ]
    if draw.random() < 0.8:
        reach = np.linspace(90, draw.uniform(330, 420), 4)[:, None]
        leans_out = 3 * draw.standard_normal()
        line = bike.bb + reach * bike.seat + np.array([0.0, 0.0, leans_out])
        marks["seat_tube"] = {"points": camera.pixels(line), "beside_mm": {"value": 0, "u": 3}}
    if bent and number % 2:
        marks["straight"] = straight_things(camera, draw, bike)
    return marks


def by_hand(value, draw, noise):
    """The same with noise on every pixel, as plain lists."""
    if isinstance(value, np.ndarray):
        return np.round(value + noise * draw.standard_normal(value.shape), 2).tolist()
    if isinstance(value, dict):
        return {key: by_hand(inner, draw, noise) for key, inner in value.items()}
    if isinstance(value, list):
        return [by_hand(inner, draw, noise) for inner in value]
    return value


def scene(number, noise=NOISE, bent=False):
    bike, camera, marks, draw = exact_marks(number, bent)
    right, away = camera.turn[0], -camera.turn[2]
    view = {
        "yaw": np.degrees(np.arctan2(away[0], away[2])),
        "pitch": np.degrees(np.arcsin(away[1])),
        "roll": np.degrees(np.arctan2(right[1], np.hypot(right[0], right[2]))),
        "eye": camera.eye.tolist(),
        "focal_length_35mm": camera.focal,
        "distortion": camera.distortion,
        "flipped": bool(camera.flipped),
    }
    rounded = lambda it: [round(v, 1) for v in it] if isinstance(it, list) else it if isinstance(it, bool) else round(float(it), 4)
    return {
        "number": number,
        "view": {key: rounded(value) for key, value in view.items()},
        "truth": {key: round(float(value), 4) for key, value in bike.truth().items()},
        "marks": by_hand(marks, draw, noise),
    }


def pair(number):
    """One bike before and after its head angle was changed, with one camera at one zoom from two positions. The stated
    priors of the bike and the lens have the same error in both; so do the distances from the plane."""
    bike, camera, draw = drawn(number)
    once = copy.deepcopy(draw)
    before = marks_of(bike, camera, draw, number, False)
    change = draw.uniform(-2.5, 2.5)
    changed = dataclasses.replace(bike, head_angle=bike.head_angle + change, turn=0.5 * draw.standard_normal())
    shared = {field: getattr(camera, field) for field in ("width", "height", "focal", "axis", "distortion", "flipped")}
    far = np.linalg.norm(camera.eye - [bike.wheelbase / 2, 450, 0]) * draw.uniform(0.8, 1.2)
    aim = [bike.wheelbase / 2 + draw.normal(0, 40), draw.uniform(400, 520), 0]
    view = (draw.uniform(-30, 30), draw.uniform(-3, 12), draw.normal(0, 2))
    moved = standing(changed, aim, far, *view, shared)
    after = marks_of(changed, moved, once, number, False)
    return {
        "number": number,
        "truth": round(change, 4),
        "before": by_hand(before, draw, NOISE),
        "after": by_hand(after, draw, NOISE),
    }


def posed(number, turn=0.0, yaw=10.0, distance=4500.0, focal=40.0, shift=0.0):
    """A bike and its marks from a chosen pose; `shift` moves the aim along the bike, mm."""
    bike, camera, draw = drawn(number)
    bike = dataclasses.replace(bike, turn=turn)
    shared = {field: getattr(camera, field) for field in ("width", "height", "axis", "distortion", "flipped")}
    aim = [bike.wheelbase / 2 + shift, 450, 0]
    camera = Camera.aimed(aim, distance, yaw * (-1) ** number, 4.0, 1.0, focal=focal, **shared)
    return bike, camera, draw


def refused(index):
    """One reason for refusal, and the nearest picture that is still accepted."""
    kind, number = REASONS[index % len(REASONS)], 2000 + 7 * index

    def marks(wrong=0.0, **pose):
        bike, camera, draw = posed(number, **pose)
        made = marks_of(bike, camera, draw, number, False)
        made["lens"] = {"focal_length_35mm": told(draw, camera.focal, 0.02 * camera.focal)}
        made["front"]["diameter_mm"]["value"] += wrong
        made = by_hand(made, draw, NOISE)
        for wheel in ("front", "rear"):
            # A hand cannot mark points outside the picture.
            made[wheel]["tyre"] = [
                [x, y] for x, y in made[wheel]["tyre"] if 0 <= x <= camera.width and 0 <= y <= camera.height
            ]
        return made

    def over_the_edge(by):
        """The shift along the bike at which the rear tyre leaves the picture by a share of its diameter."""
        for shift in np.arange(0, 1500, 5.0):
            bike, camera, _ = posed(number, shift=shift)
            _, *rear = bike.wheels()[1]
            x = camera.pixels(outline(*rear, camera.eye, np.linspace(0, 2 * np.pi, 180)))[:, 0]
            out = max(-x.min(), x.max() - camera.width) / np.ptp(x)
            if out >= by:
                return shift

    refusing, near = {
        "turned": (dict(turn=16.0, distance=3000.0), dict(turn=0.6, distance=3000.0)),
        "too_close": (dict(distance=950.0, focal=13.0), dict(distance=1700.0, focal=22.0)),
        "too_oblique": (dict(yaw=55.0), dict(yaw=40.0)),
        "cut_off": (lambda: dict(shift=over_the_edge(0.12)), lambda: dict(shift=over_the_edge(-0.02))),
        "disagree": (dict(wrong=-55.0), dict(wrong=2.0)),
    }[kind]
    made = lambda it: marks(**(it() if callable(it) else it))
    return {"kind": kind, "refused": made(refusing), "answered": made(near)}


def write(out, numbers, make):
    header = {"python": platform.python_version(), "numpy": np.__version__}
    rows = ",\n".join(json.dumps(make(number), separators=(",", ":")) for number in numbers)
    out.write_text('{"made_by":"scenes.py","versions":%s,"scenes":[\n%s\n]}\n' % (json.dumps(header), rows))


def main():
    kinds = {
        "plain": ("scenes.json", COUNT, scene),
        "bent": ("scenes-bent.json", BENT, lambda number: scene(number, bent=True)),
        "refused": ("scenes-refused.json", 4 * len(REASONS), refused),
        "pairs": ("scenes-pairs.json", PAIRS, pair),
    }
    parser = argparse.ArgumentParser()
    parser.add_argument("--first", type=int, default=0)
    parser.add_argument("--count", type=int, default=COUNT)
    parser.add_argument("--kind", choices=kinds, default="plain")
    parser.add_argument("--out", type=pathlib.Path)
    call = parser.parse_args()
    if call.out:
        return write(call.out, range(call.first, call.first + call.count), kinds[call.kind][2])
    data = pathlib.Path(__file__).parent.parent / "data" / "photo"
    for name, count, make in kinds.values():
        write(data / name, range(count), make)


if __name__ == "__main__":
    main()
