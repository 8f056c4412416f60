"""Writes the demo data: `core/fit/data/demo/catalogue.json` and `core/fit/data/demo/bikes/hire-bike-NN.json`.

All of it is invented. Quantities that can be measured in two ways agree, because they are computed here from a few
numbers per bike: reach, stack and front centre from wheelbase, angles and fork; kit offsets from tilt and range. A bike
has a wrong number only where the table of `core/fit/data/demo/README.md` states so.

Usage: python3 tests/oracle/demo.py   (needs nothing but Python)
"""

import json
import math
from pathlib import Path

ROOT = Path(__file__).resolve().parents[2] / "core" / "fit" / "data" / "demo"


def line(value):
    return json.dumps(value, ensure_ascii=False)


def write(path, text):
    path.parent.mkdir(parents=True, exist_ok=True)
    path.write_text(text, encoding="utf-8")


# ---------------------------------------------------------------------------------------------- catalogue

# Dimensions of a half, by its seat: stack, plane, and for pressed cups the bore's depth and the cup's diameter. Throats
# of drop-in halves follow from the tilt.
UPPER = {
    "IS41": (9.5, 4.0), "IS42": (9.5, 4.0), "IS47": (10.0, 4.0), "IS52": (11.0, 4.5),
    "ZS44": (9.0, -3.0, 16.0, 43.985), "ZS49": (9.0, -3.5, 16.0, 49.67),
    "EC34": (15.0, 8.0, 15.0, 33.985), "EC44": (15.0, 8.0, 15.0, 43.985),
}
LOWER = {
    "IS41": (4.0, 3.0), "IS49": (4.0, 3.0), "IS52": (4.0, 3.0),
    "ZS44": (5.0, -3.0, 16.0, 43.985), "ZS56": (5.0, -3.5, 15.0, 55.985),
    "EC34": (13.0, 8.0, 15.0, 33.985), "EC44": (14.0, 9.0, 15.0, 43.985), "EC49": (13.5, 8.5, 15.0, 49.645),
    "EC56": (13.5, 8.5, 15.0, 55.985),
}
# The narrowest throat: steerer, twice the bearing's offset and the running clearance, plus a margin for the lean.
THROAT = {0.5: 2.4, 1.0: 3.4, 1.5: 4.3, 2.0: 5.5}


def half(table, seat, tilt, steerer_mm, upper, offset=None):
    row = table[seat]
    out = {"seat": seat, "stack_mm": row[0], "plane_mm": row[1]}
    if seat.startswith("IS"):
        extra = 1.0 if upper else 0.0
        out["throat_min_mm"] = round(2 * (steerer_mm + THROAT[tilt] + extra)) / 2
        if upper:
            out["recess_max_mm"] = 3.0
    else:
        out["bore_depth_min_mm"] = row[2]
        out["cup_mm"] = row[3]
    if offset is not None:
        out["offset_mm"] = offset
    return out


def kit(sku, name, tilt, upper, lower, lengths, price, stock, steerer=(28.6, 39.8), reused=True, reversible=False,
        hoses=False, stop=False, offsets=False):
    z_u, z_l = UPPER[upper][1], LOWER[lower][1]
    e = math.tan(math.radians(tilt)) * (sum(lengths) / 2 + z_u + z_l)
    back, forward = (-round(e / 2, 2), round(e / 2, 2)) if offsets else (None, None)
    out = {"sku": sku, "name": name, "tilt_deg": tilt}
    if reversible:
        out["reversible"] = True
    out["upper"] = half(UPPER, upper, tilt, steerer[0], True, back)
    out["lower"] = half(LOWER, lower, tilt, steerer[1], False, forward)
    out["head_tube_length_mm"] = list(lengths)
    out["steerer"] = {"upper_mm": steerer[0], "lower_mm": steerer[1]}
    out["bearings"] = "reused" if reused else "included"
    if hoses:
        out["hoses"] = True
    if stop:
        out["steering_stop"] = True
    out["price"] = price
    if stock is not None:
        out["stock"] = stock
    return out


