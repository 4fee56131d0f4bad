"""Valves, motors and contactors follow late, and short commands not at all."""

from __future__ import annotations

import itertools

from hypothesis import given
from hypothesis import strategies as st

from timing.sequence.lag import lagged
from timing.sequence.table import Output
from timing.sequence.timeline import Edge


def edges(*instants_us: int) -> tuple[Edge, ...]:
    return tuple(Edge(at_us, Output.GAS, index % 2 == 0) for index, at_us in enumerate(instants_us))


def test_each_edge_comes_late_by_its_own_delay():
    assert lagged(edges(100, 500), 30, 50) == (Edge(130, Output.GAS, True), Edge(550, Output.GAS, False))


def test_a_short_command_has_no_effect():
    assert lagged(edges(100, 120), 30, 50) == ()


def test_a_short_break_has_no_effect():
    assert lagged(edges(100, 500, 520, 900), 30, 50) == (
        Edge(130, Output.GAS, True),
        Edge(950, Output.GAS, False),
    )


@given(st.lists(st.integers(1, 200), max_size=20), st.integers(0, 100), st.integers(0, 100))
def test_actual_edges_alternate_in_order(steps, on_us, off_us):
    at_us, instants = 0, []
    for step in steps:
        at_us += step
        instants.append(at_us)
    actual = lagged(edges(*instants), on_us, off_us)
    assert [edge.on for edge in actual] == [index % 2 == 0 for index in range(len(actual))]
    assert all(earlier.at_us <= later.at_us for earlier, later in itertools.pairwise(actual))
    if instants:
        # What it ends in is what was commanded last.
        assert (len(actual) % 2 == 1) == (len(instants) % 2 == 1)
