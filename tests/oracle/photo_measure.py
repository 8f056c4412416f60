"""Bikes on photos, to compare core/photogrammetry/src/measure with.

Writes tests/data/oracle/photo_measure.json. Ellipses are fitted by OpenCV (direct) and by SciPy's orthogonal distances,
whose minimum Newton steps with mpmath's 40 digits refine to digits that depend on no processor; poses of circles come
from OpenCV's solvePnP. Whole pictures are made by OpenCV's projectPoints from points in space: a tyre's outline by
searching round each cross-section for the point that is farthest from the wheel's centre as seen, which needs no
formula for a ring's outline. Everything that the marks' file states with an uncertainty is drawn with that uncertainty,
so the truth is distributed about the statement as claimed.
"""

import json
import pathlib
import platform
import sys

import cv2
import mpmath
import numpy as np
import scipy
from mpmath import mp, mpf
from scipy.optimize import brentq, least_squares

WIDTH, HEIGHT = 4032, 3024
HALF = np.hypot(WIDTH, HEIGHT) / 2
FILM = np.hypot(36, 24)
mp.dps = 40


def rot(axis, degrees):
    return cv2.Rodrigues(np.asarray(axis, float) * np.radians(degrees))[0]


class Camera:
    def __init__(self, focal, axis, k, rotation, origin):
        """k in half diagonals; rotation and origin take the bike's plane (x forward, y up, z to the camera) to the
        camera (x right, y down, z away)."""
        self.matrix = np.array([[focal, 0, axis[0]], [0, focal, axis[1]], [0, 0, 1.0]])
        self.bend = np.array([k * (focal / HALF) ** 2, 0, 0, 0])
        self.rotation, self.origin = rotation, origin

    def distance(self):
        """Distance from the bike's plane."""
        return -self.rotation[:, 2] @ self.origin

    def see(self, points):
        points = np.asarray(points, float).reshape(-1, 1, 3)
        seen, _ = self.project(points)
        return seen.reshape(-1, 2)

    def moves(self, point, way):
        """The rate at which the pixel of a point moves while the point moves along `way`."""
        _, slopes = self.project(np.asarray(point, float).reshape(1, 1, 3))
        # Columns 3 to 5: by the origin, which translates a point after the rotation.
        return slopes[:, 3:6] @ self.rotation @ way

    def project(self, points):
        return cv2.projectPoints(points, cv2.Rodrigues(self.rotation)[0], self.origin, self.matrix, self.bend)


def outline(camera, centre, axes, radius, width, around):
    """Points of a tyre's outline: for every direction, the point of the cross-section circle that is farthest out."""
    first, second, normal = axes
    points = []
    for t in around:
        out = np.cos(t) * first + np.sin(t) * second
        along = -np.sin(t) * first + np.cos(t) * second
        middle = centre + (radius - width / 2) * out

        def at(tilt):
            return middle + width / 2 * (np.cos(tilt) * out + np.sin(tilt) * normal)

        def rise(tilt):
            return side @ camera.moves(at(tilt), np.cos(tilt) * normal - np.sin(tilt) * out)

        # Direction of the outline in the picture: the tangent of the ring, as seen.
        a, b = camera.see([middle - along, middle + along])
        way = (b - a) / np.linalg.norm(b - a)
        side = np.array([-way[1], way[0]])
        home = camera.see([middle])[0]
        if side @ (home - camera.see([centre])[0]) < 0:
            side = -side
        # Where it stops moving outwards: a root keeps all digits, while a search for a maximum loses half of them.
        points.append(camera.see([at(brentq(rise, -1.5, 1.5, xtol=1e-14))])[0])
    return np.array(points)


def estimate(value, u):
    return {"value": round(float(value), 6), "u": u}


