"""What share of the variance of a result goes with each of its causes, from draws that are there already.

First-order share: what would go, on average, if that one cause were known; the variance of the means of classes of
like cause over the whole. Any draws serve, none is made for it (E. Plischke, An effective algorithm for computing
global sensitivity indices (EASI), Reliability Engineering and System Safety 95, 2010, 354-360, seen quoted, takes the
same from sorted draws). Total share: what would stay if all other causes were known; of the polynomial that is fitted
to the draws, the part that no polynomial of the other causes explains. More in total than at first order is the
cause's part in interactions. Both hold for causes that depend on each other as well; shares then overlap.

A sensitivity library stands beside this in the tests: it loads in ten times the time of numpy, longer than all advice
takes.
"""

from __future__ import annotations

import math
from collections.abc import Mapping

import numpy as np

from timing.elementwise import Floats

DEGREE = 2
"""Of the polynomials: causes by themselves, their squares, and each two together (choice: a third adds less
than 0.01 to shares of wire ends)."""
DRAWS_PER_TERM = 4
"""As many draws for each term at least, or the degree is lowered (choice)."""
_RIDGE = 1e-9


def class_count(draws: int) -> int:
    """Return the number of classes that draws are parted into: as many as leave classes of that number squared."""
    return max(round(math.cbrt(draws)), 2)


def first_order_share(cause: Floats, result: Floats) -> float:
    """Return the share of the variance of `result` that goes with `cause`, both of shape (draws,); 0 to 1.

    What classes take by chance is taken off: the mean squares within them and over all, not their sums, are compared.
    """
    draws, classes = len(result), class_count(len(result))
    off = (result - result.mean())[np.argsort(cause, kind="stable")]
    starts = np.arange(classes) * draws // classes
    sizes = np.diff(np.append(starts, draws))
    whole = float((off**2).sum())
    if whole == 0.0 or np.ptp(cause) == 0.0:
        return 0.0
    between = float((np.add.reduceat(off, starts) ** 2 / sizes).sum())
    return min(max(1 - (whole - between) / (draws - classes) / (whole / (draws - 1)), 0.0), 1.0)


def total_shares(causes: Mapping[str, Floats], result: Floats, degree: int = DEGREE) -> dict[str, float]:
    """Return by cause the share of the variance of `result` that would stay if all other causes were known.

    All of shape (draws,). `degree`: of the polynomials; with few draws a lower one is taken.
    """
    varied = {name: values for name, values in causes.items() if np.ptp(values) > 0}
    off, none = result - result.mean(), dict.fromkeys(causes, 0.0)
    if not varied or float(off.std()) == 0.0:
        return none
    while degree > 1 and DRAWS_PER_TERM * _terms(len(varied), degree) > len(result):
        degree -= 1
    columns, owners = _basis(list(varied.values()), degree)
    gram = columns.T @ columns / len(off)
    inverse = np.linalg.inv(gram + _RIDGE * np.eye(len(gram)))
    weights = inverse @ (columns.T @ off) / len(off)
    shares = {}
    for number, name in enumerate(varied):
        own = np.flatnonzero(owners[:, number])
        # What the fit loses without these terms, by the formula of a partial F test.
        lost = weights[own] @ np.linalg.solve(inverse[np.ix_(own, own)], weights[own])
        shares[name] = min(max(float(lost / off.var()), 0.0), 1.0)
    return none | shares


def _terms(causes: int, degree: int) -> int:
    return causes * degree + causes * (causes - 1) // 2 * (degree * (degree - 1) // 2)


def _basis(causes: list[Floats], degree: int) -> tuple[Floats, np.ndarray]:
    """Return Legendre polynomials of each cause's ranks and products of two, and which causes each term has."""
    draws = len(causes[0])
    singles = []
    for values in causes:
        rising = np.sort(values)
        rank = (np.searchsorted(rising, values) + np.searchsorted(rising, values, "right")) / draws - 1
        before, now = np.ones(draws), rank
        terms = [now]
        for order in range(1, degree):
            before, now = now, ((2 * order + 1) * rank * now - order * before) / (order + 1)
            terms.append(now)
        singles.append(terms)
    columns, owners = [], []
    for one, first in enumerate(singles):
        columns += first
        owners += [[one]] * degree
        for other in range(one + 1, len(singles)):
            pairs = [(a, b) for a in range(degree) for b in range(degree - 1 - a)]
            columns += [first[a] * singles[other][b] for a, b in pairs]
            owners += [[one, other]] * len(pairs)
    has = np.zeros((len(owners), len(causes)), dtype=np.bool_)
    for row, who in enumerate(owners):
        has[row, who] = True
    return np.column_stack(columns), has
