"""Sessions of a phone as a level, to compare core/level/src with.

Writes tests/data/oracle/level.json: readings of synthetic sessions (means and their standard uncertainties), and the
angle, slope, change and their uncertainties from least squares. SciPy finds the minimum; Gauss-Newton steps with
mpmath's 40 digits continue from there, so that the written digits depend on no processor. Also writes
tests/data/level/*.csv: the samples of a demo bike before and after its kit, true angles 66.0 and 64.75 degrees, those
of the first demo bike with and without TT-4180-15. The sensor is simulated from rotation matrices: the bike's axis, its
lean, the floor and the phone are rotated one after the other. The table of priors is the default of `LevelPriors`.
"""

import json
import pathlib
import platform

import mpmath
import numpy as np
import scipy
from mpmath import mp, mpf
from scipy.optimize import least_squares
from scipy.spatial.transform import Rotation

KNOWN = dict(
    zero=0.1, wander=0.05, scale=0.005, edge=0.2, laying=0.1, floor=1.0, standing=0.05, lean=2.0, rim=0.2,
    gravity=0.015, length=0.01,
)
MIDDLE = 9.806
mp.dps = 40


def held(angle, top_up, screen_left):
    """Rotation from the phone's axes to the bike's (forward, left, up): edge along the axis."""
    along = np.array([-np.cos(np.radians(angle)), 0.0, np.sin(np.radians(angle))])
    out = np.array([0.0, 1.0, 0.0]) if screen_left else np.array([0.0, -1.0, 0.0])
    y = along if top_up else -along
    return Rotation.from_matrix(np.column_stack([np.cross(y, out), y, out]))


def on_rim(left):
    y = np.array([0.0, 0.0, 1.0])
    out = np.array([0.0, 1.0, 0.0]) if left else np.array([0.0, -1.0, 0.0])
    return Rotation.from_matrix(np.column_stack([np.cross(y, out), y, out]))


def phone(draw):
    return dict(
        zero=draw.normal(0, KNOWN["zero"], 3),
        scale=draw.normal(0, KNOWN["scale"], 3),
        gravity=draw.normal(MIDDLE, KNOWN["gravity"]),
        sits=Rotation.from_rotvec(np.radians([draw.normal(0, KNOWN["edge"]), 0.0, draw.normal(0, KNOWN["edge"])])),
    )


def session(draw, sensor, angle, slope, wander, bearings=(1, -1), positions=4, lean_sides=(True,)):
    readings = []
    for bearing in bearings:
        lean = draw.normal(0, 1.0)
        # Forward axis up by the slope in the first heading, down when turned round; then lean to the right.
        up = np.array([0.0, 0.0, 1.0])
        stand = Rotation.from_euler("y", -bearing * slope, degrees=True)
        tip = Rotation.from_euler("x", lean, degrees=True)
        bike = stand * tip
        poses = [("along", held(angle, a, b)) for a, b in [(1, 1), (0, 1), (0, 0), (1, 0)][:positions]]
        poses += [("lean_left" if left else "lean_right", on_rim(left)) for left in lean_sides]
        for pose, place in poses:
            laid = draw.normal(0, KNOWN["laying"]) if pose == "along" else 0.0
            jitter = Rotation.from_rotvec(np.radians([0.0, laid, 0.0]))
            roll = Rotation.from_rotvec(np.radians(draw.normal(0, 8.0)) * np.array([0.0, 1.0, 0.0]))
            roll = roll if pose == "along" else Rotation.identity()
            to_world = bike * jitter * place * roll * sensor["sits"]
            force = to_world.inv().apply(up) * sensor["gravity"]
            mean = force * (1 + sensor["scale"]) + sensor["zero"] + wander
            u = draw.uniform(0.001, 0.004, 3)
            mean = mean + draw.normal(0, u)
            readings.append(
                dict(
                    bearing="one_way" if bearing > 0 else "other_way",
                    pose=pose,
                    mean=[round(float(v), 9) for v in mean],
                    u=[round(float(v), 9) for v in u],
                )
            )
    return readings


def lean_of(readings, bearing):
    side = {}
    for pose, sign in (("lean_left", 1), ("lean_right", -1)):
        angles = [
            sign * np.degrees(np.arctan2(r["mean"][2], np.hypot(r["mean"][0], r["mean"][1])))
            for r in readings
            if r["bearing"] == bearing and r["pose"] == pose
        ]
        if angles:
            side[pose] = (np.mean(angles), KNOWN["rim"] / np.sqrt(len(angles)))
    if not side:
        return None
    if len(side) == 2:
        (a, ua), (b, ub) = side.values()
        return (a + b) / 2, np.hypot(ua, ub) / 2
    ((k, u),) = side.values()
    return k, np.sqrt(u**2 + np.degrees(KNOWN["zero"] / MIDDLE) ** 2 + KNOWN["edge"] ** 2)