def picture(rng, *, yaw=None, focal_told=True, left=False, turn=None, noise=1.5, distance=None, bend=None):
    """Marks and truth of one picture. `bend` is a distortion beyond what the marks' file expects of a telephone; the
    picture then has straight objects that determine it."""
    u = {"radius": 1.5, "width": 3.0, "offset": 1.0, "leg": 4.0, "crank": 5.0, "plane": 2.0, "turn": 0.5,
         "focal": 0.5, "axis": 15.0, "k": 0.01}
    stated = {"front": rng.choice([742.0, 735.0, 690.0]), "rear": rng.choice([742.0, 735.0, 690.0]),
              "width": rng.uniform(50, 65), "offset": rng.uniform(37, 51), "leg": 65.0, "crank": 75.0,
              "focal": rng.uniform(24, 50)}
    draw = lambda value, spread: value + spread * rng.standard_normal()
    front = draw(stated["front"] / 2, u["radius"])
    rear = draw(stated["rear"] / 2, u["radius"])
    widths = [draw(stated["width"], u["width"]) for _ in range(2)]
    offset = draw(stated["offset"], u["offset"])
    head, seat = rng.uniform(62, 72), rng.uniform(72, 79)
    wheelbase, stay, bb_height = rng.uniform(1120, 1290), rng.uniform(425, 455), rng.uniform(325, 355)
    axle_to_crown, lower_stack, tube = rng.uniform(500, 590), rng.uniform(2, 14), rng.uniform(95, 140)
    turned = draw(0, u["turn"]) if turn is None else turn

    # On the ground: x forward, y up.
    h, s = np.radians(head), np.radians(seat)
    up, fore = np.array([-np.cos(h), np.sin(h)]), np.array([np.sin(h), np.cos(h)])
    axle_r, axle_f = np.array([0.0, rear]), np.array([wheelbase, front])
    foot = axle_f - offset * fore
    crown = foot + axle_to_crown * up
    bottom = crown + lower_stack * up
    top = bottom + tube * up
    bb = np.array([np.sqrt(stay**2 - (bb_height - rear) ** 2), bb_height])
    seat_up = np.array([-np.cos(s), np.sin(s)])

    focal35 = draw(stated["focal"], u["focal"])
    focal = focal35 * 2 * HALF / FILM
    axis = np.array([WIDTH / 2, HEIGHT / 2]) + u["axis"] * rng.standard_normal(2)
    if bend is not None:
        u["k"] = 0.05
    k = u["k"] * rng.standard_normal() if bend is None else bend
    yaw = rng.uniform(-30, 30) if yaw is None else yaw
    pitch, roll = rng.uniform(-8, 8), rng.uniform(-5, 5)
    looks = rot([0, 0, 1], roll) @ rot([1, 0, 0], pitch) @ rot([0, 1, 0], yaw) @ np.diag([1.0, -1, -1])
    # As near as the picture's frame allows, with some margin.
    middle = np.array([wheelbase / 2, 450, 0])
    for away in np.arange(1.2, 8.0, 0.1) * 1000 if distance is None else [distance]:
        origin = np.array([rng.uniform(-60, 60), rng.uniform(-60, 60), away]) - looks @ middle
        camera = Camera(focal, axis, k, looks, origin)
        corners = camera.see([[x, y, 0] for x in (-rear, wheelbase + front) for y in (0, 900.0)])
        if (corners > 60).all() and (corners < np.array([WIDTH, HEIGHT]) - 60).all():
            break

    flat = lambda place, z=0.0: [place[0], place[1], z]
    ex, ey, ez = np.eye(3)
    around = lambda n: 2 * np.pi * (np.arange(n) + rng.uniform(0, 1, n) * 0.6) / n
    steer = rot(flat(up), turned)
    front_axes = [steer @ e for e in (ex, ey, ez)]
    front_centre = np.array(flat(foot)) + steer @ (offset * np.array(flat(fore)))
    marks_front = outline(camera, front_centre, front_axes, front, widths[0], around(12))
    marks_rear = outline(camera, np.array(flat(axle_r)), [ex, ey, ez], rear, widths[1], around(12))
    plane = lambda: draw(0, u["plane"])
    leg, crank = draw(stated["leg"], u["leg"]), draw(stated["crank"], u["crank"])
    see = lambda place, z: camera.see([flat(place, z)])[0]
    stanchion = [see(foot + t * up + 12 * fore, leg) for t in (300, 380, 460)]
    seat_z = plane()
    seat_tube = [see(bb + t * seat_up + 3 * np.array([1, 0]), seat_z) for t in (60, 230, 400)]
    points = {"head_tube_top": see(top, plane()), "head_tube_bottom": see(bottom, plane()),
              "crown": see(crown, plane()), "bottom_bracket": see(bb, crank)}

    # Edges of a wall behind the bike and of the paving in front of it.
    walls = [] if bend is None else [
        [camera.see([[x, y, z]])[0] for x in np.linspace(-500, 1800, 7)]
        for y, z in ((1150.0, -600.0), (-40.0, 300.0), (700.0, -600.0))]

    def mark(place):
        x, y = place + noise * rng.standard_normal(2)
        return [round(float(WIDTH - x if left else x), 2), round(float(y), 2)]

    lens = {"axis": {"at": [WIDTH / 2, HEIGHT / 2], "u_px": u["axis"]}, "distortion": estimate(0, u["k"])}
    if focal_told:
        lens["focal_length_35mm"] = estimate(stated["focal"], u["focal"])
    diameter = lambda end: estimate(stated[end], 2 * u["radius"])
    marks = {
        "schema": "steerwright.marks/1", "image": {"width": WIDTH, "height": HEIGHT}, "lens": lens, "noise_px": noise,
        "shows_drive_side": not left,
        "front": {"tyre": [mark(p) for p in marks_front], "diameter_mm": diameter("front"),
                  "width_mm": estimate(stated["width"], u["width"])},
        "rear": {"tyre": [mark(p) for p in marks_rear], "diameter_mm": diameter("rear"),
                 "width_mm": estimate(stated["width"], u["width"])},
        "front_wheel_turn_deg": estimate(0, u["turn"]),
        "fork_offset_mm": estimate(stated["offset"], u["offset"]),
        **{name: {"at": mark(place), "beside_mm": estimate(stated["crank"], u["crank"])
                  if name == "bottom_bracket" else estimate(0, u["plane"])} for name, place in points.items()},
        "stanchions": [{"points": [mark(p) for p in stanchion], "beside_mm": estimate(stated["leg"], u["leg"])}],
        "seat_tube": {"points": [mark(p) for p in seat_tube], "beside_mm": estimate(0, u["plane"])},
    }
    if walls:
        inside = lambda p: 0 < p[0] < WIDTH and 0 < p[1] < HEIGHT
        lines = [[mark(p) for p in line if inside(p)] for line in walls]
        marks["straight"] = [line for line in lines if len(line) >= 4]
    truth = {
        "head_angle": head, "seat_angle": seat, "wheelbase": wheelbase, "chainstay_length": stay,
        "bottom_bracket_height": bb_height, "front_centre": np.linalg.norm(axle_f - bb),
        "axle_to_crown": axle_to_crown, "head_tube_length": tube, "lower_stack": lower_stack,
        "reach": top[0] - bb[0], "stack": top[1] - bb[1],
    }
    return {"marks": marks, "truth": {name: round(float(value), 5) for name, value in truth.items()},
            "yaw": round(float(yaw), 3), "distance": round(float(camera.distance()), 3), "turn": round(float(turned), 4),
            "focal_px": round(float(focal), 3), "distortion": round(float(k), 6)}