STRAIGHT = (28.6, 30.0)
KITS = [
    kit("TT-4180-05", "Drop-in pair, half a degree", 0.5, "IS42", "IS52", (90, 140), "99.00", 9, reversible=True),
    kit("TT-4180-10", "Drop-in pair, 1 degree", 1.0, "IS42", "IS52", (95, 120), "119.00", 12, reversible=True),
    kit("TT-4180-10L", "Drop-in pair, 1 degree, long", 1.0, "IS42", "IS52", (115, 145), "119.00", 4, reversible=True),
    kit("TT-4180-10H", "Drop-in pair, 1 degree, with hose ports and stop", 1.0, "IS42", "IS52", (95, 130), "159.00", 3,
        reused=False, hoses=True, stop=True, offsets=True),
    kit("TT-4180-15S", "Drop-in pair, 1.5 degrees, short", 1.5, "IS42", "IS52", (85, 105), "129.00", 2),
    kit("TT-4180-15", "Drop-in pair, 1.5 degrees", 1.5, "IS42", "IS52", (100, 125), "129.00", 6, reversible=True),
    kit("TT-4180-15L", "Drop-in pair, 1.5 degrees, long", 1.5, "IS42", "IS52", (120, 150), "129.00", 5,
        reversible=True),
    kit("TT-4180-20", "Drop-in pair, 2 degrees", 2.0, "IS42", "IS52", (100, 118), "149.00", 3, offsets=True),
    kit("TT-4180-20L", "Drop-in pair, 2 degrees, long", 2.0, "IS42", "IS52", (116, 136), "149.00", 0, offsets=True),
    kit("TT-4100-10", "Drop-in pair for 41.0 bearings, 1 degree", 1.0, "IS41", "IS52", (95, 125), "119.00", 5,
        reversible=True),
    kit("TT-4100-15", "Drop-in pair for 41.0 bearings, 1.5 degrees", 1.5, "IS41", "IS52", (100, 125), "129.00", 4),
    kit("TT-4100-15B", "Drop-in pair, 1.5 degrees, with 41.0 and 52.0 bearings", 1.5, "IS41", "IS52", (100, 125),
        "168.00", 2, reused=False),
    kit("TT-4141-10", "Drop-in pair for straight steerers, 1 degree", 1.0, "IS41", "IS41", (100, 150), "115.00", None,
        steerer=STRAIGHT, reversible=True),
    kit("TT-4749-15", "Drop-in pair for oversize steerers, 1.5 degrees", 1.5, "IS47", "IS49", (95, 125), "145.00", 1,
        steerer=(31.8, 39.8)),
    kit("TT-5252-10", "Drop-in pair 52/52, 1 degree", 1.0, "IS52", "IS52", (95, 135), "125.00", 3, reversible=True),
    kit("TT-5252-10H", "Drop-in pair 52/52, 1 degree, with hose ports", 1.0, "IS52", "IS52", (95, 135), "169.00", 4,
        hoses=True, offsets=True),
    kit("TT-4456-10", "Zero stack pair, 1 degree", 1.0, "ZS44", "ZS56", (95, 130), "139.00", 7, reused=False,
        reversible=True),
    kit("TT-4456-15", "Zero stack pair, 1.5 degrees", 1.5, "ZS44", "ZS56", (100, 125), "149.00", 6, reused=False,
        reversible=True, offsets=True),
    kit("TT-4456-15L", "Zero stack pair, 1.5 degrees, long", 1.5, "ZS44", "ZS56", (120, 150), "149.00", 2,
        reused=False, reversible=True),
    kit("TT-4456-20", "Zero stack pair, 2 degrees", 2.0, "ZS44", "ZS56", (100, 120), "165.00", 2, reused=False),
    kit("TT-4456E-20", "Zero stack above, external below, 2 degrees", 2.0, "ZS44", "EC56", (105, 135), "169.00", None,
        reused=False, offsets=True),
    kit("TT-4444-10", "Zero stack above, external below, 44 bore, 1 degree", 1.0, "ZS44", "EC44", (100, 135), "135.00",
        5, reused=False, reversible=True),
    kit("TT-4444-15", "Zero stack above, external below, 44 bore, 1.5 degrees", 1.5, "ZS44", "EC44", (100, 130),
        "145.00", 3, reused=False, reversible=True),
    kit("TT-4449-15", "External pair, 44 above, 49.6 bore below, 1.5 degrees", 1.5, "EC44", "EC49", (95, 130),
        "155.00", 1, reused=False),
    kit("TT-4949-20", "Pair for 49.6 bores, 2 degrees", 2.0, "ZS49", "EC49", (105, 140), "165.00", 1, reused=False,
        offsets=True),
    kit("TT-3434-05", "External pair for 34 bores, half a degree", 0.5, "EC34", "EC34", (90, 190), "89.00", 8,
        steerer=STRAIGHT, reused=False, reversible=True),
    kit("TT-3434-10", "External pair for 34 bores, 1 degree", 1.0, "EC34", "EC34", (100, 160), "95.00", 8,
        steerer=STRAIGHT, reused=False, reversible=True),
]


