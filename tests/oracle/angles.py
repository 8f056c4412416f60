"""Coefficients and reference values for the geometry's own sine, cosine and arc tangent.

Run `python3 tests/oracle/angles.py`; it rewrites `tests/data/oracle/angles.json`. The coefficients there are the
ones written in `core/mechanics/src/geometry/angle.rs`, highest power first, rounded to the nearest double.
"""

import json
import pathlib
import random

import mpmath
from mpmath import mp, mpf

mp.dps = 60
OUT = pathlib.Path(__file__).parent.parent / "data" / "oracle" / "angles.json"


def sine_tail(u):
    """(sin x / x - 1) / x^2 with u = x^2."""
    if u < mpf(10) ** -20:
        return -mpf(1) / 6 + u / 120
    x = mpmath.sqrt(u)
    return (mpmath.sin(x) / x - 1) / u


def cosine_tail(u):
    """(cos x - 1 + x^2 / 2) / x^4 with u = x^2."""
    if u < mpf(10) ** -12:
        return mpf(1) / 24 - u / 720 + u * u / 40320
    return (mpmath.cos(mpmath.sqrt(u)) - 1 + u / 2) / u**2


def arc_tail(u):
    """(atan t / t - 1) / t^2 with u = t^2."""
    if u < mpf(10) ** -20:
        return -mpf(1) / 3 + u / 5
    t = mpmath.sqrt(u)
    return (mpmath.atan(t) / t - 1) / u


def fit(function, end, terms):
    coefficients, error = mpmath.chebyfit(function, [0, end], terms, error=True)
    return [float(c) for c in coefficients], error


def main():
    quarter = (mp.pi / 4) ** 2
    half = mpmath.tan(mp.pi / 180 * 15) ** 2  # half of 30 degrees
    sine, sine_error = fit(sine_tail, quarter, 6)
    cosine, cosine_error = fit(cosine_tail, quarter, 6)
    arc, arc_error = fit(arc_tail, half, 9)
    random.seed(5)
    degrees = [k / 4 for k in range(0, 361)] + [random.uniform(0, 90) for _ in range(640)]
    turns = [k / 8 for k in range(-240, 241)] + [random.uniform(-30, 30) for _ in range(320)]
    values = {
        "made_with": {"mpmath": mpmath.__version__, "digits": mp.dps},
        "coefficients": {"sine": sine, "cosine": cosine, "arc_tangent": arc},
        "fit_error": {
            "sine": float(sine_error * quarter),
            "cosine": float(cosine_error * quarter**2),
            "arc_tangent": float(arc_error * half),
        },
        # degrees, sine, cosine
        "angles": [
            [d, float(mpmath.sin(mpf(d) * mp.pi / 180)), float(mpmath.cos(mpf(d) * mp.pi / 180)) if d != 90 else 0.0]
            for d in degrees
        ],
        # cosine and sine of a turn, as doubles, and the angle of that very pair in degrees
        "turns": [],
    }
    for d in turns:
        c = float(mpmath.cos(mpf(d) * mp.pi / 180))
        s = float(mpmath.sin(mpf(d) * mp.pi / 180))
        values["turns"].append([c, s, float(mpmath.atan2(mpf(s), mpf(c)) * 180 / mp.pi)])
    OUT.parent.mkdir(parents=True, exist_ok=True)
    rows = json.dumps(values).replace("], [", "],\n[")
    OUT.write_text(rows + "\n")


main()
