"""The table at the end of `make speed`: met, not met, and never met where nothing was measured."""

from __future__ import annotations

import pytest

from benchmarks.must_show import EVERYTHING, WANTED, figure_of, table

QUICK = {
    "start_up": {f"{name}_over_import_click": 1.0 for name in ("help", "check", "simulate", "advise")},
    "process_spot": {"spot_curve_s": 1.0},
    "build": {"shop_two_step_s": 2.0, "spot_stitch_s": 3.5},
    "proof": {"designs": [{"design": "shop_two_step", "s": 90.0}, {"design": EVERYTHING, "s": 4.0}]},
    "page": {"slider_to_screen_median_ms": 60.0, "slider_to_screen_p95_ms": 90.0, "ok": True},
    "process_burnback": {"full_curve_s": 0.5, **{f"speedup_over_solve_ivp_{of}": 100.0 for of in ("one", "all")}},
    "process_advice": {"fit_s": 2.0, "sensitivities_s": 2.0},
    "sequence_batch": {"batch_welds_per_s": 3_000_000},
}


SOLVED = "burnback over solve_ivp"


def verdicts(figures) -> dict[str, str]:
    return {wanted.name: line for wanted, line in zip(WANTED, list(table(figures))[1:], strict=True)}


def test_figures_within_their_bounds_are_met():
    assert all(line.endswith(" met") and "NOT" not in line for line in verdicts(QUICK).values())


@pytest.mark.parametrize(
    ("module", "figures", "name"),
    [
        ("start_up", {f"{name}_over_import_click": 99.0 for name in ("help", "check", "simulate", "advise")}, "check"),
        ("build", {"shop_two_step_s": 2.0, "spot_stitch_s": 3.6}, "build, slowest example"),
        ("process_spot", {"spot_curve_s": 1.01}, "spot curve"),
        ("proof", {"designs": [{"design": EVERYTHING, "s": 5.1}]}, "everything proved"),
        ("page", {"slider_to_screen_median_ms": 121.0, "slider_to_screen_p95_ms": 201.0}, "slider to screen, p95"),
        ("process_burnback", {"speedup_over_solve_ivp_all": 400.0, "speedup_over_solve_ivp_one": 99.0}, SOLVED),
        ("process_advice", {"fit_s": 2.1}, "fit"),
        ("sequence_batch", {"batch_welds_per_s": 2_999_999}, "batch"),
    ],
)
def test_one_beyond_its_bound_is_not_met(module, figures, name):
    assert verdicts(QUICK | {module: figures})[name].endswith("NOT MET")


@pytest.mark.parametrize("page", [{"skipped": "chromium is not installed"}, {}])
def test_what_was_not_measured_is_not_met(page):
    found = verdicts(QUICK | {"page": page})
    assert found["slider to screen, median"].endswith("not measured")
    assert verdicts({})["batch"].endswith("not measured")


def test_every_figure_is_read_from_what_the_benchmarks_return():
    assert all(figure_of(wanted, QUICK) is not None for wanted in WANTED)