def bearing(sku, outer, inner, height, contact, price):
    return {"sku": sku, "outer_mm": outer, "inner_mm": inner, "height_mm": height, "contact_deg": contact,
            "price": price}


BEARINGS = [
    bearing("TT-B-410", 41.0, 30.2, 6.5, [45, 45], "19.00"),
    bearing("TT-B-410-36", 41.0, 30.2, 7.0, [36, 45], "19.00"),
    bearing("TT-B-418", 41.8, 30.5, 8.0, [45, 45], "21.00"),
    bearing("TT-B-469", 46.9, 34.1, 8.0, [45, 45], "24.00"),
    bearing("TT-B-490", 49.0, 37.0, 7.0, [45, 45], "24.00"),
    bearing("TT-B-520", 52.0, 40.0, 7.0, [45, 45], "23.00"),
    bearing("TT-B-520-36", 52.0, 40.0, 7.0, [36, 45], "23.00"),
]


def catalogue():
    lines = ['{', '  "schema": "steerwright.catalogue/1",',
             '  "maker": "Tarn & Tiller Components", "number": 12, "issued": "2026-05-01", "currency": "EUR",',
             '  "kits": [']
    for index, row in enumerate(KITS):
        lines.append("    {")
        parts = [["sku", "name", "tilt_deg", "reversible"], ["upper"], ["lower"],
                 ["head_tube_length_mm", "steerer"], ["bearings", "hoses", "steering_stop", "price", "stock"]]
        rows = [", ".join(f'"{key}": {line(row[key])}' for key in keys if key in row) for keys in parts]
        lines += [f"      {text}," for text in rows[:-1]] + [f"      {rows[-1]}"]
        lines.append("    }" + ("," if index + 1 < len(KITS) else ""))
    lines.append("  ],")
    lines.append('  "bearings": [')
    lines += [f"    {line(row)}" + ("," if index + 1 < len(BEARINGS) else "") for index, row in enumerate(BEARINGS)]
    lines += ["  ]", "}", ""]
    write(ROOT / "catalogue.json", "\n".join(lines))


# ---------------------------------------------------------------------------------------------- bikes


def side_view(H, S, W, rf, rr, A, O, h, L, b, c):
    """Reach, stack and front centre of a bike: head and seat angle in degrees, the rest in mm."""
    a = (-math.cos(math.radians(H)), math.sin(math.radians(H)))
    n = (math.sin(math.radians(H)), math.cos(math.radians(H)))
    F = (W, rf)
    T = tuple(F[i] + (A + h + L) * a[i] - O * n[i] for i in range(2))
    BB = (math.sqrt(c * c - (b - rr) ** 2), b)
    return T[0] - BB[0], T[1] - BB[1], math.hypot(F[0] - BB[0], F[1] - BB[1])


# The reference of the tests: published in no catalogue, computed twice by hand.
_reach, _stack, _ = side_view(66, 76, 1220, 372, 372, 555, 44, 12, 115, 340, 435)
assert abs(_reach - 468.59) < 0.005 and abs(_stack - 637.14) < 0.005


