"""Normal tails to compare core/metrology/src/conformity with.

Writes tests/data/oracle/normal.json: 1 - Phi(z) for a grid of z and for random z, computed with mpmath at 50 digits and
rounded once to double. SciPy's ndtr is an independent second opinion on each of them.
"""

import json
import pathlib
import platform
import random

import mpmath
import scipy
from mpmath import erfc, mp, mpf, sqrt
from scipy.special import ndtr

mp.dps = 50


def tail(z):
    return float(erfc(mpf(z) / sqrt(2)) / 2)


def main():
    draw = random.Random(20260501)
    grid = [i / 8 for i in range(-304, 305)]
    near = [draw.uniform(-1, 1) for _ in range(150)]
    wide = [draw.uniform(-38, 38) for _ in range(450)]
    points = sorted(grid + near + wide)
    rows = [[z, tail(z)] for z in points]
    for z, value in rows:
        # Below 1e-300 SciPy's intermediate results become subnormal.
        assert value < 1e-300 or abs(float(ndtr(-z)) / value - 1) < 1e-12, (z, value)
    document = {
        "made_by": "normal.py",
        "versions": {
            "python": platform.python_version(),
            "mpmath": mpmath.__version__,
            "scipy": scipy.__version__,
        },
        "columns": ["z", "upper tail"],
        "rows": rows,
    }
    path = pathlib.Path(__file__).parent.parent / "data" / "oracle" / "normal.json"
    path.write_text(json.dumps(document, separators=(",", ":")).replace("],[", "],\n[") + "\n")


if __name__ == "__main__":
    main()
