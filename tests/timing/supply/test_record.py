"""The report as plain numbers, for JSON."""

from __future__ import annotations

import json
from collections.abc import Callable

import pytest

from timing.design.board import Board
from timing.design.design import Design
from timing.supply.montecarlo import monte_carlo
from timing.supply.record import report_record
from timing.supply.report import report

Changed = Callable[..., Design]
UNITLESS = {"seed", "draws", "low", "middle", "high", "limit", "beyond", "value"}
UNITS = ("_v", "_a", "_ohm", "_w", "_va", "_s", "_rad", "_share", "_deg_c", "_factor", "a2s")
STARVED = ('reservoir = "1000 uF"', 'reservoir = "47 uF"\nregulator = "linear"\nrectifier = "half-wave"')


def numbers(record: object, key: str = "") -> list[str]:
    """Keys of all numbers in a record."""
    if isinstance(record, dict):
        return [found for name, value in record.items() for found in numbers(value, name)]
    if isinstance(record, list):
        return [found for value in record for found in numbers(value, key)]
    return [key] if isinstance(record, int | float) and not isinstance(record, bool) else []


@pytest.mark.parametrize("pairs", [(), (STARVED,)])
def test_a_record_is_strict_json_with_units_in_its_keys(
    pairs: tuple[tuple[str, str], ...], changed: Changed, board: Board
) -> None:
    design = changed(*pairs)
    record = report_record(report(design, board), monte_carlo(design, board, 50))
    assert json.loads(json.dumps(record, allow_nan=False)) == record
    odd = {key for key in numbers(record) if key not in UNITLESS and not key.endswith(UNITS)}
    assert odd == set()


def test_a_corner_that_collapses_has_no_figures(changed: Changed, board: Board) -> None:
    record = report_record(report(changed(STARVED), board))
    assert record["closes"] is False
    collapsed = [corner for corner in record["corners"] if not corner["settled"]]
    assert collapsed
    assert all(corner["dc_mean_v"] is None and corner["junction_deg_c"] is None for corner in collapsed)
    assert not any("nan" in finding["text"] for finding in record["findings"])