def row(what, value, unit, tool, plus_minus=None, at=None, note=None):
    out = {"what": what, "value": value, "unit": unit, "with": tool}
    if plus_minus is not None:
        out["plus_minus"] = plus_minus
    if at is not None:
        out["at"] = at
    if note is not None:
        out["note"] = note
    return out


def mm(what, value, tool, **more):
    return row(what, value, "mm", tool, **more)


def half_mm(value):
    return round(2 * value) / 2


def geometry(g, angle_tool="phone_level", angle_off=0.1, sheet_wrong=None, sag=True):
    """The rows that determine wheels, fork and frame: measured ones, then the maker's sheet."""
    reach, stack, front = side_view(**g)
    sheet = {
        "head_angle": round(g["H"], 1), "seat_angle": round(g["S"], 1), "reach": half_mm(reach),
        "stack": half_mm(stack), "front_centre": half_mm(front), "wheelbase": g["W"], "chainstay_length": g["c"],
        "bottom_bracket_drop": g["rr"] - g["b"],
    }
    sheet.update(sheet_wrong or {})
    rows = [
        row("head_angle", round(g["H"] + angle_off, 1), "deg", angle_tool),
        mm("wheelbase", g["W"], "tape"),
        mm("chainstay_length", g["c"], "tape"),
        mm("bottom_bracket_height", g["b"], "tape"),
        mm("front_tyre_diameter", 2 * g["rf"], "tape"),
        mm("rear_tyre_diameter", 2 * g["rr"], "tape"),
        mm("axle_to_crown", g["A"], "tape"),
        mm("fork_offset", g["O"], "maker_sheet"),
    ]
    for what, value in sheet.items():
        unit = "deg" if what.endswith("angle") else "mm"
        rows.append(row(what, value, unit, "maker_sheet"))
    if sag:
        rows += [mm("fork_travel", round(g["A"] - 401, -1), "maker_sheet"), mm("fork_sag", 30, "steel_rule"),
                 mm("rear_sag", 40, "steel_rule")]
    return rows


def headset(L, upper_stack, lower_stack, below, above, clamp, gap, rule="steel_rule"):
    """The rows that determine the steerer's length without removing it."""
    return [mm("head_tube_length", L, rule), mm("upper_stack", upper_stack, "caliper"),
            mm("lower_stack", lower_stack, "caliper"), mm("spacers_below", below, "caliper"),
            mm("spacers_above", above, "caliper"), mm("stem_clamp_height", clamp, "caliper"),
            mm("cap_gap", gap, "caliper")]


def steerer(upper=28.6, lower=39.8):
    return [mm("steerer_upper_diameter", upper, "caliper"), mm("steerer_lower_diameter", lower, "caliper")]


def taper(start=12, end=75):
    return [mm("steerer_taper_start", start, "steel_rule"), mm("steerer_taper_end", end, "steel_rule")]


def bearings(upper, lower, inner=(30.5, 40.0), height=(8.0, 7.0)):
    return [mm("upper_bearing_outer_diameter", upper, "caliper"), mm("lower_bearing_outer_diameter", lower, "caliper"),
            mm("upper_bearing_inner_diameter", inner[0], "caliper"),
            mm("lower_bearing_inner_diameter", inner[1], "caliper"),
            mm("upper_bearing_height", height[0], "caliper"), mm("lower_bearing_height", height[1], "caliper")]


def throats(upper, lower, recess=1.0):
    return [mm("upper_throat_diameter", upper, "caliper"), mm("lower_throat_diameter", lower, "caliper"),
            mm("upper_throat_depth", 12, "steel_rule"), mm("lower_throat_depth", 10, "steel_rule"),
            mm("upper_bearing_recess", recess, "caliper")]


def bores(upper, lower, depths):
    return [mm("upper_bore_diameter", upper, "bore_gauge"), mm("lower_bore_diameter", lower, "bore_gauge"),
            mm("upper_bore_depth", depths[0], "steel_rule"), mm("lower_bore_depth", depths[1], "steel_rule")]


def observed(upper, lower, out, frame="aluminium", tube="aluminium", hoses=False, stop=False, runs="good"):
    return {"upper_seat": upper, "lower_seat": lower, "fork_out": out, "frame_material": frame,
            "steerer_material": tube, "hoses_through_headset": hoses, "steering_stop": stop, "dual_crown": False,
            "bearings": runs}


