"""Coefficients of the normal tail's kernel (core/metrology/src/conformity/normal.rs).

Writes tests/data/oracle/normal_kernel.json:

* `numerator`, `denominator`: a rational function of t that stands for exp(t^2/2) * (1 - Phi(t)) on 0 <= t <= 39.
  It interpolates at Chebyshev nodes of the variable (t - K)/(t + K), the map of M. M. Shepherd and
  J. G. Laframboise (1981), Math. Comp. 36:249-253, with 1/2 at t = 0 exactly. All coefficients are positive, so
  that neither polynomial loses digits by cancellation.
* `exponential`: exp(r) on |r| <= ln(2)/2, interpolated at Chebyshev nodes, with 1 at r = 0 exactly.

The errors given are relative, of the rounded coefficients in exact arithmetic; the kernel's own rounding comes on top.
"""

import json
import pathlib
import platform

import mpmath
from mpmath import cos, erfc, exp, lu_solve, matrix, mp, mpf, pi, sqrt

mp.dps = 60
TOP = mpf(39)
DEGREES = (9, 10)
EXP_DEGREE = 11


def scaled_tail(t):
    return exp(t * t / 2) * erfc(t / sqrt(2)) / 2


def chebyshev(count):
    return [cos(pi * (2 * j + 1) / (2 * count)) for j in range(count)]


def rational(fold):
    p, q = DEGREES
    count = p + q
    last = (TOP - fold) / (TOP + fold)
    rows, right = matrix(count, count), matrix(count, 1)
    for i, node in enumerate(chebyshev(count)):
        s = -1 + (node + 1) * (last + 1) / 2
        t = fold * (1 + s) / (1 - s)
        value = scaled_tail(t)
        for k in range(1, p + 1):
            rows[i, k - 1] = t**k / value
        for k in range(1, q + 1):
            rows[i, p + k - 1] = -(t**k)
        right[i] = 1 - mpf(1) / 2 / value
    x = lu_solve(rows, right)
    return [0.5] + [float(c) for c in x[:p]], [1.0] + [float(c) for c in x[p:]]


def polynomial(coefficients, x):
    return sum(mpf(c) * x**k for k, c in enumerate(coefficients))


def rational_error(numerator, denominator):
    points = [TOP * (mpf(i) / 2000) ** 2 for i in range(2001)]
    return max(
        abs(polynomial(numerator, t) / polynomial(denominator, t) / scaled_tail(t) - 1) for t in points
    )


def exponential():
    half = mp.log(2) / 2
    rows, right = matrix(EXP_DEGREE, EXP_DEGREE), matrix(EXP_DEGREE, 1)
    for i, node in enumerate(chebyshev(EXP_DEGREE)):
        r = half * node if abs(node) > mpf(10) ** -30 else half / 1000
        for k in range(1, EXP_DEGREE + 1):
            rows[i, k - 1] = r**k
        right[i] = exp(r) - 1
    return [1.0] + [float(c) for c in lu_solve(rows, right)]


def exponential_error(coefficients):
    half = mp.log(2) / 2
    points = [half * (mpf(i) / 1000 - 1) for i in range(2001)]
    return max(abs(polynomial(coefficients, r) / exp(r) - 1) for r in points)


def main():
    best = min((rational_error(*rational(mpf(fold) / 4)), fold) for fold in range(12, 25))[1]
    numerator, denominator = rational(mpf(best) / 4)
    assert min(numerator + denominator) > 0
    series = exponential()
    document = {
        "made_by": "normal_kernel.py",
        "versions": {"python": platform.python_version(), "mpmath": mpmath.__version__},
        "fold": best / 4,
        "numerator": numerator,
        "denominator": denominator,
        "rational_error": float(rational_error(numerator, denominator)),
        "exponential": series,
        "exponential_error": float(exponential_error(series)),
    }
    path = pathlib.Path(__file__).parent.parent / "data" / "oracle" / "normal_kernel.json"
    path.write_text(json.dumps(document, indent=1) + "\n")


if __name__ == "__main__":
    main()
