"""The side view before and after a change, as one would write it with NumPy: columns in, columns out. CPU time per
bicycle or sample, as JSON.

    geometry.py many COUNT          COUNT bicycles, one change each
    geometry.py monte_carlo COUNT   one bicycle and change, every number normal, COUNT samples; mean, standard
                                    deviation and 95 % interval of every result before, after and of the difference
"""

import json
import sys
import time

import numpy as np

BIKE = {
    "wheelbase": 1220.0,
    "head_angle": 66.0,
    "axle_to_crown": 555.0,
    "fork_offset": 44.0,
    "lower_stack": 12.0,
    "head_tube_length": 115.0,
    "front_radius": 372.0,
    "rear_radius": 372.0,
    "chainstay": 435.0,
    "bottom_bracket_height": 340.0,
    "seat_angle": 76.0,
}
BIKE_U = {
    "wheelbase": 1.0,
    "head_angle": 0.1,
    "axle_to_crown": 1.0,
    "fork_offset": 0.5,
    "lower_stack": 0.25,
    "head_tube_length": 0.25,
    "front_radius": 1.0,
    "rear_radius": 1.0,
    "chainstay": 0.5,
    "bottom_bracket_height": 0.5,
    "seat_angle": 0.1,
}
HALF = 125.0 * np.tan(np.radians(1.5)) / 2.0
KIT = {"upper_plane": 5.0, "lower_plane": 5.0, "upper": -HALF, "lower": HALF, "new_lower_stack": 14.0}
KIT_U = {"upper_plane": 0.05, "lower_plane": 0.05, "upper": 0.02, "lower": 0.02, "new_lower_stack": 0.1}


def side_view(w, head, a, o, h, length, rf, rr, c, b, seat):
    """Figures of the standing bicycle, and what settling needs."""
    turn = np.radians(head)
    s, k = np.sin(turn), np.cos(turn)
    bracket = np.sqrt(c * c - (b - rr) ** 2)
    lower_x = w - (a + h) * k - o * s
    lower_y = rf + (a + h) * s - o * k
    upper_x = lower_x - length * k
    upper_y = lower_y + length * s
    mechanical = rf * k - o
    figures = [
        head,
        seat,
        b,
        upper_x - bracket,
        upper_y - b,
        w,
        np.hypot(w - bracket, rf - b),
        mechanical / s,
        mechanical,
        mechanical * k,
    ]
    return figures, (s, k, bracket, lower_x, lower_y, upper_x, upper_y)


def settled(bike, before, upper_plane, lower_plane, upper, lower, a, o, rf, rr, h):
    """Figures after the change, tilt and pitch."""
    _, head, _, _, _, length, _, rear, _, b, seat = bike
    s, k, bracket, lower_x, lower_y, upper_x, upper_y = before
    along = length + upper_plane + lower_plane
    across = upper - lower
    size = np.hypot(along, across)
    p, q = along / size, across / size
    axis_x, axis_y = q * s - p * k, q * k + p * s
    down = a + h - lower_plane
    front_x = lower_x + lower_plane * k + lower * s - down * axis_x + o * axis_y
    front_y = lower_y - lower_plane * s + lower * k - down * axis_y - o * axis_x
    vx, vy = front_x, front_y - rear
    climb = rf - rr
    square = vx * vx + vy * vy
    wheelbase = np.sqrt(square - climb * climb)
    cos_pitch = (vx * wheelbase + vy * climb) / square
    sin_pitch = (vx * climb - vy * wheelbase) / square
    bracket_x = cos_pitch * bracket - sin_pitch * (b - rear)
    bracket_y = sin_pitch * bracket + cos_pitch * (b - rear) + rr
    top_x = cos_pitch * upper_x - sin_pitch * (upper_y - rear)
    top_y = sin_pitch * upper_x + cos_pitch * (upper_y - rear) + rr
    new_s = sin_pitch * axis_x + cos_pitch * axis_y
    new_k = sin_pitch * axis_y - cos_pitch * axis_x
    tilt = np.degrees(np.arctan2(-q, p))
    pitch = np.degrees(np.arctan2(sin_pitch, cos_pitch))
    mechanical = rf * new_k - o
    figures = [
        head - tilt - pitch,
        seat - pitch,
        bracket_y,
        top_x - bracket_x,
        top_y - bracket_y,
        wheelbase,
        np.hypot(wheelbase - bracket_x, rf - bracket_y),
        mechanical / new_s,
        mechanical,
        mechanical * new_k,
    ]
    return figures, tilt, pitch


def before_and_after(bike, kit):
    _, _, a, o, _, _, rf, rr, _, _, _ = bike
    upper_plane, lower_plane, upper, lower, h = kit
    before, rest = side_view(*bike)
    after, tilt, pitch = settled(bike, rest, upper_plane, lower_plane, upper, lower, a, o, rf, rr, h)
    return before, after, tilt, pitch


# Bicycles at a time: their columns stay in the processor's cache, which NumPy gains a third from.
BLOCK = 4096


def many(count):
    share = (np.arange(count) % 1000) / 1000.0
    bike = [np.full(count, value) for value in BIKE.values()]
    bike[0] = 1200.0 + 50.0 * share
    bike[1] = 64.0 + 2.0 * share
    kit = [np.full(count, value) for value in KIT.values()]

    def run():
        return before_and_after(bike, kit)

    return run, lambda result: float(result[1][7].sum())


def monte_carlo(count):
    generator = np.random.Generator(np.random.SFC64(1))
    values = np.array([*BIKE.values(), *KIT.values()])[:, None]
    deviations = np.array([*BIKE_U.values(), *KIT_U.values()])[:, None]

    def run():
        series = np.empty((32, count))
        for start in range(0, count, BLOCK):
            part = series[:, start : start + BLOCK]
            draws = generator.standard_normal((len(values), part.shape[1]))
            draws *= deviations
            draws += values
            part[:10], part[10:20], part[30], part[31] = before_and_after(draws[:11], draws[11:])
            np.subtract(part[10:20], part[:10], out=part[20:30])
        mean, u = series.mean(axis=1), series.std(axis=1, ddof=1)
        rank = round(0.025 * count)
        series.partition([rank - 1, count - rank - 1], axis=1)
        return mean, u, series[:, rank - 1], series[:, count - rank - 1]

    return run, lambda result: float(result[0][17])


def main():
    count = int(sys.argv[2])
    run, check = {"many": many, "monte_carlo": monte_carlo}[sys.argv[1]](count)
    result = run()
    for _ in range(3):
        result = run()
    start, ops = time.process_time(), 0
    while (taken := time.process_time() - start) < 0.3:
        result = run()
        ops += count
    print(json.dumps({"ops": ops, "cpu_seconds": taken, "version": f"numpy {np.__version__}", "check": check(result)}))


if __name__ == "__main__":
    main()
