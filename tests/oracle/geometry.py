"""Reference values for the side view, its changes and the reconciliation of readings.

Run `python3 tests/oracle/geometry.py`; it rewrites `tests/data/oracle/geometry.json`.

Two parts. `changes`: random bicycles and changes, computed from the angles themselves with 40 digits (mpmath).
`sheets`: sets of readings, reconciled by SciPy with derivatives from complex steps, so that neither the method nor
the derivatives are those of the library under test.
"""

import json
import pathlib
import random

import mpmath
import numpy as np
import scipy
from mpmath import mp, mpf
from scipy.optimize import least_squares
from scipy.stats import chi2

mp.dps = 40
OUT = pathlib.Path(__file__).parent.parent / "data" / "oracle" / "geometry.json"

FIELDS = [
    "wheelbase",
    "head_angle",
    "axle_to_crown",
    "fork_offset",
    "lower_stack",
    "head_tube_length",
    "front_radius",
    "rear_radius",
    "chainstay",
    "bottom_bracket_height",
    "seat_angle",
]
FIGURES = [
    "head_angle",
    "seat_angle",
    "bottom_bracket_height",
    "reach",
    "stack",
    "wheelbase",
    "front_centre",
    "trail",
    "mechanical_trail",
    "wheel_flop",
]


class Exact:
    """mpmath's functions."""

    sin, cos, sqrt, asin, atan2 = mpmath.sin, mpmath.cos, mpmath.sqrt, mpmath.asin, mpmath.atan2

    @staticmethod
    def radians(degrees):
        return degrees * mp.pi / 180

    @staticmethod
    def degrees(radians):
        return radians * 180 / mp.pi


class Complex:
    """Functions that carry a complex step."""

    sin, cos, sqrt, asin = np.sin, np.cos, np.sqrt, np.arcsin

    @staticmethod
    def atan2(y, x):
        # The same branch as atan2 for the real part; its derivative is that of the complex logarithm.
        return np.arctan(y / x) if np.real(x) > 0 else np.pi / 2 - np.arctan(x / y)

    @staticmethod
    def radians(degrees):
        return degrees * (np.pi / 180)

    @staticmethod
    def degrees(radians):
        return radians * (180 / np.pi)


def standing(m, b):
    """The frame's points and figures at rest, from the angles."""
    w, head, a, o, h, length, rf, rr, c, bb, seat = b
    t = m.radians(head)
    up, forward = (-m.cos(t), m.sin(t)), (m.sin(t), m.cos(t))
    front = (w, rf)
    crown = tuple(front[i] + a * up[i] - o * forward[i] for i in range(2))
    lower = tuple(crown[i] + h * up[i] for i in range(2))
    upper = tuple(lower[i] + length * up[i] for i in range(2))
    bracket = (m.sqrt(c * c - (bb - rr) ** 2), bb)
    return up, forward, front, lower, upper, bracket


def figures(m, head, seat, rf, o, front, upper, bracket):
    t = m.radians(head)
    mechanical = rf * m.cos(t) - o
    trail = mechanical / m.sin(t)
    return [
        head,
        seat,
        bracket[1],
        upper[0] - bracket[0],
        upper[1] - bracket[1],
        front[0],
        m.sqrt((front[0] - bracket[0]) ** 2 + (front[1] - bracket[1]) ** 2),
        trail,
        mechanical,
        trail * m.sin(t) * m.cos(t),
    ]


def before(m, b):
    _, _, front, _, upper, bracket = standing(m, b)
    return figures(m, b[1], b[10], b[6], b[3], front, upper, bracket)