def ellipses(rng):
    """Points and the fits of OpenCV and SciPy to them."""
    gander = np.array([[1, 7], [2, 6], [5, 8], [7, 7], [9, 5], [3, 7], [6, 2], [8, 4]], float)
    cases = [gander]
    for _ in range(12):
        n = int(rng.integers(6, 25))
        t = np.sort(rng.uniform(0, 2 * np.pi, n))
        a, b = rng.uniform(100, 500, 2)
        turn = rng.uniform(0, np.pi)
        plain = np.stack([a * np.cos(t), b * np.sin(t)], 1) @ np.array(
            [[np.cos(turn), np.sin(turn)], [-np.sin(turn), np.cos(turn)]])
        cases.append(np.round(plain + rng.uniform(500, 1500, 2) + rng.normal(0, 2, (n, 2)), 3))
    found = []
    for points in cases:
        direct = cv2.fitEllipseDirect(points.astype(np.float32).reshape(-1, 1, 2))
        found.append({"points": points.tolist(), "direct": sorted_ellipse(direct), "nearest": nearest(points, sorted_ellipse(direct))})
    return found


def sorted_ellipse(fit):
    (x, y), (p, q), turn = fit
    if p < q:
        p, q, turn = q, p, turn + 90
    return {"centre": [float(x), float(y)], "major": p / 2, "minor": q / 2, "turn_deg": float(turn % 180)}


def nearest(points, start):
    """Orthogonal distances with every foot point as an unknown, so that no search for feet is needed."""
    n = len(points)
    turn = np.radians(start["turn_deg"])
    cx, cy = start["centre"]

    def edge(x):
        (mx, my, a, b, turn), t = x[:5], x[5:]
        c, s = np.cos(turn), np.sin(turn)
        u, v = a * np.cos(t), b * np.sin(t)
        return np.stack([mx + u * c - v * s, my + u * s + v * c], 1)

    best = None
    for grow in (1.0, 1.7):
        a, b = start["major"] * grow, start["minor"]
        d = points - [cx, cy]
        u, v = d @ [np.cos(turn), np.sin(turn)], d @ [-np.sin(turn), np.cos(turn)]
        x0 = np.concatenate([[cx, cy, a, b, turn], np.arctan2(v / b, u / a)])
        fit = least_squares(lambda x: (edge(x) - points).ravel(), x0, xtol=1e-15, ftol=1e-15, gtol=1e-15,
                            x_scale="jac", max_nfev=20000)
        if best is None or fit.cost < best.cost - 1e-9:
            best = fit
    (x, y, a, b, turn), square = polished(points.tolist(), best.x.tolist())
    found = sorted_ellipse(((x, y), (2 * abs(a), 2 * abs(b)), np.degrees(turn)))
    return {**found, "rms": float(np.sqrt(square / n))}


