"""Weighted least squares to compare core/src/quantity/least_squares.rs with.

Writes tests/data/oracle/least_squares.json. Each case is solved from the normal equations with mpmath at 50 digits,
and its parameters once more by SciPy. Normalised residuals are Baarda's: (P e)_i / sqrt((P Q P)_ii).
In the cases named `undetermined…` columns enter only as a sum; the reduced problem is solved instead.
"""

import json
import pathlib
import platform

import mpmath
import numpy
import scipy
import scipy.linalg
from mpmath import inverse, matrix, mp, sqrt

mp.dps = 50


def solve(design, observed, covariance):
    a, y, v = matrix(design.tolist()), matrix(observed.tolist()), matrix(covariance.tolist())
    p = inverse(v)
    c = inverse(a.T * p * a)
    x = c * (a.T * p * y)
    e = y - a * x
    pe = p * e
    pqp = p - p * a * c * a.T * p
    second = scipy.linalg.lstsq(
        scipy.linalg.solve_triangular(numpy.linalg.cholesky(covariance), design, lower=True),
        scipy.linalg.solve_triangular(numpy.linalg.cholesky(covariance), observed, lower=True),
    )[0]
    numpy.testing.assert_allclose(second, [float(k) for k in x], rtol=1e-8)
    normalised = [
        float(pe[i] / sqrt(pqp[i, i])) if pqp[i, i] > mpmath.mpf(10) ** -30 * p[i, i] else None
        for i in range(len(observed))
    ]
    return {
        "parameters": [float(k) for k in x],
        "parameter_covariance": [[float(c[i, j]) for j in range(c.cols)] for i in range(c.rows)],
        "chi_square": float((e.T * p * e)[0]),
        "degrees_of_freedom": len(observed) - design.shape[1],
        "normalised_residuals": normalised,
    }


def case(name, design, observed, covariance, merge=None):
    reduced = design
    if merge:
        # The merged columns are equal: keep the first, for the sum of their parameters.
        reduced = numpy.delete(design, merge[1:], axis=1)
    row = {
        "name": name,
        "design": design.tolist(),
        "observed": observed.tolist(),
        "covariance": covariance.tolist(),
        "undetermined": list(merge) if merge else [],
        # Places, in the full list, of the parameters that the solution below speaks of.
        "places": [k for k in range(design.shape[1]) if not merge or k not in merge[1:]],
    }
    row.update(solve(reduced, observed, covariance))
    return row


def main():
    draw = numpy.random.default_rng(20260501)
    cases = []
    for n, m in [(3, 1), (6, 2), (9, 4), (20, 6)]:
        design = draw.normal(size=(n, m)) * draw.uniform(0.01, 1000, size=m)
        u = draw.uniform(0.05, 2.0, size=n)
        observed = design @ draw.normal(size=m) + u * draw.normal(size=n)
        cases.append(case(f"independent {n} by {m}", design, observed, numpy.diag(u**2)))
    for n, m in [(5, 2), (12, 4)]:
        design = draw.normal(size=(n, m))
        root = draw.normal(size=(n, n)) + 2 * numpy.eye(n)
        observed = design @ draw.normal(size=m) + root @ draw.normal(size=n)
        cases.append(case(f"correlated {n} by {m}", design, observed, root @ root.T))
    # One observation far more certain than the rest, and one that nothing else checks.
    design = numpy.array([[1.0, 1.0, 0.0], [1.0, -1.0, 0.0], [1.0, 0.5, 0.0], [0.0, 0.0, 2.0]])
    u = numpy.array([1e-5, 1.0, 0.5, 0.1])
    cases.append(case("uneven and unchecked", design, numpy.array([3.0, 1.2, 2.4, 8.0]), numpy.diag(u**2)))
    design = draw.normal(size=(7, 3))
    design = numpy.column_stack([design[:, 0], design[:, 1], design[:, 2], design[:, 1]])
    u = draw.uniform(0.1, 1.0, size=7)
    observed = design @ draw.normal(size=4) + u * draw.normal(size=7)
    cases.append(case("undetermined second and fourth", design, observed, numpy.diag(u**2), merge=[1, 3]))
    design = numpy.array([[1.0, 1.0, 0.0], [1.0, 1.0, 1.0]])
    cases.append(case("undetermined, fewer rows than columns", design, numpy.array([5.0, 7.0]), numpy.diag([0.01, 0.04]), merge=[0, 1]))

    document = {
        "made_by": "least_squares.py",
        "versions": {
            "python": platform.python_version(),
            "mpmath": mpmath.__version__,
            "numpy": numpy.__version__,
            "scipy": scipy.__version__,
        },
        "cases": cases,
    }
    path = pathlib.Path(__file__).parent.parent / "data" / "oracle" / "least_squares.json"
    path.write_text(json.dumps(document, separators=(",", ":")).replace(',"', ',\n"') + "\n")


if __name__ == "__main__":
    main()
