"""The same photo ingest with libvips: upright working copy and thumbnail, both encoded, and a digest; as
JSON.

    photo.py thumbnail FILE     vips_thumbnail on the file, the thumbnail from the working copy
    photo.py halved FILE        the decoder set to halve, then as above
    photo.py each FILE          vips_thumbnail on the file for both
    photo.py memory MODE FILE   one ingest in a fresh process: memory before it and at its peak, bytes (Linux)
    photo.py copy MODE FILE TO  writes the working copy

One thread, no cache of operations.
"""

import os

os.environ["VIPS_CONCURRENCY"] = "1"

import hashlib
import json
import sys
import time

import pyvips

WORKING = {"Q": 88, "keep": "none"}
THUMBNAIL = {"Q": 80, "keep": "none"}


def thumbnail(data):
    working = pyvips.Image.thumbnail_buffer(data, 1600, size="down").copy_memory()
    small = working.thumbnail_image(320, size="down")
    return working.jpegsave_buffer(**WORKING), small.jpegsave_buffer(**THUMBNAIL)


def halved(data):
    image = pyvips.Image.jpegload_buffer(data, shrink=2, autorotate=True, access="sequential")
    working = image.thumbnail_image(1600, size="down").copy_memory()
    small = working.thumbnail_image(320, size="down")
    return working.jpegsave_buffer(**WORKING), small.jpegsave_buffer(**THUMBNAIL)


def each(data):
    working = pyvips.Image.thumbnail_buffer(data, 1600, size="down")
    small = pyvips.Image.thumbnail_buffer(data, 320, size="down")
    return working.jpegsave_buffer(**WORKING), small.jpegsave_buffer(**THUMBNAIL)


def intake(mode, data):
    copies = {"thumbnail": thumbnail, "halved": halved, "each": each}[mode](data)
    return *copies, hashlib.sha256(data).digest()


def held(name):
    with open("/proc/self/status") as status:
        return next(int(line.split()[1]) * 1024 for line in status if line.startswith(name))


def main():
    mode, *rest = sys.argv[1:]
    pyvips.cache_set_max(0)
    if mode == "memory":
        with open(rest[1], "rb") as file:
            data = file.read()
        before = held("VmRSS")
        intake(rest[0], data)
        print(json.dumps({"before": before, "peak": held("VmHWM")}))
        return
    if mode == "copy":
        with open(rest[1], "rb") as file, open(rest[2], "wb") as to:
            to.write(intake(rest[0], file.read())[0])
        return
    with open(rest[0], "rb") as file:
        data = file.read()
    intake(mode, data)
    start, ops = time.process_time(), 0
    while (taken := time.process_time() - start) < 1.0:
        intake(mode, data)
        ops += 1
    version = "libvips " + ".".join(str(pyvips.version(part)) for part in range(3)) + f", pyvips {pyvips.__version__}"
    print(json.dumps({"ops": ops, "cpu_seconds": taken, "version": version}))


if __name__ == "__main__":
    main()
