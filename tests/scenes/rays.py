"""The rays of a picture: the first hit of each, and its colour. Compiled by Numba, one core.

Objects are rows of numbers: `kind, ax, ay, az, bx, by, bz, radius, section, shine, red, green, blue, p, q, r`. A round
bar (kind 0) runs from a to b and has round ends; a ring (kind 1) has its centre at a and its axis along b, and a tyre
(kind 2) is a ring with knobs, p the rubber's brightness and q the knobs' spacing. A bar with p 1 is as bright all round;
q 1 is a stripe along it and q over 1 the distance of stripes round it, r their tone. A plane (kind 3) goes through a,
perpendicular to b: p 0 is ground, 1 a plain wall, 2 bricks, 3 boards, 4 leaves, 5 sky over trees.
"""

import numpy as np
from numba import njit

BAR, RING, TYRE, PLANE = 0, 1, 2, 3
FAR = 1e30


@njit(cache=True)
def meets_bar(ex, ey, ez, dx, dy, dz, t):
    """Distance along a ray from e in the direction d (length 1) to a bar."""
    ax, ay, az = t[1], t[2], t[3]
    lx, ly, lz = t[4] - ax, t[5] - ay, t[6] - az
    ox, oy, oz = ex - ax, ey - ay, ez - az
    rr = t[7] * t[7]
    bb = lx * lx + ly * ly + lz * lz
    bd = dx * lx + dy * ly + dz * lz
    be = ox * lx + oy * ly + oz * lz
    de = dx * ox + dy * oy + dz * oz
    ee = ox * ox + oy * oy + oz * oz
    p, q, r = bb - bd * bd, bb * de - be * bd, bb * ee - be * be - rr * bb
    root = q * q - p * r
    if root <= 0:
        # A hit of the ball at an end implies a hit of the infinite bar.
        return FAR
    at = (-q - np.sqrt(root)) / p
    place = be + at * bd
    if place > 0 and place < bb and at > 0:
        return at
    best = FAR
    for end in range(2):
        if end == 1:
            ox, oy, oz = ex - t[4], ey - t[5], ez - t[6]
        m = dx * ox + dy * oy + dz * oz
        ball = m * m - (ox * ox + oy * oy + oz * oz) + rr
        if ball > 0:
            near = -m - np.sqrt(ball)
            if 0 < near < best:
                best = near
    return best


@njit(cache=True)
def meets_ring(ex, ey, ez, dx, dy, dz, t):
    """The same for a ring: sphere tracing from the front of the slab that contains it."""
    nx, ny, nz = t[4], t[5], t[6]
    ox, oy, oz = ex - t[1], ey - t[2], ez - t[3]
    radius, section = t[7], t[8]
    up, slope = ox * nx + oy * ny + oz * nz, dx * nx + dy * ny + dz * nz
    if abs(slope) < 1e-6:
        slope = 1e-6
    one, two = (section - up) / slope, (-section - up) / slope
    at, end = min(one, two), max(one, two)
    middle = (at + end) / 2
    px, py, pz = ox + middle * dx, oy + middle * dy, oz + middle * dz
    h = up + middle * slope
    flat = np.sqrt(max(px * px + py * py + pz * pz - h * h, 0.0))
    if abs(flat - radius) > section + (end - at) / 2:
        return FAR
    at -= 1.0
    end += 1.0
    for _ in range(200):
        px, py, pz = ox + at * dx, oy + at * dy, oz + at * dz
        h = up + at * slope
        flat = np.sqrt(max(px * px + py * py + pz * pz - h * h, 0.0)) - radius
        away = np.sqrt(flat * flat + h * h) - section
        if away < 0.005:
            return at
        at += away
        if at > end:
            break
    return FAR


@njit(cache=True)
def meets(ex, ey, ez, dx, dy, dz, t):
    if t[0] == BAR:
        return meets_bar(ex, ey, ez, dx, dy, dz, t)
    if t[0] == PLANE:
        facing = dx * t[4] + dy * t[5] + dz * t[6]
        if abs(facing) < 1e-9:
            return FAR
        at = ((t[1] - ex) * t[4] + (t[2] - ey) * t[5] + (t[3] - ez) * t[6]) / facing
        return at if at > 0 else FAR
    return meets_ring(ex, ey, ez, dx, dy, dz, t)