def frame(H, S, W, L, b, c, h, A=551, O=44, rf=372, rr=372):
    return {"H": H, "S": S, "W": W, "rf": rf, "rr": rr, "A": A, "O": O, "h": h, "L": L, "b": b, "c": c}


BIKES = []


def bike(seen, rows):
    number = len(BIKES) + 1
    BIKES.append((number, seen, rows))


# 01: everything known and everything fits.
bike(observed("drop_in", "drop_in", True),
     headset(112, 8.0, 1.5, 15.0, 10.0, 40.0, 3.0) + bearings(41.8, 52.0) + throats(36.5, 46.5) + steerer() + taper()
     + geometry(frame(66.0, 75.5, 1205, 112, 342, 435, 1.5)) + [mm("tyre_to_down_tube", 14, "steel_rule"),
                                                                mm("tyre_width", 60, "caliper")])
# 02: the upper bearing is 41.0, not 41.8.
bike(observed("drop_in", "drop_in", True),
     headset(115, 8.0, 1.5, 20.0, 10.0, 42.0, 3.0) + bearings(41.0, 52.0, (30.2, 40.0), (6.5, 7.0))
     + throats(36.0, 46.0, 0.5) + steerer() + taper()
     + geometry(frame(66.5, 75.0, 1190, 115, 340, 437, 1.5, A=541), "angle_finder", -0.1))
# 03: inspected with the fork in place; a thin lip is easily mistaken for drop-in.
bike({"upper_seat": "drop_in", "lower_seat": "drop_in", "fork_out": False, "frame_material": "aluminium",
      "hoses_through_headset": False, "steering_stop": False, "dual_crown": False, "bearings": "not_known"},
     headset(108, 8.5, 2.0, 15.0, 10.0, 40.0, 3.0)
     + geometry(frame(67.0, 74.5, 1178, 108, 338, 438, 2.0, A=531), sag=False))
# 04: the same appearance with the fork out: cups in plain bores. A smaller rear wheel as well.
bike(observed("thin_lip", "thin_lip", True),
     headset(114, 8.5, 3.5, 15.0, 15.0, 40.0, 3.0) + bores(43.93, 55.93, (22, 20))
     + [mm("upper_cup_outer_diameter", 44.0, "caliper"), mm("lower_cup_outer_diameter", 56.0, "caliper"),
        mm("head_tube_wall", 3.5, "caliper")]
     + bearings(41.8, 52.0) + steerer() + taper()
     + geometry(frame(65.5, 76.5, 1230, 114, 345, 434, 3.5, A=561, rr=355)))
# 05: the upper throat is too narrow; aluminium can be opened.
bike(observed("drop_in", "drop_in", True),
     headset(112, 8.0, 1.5, 20.0, 10.0, 40.0, 3.0) + bearings(41.8, 52.0) + throats(33.2, 46.5) + steerer() + taper()
     + [mm("head_tube_wall", 4.0, "caliper")]
     + geometry(frame(66.0, 76.0, 1213, 112, 340, 436, 1.5), "angle_finder", 0.0))
# 06: the same throat in carbon.
bike(observed("drop_in", "drop_in", True, frame="carbon"),
     headset(113, 8.0, 1.5, 20.0, 10.0, 40.0, 3.0) + bearings(41.8, 52.0) + throats(33.2, 46.5) + steerer() + taper()
     + geometry(frame(65.8, 76.2, 1222, 113, 339, 435, 1.5)))
# 07: pressed, and the upper bore is too shallow.
bike(observed("thin_lip", "external_cup", True),
     headset(116, 8.5, 12.0, 20.0, 10.0, 40.0, 3.0) + bores(43.93, 43.92, (12, 22))
     + [mm("head_tube_wall", 3.0, "caliper")] + steerer() + taper()
     + geometry(frame(67.5, 74.0, 1168, 116, 330, 440, 12.0, A=520), "angle_finder", 0.1))
