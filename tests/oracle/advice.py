"""The value of measurements, to compare core/fit/src/advice with.

Writes tests/data/oracle/advice.json: the expected reduction of the probability of a wrong answer when a quantity with
standard uncertainty 1 and a limit at 0 is measured. One limit without rework is computed with Owen's T function (D. B.
Owen 1956, Ann. Math. Statist. 27:1075-1090, from memory): the answer after the measurement is wrong if estimate and
truth, two normal variables with correlation sqrt(1 - ratio^2), are on different sides of the limit. All other cases,
and this one again, are integrals by mpmath at 20 digits, by Gauss and Legendre's rule between the points where the
likeliest answer changes.
"""

import itertools
import json
import pathlib
import platform

import mpmath
import numpy
import scipy
from mpmath import erfinv, findroot, mp, mpf, ncdf, npdf, quad, sqrt
from scipy.special import ndtr, owens_t

mp.dps = 20
# Beyond this many standard deviations the remainder is below the precision.
END = 14


def wrong(p, reworkable):
    return 1 - max(p, (1 - p) * reworkable, (1 - p) * (1 - reworkable))


def chance(x, u, width):
    """P(0 <= true value <= width) for an estimate x with standard uncertainty u."""
    return ncdf(x / u) - (ncdf((x - width) / u) if width is not None else 0)


def by_integral(margin, ratio, reworkable, width):
    margin, ratio, reworkable = mpf(margin), mpf(ratio), mpf(reworkable)
    width = mpf(width) if width is not None else None
    sd = sqrt(1 - ratio**2)
    best_failed = max(reworkable, 1 - reworkable)
    even = best_failed / (1 + best_failed)

    def after(z):
        return chance(margin + sd * z, ratio, width)

    # Where p equals `even`: beyond a limit by this many u; for two limits it is the start of the root search.
    beyond = ratio * sqrt(mpf(2)) * erfinv(2 * even - 1)
    kinks = [(beyond - margin) / sd]
    if width is not None:
        middle, kinks = (width / 2 - margin) / sd, []
        if after(middle) > even:
            for far in (-1, 1):
                out = middle + far * (width / 2 + 10 * ratio) / sd
                kinks.append(findroot(lambda z: after(z) - even, (middle, out), solver="anderson"))
    # And pieces as small as p's own slope requires, near each limit.
    limits = [-margin / sd] + ([(width - margin) / sd] if width is not None else [])
    cuts = {mpf(cut) for cut in (-8, -5, -3, -1, 1, 3, 5, 8)}
    cuts |= {limit + step * ratio / sd for limit in limits for step in (-9, -5, -2, 0, 2, 5, 9)}
    cuts = sorted(cut for cut in {*kinks, *cuts} if abs(cut) < END)
    left = quad(lambda z: wrong(after(z), reworkable) * npdf(z), [-END, *cuts, END], method="gauss-legendre")
    return wrong(chance(margin, mpf(1), width), reworkable) - left


def by_owen(margin, ratio):
    """P(truth < 0 < estimate) + P(estimate < 0 < truth), both around `margin`, with standard deviations 1 and sd."""
    sd = numpy.sqrt(1 - ratio**2)
    if margin == 0:
        return 0.5 - numpy.arccos(sd) / numpy.pi
    h, k = -margin, -margin / sd
    # Bivariate normal P(X < h, Y < k) by Owen's formula; h and k have the same sign.
    root = numpy.sqrt(1 - sd**2)
    both = (ndtr(h) + ndtr(k)) / 2 - owens_t(h, (k - sd * h) / (h * root)) - owens_t(k, (h - sd * k) / (k * root))
    wrong_after = ndtr(h) + ndtr(k) - 2 * both
    return min(ndtr(margin), ndtr(-margin)) - wrong_after


def main():
    rows = []
    for margin, ratio in itertools.product([-2.5, -1, -0.3, 0, 0.1, 0.7, 1.3, 2, 3], [0.1, 0.25, 0.5, 0.8, 0.95]):
        for reworkable in [0, 1, 0.65, 0.3]:
            gain = by_integral(margin, ratio, reworkable, None)
            if reworkable in (0, 1):
                assert abs(gain - by_owen(margin, ratio)) < 1e-12, (margin, ratio, gain)
            rows.append([margin, ratio, reworkable, None, float(gain)])
        for width in [0.5, 1.0, 2.6]:
            rows.append([margin, ratio, 0, width, float(by_integral(margin, ratio, 0, width))])
    versions = {
        "python": platform.python_version(),
        "mpmath": mpmath.__version__,
        "numpy": numpy.__version__,
        "scipy": scipy.__version__,
    }
    text = ",\n".join(json.dumps(row) for row in rows)
    header = json.dumps({"made_by": "advice.py", "versions": versions})[:-1]
    columns = '"columns": ["margin / u", "u after / u", "reworkable", "width / u", "gain"]'
    out = pathlib.Path(__file__).resolve().parents[1] / "data/oracle/advice.json"
    out.write_text(f'{header}, {columns}, "rows": [\n{text}\n]}}\n')


if __name__ == "__main__":
    main()