def drop_of(angle, lean):
    k, u = 0.0, KNOWN["lean"]
    if lean:
        w, w0 = lean[1] ** -2, KNOWN["lean"] ** -2
        k, u = lean[0] * w / (w + w0), (w + w0) ** -0.5
    h, kr, ur = np.radians([angle, k, u])
    bent = np.tan(h) * ur**2 / 2
    return (
        np.degrees(h - np.arcsin(np.sin(h) * np.cos(kr)) + bent),
        np.degrees(np.hypot(np.tan(h) * kr * ur, bent * np.sqrt(2))),
    )


def fitted(sessions):
    """Angles, slopes and the covariance of the angles, chi-square."""
    prior_mean = [0.0] * 5 + [MIDDLE] + [0.0] * 3
    prior_u = [KNOWN["edge"]] * 2 + [KNOWN["scale"]] * 3 + [KNOWN["gravity"]] + [KNOWN["zero"]] * 3
    start, angles = list(prior_mean), []
    for i, readings in enumerate(sessions):
        if i:
            prior_mean += [0.0] * 3
            prior_u += [KNOWN["wander"]] * 3
            start += [0.0] * 3
        seen = [
            np.degrees(np.arcsin(abs(r["mean"][1]) / np.linalg.norm(r["mean"])))
            for r in readings
            if r["pose"] == "along"
        ]
        guess = float(np.mean(seen))
        drops = [drop_of(guess, lean_of(readings, b)) for b in ("one_way", "other_way")]
        angles.append(len(start))
        start += [guess, 0.0, drops[0][0], drops[1][0]]
        prior_mean += [np.nan, 0.0, drops[0][0], drops[1][0]]
        prior_u += [np.inf, KNOWN["floor"], *(np.hypot(d[1], KNOWN["standing"]) for d in drops)]
    prior_mean, prior_u = np.array(prior_mean), np.array(prior_u)
    scale = np.where(np.isfinite(prior_u), prior_u, 1.0)

    def misfits(p):
        return np.array(weighted_misfits(sessions, angles, prior_mean, prior_u, list(p), Doubles))

    found = least_squares(misfits, start, x_scale=scale, method="lm", xtol=1e-15, ftol=1e-15, gtol=1e-15)
    return polished(sessions, angles, prior_mean, prior_u, scale, found.x)


class Doubles:
    """NumPy's functions."""

    number, sqrt, asin = float, np.sqrt, np.arcsin
    degree = np.pi / 180


class Digits:
    """mpmath's functions."""

    number, sqrt, asin = mpf, mpmath.sqrt, mpmath.asin
    degree = mp.pi / 180


def weighted_misfits(sessions, angles, prior_mean, prior_u, p, m):
    """Residuals of the readings and of the priors, each over its standard uncertainty."""
    out = []
    edge = [p[0] * m.degree, m.number(1), p[1] * m.degree]
    edge = [e / norm(edge, m) for e in edge]
    for readings, place in zip(sessions, angles):
        zero = [z + (p[place - 3 + i] if place > 9 else 0) for i, z in enumerate(p[6:9])]
        for r in readings:
            force = [(m.number(mean) - z) / (1 + s) for mean, z, s in zip(r["mean"], zero, p[2:5])]
            u_angle, u_length = spreads(r)
            length = norm(force, m)
            if r["pose"] == "along":
                one = r["bearing"] == "one_way"
                shown = p[place] + (1 if one else -1) * p[place + 1] - p[place + (2 if one else 3)]
                sine = abs(sum(f * e for f, e in zip(force, edge))) / length
                out.append((m.asin(sine) / m.degree - shown) / u_angle)
            out.append((length - p[5]) / u_length)
    known = zip(p, prior_mean.tolist(), prior_u.tolist())
    return out + [(value - mean) / u for value, mean, u in known if np.isfinite(u)]


def norm(vector, m):
    return m.sqrt(sum(v * v for v in vector))


def spreads(reading):
    """Standard uncertainties of the angle, degrees, and of the length, m/s^2."""
    mean, u = np.array(reading["mean"]), np.array(reading["u"])
    n, level = np.linalg.norm(mean), np.hypot(mean[0], mean[2])
    # d asin(y/n) / d r, by hand.
    slope = np.array([-mean[1] * mean[0], level**2, -mean[1] * mean[2]]) / (n**2 * level)
    angle = np.hypot(np.degrees(np.linalg.norm(slope * u)), KNOWN["laying"])
    return float(angle), float(np.hypot(np.linalg.norm(mean * u) / n, KNOWN["length"]))


