"""Makes every value that Python libraries computed again and compares it with the committed one.

Run from the top of the checkout, with NumPy, SciPy and mpmath installed; the committed files are left as they were.
Numbers may differ in the last digits between library versions: relative 1e-9, absolute 1e-12; everything else must be
equal, but for the versions in the header.
"""

import json
import math
import os
import pathlib
import subprocess
import sys

ORACLE = pathlib.Path("tests/oracle")
DATA = pathlib.Path("tests/data/oracle")
SCENES = pathlib.Path("tests/scenes/scenes.py")
SEEN = pathlib.Path("tests/data/photo/scenes.json")
MORE = [SEEN.with_name(f"scenes-{kind}.json") for kind in ("bent", "pairs", "refused")]
HEADERS = {"versions", "version", "made_with", "made_by", "libraries", "header"}


def differences(a, b, path=""):
    """Paths at which two documents differ."""
    if isinstance(a, dict) and isinstance(b, dict):
        if a.keys() != b.keys():
            yield path, sorted(a), sorted(b)
            return
        for key in a:
            if key not in HEADERS:
                yield from differences(a[key], b[key], f"{path}.{key}")
    elif isinstance(a, list) and isinstance(b, list):
        if len(a) != len(b):
            yield path, len(a), len(b)
            return
        for index, (one, other) in enumerate(zip(a, b)):
            yield from differences(one, other, f"{path}[{index}]")
    elif is_number(a) and is_number(b):
        x, y = float(a), float(b)
        if not (x == y or math.isclose(x, y, rel_tol=1e-9, abs_tol=1e-12) or (math.isnan(x) and math.isnan(y))):
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
        for script in [*sorted(ORACLE.glob("*.py")), SCENES]:
            done = subprocess.run([sys.executable, str(script)], capture_output=True, text=True)
            if done.returncode != 0:
                print(f"{script}: does not run\n{done.stderr}")
                failed += 1
        for path, text in {**committed, **demo}.items():
            found = list(differences(json.loads(text), json.loads(path.read_text())))
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
