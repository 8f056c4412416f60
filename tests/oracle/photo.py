"""Stored pictures for the eight Exif orientations, to compare core/photo/src with.

Writes tests/data/oracle/photo.json:

* `upright`: a picture of 4 by 3 grey values that looks different after each rotation and mirroring;
* `stored`: for each orientation the array that a camera held in that orientation stores. Built with NumPy from the
  tag's definition (CIPA DC-008, 0x0112: which side of the scene row 0 and column 0 are), by taking rows and columns
  from that side;
* `png` and `sha256`: a small file in hexadecimal, made with zlib, and its digest by hashlib.
"""

import hashlib
import json
import pathlib
import platform
import struct
import zlib

import numpy as np

UPRIGHT = np.array([[10, 60, 110, 160], [230, 35, 85, 135], [185, 210, 250, 20]])

# Side of the scene that row 0 and column 0 are.
SIDES = {
    1: ("top", "left"),
    2: ("top", "right"),
    3: ("bottom", "right"),
    4: ("bottom", "left"),
    5: ("left", "top"),
    6: ("right", "top"),
    7: ("right", "bottom"),
    8: ("left", "bottom"),
}


def stored(scene, row_0, column_0):
    lines = scene.T if row_0 in ("left", "right") else scene
    if row_0 in ("right", "bottom"):
        lines = lines[::-1]
    if column_0 in ("right", "bottom"):
        lines = lines[:, ::-1]
    return lines.tolist()


def chunk(name, body):
    return struct.pack(">I", len(body)) + name + body + struct.pack(">I", zlib.crc32(name + body))


def png(pixels):
    height, width = pixels.shape
    rows = b"".join(b"\0" + bytes(row.tolist()) for row in pixels)
    header = struct.pack(">IIBBBBB", width, height, 8, 0, 0, 0, 0)
    parts = chunk(b"IHDR", header) + chunk(b"IDAT", zlib.compress(rows, 0)) + chunk(b"IEND", b"")
    return b"\x89PNG\r\n\x1a\n" + parts


def main():
    file = png(UPRIGHT)
    document = {
        "made_with": {"python": platform.python_version(), "numpy": np.__version__},
        "upright": UPRIGHT.tolist(),
        "stored": {str(tag): stored(UPRIGHT, *sides) for tag, sides in SIDES.items()},
        "png": file.hex(),
        "sha256": hashlib.sha256(file).hexdigest(),
    }
    path = pathlib.Path(__file__).parent.parent / "data" / "oracle" / "photo.json"
    path.write_text(json.dumps(document, indent=1) + "\n")


main()