def after(m, b, change):
    """Figures after a change, tilt, pitch; the pitch by its arc sine."""
    z_u, z_l, e_u, e_l, a, o, rf, rr, h, sag = change
    up, forward, _, lower, upper, bracket = standing(m, b)
    high = tuple(upper[i] + z_u * up[i] + e_u * forward[i] for i in range(2))
    low = tuple(lower[i] - z_l * up[i] + e_l * forward[i] for i in range(2))
    dx, dy = high[0] - low[0], high[1] - low[1]
    size = m.sqrt(dx * dx + dy * dy)
    axis = (dx / size, dy / size)
    normal = (axis[1], -axis[0])
    tilt = m.atan2(e_l - e_u, b[5] + z_u + z_l)
    crown = tuple(low[i] - (h - z_l) * axis[i] for i in range(2))
    front = tuple(crown[i] - a * axis[i] + o * normal[i] for i in range(2))
    rear = (0, b[7] + sag)
    vx, vy = front[0] - rear[0], front[1] - rear[1]
    pitch = m.asin((rf - rr) / m.sqrt(vx * vx + vy * vy)) - m.atan2(vy, vx)

    def turned(p):
        x, y = p[0] - rear[0], p[1] - rear[1]
        return (
            x * m.cos(pitch) - y * m.sin(pitch),
            x * m.sin(pitch) + y * m.cos(pitch) + rr,
        )

    head = b[1] - m.degrees(tilt) - m.degrees(pitch)
    seat = b[10] - m.degrees(pitch)
    return (
        figures(m, head, seat, rf, o, turned(front), turned(upper), turned(bracket)),
        m.degrees(tilt),
        m.degrees(pitch),
    )


def some_bicycle(rng):
    return [
        rng.uniform(980, 1300),
        rng.uniform(60, 76),
        rng.uniform(360, 600),
        rng.uniform(-20, 60),
        rng.uniform(0, 20),
        rng.uniform(85, 200),
        rng.uniform(300, 380),
        rng.uniform(300, 380),
        rng.uniform(400, 470),
        rng.uniform(250, 360),
        rng.uniform(70, 80),
    ]


def changes(rng):
    rows = []
    while len(rows) < 120:
        b = some_bicycle(rng)
        half = rng.uniform(-3.5, 3.5)
        kit = [rng.uniform(-5, 8), rng.uniform(-5, 8), half + rng.uniform(-1, 1), -half]
        parts = {
            "axle_to_crown": b[2] + rng.uniform(-40, 40),
            "fork_offset": b[3] + rng.uniform(-8, 8),
            "front_radius": b[6] + rng.uniform(-20, 20),
            "rear_radius": b[7] + rng.uniform(-20, 20),
            "lower_stack": rng.uniform(0, 25),
        }
        parts = {name: value for name, value in parts.items() if rng.random() < 0.5}
        sag = [rng.uniform(5, 50), rng.uniform(5, 60)] if rng.random() < 0.4 else [0.0, 0.0]

        def full(kit, parts):
            return [
                *kit,
                parts.get("axle_to_crown", b[2]) - mpf(sag[0]),
                parts.get("fork_offset", b[3]),
                parts.get("front_radius", b[6]),
                parts.get("rear_radius", b[7]),
                parts.get("lower_stack", b[4]),
                sag[1],
            ]

        exact = [mpf(x) for x in b]
        new, tilt, pitch = after(Exact, exact, [mpf(x) for x in full(kit, parts)])
        if any(sag):
            old, _, dip = after(Exact, exact, [mpf(x) for x in full([0, 0, 0, 0], {})])
        else:
            old, dip = before(Exact, exact), mpf(0)
        rows.append(
            {
                "bicycle": dict(zip(FIELDS, b)),
                "kit": kit,
                "parts": parts,
                "sag": sag,
                "before": [float(x) for x in old],
                "after": [float(x) for x in new],
                "tilt_deg": float(tilt),
                "pitch_deg": float(pitch - dip),
            }
        )
    return rows


def reads(m, b):
    """The reading of each quantity."""
    _, _, front, _, upper, bracket = standing(m, b)
    return {
        "wheelbase": b[0],
        "head_angle": b[1],
        "axle_to_crown": b[2],
        "fork_offset": b[3],
        "lower_stack": b[4],
        "head_tube_length": b[5],
        "front_tyre_diameter": 2 * b[6],
        "rear_tyre_diameter": 2 * b[7],
        "chainstay_length": b[8],
        "bottom_bracket_height": b[9],
        "bottom_bracket_drop": b[7] - b[9],
        "seat_angle": b[10],
        "reach": upper[0] - bracket[0],
        "stack": upper[1] - bracket[1],
        "front_centre": m.sqrt((front[0] - bracket[0]) ** 2 + (front[1] - bracket[1]) ** 2),
    }


U = {
    "wheelbase": 1.0,
    "head_angle": 0.15,
    "axle_to_crown": 1.0,
    "fork_offset": 0.5,
    "lower_stack": 0.25,
    "head_tube_length": 0.25,
    "front_tyre_diameter": 1.5,
    "rear_tyre_diameter": 1.5,
    "chainstay_length": 0.5,
    "bottom_bracket_height": 1.0,
    "bottom_bracket_drop": 0.5,
    "seat_angle": 0.15,
    "reach": 0.5,
    "stack": 0.5,
    "front_centre": 1.0,
}


