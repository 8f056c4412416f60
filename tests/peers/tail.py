"""SciPy's normal distribution function on an array: CPU time per value, as JSON.

Usage: tail.py COUNT
"""

import json
import sys
import time

import numpy
import scipy
from scipy.special import ndtr


def main():
    count = int(sys.argv[1])
    z = 16.0 * ((numpy.arange(count) * 0.6180339887498949) % 1.0) - 8.0
    out = numpy.empty_like(z)
    ndtr(z, out=out)
    check = float(out.sum())
    for _ in range(100):
        ndtr(z, out=out)
    start, ops = time.process_time(), 0
    while (taken := time.process_time() - start) < 0.3:
        for _ in range(100):
            ndtr(z, out=out)
        ops += 100 * count
    version = f"SciPy {scipy.__version__} ndtr, numpy {numpy.__version__}"
    print(json.dumps({"ops": ops, "cpu_seconds": taken, "version": version, "check": check}))


if __name__ == "__main__":
    main()
