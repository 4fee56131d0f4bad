"""The timeline in the terminal: its axis has round times, each whole and above its own instant."""

from __future__ import annotations

import re

import pytest
from hypothesis import given
from hypothesis import strategies as st

from codegen.timeline_files import NAME_WIDTH, timeline_text
from tests.conftest import EXAMPLES
from timing.design.loading import load_design
from timing.sequence.core.script import Change, Script
from timing.sequence.simulate import simulate

UNITS_US = {"s": 1e6, "ms": 1e3}


@given(st.integers(20, 160), st.integers(1, 4_000_000))
def test_every_time_on_the_axis_is_whole_and_stands_above_its_instant(width, end_us):
    design = load_design(EXAMPLES[0])
    timeline = simulate(design, Script((Change(0, "trigger", 1),), end_us))
    axis = timeline_text(design, timeline, width).splitlines()[0]
    columns = max(width - NAME_WIDTH - 1, 20)
    found = list(re.finditer(r"\S+ (?:s|ms)\b", axis))
    assert " ".join(label.group() for label in found) == " ".join(axis.split())
    for label in found:
        number, unit = label.group().split()
        column = label.start() - NAME_WIDTH - 1
        assert column == pytest.approx(float(number) * UNITS_US[unit] * columns / end_us, abs=0.51)
        assert column + len(label.group()) <= columns
