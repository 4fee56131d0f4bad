"""Draws of a lattice: each quantity well spread, none moving with another, and closer than random numbers."""

from __future__ import annotations

from statistics import NormalDist

import numpy as np
import pytest

from tests.conftest import EXAMPLES
from timing.checks.process import RULE_DRAWS
from timing.elementwise import percentiles
from timing.process import lattice
from timing.process.burnback import GOOD, QUICK_STEP_S
from timing.process.burnback_curve import curve_settings_s, run_scatter
from timing.process.case import DRAWS, FEED_SPREAD, BurnbackCase, burnback_case, scatter
from timing.process.lattice import MULTIPLIERS, QUANTITIES, GivenDraws, Lattice
from wirecue.projects import load_project

SEEDS = range(10)


class RandomNumbers(Lattice):
    """As many quantities from a random number generator."""

    def __init__(self, draws: int, seed: int) -> None:
        super().__init__(draws, seed)
        self._generator = np.random.default_rng(seed)

    def _share(self):
        return self._generator.random(self._draws)


@pytest.mark.parametrize("draws", [10, 64, 400, 1009, *MULTIPLIERS])
def test_each_quantity_takes_every_quantile_once(draws: int) -> None:
    drawn = Lattice(draws, 7)
    for _ in range(QUANTITIES):
        assert np.sort(drawn.uniform(0.0, 1.0)) == pytest.approx((np.arange(draws) + 0.5) / draws)


@pytest.mark.parametrize("draws", [100, 400, 1009, *MULTIPLIERS])
def test_no_two_quantities_move_together(draws: int) -> None:
    drawn = Lattice(draws, 7)
    together = np.corrcoef([drawn.uniform(0.0, 1.0) for _ in range(QUANTITIES)])
    assert np.abs(together - np.eye(QUANTITIES)).max() < 0.5


def test_shapes_are_those_of_a_reference_library() -> None:
    drawn = Lattice(3000, 1)
    normal = NormalDist()
    wanted = [normal.inv_cdf((rank + 0.5) / 3000) for rank in range(3000)]
    assert np.sort(drawn.normal()) == pytest.approx(wanted, abs=1e-3)
    inside = np.abs(wanted) < 3.0
    assert np.sort(drawn.normal())[inside] == pytest.approx(np.array(wanted)[inside], abs=1e-4)
    triangle = drawn.triangular(2.0, 3.0, 6.0)
    assert (triangle.min() > 2.0, triangle.max() < 6.0) == (True, True)
    assert triangle.mean() == pytest.approx((2.0 + 3.0 + 6.0) / 3.0, rel=1e-4)
    assert triangle.var() == pytest.approx((4 + 9 + 36 - 6 - 12 - 18) / 18.0, rel=1e-3)
    with pytest.raises(ValueError, match="no triangle"):
        drawn.triangular(1.0, 1.0, 1.0)


def test_the_same_seed_gives_the_same_and_another_gives_another() -> None:
    first, again, other = (Lattice(500, seed).normal() for seed in (3, 3, 4))
    assert np.array_equal(first, again)
    assert not np.array_equal(first, other)


def figures(case: BurnbackCase, draws: int, seed: int) -> np.ndarray:
    """Percentiles of the wire end (mm), and the share that ends good, at a short setting and a usual one."""
    run = run_scatter(case, scatter(case, draws, seed), curve_settings_s(case)[8:25:16], QUICK_STEP_S)
    ends_mm = percentiles(run.extension_mm, (5.0, 50.0, 95.0))
    return np.array([*ends_mm, (run.outcome == GOOD).mean(axis=1)])


def test_fewer_draws_are_as_close_as_many_random_ones(monkeypatch: pytest.MonkeyPatch) -> None:
    cases = [burnback_case(load_project(path).design) for path in EXAMPLES]

    def errors(draws: int, truth: list[np.ndarray]) -> np.ndarray:
        """Root mean square error of each figure, over seeds, settings and cases."""
        missed = [
            figures(case, draws, seed) - right for case, right in zip(cases, truth, strict=True) for seed in SEEDS
        ]
        return np.sqrt(np.mean(np.square(missed), axis=(0, 2)))

    with monkeypatch.context() as at_random:
        at_random.setattr(lattice, "Lattice", RandomNumbers)
        truth = [figures(case, 200_000, 90) for case in cases]
        of_1000 = errors(1000, truth)
    # Ten times as many independent draws err by a root of ten less.
    for draws, at_random_error in ((DRAWS, of_1000 / np.sqrt(10.0)), (RULE_DRAWS, of_1000)):
        ratio = errors(draws, truth) / at_random_error
        assert np.mean(ratio**2) <= 1.0, (draws, ratio)
        assert ratio.max() < 1.3, (draws, ratio)


def test_machines_that_are_given_are_the_ones_drawn_and_welds_scatter_round_them(case: BurnbackCase) -> None:
    likely = GivenDraws(np.zeros((64, QUANTITIES)))
    known, drawn = scatter(case, 64, machine=likely), scatter(case, 64, machine=False)
    assert known.plant.distance_mm == pytest.approx(drawn.plant.distance_mm)
    places = np.full((64, likely.taken), 1.0)
    coarser = scatter(case, 64, machine=GivenDraws(places), weld=False)
    assert coarser.plant.feed_mm_s == pytest.approx(case.feed_mm_s * np.exp(FEED_SPREAD))
    with pytest.raises(IndexError):
        scatter(case, 64, machine=GivenDraws(places[:, 1:]))
