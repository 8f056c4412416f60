"""Forks whose far leg stands behind the near one: `python3 tests/scenes/forks.py FOLDER [--count N] [--first N] [--scale S]`.

Pictures and marks as render.py writes them, with yaw from 0 to 28 degrees either way. The fork is flat, shaded or
striped, before a light or a dark background, and its far leg is merged with the near one, half hidden or apart. In some
pictures a hose runs along the leg, a straight shadow lies beside it, the background has nearly its tone, its lower legs
taper, or the taps are a hundredth of the picture's height off. `fork` in the file has these facts and `lines`, the
centre lines of the near and the far leg in pixels.
"""

import argparse
import dataclasses
import json
import multiprocessing
import pathlib

import cv2
import numpy as np

from bike import unit
from render import DARK, TAP, Things, developed, off, parts, scaled, surroundings
from bike import outline
from scenes import NOISE, by_hand, drawn, marks_of, standing

SEED = 20261130


def made(number):
    """Bike and camera of a scene, what its fork looks like, and the generator of its marks."""
    bike, camera, marks_draw = drawn(900_000 + number)
    draw = np.random.default_rng([SEED, number])
    far = ["merged", "half", "apart"][number // 6 % 3]
    yaw = draw.uniform(*{"merged": (0, 8), "half": (8, 18), "apart": (18, 28)}[far]) * draw.choice([-1, 1])
    rigid = draw.random() < 0.15
    look = dict(
        look=["flat", "shaded", "striped"][number % 3],
        dark=bool(number // 3 % 2),
        far=far,
        busy=bool(draw.random() < 0.25),
        rigid=bool(rigid),
        taper=float(draw.uniform(2, 5) if rigid else draw.uniform(0, 2.5) if draw.random() < 0.5 else 0),
        one_colour=bool(draw.random() < 0.7),
        tone=float(draw.choice([0.05, 0.12, 0.35, 0.75])),
        hose=bool(draw.random() < 0.35),
        shadow=bool(draw.random() < 0.3),
        faint=bool(draw.random() < 0.15),
        stripes=int(draw.choice([1, 1, 40, 90])),
        along=["stanchion", "stanchion", "lower", "whole"][int(draw.integers(0, 4))],
        astray=bool(draw.random() < 0.35),
    )
    aim = [bike.wheelbase / 2 + draw.normal(0, 40), draw.uniform(400, 520), 0]
    shared = {k: getattr(camera, k) for k in ("width", "height", "focal", "axis", "distortion", "flipped")}
    far = camera.focal_px * (bike.wheelbase + 2 * bike.front_radius) / (draw.uniform(0.62, 0.85) * camera.width)
    camera = standing(bike, aim, far, yaw, draw.uniform(-3, 10), draw.normal(0, 2), shared)
    return bike, camera, look, draw, marks_draw


def legs(look, draw):
    """The function that builds the fork."""
    flat = 1 if look["look"] == "flat" else 0
    stripes = (look["stripes"], draw.uniform(1.6, 4.0) if look["tone"] < 0.3 else draw.uniform(0.2, 0.6))
    pattern = (flat, *stripes) if look["look"] == "striped" else (flat, 0, 1)
    tint = look["tone"] * (1 + 0.15 * draw.uniform(-1, 1, 3))
    lower = tint if look["one_colour"] else np.array(DARK) if look["tone"] > 0.1 else np.full(3, 0.3)
    shine = 0 if flat else draw.uniform(0, 0.5)
    hose_at, hose_lean = draw.choice([-1, 1]) * draw.uniform(4, 14), draw.uniform(-12, 12)
    hose = (draw.choice([0.03, 0.5, 0.8]), draw.uniform(2, 3))

    def fork(things, bike, _):
        end, split = bike.axle_to_crown - 25, 0 if look["rigid"] else 250
        thick = bike.leg_radius + (0 if look["rigid"] else 7)
        for side in (1.0, -1.0):
            top = bike.on_leg(0, side)
            if split:
                things.bar(top, bike.on_leg(split, side), bike.leg_radius, tint, shine, pattern)
            steps = 14 if look["taper"] else 1
            for step in range(steps):
                a, b = (split + (end - split) * share / steps for share in (step, step + 1))
                radius = thick - look["taper"] * (step + 0.5) / steps
                things.bar(bike.on_leg(a, side), bike.on_leg(b, side), radius, lower, shine, pattern)
            things.bar(bike.on_leg(end, side), bike.front + side * bike.leg * bike.front_normal, 14, lower, 0.2, (flat, 0, 1))
            things.bar(bike.crown, top, 17, tint, 0.2, (flat, 0, 1))
        if look["hose"]:
            beside = hose_at + np.sign(hose_at) * (bike.leg_radius + 4)
            a, b = (bike.on_leg(at, 1.0, beside + lean) for at, lean in ((10, 0), (end - 60, hose_lean)))
            things.bar(a, b, hose[1], (hose[0],) * 3)

    return fork


def around_it(things, look, draw, bike):
    if look["busy"]:
        return surroundings(things, draw, bike)
    dim = draw.uniform(0.08, 0.2) if look["dark"] else draw.uniform(0.55, 0.95)
    if look["faint"]:
        dim = look["tone"] * draw.choice([0.7, 1.4])
    tint = np.clip(dim * (1 + 0.1 * draw.uniform(-1, 1, 3)), 0.01, 1)
    things.plane(np.zeros(3), np.array([0.0, 1.0, 0.0]), 0, draw.uniform(0.04, 0.6) * np.array([1, 0.95, 0.85]))
    away = draw.uniform(400, 1500)
    things.plane(np.array([0.0, 0.0, -away]), np.array([0.0, 0.0, 1.0]), 1, tint)
    if look["shadow"]:
        # A straight shadow on the wall, nearly parallel to the leg: a dark board of no depth.
        lean, foot = np.radians(draw.uniform(-8, 8)), bike.on_leg(450, 1.0)
        way = np.cos(lean) * bike.up + np.sin(lean) * bike.ahead
        middle = bike.on_leg(200, 1.0) + draw.uniform(-90, 90) * bike.ahead
        middle[2] = -away + 20
        dark = tint * draw.uniform(0.3, 0.7)
        things.bar(middle - 900 * way, middle + 900 * way, draw.uniform(20, 150), dark, 0, (1, 0, 1))


def render(number, scale):
    bike, camera, look, draw, _ = made(number)
    light = unit([draw.uniform(-0.6, 0.6), draw.uniform(0.5, 1), draw.uniform(0.4, 1)])
    things = Things()
    around_it(things, look, draw, bike)
    parts(things, draw, bike, legs(look, draw))
    return developed(things, bike, camera, light, draw, scale)


def all_marks(number, scale):
    """Exact marks, a hand's and taps, as render.py's; every scene has a tapped leg."""
    bike, camera, look, _, marks_draw = made(number)
    exact = scaled(marks_of(bike, camera, marks_draw, number, False), scale)
    draw = np.random.default_rng([SEED + 1, number])
    exact["image"] = {"width": round(camera.width * scale), "height": round(camera.height * scale)}
    exact["noise_px"] = NOISE * scale
    for name in ("seat_tube", "stanchions"):
        exact.pop(name, None)
    hand = by_hand(exact, draw, NOISE * scale)
    taps = json.loads(json.dumps(hand))
    for name, centre, normal, radius, width in bike.wheels():
        angles = draw.uniform(0, 2 * np.pi) + np.array([0, 1, 2]) * 2 * np.pi / 3 + draw.uniform(-0.35, 0.35, 3)
        points = camera.pixels(outline(centre, normal, radius, width, camera.eye, angles)) * scale
        taps[name]["tyre"] = off(points, draw, TAP * scale).round(1).tolist()
    end = bike.axle_to_crown - 25
    below = {"stanchion": draw.uniform([25, 170], [50, 225]), "lower": [280, end - 60], "whole": [30, end - 50]}
    ends = np.array([bike.on_leg(at) for at in below[look["along"]]])
    most = 0.01 * camera.height if look["astray"] else 10.0
    tapped = off(camera.pixels(ends) * scale, draw, most * scale).round(1).tolist()
    taps["stanchions"] = [{"points": tapped, "beside_mm": {"value": 65, "u": 4}}]
    lines = [camera.pixels(np.array([bike.on_leg(at, side) for at in (0, end)])) * scale for side in (1.0, -1.0)]
    return {"hand": hand, "taps": taps, "fork": look | {"lines": [line.round(3).tolist() for line in lines]}}


def one(call):
    folder, number, scale, most = call
    cv2.setNumThreads(1)
    image, quality, told = render(number, scale)
    name = folder / f"fork-{number:04d}"
    while most and quality > 30:
        if len(cv2.imencode(".jpg", image, [cv2.IMWRITE_JPEG_QUALITY, quality])[1]) <= most:
            break
        quality -= 5
    cv2.imwrite(f"{name}.jpg", image, [cv2.IMWRITE_JPEG_QUALITY, quality])
    bike, camera, *_ = made(number)
    truth = {key: round(float(value), 4) for key, value in bike.truth().items()}
    away = -camera.turn[2]
    yaw = round(float(np.degrees(np.arctan2(away[0], away[2]))), 2)
    text = {"number": number, "yaw": yaw, "truth": truth, "scale": scale, "made": told} | all_marks(number, scale)
    pathlib.Path(f"{name}.json").write_text(json.dumps(text, separators=(",", ":")) + "\n")
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
    tasks = [(call.folder, call.first + i, call.scale, call.most_bytes) for i in range(call.count)]
    # The first one alone, so that Numba's compilation is cached for all.
    print(one(tasks[0]), flush=True)
    with multiprocessing.Pool(call.processes) as pool:
        for line in pool.imap(one, tasks[1:]):
            print(line, flush=True)


if __name__ == "__main__":
    main()
