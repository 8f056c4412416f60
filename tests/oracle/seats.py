"""Posteriors over seat sizes to compare core/mechanics/src/headset with.

Writes tests/data/oracle/seats.json. Bayes' rule is written out in plain products of densities with mpmath at 40 digits,
from the same tables (core/mechanics/data/sizes.json, core/mechanics/data/looking.json) but without logarithms, so that
any error in the handling of sums and products there shows here.
"""

import json
import pathlib
import platform
import random

import mpmath
from mpmath import erf, mp, mpf, npdf, sqrt

mp.dps = 40
ROOT = pathlib.Path(__file__).resolve().parents[2]
TABLE = json.loads((ROOT / "core/mechanics/data/sizes.json").read_text())
LOOKING = json.loads((ROOT / "core/mechanics/data/looking.json").read_text())
BEARINGS = {row["name"]: row for row in TABLE["bearings"]}
WIDTH = mpf(LOOKING["no_standard"]["flat_mm"])
NONE = mpf(str(LOOKING["no_standard"]["prior"]))
SLIP = mpf(str(LOOKING["slip"]["rate"]))


def flat(u):
    return (erf(WIDTH / 2 / (u * sqrt(mpf(2)))) if u > 0 else 1) / WIDTH


def density(reading, limits, extra=0.0):
    if reading is None:
        return mpf(1)
    value, u = map(mpf, reading)
    if limits is None:
        return SLIP * flat(u)
    low, high = map(mpf, limits)
    sd = sqrt(u**2 + ((high - low) / 2) ** 2 / 3 + mpf(extra) ** 2 / 3)
    return (1 - SLIP) * npdf(value, (low + high) / 2, sd) + SLIP * flat(u)


def posterior(case):
    end, seen = case["end"], case.get("observed")
    seen = None if seen == "not_seen" else seen
    looks = LOOKING["fork_out" if case.get("fork_out") else "looked_at"]
    sizes = [row for row in TABLE["sizes"] if row["weight"][end] > 0]
    total = sum(mpf(row["weight"][end]) for row in sizes)
    worn = LOOKING["worn"]
    joint, cartridges = {}, mpf(0)
    for row in sizes:
        prior = mpf(row["weight"][end]) / total
        likelihood = mpf(0)
        for inside in row["bearings"]:
            bearing = BEARINGS[inside["bearing"]]
            cartridge = density(case.get("bearing_inner"), bearing["inner"]["limits"]) * density(
                case.get("bearing_height"), bearing["height"]["limits"]
            )
            cartridges += prior * mpf(inside["share"]) * cartridge
            likelihood += (
                mpf(inside["share"])
                * cartridge
                * density(case.get("bearing_outer"), bearing["outer"]["limits"])
            )
        cup = row["cup"]["limits"] if "cup" in row else None
        joint[row["code"]] = (
            (1 - NONE)
            * prior
            * likelihood
            * density(case.get("bore"), row["bore"]["limits"], worn["bore_mm"])
            * density(case.get("cup_outer"), cup, worn["cup_mm"])
            * (mpf(looks[row["code"][:2]][seen]) if seen else 1)
        )
    odd = NONE * cartridges * (mpf(1) / 3 if seen else 1)
    for name in ("bearing_outer", "bore", "cup_outer"):
        if case.get(name):
            odd *= flat(mpf(case[name][1]))
    joint["none"] = odd
    everything = sum(joint.values())
    return {code: float(p / everything) for code, p in joint.items()}


def cases():
    draw = random.Random(20260502)
    for end in ("upper", "lower"):
        yield {"end": end}
        for seen in ("drop_in", "thin_lip", "external_cup", "not_seen"):
            for fork_out in (False, True):
                yield {"end": end, "observed": seen, "fork_out": fork_out}
        for outer in (38.0, 41.0, 41.4, 41.8, 45.3, 47.0, 49.0, 51.9, 52.0):
            for u in (0.0, 0.025, 0.5):
                yield {"end": end, "bearing_outer": [outer, u]}
    for _ in range(120):
        case = {"end": draw.choice(["upper", "lower"])}
        if draw.random() < 0.6:
            case["observed"] = draw.choice(["drop_in", "thin_lip", "external_cup", "not_seen"])
            case["fork_out"] = draw.random() < 0.5
        for name, middles in (
            ("bearing_outer", [38.0, 41.0, 41.8, 46.9, 49.0, 51.9, 45.3]),
            ("bearing_inner", [27.2, 30.2, 38.1, 40.0]),
            ("bearing_height", [6.5, 7.0, 8.0]),
            ("bore", [30.05, 34.0, 41.15, 42.0, 43.93, 49.6, 52.1, 55.93, 45.3]),
            ("cup_outer", [34.0, 44.0, 49.65, 56.0, 45.3]),
        ):
            if draw.random() < 0.45:
                u = draw.choice([0.01, 0.025, 0.25, 1.0, 20.0])
                case[name] = [round(draw.choice(middles) + draw.gauss(0, u), 3), u]
        yield case


def main():
    rows = [{**case, "posterior": posterior(case)} for case in cases()]
    out = ROOT / "tests/data/oracle/seats.json"
    head = {"made_by": "seats.py", "versions": {"python": platform.python_version(), "mpmath": mpmath.__version__}}
    text = json.dumps(head)[:-1] + ', "cases": [\n' + ",\n".join(json.dumps(row) for row in rows) + "\n]}\n"
    out.write_text(text)


main()