@njit(cache=True)
def sights(turn, axis, half, focal, bend, mirrored_width, step, out):
    """Fills in the directions of a picture's rays, length 1, `step` pixels from ray to ray; the lens's distortion p (1
    + k p^2) is inverted by iteration."""
    for y in range(out.shape[0]):
        for x in range(out.shape[1]):
            across, down = (x + 0.5) * step, (y + 0.5) * step
            if mirrored_width > 0:
                across = mirrored_width - across
            u, v = (across - axis[0]) / half, (down - axis[1]) / half
            p, q = u, v
            for _ in range(20):
                k = 1 / (1 + bend * (p * p + q * q))
                if abs(u * k - p) + abs(v * k - q) < 1e-12:
                    break
                p, q = u * k, v * k
            p, q = p * half / focal, q * half / focal
            size = np.sqrt(p * p + q * q + 1)
            for i in range(3):
                out[y, x, i] = (p * turn[0, i] + q * turn[1, i] + turn[2, i]) / size


@njit(cache=True)
def nearest(eye, rays, things, boxes):
    """For every ray the distance to the first hit and the index of the object; a box is x0, x1, y0, y1."""
    height, width = rays.shape[0], rays.shape[1]
    depth = np.full((height, width), np.float32(FAR))
    which = np.full((height, width), -1, np.int16)
    for i in range(len(things)):
        t = things[i]
        for y in range(boxes[i, 2], boxes[i, 3]):
            for x in range(boxes[i, 0], boxes[i, 1]):
                at = meets(eye[0], eye[1], eye[2], rays[y, x, 0], rays[y, x, 1], rays[y, x, 2], t)
                if at < depth[y, x]:
                    depth[y, x] = at
                    which[y, x] = i
    return depth, which


@njit(cache=True)
def met(eye, rays, thing):
    """Distance of each of a list of rays to one object."""
    out = np.empty(len(rays))
    for i in range(len(rays)):
        out[i] = meets(eye[0], eye[1], eye[2], rays[i, 0], rays[i, 1], rays[i, 2], thing)
    return out


@njit(cache=True)
def in_shadow(light, things, boxes, x0, z0, cell, nx, nz):
    """A shadow map of the ground: 1 where an object blocks the light; boxes are in its cells."""
    out = np.zeros((nz, nx), np.float32)
    for k in range(len(things)):
        for j in range(boxes[k, 2], boxes[k, 3]):
            for i in range(boxes[k, 0], boxes[k, 1]):
                x, z = x0 + (i + 0.5) * cell, z0 + (j + 0.5) * cell
                if out[j, i] == 0 and meets(x, 0.5, z, light[0], light[1], light[2], things[k]) < FAR:
                    out[j, i] = 1
    return out


@njit(cache=True)
def smooth(grid, u, v):
    """Smooth noise over two coordinates, between 0 and 1."""
    i, j = int(np.floor(u)), int(np.floor(v))
    a, b = u - i, v - j
    a, b = a * a * (3 - 2 * a), b * b * (3 - 2 * b)
    i0, i1, j0, j1 = i & 255, (i + 1) & 255, j & 255, (j + 1) & 255
    low = grid[i0, j0] * (1 - a) + grid[i1, j0] * a
    return low * (1 - b) + (grid[i0, j1] * (1 - a) + grid[i1, j1] * a) * b


@njit(cache=True)
def plane_tone(kind, x, y, z, rough, fine, shadow, x0, z0, cell):
    if kind == 0:
        tone = 0.7 + 0.35 * smooth(rough, x / 160, z / 160) + 0.25 * (smooth(fine, x / 12, z / 12) - 0.5)
        u, v = (x - x0) / cell - 0.5, (z - z0) / cell - 0.5
        i, j = int(np.floor(u)), int(np.floor(v))
        if 0 <= i < shadow.shape[1] - 1 and 0 <= j < shadow.shape[0] - 1:
            a, b = u - i, v - j
            top = shadow[j, i] * (1 - a) + shadow[j, i + 1] * a
            low = shadow[j + 1, i] * (1 - a) + shadow[j + 1, i + 1] * a
            tone *= 1 - (top * (1 - b) + low * b)
        return tone
    tone = 0.85 + 0.25 * smooth(rough, x / 160, y / 160)
    if kind == 2:
        row = np.floor(y / 75)
        if y % 75 < 10 or (x + 115 * (row % 2)) % 230 < 10:
            tone *= 0.75
    elif kind == 3:
        board = np.floor(y / 140)
        tone *= 0.75 + 0.5 * smooth(fine, board * 7.3, 0.5)
        if y % 140 < 14:
            tone *= 0.35
    elif kind == 4:
        tone = 0.2 + 0.9 * smooth(fine, x / 26, y / 26) * (0.4 + 0.9 * smooth(rough, x / 90, y / 90))
    elif kind == 5:
        # Tree tops against a bright sky.
        edge = 250 + 500 * smooth(rough, x / 400, 0.5) + 120 * smooth(fine, x / 40, 3.5)
        if y < edge:
            tone = 0.12 + 0.25 * smooth(fine, x / 30, y / 30)
        else:
            tone = 1.15 + 0.1 * smooth(rough, x / 500, y / 500)
    return tone