def polished(points, start):
    """The ellipse and the sum of squares where the gradient of that sum is zero, near `start`."""

    def misfits(turn, t, place, shape):
        (mx, my, a, b), (x, y) = shape, place
        c, s, u, v = mpmath.cos(turn), mpmath.sin(turn), a * mpmath.cos(t), b * mpmath.sin(t)
        return mx + u * c - v * s - x, my + u * s + v * c - y

    def slope(*unknown):
        shape, turn, feet = unknown[:4], unknown[4], unknown[5:]
        (_, _, a, b), c, s = shape, mpmath.cos(turn), mpmath.sin(turn)
        whole, own = [mpf(0)] * 5, []
        for place, t in zip(points, feet):
            p, q = misfits(turn, t, place, shape)
            # The misfit along the ellipse's axes, and the foot relative to its centre.
            along, across = p * c + q * s, q * c - p * s
            cos, sin = mpmath.cos(t), mpmath.sin(t)
            for i, part in enumerate((p, q, along * cos, across * sin, across * a * cos - along * b * sin)):
                whole[i] += part
            own.append(across * b * cos - along * a * sin)
        return whole + own

    found = list(mpmath.findroot(slope, [mpf(value) for value in start], solver="mdnewton"))
    square = sum(p * p + q * q for place, t in zip(points, found[5:]) for p, q in [misfits(found[4], t, place, found[:4])])
    return [float(value) for value in found[:5]], float(square)


def poses(rng):
    """A circle's edge projected by OpenCV, and the circle's pose from OpenCV's solvePnP."""
    found = []
    for _ in range(12):
        radius, focal = rng.uniform(300, 400), rng.uniform(2000, 6000)
        turn = rot([0, 0, 1], rng.uniform(-10, 10)) @ rot([1, 0, 0], rng.uniform(-15, 15)) @ rot(
            [0, 1, 0], rng.uniform(-40, 40)) @ np.diag([1.0, -1, -1])
        origin = np.array([rng.uniform(-600, 600), rng.uniform(-400, 400), rng.uniform(2500, 5000)])
        camera = Camera(focal, [WIDTH / 2, HEIGHT / 2], 0.0, turn, origin)
        t = np.linspace(0, 2 * np.pi, 24, endpoint=False)
        edge = np.stack([radius * np.cos(t), radius * np.sin(t), 0 * t], 1)
        seen = camera.see(edge)
        _, r, place = cv2.solvePnP(edge, seen, camera.matrix, None, flags=cv2.SOLVEPNP_ITERATIVE)
        found.append({"radius": radius, "focal": focal, "axis": [WIDTH / 2, HEIGHT / 2], "points": seen.tolist(),
                      "centre": place.ravel().tolist(), "normal": cv2.Rodrigues(r)[0][:, 2].tolist()})
    return found


def main():
    count = int(sys.argv[1]) if len(sys.argv) > 1 else 400
    rng = np.random.default_rng(8_2026)
    data = {
        "made_by": "tests/oracle/photo_measure.py",
        "versions": {"python": platform.python_version(), "numpy": np.__version__, "scipy": scipy.__version__,
                     "mpmath": mpmath.__version__, "opencv": cv2.__version__},
        "ellipses": ellipses(rng),
        "poses": poses(rng),
        "pictures": [picture(rng, left=bool(i % 2), focal_told=i % 4 != 3) for i in range(count)],
        "turned": [picture(rng, turn=turn, yaw=yaw) for turn, yaw in
                   [(20, 0), (12, 15), (-12, 15), (8, -20), (-25, -5), (15, 25)]],
        "bent": [picture(rng, bend=bend) for bend in np.linspace(-0.08, 0.06, 40)],
        "close": [picture(rng, distance=1000.0, yaw=yaw) for yaw in (0, 10)],
        "oblique": [picture(rng, yaw=yaw) for yaw in (52, -55)],
    }
    out = pathlib.Path(__file__).resolve().parent.parent / "data/oracle/photo_measure.json"
    out.write_text(json.dumps(data, separators=(",", ":")) + "\n")


if __name__ == "__main__":
    main()
