"""Machines by how well they explain what was seen: importance sampling that draws anew round what it found.

The first draws are those of a machine of which nothing is known. Each further round draws from a normal distribution
round the weighted mean and covariance so far, a share of it still from the first, so that no machine is left out for
good. All rounds count together, each draw weighted by its probability beforehand times its likelihood over the density
that all rounds put there (the balance heuristic of E. Veach's thesis; M. Sbert, V. Havran and L. Szirmay-Kalos, EURASIP
Journal on Advances in Signal Processing 2018, 15, abstract seen, so name it).
"""

from __future__ import annotations

from collections.abc import Callable
from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray

from timing.elementwise import Floats
from timing.process.case import SEED
from timing.process.lattice import Lattice

FIRST_DRAWS, ROUND_DRAWS = 2048, (1024, 1536)
"""Draws of the first round and of those that follow (choice: limits then move by less than a tenth of their width)."""
WIDER = 1.3
"""Rounds are drawn wider than what was found, by this factor (choice)."""
STILL_FIRST = 0.2
"""Share of each round that is drawn as the first was (choice)."""
MOMENTS_FROM = 200.0
"""Mean and covariance are taken from as many effective draws at least: likelihoods are flattened until there are
(choice)."""


@dataclass(frozen=True)
class Weighted:
    """Draws with weights."""

    places: Floats
    """Shape (draws, unknowns), in standard deviations of what is known beforehand."""
    weights: Floats
    """They add up to 1."""

    @property
    def effective(self) -> float:
        """How many draws of equal weight tell as much."""
        return float(1 / (self.weights**2).sum())

    @property
    def mean(self) -> Floats:
        """The place in the middle of them, shape (1, unknowns)."""
        mean: Floats = (self.weights @ self.places).reshape(1, -1)
        return mean

    def quantiles(self, values: Floats, shares: tuple[float, ...]) -> Floats:
        """Return the values below which these shares of the weight lie."""
        order = np.argsort(values)
        below = np.cumsum(self.weights[order]) - self.weights[order] / 2
        return np.interp(shares, below, values[order])

    def even(self, count: int) -> Floats:
        """Return the places of `count` draws of equal weight."""
        ends = np.cumsum(self.weights)
        at = np.searchsorted(ends, (np.arange(count) + 0.5) / count * ends[-1])
        places: Floats = self.places[np.minimum(at, len(ends) - 1)]
        return places


@dataclass(frozen=True)
class _Normal:
    """A normal distribution of places."""

    mean: Floats
    root: Floats
    """Lower triangle: root @ root.T is the covariance."""

    def places(self, standard: Floats) -> Floats:
        places: Floats = self.mean + standard @ self.root.T
        return places

    def log_density(self, places: Floats) -> Floats:
        """Up to the constant that every normal distribution of as many unknowns has."""
        standard = np.linalg.solve(self.root, (places - self.mean).T)
        density: Floats = -0.5 * (standard**2).sum(axis=0) - float(np.log(np.diag(self.root)).sum())
        return density


def posterior(
    log_likelihood: Callable[[Floats], Floats],
    unknowns: int,
    rounds_of: tuple[int, ...] = ROUND_DRAWS,
    seed: int = SEED,
) -> Weighted:
    """Return weighted draws of the places that explain what was seen; the same for the same seed.

    Before it each unknown is normal, of mean 0 and standard deviation 1. `log_likelihood` takes places of shape
    (draws, unknowns) and returns one number a draw. `rounds_of`: draws of each round after the first.
    """
    first = _Normal(np.zeros(unknowns), np.eye(unknowns))
    rounds: list[tuple[float, _Normal]] = [(FIRST_DRAWS, first)]
    places = _standard(FIRST_DRAWS, unknowns, seed)
    likely = log_likelihood(places)
    for number, draws in enumerate(rounds_of, 1):
        found = _fitted(places, _log_weights(places, likely, rounds, first))
        standard = _standard(draws, unknowns, seed + number)
        fresh = np.where(_every(draws, STILL_FIRST)[:, None], standard, found.places(standard))
        rounds += [((1 - STILL_FIRST) * draws, found), (STILL_FIRST * draws, first)]
        places, likely = np.concatenate([places, fresh]), np.concatenate([likely, log_likelihood(fresh)])
    return Weighted(places, _normed(_log_weights(places, likely, rounds, first)))


def _standard(draws: int, unknowns: int, seed: int) -> Floats:
    lattice = Lattice(draws, seed)
    return np.column_stack([lattice.normal() for _ in range(unknowns)])


def _every(draws: int, share: float) -> NDArray[np.bool_]:
    """True for a share of the draws, evenly over them."""
    every: NDArray[np.bool_] = np.floor(np.arange(1, draws + 1) * share) > np.floor(np.arange(draws) * share)
    return every


def _log_weights(places: Floats, likely: Floats, rounds: list[tuple[float, _Normal]], first: _Normal) -> Floats:
    drawn = np.logaddexp.reduce([np.log(count) + one.log_density(places) for count, one in rounds])
    weights: Floats = first.log_density(places) + likely - drawn
    return weights


def _normed(log_weights: Floats) -> Floats:
    weights = np.exp(log_weights - log_weights.max())
    normed: Floats = weights / weights.sum()
    return normed


def _fitted(places: Floats, log_weights: Floats) -> _Normal:
    """Mean and covariance of weighted draws, widened; of flattened weights where a few draws have all of it."""
    share, weights = 1.0, _normed(log_weights)
    while 1 / (weights**2).sum() < MOMENTS_FROM and share > 0.01:
        share *= 0.8
        weights = _normed(share * log_weights)
    mean = weights @ places
    off = places - mean
    covariance = (off * weights[:, None]).T @ off
    root = np.linalg.cholesky(covariance + 1e-6 * np.eye(len(mean)))
    return _Normal(mean, WIDER * root.astype(np.float64))
