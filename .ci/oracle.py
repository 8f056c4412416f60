"""Makes every value that Python libraries computed again and compares it with the committed one.

Run from the top of the checkout, with NumPy, SciPy and mpmath installed; the committed files are left as they were.
Numbers may differ in the last digits between processors and library versions: relative 1e-9, absolute 1e-12, and what
LOOSER grants; everything else must be equal, but for the versions in the header. Whatever stops an iteration at a
tolerance, in a script, is brought to more digits than that by mpmath.
"""

import json
import math
import os
import pathlib
import re
import subprocess
import sys

ORACLE = pathlib.Path("tests/oracle")
DATA = pathlib.Path("tests/data/oracle")
SCENES = pathlib.Path("tests/scenes/scenes.py")
SEEN = pathlib.Path("tests/data/photo/scenes.json")
MORE = [SEEN.with_name(f"scenes-{kind}.json") for kind in ("bent", "pairs", "refused")]
# What OpenCV computes in single precision or by iteration. File, place in it, allowed difference: no more than a
# twentieth of what the tests allow that compare with it.
LOOSER = [
    # Rounded to hundredths of a grey level; photo_edges.rs allows 1.6.
    ("photo_edges.json", r"\.views\[\d+\]\.every_29th", 0.02),
    # Single precision, rounded to tenths of a pixel; photo_guess.rs allows a quarter of a radius, some 10 pixels.
    ("photo_guess.json", r"\.pictures\[\d+\]\.circles", 0.2),
    # Single precision; photo_ellipses.rs allows 2e-3.
    ("photo_measure.json", r"\.ellipses\[\d+\]\.direct", 1e-4),
    # solvePnP; photo_ellipses.rs allows 1e-3 for the centre, 1e-5 for the normal.
    ("photo_measure.json", r"\.poses\[\d+\]\.centre", 1e-6),
    ("photo_measure.json", r"\.poses\[\d+\]\.normal", 1e-8),
]
HEADERS = {"versions", "version", "made_with", "made_by", "libraries", "header"}


def allowed(name, place):
    """The absolute difference that a number of a file may have."""
    grants = [room for file, where, room in LOOSER if file == name and re.match(where, place)]
    return max(grants, default=1e-12)


def differences(name, a, b, path=""):
    """Paths at which two documents differ; `name` is that of the file."""
    if isinstance(a, dict) and isinstance(b, dict):
        if a.keys() != b.keys():
            yield path, sorted(a), sorted(b)
            return
        for key in a:
            if key not in HEADERS:
                yield from differences(name, a[key], b[key], f"{path}.{key}")
    elif isinstance(a, list) and isinstance(b, list):
        if len(a) != len(b):
            yield path, len(a), len(b)
            return
        for index, (one, other) in enumerate(zip(a, b)):
            yield from differences(name, one, other, f"{path}[{index}]")
    elif is_number(a) and is_number(b):
        x, y = float(a), float(b)
        same = x == y or (math.isnan(x) and math.isnan(y))
        if not same and not math.isclose(x, y, rel_tol=1e-9, abs_tol=allowed(name, path)):
            yield path, a, b
    elif a != b:
        yield path, a, b


def is_number(value):
    """A number, or one written as text to keep its digits."""
    if isinstance(value, bool):
        return False
    if isinstance(value, (int, float)):
        return True
    try:
        float(value)
        return isinstance(value, str)
    except (TypeError, ValueError):
        return False


def main():
    committed = {path: path.read_bytes() for path in [*sorted(DATA.glob("*.json")), SEEN, *MORE]}
    demo = {path: path.read_bytes() for path in sorted(pathlib.Path("core/fit/data/demo").rglob("*.json"))}
    times = {path: path.stat() for path in [*committed, *demo]}
    failed = 0
    try:
        for path in times:
            os.utime(path, ns=(0, 0))
        for script in [*sorted(ORACLE.glob("*.py")), SCENES]:
            done = subprocess.run([sys.executable, str(script)], capture_output=True, text=True)
            if done.returncode != 0:
                print(f"{script}: does not run\n{done.stderr}")
                failed += 1
        for path, text in {**committed, **demo}.items():
            if path.stat().st_mtime_ns == 0:
                print(f"{path}: no script makes it")
                failed += 1
                continue
            found = list(differences(path.name, json.loads(text), json.loads(path.read_text())))
            for place, old, new in found[:5]:
                print(f"{path}{place}: committed {old}, made again {new}")
            print(f"{path}: {'made again, the same' if not found else f'{len(found)} differences'}")
            failed += bool(found)
    finally:
        for path, text in {**committed, **demo}.items():
            path.write_bytes(text)
            # As old as before, or everything that includes them would be compiled again.
            os.utime(path, ns=(times[path].st_atime_ns, times[path].st_mtime_ns))
    print(f"oracle: {len(committed) + len(demo) - failed} passed, {failed} failed")
    return 1 if failed else 0


if __name__ == "__main__":
    sys.exit(main())
