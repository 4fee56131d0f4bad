"""What `make speed` must show: each figure with its bound, and whether it keeps to it."""

from __future__ import annotations

from collections.abc import Callable, Iterator, Mapping
from dataclasses import dataclass
from typing import Any

Figures = Mapping[str, Mapping[str, Any]]
"""What each benchmark returned, by its module's name."""
EVERYTHING = "spot_stitch with everything"


@dataclass(frozen=True)
class Wanted:
    """One figure and its bound."""

    name: str
    module: str
    read: Callable[[Mapping[str, Any]], float]
    """Raises KeyError where the benchmark could not measure it here."""
    bound: float
    unit: str
    at_least: bool = False
    """The bound is the least that will do, not the most."""

    def keeps(self, figure: float) -> bool:
        """Tell whether a figure keeps to the bound."""
        return figure >= self.bound if self.at_least else figure <= self.bound


def _of(key: str) -> Callable[[Mapping[str, Any]], float]:
    return lambda figures: float(figures[key])


def _everything_s(figures: Mapping[str, Any]) -> float:
    return next(float(row["s"]) for row in figures["designs"] if row["design"] == EVERYTHING)


def _slowest_build_s(figures: Mapping[str, Any]) -> float:
    return max(float(seconds) for name, seconds in figures.items() if name.endswith("_s"))


def _slower_library(figures: Mapping[str, Any]) -> float:
    return min(float(ratio) for name, ratio in figures.items() if name.startswith("speedup_over_solve_ivp"))


CLICK = "x import click"
WANTED = (
    Wanted("--help", "start_up", _of("help_over_import_click"), 1.3, CLICK),
    Wanted("check", "start_up", _of("check_over_import_click"), 8.0, CLICK),
    Wanted("simulate", "start_up", _of("simulate_over_import_click"), 7.0, CLICK),
    Wanted("advise", "start_up", _of("advise_over_import_click"), 16.0, CLICK),
    Wanted("spot curve", "process_spot", _of("spot_curve_s"), 1.0, "s"),
    Wanted("burnback curve", "process_burnback", _of("full_curve_s"), 0.5, "s"),
    Wanted("burnback over solve_ivp", "process_burnback", _slower_library, 100.0, "times", at_least=True),
    Wanted("fit", "process_advice", _of("fit_s"), 2.0, "s"),
    Wanted("sensitivities", "process_advice", _of("sensitivities_s"), 2.0, "s"),
    Wanted("build, slowest example", "build", _slowest_build_s, 3.5, "s"),
    Wanted("everything proved", "proof", _everything_s, 5.0, "s"),
    Wanted("slider to screen, median", "page", _of("slider_to_screen_median_ms"), 120.0, "ms"),
    Wanted("slider to screen, p95", "page", _of("slider_to_screen_p95_ms"), 200.0, "ms"),
    Wanted("batch", "sequence_batch", _of("batch_welds_per_s"), 3_000_000, "welds/s", at_least=True),
)


def table(figures: Figures) -> Iterator[str]:
    """Yield the lines of the table; a figure that was not measured is said not to have been, never met."""
    yield f"{'must show':<26}{'figure':>14}{'bound':>16}"
    for wanted in WANTED:
        bound = f"{'>=' if wanted.at_least else '<='} {wanted.bound:,}"
        figure = figure_of(wanted, figures)
        shown = "none" if figure is None else f"{figure:,.0f}" if figure >= 1_000 else f"{figure:,.2f}"
        verdict = "not measured" if figure is None else "met" if wanted.keeps(figure) else "NOT MET"
        yield f"{wanted.name:<26}{shown:>14}{bound:>16}  {wanted.unit:<16}{verdict}"


def figure_of(wanted: Wanted, figures: Figures) -> float | None:
    """Return one figure; None where the benchmark did not run or could not measure it here."""
    try:
        return wanted.read(figures[wanted.module])
    except (KeyError, StopIteration):
        return None
