"""Variance shares from given draws, against closed solutions and against SALib, which shares no code with them."""

from __future__ import annotations

import math

import numpy as np
import pytest
from SALib.analyze import rbd_fast
from SALib.analyze import sobol as sobol_analyze
from SALib.sample import sobol as sobol_sample

from timing.process.burnback_curve import curve_settings_s, run_scatter
from timing.process.case import BurnbackCase, scatter
from timing.process.lattice import Lattice
from timing.process.variance_shares import first_order_share, total_shares

# Ishigami's function with a = 7, b = 0.1: V = a^2/8 + b pi^4/5 + b^2 pi^8/18 + 1/2; first order (1 + b pi^4/5)^2/2,
# a^2/8, 0; the rest is what x1 and x3 do together, b^2 pi^8 (1/18 - 1/50) (T. Ishigami, T. Homma, 1990; the closed
# form as it stands in SALib's documentation of its test function).
A, B = 7.0, 0.1
VARIANCE = A**2 / 8 + B * math.pi**4 / 5 + B**2 * math.pi**8 / 18 + 0.5
TOGETHER = B**2 * math.pi**8 * (1 / 18 - 1 / 50)
FIRST = {"x1": 0.5 * (1 + B * math.pi**4 / 5) ** 2 / VARIANCE, "x2": A**2 / 8 / VARIANCE, "x3": 0.0}
TOTAL = {"x1": FIRST["x1"] + TOGETHER / VARIANCE, "x2": FIRST["x2"], "x3": TOGETHER / VARIANCE}


def ishigami(x: np.ndarray) -> np.ndarray:
    """Of shape (draws, 3)."""
    return np.sin(x[:, 0]) + A * np.sin(x[:, 1]) ** 2 + B * x[:, 2] ** 4 * np.sin(x[:, 0])


def test_ishigami_comes_out_as_in_closed_form() -> None:
    lattice = Lattice(4096, 5)
    draws = {name: lattice.uniform(-math.pi, math.pi) for name in FIRST}
    result = ishigami(np.column_stack(list(draws.values())))
    assert {name: first_order_share(draws[name], result) for name in draws} == pytest.approx(FIRST, abs=0.03)
    assert total_shares(draws, result, degree=10) == pytest.approx(TOTAL, abs=0.02)


def test_first_order_shares_of_wire_ends_are_those_that_salib_finds_in_the_same_draws(case: BurnbackCase) -> None:
    drawn = scatter(case)
    settings = curve_settings_s(case)
    result = run_scatter(case, drawn, settings[20:21]).extension_mm[0]
    causes = {name: np.asarray(values) for name, values in drawn.causes.items() if np.ptp(values) > 0}
    problem = {"num_vars": len(causes), "names": list(causes), "bounds": [[0.0, 1.0]] * len(causes)}
    theirs = rbd_fast.analyze(problem, np.column_stack(list(causes.values())), result, num_resamples=10, seed=1)["S1"]
    own = [first_order_share(values, result) for values in causes.values()]
    assert own == pytest.approx(np.asarray(theirs), abs=0.03)
    assert max(own) > 0.2


def test_total_shares_are_those_of_a_design_made_for_them() -> None:
    """Sobol's indices by Saltelli's sampling, for a result with an interaction and a cause that does nothing."""

    def made(x: np.ndarray) -> np.ndarray:
        return x[:, 0] + 0.5 * x[:, 1] ** 2 + 2 * (x[:, 0] - 0.5) * (x[:, 2] - 0.5)

    problem = {"num_vars": 4, "names": list("abcd"), "bounds": [[0.0, 1.0]] * 4}
    theirs = sobol_analyze.analyze(
        problem, made(sobol_sample.sample(problem, 2048, calc_second_order=False)), calc_second_order=False, seed=1
    )
    lattice = Lattice(4096, 1)
    draws = {name: lattice.uniform(0.0, 1.0) for name in "abcd"}
    result = made(np.column_stack(list(draws.values())))
    assert list(total_shares(draws, result).values()) == pytest.approx(np.asarray(theirs["ST"]), abs=0.01)
    own = [first_order_share(values, result) for values in draws.values()]
    assert own == pytest.approx(np.asarray(theirs["S1"]), abs=0.02)


def test_what_does_not_vary_has_no_share() -> None:
    lattice = Lattice(512, 1)
    varied, still = lattice.normal(), np.ones(512)
    assert first_order_share(still, varied) == first_order_share(varied, still) == 0.0
    assert total_shares({"still": still, "varied": varied}, varied) == pytest.approx(
        {"still": 0.0, "varied": 1.0}, abs=0.05
    )
    assert total_shares({"varied": varied}, still) == {"varied": 0.0}
    assert first_order_share(lattice.normal(), varied) < 0.02


@pytest.mark.parametrize("draws", [20, 250])
def test_few_draws_give_shares_as_well(draws: int) -> None:
    rng = np.random.default_rng(1)
    causes = {name: rng.normal(size=draws) for name in "abcdefgh"}
    shares = total_shares(causes, causes["a"] + causes["b"] * 0.1)
    assert max(shares, key=shares.__getitem__) == "a"
    assert all(0 <= share <= 1 for share in shares.values())