@njit(cache=True)
def shade(eye, rays, depth, which, things, light, inside, rough, fine, shadow, x0, z0, cell, out):
    """The colours, averaged over `inside` by `inside` rays per pixel."""
    share = 1.0 / (inside * inside)
    for y in range(out.shape[0]):
        for x in range(out.shape[1]):
            red = green = blue = 0.0
            for v in range(y * inside, (y + 1) * inside):
                for u in range(x * inside, (x + 1) * inside):
                    i = which[v, u]
                    if i < 0:
                        continue
                    t = things[i]
                    dx, dy, dz = rays[v, u, 0], rays[v, u, 1], rays[v, u, 2]
                    far = depth[v, u]
                    px, py, pz = eye[0] + far * dx, eye[1] + far * dy, eye[2] + far * dz
                    tone = 1.0
                    if t[0] == PLANE:
                        nx, ny, nz = t[4], t[5], t[6]
                        tone = plane_tone(t[13], px, py, pz, rough, fine, shadow, x0, z0, cell)
                    elif t[0] == BAR:
                        lx, ly, lz = t[4] - t[1], t[5] - t[2], t[6] - t[3]
                        ox, oy, oz = px - t[1], py - t[2], pz - t[3]
                        s = (ox * lx + oy * ly + oz * lz) / (lx * lx + ly * ly + lz * lz)
                        s = min(max(s, 0.0), 1.0)
                        nx, ny, nz = (ox - s * lx) / t[7], (oy - s * ly) / t[7], (oz - s * lz) / t[7]
                        long = np.sqrt(lx * lx + ly * ly + lz * lz)
                        if (t[14] == 1 and 0.2 < nx < 0.6) or (t[14] > 1 and (s * long / t[14]) % 1 < 0.4):
                            tone = t[15]
                    else:
                        ax, ay, az = t[4], t[5], t[6]
                        ox, oy, oz = px - t[1], py - t[2], pz - t[3]
                        h = ox * ax + oy * ay + oz * az
                        fx, fy, fz = ox - h * ax, oy - h * ay, oz - h * az
                        flat = np.sqrt(fx * fx + fy * fy + fz * fz)
                        k = t[7] / flat
                        nx, ny, nz = (ox - k * fx) / t[8], (oy - k * fy) / t[8], (oz - k * fz) / t[8]
                        if t[0] == TYRE:
                            # Two directions in the wheel: as vertical as possible, and perpendicular to it.
                            turn = np.arctan2(fy, fx * az - fz * ax) * (t[7] + t[8]) / t[14]
                            outer = (np.sqrt(ox * ox + oy * oy + oz * oz) - t[7] + 0.3 * t[8]) / (0.6 * t[8])
                            outer = min(max(outer, 0.0), 1.0)
                            tone = 1 + outer * (1.0 if turn % 1 < 0.5 else 0.0)
                    facing = max(nx * light[0] + ny * light[1] + nz * light[2], 0.0)
                    bright = 0.35 + 0.65 * facing
                    if (t[0] == PLANE and t[13] == 5) or (t[0] == BAR and t[13] == 1):
                        bright = 1.0
                    gleam = 0.0
                    if t[9] > 0:
                        nl = nx * light[0] + ny * light[1] + nz * light[2]
                        mx, my, mz = 2 * nl * nx - light[0], 2 * nl * ny - light[1], 2 * nl * nz - light[2]
                        cos = -(mx * dx + my * dy + mz * dz)
                        if cos > 0:
                            gleam = t[9] * cos**24
                    red += t[10] * tone * bright + gleam
                    green += t[11] * tone * bright + gleam
                    blue += t[12] * tone * bright + gleam
            out[y, x, 0], out[y, x, 1], out[y, x, 2] = red * share, green * share, blue * share