# 08: an old steel bike with a steerer cut to the minimum. Recorded in centimetres and inches.
_old = frame(69.5, 73.0, 1075, 120, 305, 440, 12.0, A=470, O=45, rf=346, rr=346)
_rows = geometry(_old, "angle_finder", 0.1, sag=False)
for _r in _rows:
    if _r["with"] == "tape" and _r["what"] in ("wheelbase", "chainstay_length", "axle_to_crown"):
        _r["value"], _r["unit"] = _r["value"] / 10, "cm"
    if _r["with"] == "tape" and _r["what"].endswith("tyre_diameter"):
        _r["value"], _r["unit"] = round(_r["value"] / 25.4, 2), "in"
bike(observed("external_cup", "external_cup", True, frame="steel", tube="steel"),
     headset(120, 12.0, 12.0, 0.0, 0.0, 40.0, 4.0) + [mm("steerer_length", 180.0, "steel_rule")]
     + bores(33.92, 33.93, (25, 25)) + [mm("head_tube_wall", 2.5, "caliper")] + steerer(28.6, 30.0) + _rows)
# 09: a head tube at the end of the kit's range, measured with a tape.
bike(observed("drop_in", "drop_in", True),
     headset(125, 8.0, 1.5, 15.0, 10.0, 40.0, 3.0, rule="tape") + bearings(41.8, 52.0) + throats(36.5, 46.5, 0.8)
     + steerer() + taper() + geometry(frame(66.0, 75.8, 1226, 125, 343, 438, 1.5, A=561)))
# 10: brake hoses run through the upper bearing.
bike(observed("drop_in", "drop_in", True, hoses=True),
     headset(112, 10.0, 1.5, 15.0, 10.0, 40.0, 3.0) + bearings(52.0, 52.0, (40.0, 40.0), (7.0, 7.0))
     + throats(46.5, 46.5, 0.5) + steerer() + taper()
     + geometry(frame(65.7, 76.5, 1228, 112, 344, 436, 1.5, A=561)))
# 11: a steering stop, and a maker's sheet with one wrong number.
bike(observed("drop_in", "drop_in", True, stop=True),
     headset(108, 8.0, 1.5, 20.0, 10.0, 40.0, 3.0) + bearings(41.8, 52.0) + throats(36.0, 46.0) + steerer() + taper()
     + geometry(frame(66.2, 75.9, 1200, 108, 341, 435, 1.5),
                sheet_wrong={"stack": half_mm(side_view(**frame(66.2, 75.9, 1200, 108, 341, 435, 1.5))[1]) + 20}))
# 12: rough bearings, and one reading that contradicts the others.
_rows = headset(110, 8.0, 1.5, 15.0, 10.0, 40.0, 3.0)
bike(observed("drop_in", "drop_in", True, runs="rough"),
     _rows[:1] + [mm("head_tube_length", 110.5, "steel_rule", at="2026-05-12T08:40:00+01:00"),
                  mm("head_tube_length", 116, "tape", at="2026-05-12T17:05:00+01:00",
                     note="taken past the cups in a hurry")] + _rows[1:]
     + bearings(41.8, 52.0) + throats(36.5, 46.0) + steerer() + taper()
     + geometry(frame(66.0, 75.4, 1203, 110, 341, 436, 1.5)))


def bikes():
    for number, seen, rows in BIKES:
        lines = ["{", '  "schema": "steerwright.bike/1",', f'  "name": "Hire bike {number:02}",',
                 '  "owner": "Larch Hollow demo crew",', '  "observed": {']
        pairs = [f'"{key}": {line(value)}' for key, value in seen.items()]
        lines += ["    " + ", ".join(pairs[:3]) + ",", "    " + ", ".join(pairs[3:5]) + ",",
                  "    " + ", ".join(pairs[5:]), "  },", '  "measured": [']
        lines += [f"    {line(r)}" + ("," if index + 1 < len(rows) else "") for index, r in enumerate(rows)]
        lines += ["  ]", "}", ""]
        write(ROOT / "bikes" / f"hire-bike-{number:02}.json", "\n".join(lines))


if __name__ == "__main__":
    catalogue()
    bikes()