def derivatives(function, x):
    columns = []
    for k in range(len(x)):
        moved = np.array(x, dtype=complex)
        moved[k] += 1e-30j
        columns.append(np.imag(np.array(function(moved))) / 1e-30)
    return np.array(columns).T


KIT = [5.0, 4.0, -1.7, 1.6]
NEW_STACK = 14.0
NEW_OFFSET = 38.0


def compared(b):
    change = [*KIT, b[2], NEW_OFFSET, b[6], b[7], NEW_STACK, 0.0]
    old = before(Complex, b)
    new, tilt, pitch = after(Complex, b, change)
    return [*old, *new, *[n - o for n, o in zip(new, old)], tilt, pitch]


def sheet(rng, truth, whats, scale):
    exact = reads(Complex, np.array(truth, dtype=complex))
    readings = [(what, round(float(np.real(exact[what])) + scale * rng.gauss(0, U[what]), 3), U[what]) for what in whats]
    stated = np.array([value for _, value, _ in readings])
    u = np.array([u for _, _, u in readings])

    def model(x):
        r = reads(Complex, x)
        return [r[what] for what in whats]

    def misfit(x):
        return (stated - np.real(model(np.array(x, dtype=complex)))) / u

    def slopes(x):
        return -derivatives(model, x) / u[:, None]

    start = np.array(truth) * 1.01
    found = least_squares(misfit, start, jac=slopes, x_scale=np.abs(start), method="lm", xtol=1e-15, ftol=1e-15, gtol=1e-15)
    # Gauss-Newton steps remove the error left by the stopping rule.
    x = found.x
    for _ in range(4):
        x = x - np.linalg.lstsq(slopes(x), misfit(x), rcond=None)[0]
    design = slopes(x)
    covariance = np.linalg.inv(design.T @ design)
    r = misfit(x)
    kept = 1 - np.einsum("ij,jk,ik->i", design, covariance, design)
    dof = len(whats) - 11
    square = float(r @ r)
    gradient = derivatives(compared, x)
    values = np.real(compared(np.array(x, dtype=complex)))
    spread = np.sqrt(np.einsum("ij,jk,ik->i", gradient, covariance, gradient))
    return {
        "readings": [{"what": what, "value": value, "u": u} for what, value, u in readings],
        "bicycle": dict(zip(FIELDS, x.tolist())),
        "bicycle_u": np.sqrt(np.diag(covariance)).tolist(),
        "chi_square": square,
        "degrees_of_freedom": dof,
        "probability": float(chi2.sf(square, dof)) if dof else None,
        "normalised": [float(v / np.sqrt(k)) if k > 1e-9 else None for v, k in zip(r, kept)],
        "results": values.tolist(),
        "results_u": spread.tolist(),
    }


def sheets(rng):
    every = list(U)
    without = lambda *gone: [what for what in every if what not in gone]
    kinds = [
        (every, 1.0),
        (every, 3.0),
        (without("front_centre"), 1.0),
        (without("head_angle"), 1.0),
        (without("head_angle", "wheelbase"), 1.0),
        (without("bottom_bracket_height", "axle_to_crown"), 1.0),
        (without("reach", "stack", "front_centre", "bottom_bracket_drop"), 1.0),
        (without("head_angle", "chainstay_length", "bottom_bracket_height"), 1.0),
        ([*every, "head_angle", "wheelbase", "reach"], 1.0),
    ]
    rows = []
    for whats, scale in kinds:
        for _ in range(3):
            rows.append(sheet(rng, some_bicycle(rng), whats, scale))
    return rows


def main():
    values = {
        "made_with": {
            "mpmath": mpmath.__version__,
            "numpy": np.__version__,
            "scipy": scipy.__version__,
        },
        "figures": FIGURES,
        "change": {"kit": KIT, "lower_stack": NEW_STACK, "fork_offset": NEW_OFFSET},
        "changes": changes(random.Random(11)),
        "sheets": sheets(random.Random(12)),
    }
    OUT.parent.mkdir(parents=True, exist_ok=True)
    text = json.dumps(values).replace('}, {"bicycle"', '},\n{"bicycle"').replace('}, {"readings"', '},\n{"readings"')
    OUT.write_text(text + "\n")


main()
