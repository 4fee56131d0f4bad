"""The report as plain numbers, for JSON."""

from __future__ import annotations

import json
from collections.abc import Callable

import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from tests.timing.conftest import SHOP
from timing.design.board import Board
from timing.design.design import Design
from timing.design.loading import parse_design
from timing.power.montecarlo import monte_carlo
from timing.power.record import report_record
from timing.project import Project
from wirecue.projects import load_board

Changed = Callable[..., Design]
BOARD = load_board("uno")
UNITLESS = {"format", "seed", "draws", "low", "middle", "high", "limit", "beyond", "value"}
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
    record = report_record(Project(design, board).supply, monte_carlo(design, board, 50))
    assert json.loads(json.dumps(record, allow_nan=False)) == record
    odd = {key for key in numbers(record) if key not in UNITLESS and not key.endswith(UNITS)}
    assert odd == set()


def test_a_corner_that_collapses_has_no_figures(changed: Changed, board: Board) -> None:
    record = report_record(Project(changed(STARVED), board).supply)
    assert record["closes"] is False
    collapsed = [corner for corner in record["corners"] if not corner["settled"]]
    assert collapsed
    assert all(corner["dc_mean_v"] is None and corner["junction_deg_c"] is None for corner in collapsed)
    assert not any("nan" in finding["text"] for finding in record["findings"])


@settings(max_examples=10)
@given(
    nominal=st.floats(12.0, 48.0),
    rating=st.floats(5.0, 1000.0),
    reservoir_uf=st.floats(11.0, 99_000.0),
    hold_a=st.floats(0.005, 20.0),
    inrush_ratio=st.floats(1.0, 3.0),
    rectifier=st.sampled_from(["bridge", "half-wave"]),
    regulator=st.sampled_from(["linear", "switching"]),
    more=st.sampled_from(
        [
            "",
            'regulator_output = "30 V"',
            'fuse = "50 mA"',
            'line_tolerance = "20 %"',
            'series_resistor = "100 ohm"',
            'isolation = "module"',
            'isolation = "transformer"\nisolation_rating = "2 VA"',
            'isolation = "transformer"\nisolation_output = "36 V"\nseries_resistor = "0.47 ohm"',
        ]
    ),
)
def test_any_supply_that_the_file_allows_is_judged_in_plain_numbers(
    nominal: float, rating: float, reservoir_uf: float, hold_a: float, inrush_ratio: float, rectifier: str,
    regulator: str, more: str,
) -> None:  # fmt: skip
    lines = [line for line in SHOP.splitlines() if not line.startswith(("measured", "rating", "reservoir"))]
    text = "\n".join(lines).replace(
        "[supply]",
        f'[supply]\nnominal = "{nominal:.3f} V"\nrating = "{rating:.3f} VA"\nreservoir = "{reservoir_uf:.3f} uF"\n'
        f'rectifier = "{rectifier}"\nregulator = "{regulator}"\n{more}',
    )
    coil = f'hold = "{hold_a:.4f} A", inrush = "{hold_a * inrush_ratio:.4f} A"'
    text = text.replace('hold = "0.6 A", inrush = "3.5 A"', coil)
    record = report_record(Project(parse_design(text), BOARD).supply)
    json.dumps(record, allow_nan=False)
    said = " ".join(finding["text"] + finding["reason"] for finding in record["findings"])
    assert " nan" not in said
    assert " inf " not in said