def polished(sessions, angles, prior_mean, prior_u, scale, start):
    """The minimum near `start`, the covariance there and chi-square, to more digits than a double has."""

    def misfits(y):
        p = [value * mpf(s) for value, s in zip(y, scale.tolist())]
        return mpmath.matrix(weighted_misfits(sessions, angles, prior_mean, prior_u, p, Digits))

    def slopes(y, here):
        jacobian = mpmath.matrix(len(here), len(y))
        # Half of the digits: truncation and cancellation errors are equal.
        step = mpf(10) ** (-mp.dps // 2)
        for i in range(len(y)):
            moved = list(y)
            moved[i] += step
            jacobian[:, i] = (misfits(moved) - here) / step
        return jacobian

    # In units of `scale`.
    y = [mpf(value) / mpf(s) for value, s in zip(start.tolist(), scale.tolist())]
    for _ in range(20):
        here = misfits(y)
        jacobian = slopes(y, here)
        normal = jacobian.T * jacobian
        step = mpmath.lu_solve(normal, jacobian.T * here)
        y = [value - s for value, s in zip(y, step)]
        # Each step is a small fraction of the previous one.
        if max(abs(s) for s in step) < mpf(10) ** -13:
            break
    else:
        raise ArithmeticError("the least squares do not converge")
    covariance = mpmath.inverse(normal)
    count = range(len(y))
    covariance = np.array([[float(covariance[i, j]) for j in count] for i in count]) * np.outer(scale, scale)
    rest = misfits(y)
    return np.array([float(v) for v in y]) * scale, covariance, angles, float((rest.T * rest)[0])


def table(draw, readings):
    """Thirty samples of each reading at 50 Hz; successive ones are correlated, since a phone smooths them."""
    lines = ["reading,bike,pose,time_s,x,y,z"]
    time = 0.0
    for number, reading in enumerate(readings, 1):
        noise = np.zeros(3)
        for _ in range(30):
            noise = 0.6 * noise + draw.normal(0, 0.02, 3)
            x, y, z = np.array(reading["mean"]) + noise
            lines.append(f"{number},{reading['bearing']},{reading['pose']},{time:.2f},{x:.4f},{y:.4f},{z:.4f}")
            time += 0.02
        time += 10.0
    return "\n".join(lines) + "\n"


def tables():
    draw = np.random.default_rng(20260503)
    folder = pathlib.Path(__file__).parent.parent / "data" / "level"
    folder.mkdir(exist_ok=True)
    sensor = phone(draw)
    before = session(draw, sensor, 66.0, 0.7, np.zeros(3))
    after = session(draw, sensor, 64.75, -0.4, draw.normal(0, KNOWN["wander"], 3))
    one_way = session(draw, sensor, 66.0, 0.7, np.zeros(3), bearings=(1,), positions=1, lean_sides=())
    for name, readings in (("before", before), ("after", after), ("one-way", one_way)):
        (folder / f"{name}.csv").write_text(table(draw, readings))


def main():
    tables()
    draw = np.random.default_rng(20260502)
    cases = []
    shapes = [
        dict(),
        dict(positions=2),
        dict(bearings=(1,)),
        dict(positions=1, lean_sides=()),
        dict(lean_sides=(True, False)),
        dict(lean_sides=()),
    ]
    for i in range(18):
        sensor = phone(draw)
        angle, moved = draw.uniform(60, 78), draw.uniform(-2, 2)
        shape = shapes[i % len(shapes)]
        wander = draw.normal(0, KNOWN["wander"], 3)
        before = session(draw, sensor, angle, draw.normal(0, 1), np.zeros(3), **shape)
        after = session(draw, sensor, angle + moved, draw.normal(0, 1), wander, **shape)
        x, cov, (p,), chi = fitted([before])
        y, both, (a, b), _ = fitted([before, after])
        cases.append(
            dict(
                truth=dict(angle=angle, change=moved),
                before=before,
                after=after,
                angle=[x[p], np.sqrt(cov[p, p])],
                slope=[x[p + 1], np.sqrt(cov[p + 1, p + 1])],
                chi_square=chi,
                change=[y[b] - y[a], np.sqrt(both[a, a] + both[b, b] - 2 * both[a, b])],
                correlation=both[a, b] / np.sqrt(both[a, a] * both[b, b]),
            )
        )
    header = {"python": platform.python_version(), "numpy": np.__version__, "scipy": scipy.__version__,
              "mpmath": mpmath.__version__}
    out = pathlib.Path(__file__).parent.parent / "data" / "oracle" / "level.json"
    text = json.dumps({"made_by": "level.py", "versions": header, "cases": cases}, default=float).replace('{"truth"', '\n{"truth"')
    out.write_text(text + "\n")


if __name__ == "__main__":
    main()
