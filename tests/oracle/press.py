"""Press fits to compare core/mechanics/src/press with.

Writes tests/data/oracle/press.json, all with mpmath at 30 digits:

* `rings`: contact pressure and greatest hoop stress of two rings. Not from the closed formula but from elasticity
  itself: radial displacement u = A r + B / r in each ring under plane stress, the four constants from a linear system
  (no load on the free faces, equal radial stress and a jump of half the interference at the contact).
* `below`: P(cup - bore < limit) by numerical integration over the uniform distributions.
"""

import json
import pathlib
import platform
import random

import mpmath
from mpmath import lu_solve, matrix, mp, mpf, ncdf, quad

mp.dps = 30


def rings(outside, contact, inside, outer, inner, interference):
    c, b, a = (mpf(d) / 2 for d in (outside, contact, inside))
    (e_o, n_o), (e_i, n_i) = [(mpf(e), mpf(n)) for e, n in (outer, inner)]

    def radial(e, n, r):  # coefficients of A and B in the radial stress
        return e / (1 - n), -e / (1 + n) / r**2

    def hoop(e, n, r):
        return e / (1 - n), e / (1 + n) / r**2

    # Unknowns: A, B of the outer ring, A, B of the inner ring.
    system, right = matrix(4, 4), matrix(4, 1)
    system[0, 0], system[0, 1] = radial(e_o, n_o, c)
    system[1, 2], system[1, 3] = radial(e_i, n_i, a)
    s_o, s_i = radial(e_o, n_o, b), radial(e_i, n_i, b)
    system[2, 0], system[2, 1], system[2, 2], system[2, 3] = s_o[0], s_o[1], -s_i[0], -s_i[1]
    system[3, 0], system[3, 1], system[3, 2], system[3, 3] = b, 1 / b, -b, -1 / b
    right[3] = mpf(interference) / 2
    x = lu_solve(system, right)
    h_o = hoop(e_o, n_o, b)
    return -(s_o[0] * x[0] + s_o[1] * x[1]), h_o[0] * x[0] + h_o[1] * x[1]


def below(cup, bore, limit):
    mean, var, spreads = mpf(0), mpf(0), []
    for sign, part in ((1, cup), (-1, bore)):
        if "u" in part:
            mean += sign * mpf(part["value"])
            var += mpf(part["u"]) ** 2
        else:
            low, high = mpf(part["low"]), mpf(part["high"])
            mean += sign * (low + high) / 2
            spreads.append((high - low) / 2)
    sd = mp.sqrt(var)

    def chance(shift):
        z = mpf(limit) - mean - shift
        return ncdf(z / sd) if sd > 0 else (mpf(1) if z > 0 else mpf(0))

    def over(halves, shift):
        if not halves:
            return chance(shift)
        half, rest = halves[0], halves[1:]
        edge = mpf(limit) - mean - shift
        # Split the range at the kinks of the inner integral.
        bends = [edge + k * h for h in (sum(rest), 0) for k in (-1, 1)] + [edge + k * sd for k in (-6, -2, 0, 2, 6)]
        points = sorted({-half, half, *[p for p in bends if -half < p < half]})
        return quad(lambda x: over(rest, shift + x), points) / (2 * half)

    return over(spreads, mpf(0))


def main():
    draw = random.Random(20260503)
    made_rings, made_below = [], []
    for _ in range(40):
        contact = draw.uniform(30, 62)
        case = {
            "outside": round(contact + 2 * draw.uniform(0.8, 8), 3),
            "contact": round(contact, 3),
            "inside": round(contact - 2 * draw.uniform(0.8, 8), 3),
            "outer": [draw.choice([68900, 100000, 205000]), draw.choice([0.29, 0.33])],
            "inner": [draw.choice([68900, 100000, 205000]), draw.choice([0.29, 0.33])],
            "interference": round(draw.uniform(0.01, 0.15), 4),
        }
        pressure, hoop = rings(**case)
        made_rings.append({**case, "pressure": float(pressure), "hoop": float(hoop)})
    for number in range(60):
        def part(middle):
            if draw.random() < 0.4:
                return {"value": round(middle + draw.uniform(-0.03, 0.03), 3), "u": draw.choice([0.0, 0.01, 0.025])}
            low = round(middle - draw.uniform(0.005, 0.05), 3)
            return {"low": low, "high": round(low + draw.choice([0.00002, 0.01, 0.05, 0.1]), 5)}

        cup, bore = part(44.0), part(43.93)
        # Two exact numbers give a step, which is tested separately.
        if cup.get("u") == 0.0 and bore.get("u") == 0.0:
            cup["u"] = 0.01
        limit = draw.choice([0.02, 0.1])
        made_below.append({"cup": cup, "bore": bore, "limit": limit, "p": float(below(cup, bore, limit))})
    head = {"made_by": "press.py", "versions": {"python": platform.python_version(), "mpmath": mpmath.__version__}}
    text = (
        json.dumps(head)[:-1]
        + ', "rings": [\n' + ",\n".join(json.dumps(row) for row in made_rings)
        + '\n], "below": [\n' + ",\n".join(json.dumps(row) for row in made_below)
        + "\n]}\n"
    )
    out = pathlib.Path(__file__).resolve().parents[1] / "data/oracle/press.json"
    out.write_text(text)


main()
