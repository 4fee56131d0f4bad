"""One time is written down in few places, so that a change of it can be followed."""

from __future__ import annotations

import pytest

from timing.design.times import TIME_KEYS
from tools.way_of_a_setting import ROOT, way_of

MOST_FILES = 25
MOST_FILES_OF = {"spot": 31}
"""A spot is a way to weld as well, with a switch, dry runs, stitches, rules and a picture of its own."""


@pytest.mark.parametrize("name", TIME_KEYS)
def test_few_files_single_out_a_time(name):
    assert len(way_of(name)) <= MOST_FILES_OF.get(name, MOST_FILES)


def test_the_way_leads_from_the_design_file_to_the_bench():
    rooms = {path.partition("/")[0] for path in way_of("burnback")}
    assert rooms >= {"timing", "codegen", "bench", "wirecue"}
    for path, lines in way_of("burnback").items():
        text = (ROOT / path).read_text(encoding="utf-8").splitlines()
        assert all("burnback" in text[number - 1].lower() for number in lines)
