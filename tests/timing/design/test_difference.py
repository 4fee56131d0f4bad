"""What differs between two designs: as typed, and only where it means another thing."""

from __future__ import annotations

import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from tests.conftest import EXAMPLES, ROOT
from timing.design.difference import GROUPS, KeyDifference, design_differences, typed_differences
from timing.design.loading import parse_design
from timing.design.saving import with_values

SHOP = (ROOT / "examples" / "shop_two_step.toml").read_text()
EDITS = {
    "times.burnback.setting": ("130 ms", "0.13 s", "140 ms", "90 ms"),
    "times.postflow.to": ("4 s", "4000 ms", "5 s"),
    "buttons.purge": (True, False),
    "panel.made": (True, False),
    "supply.line_frequency": ("50 Hz", "60 Hz"),
    "title": ("Two-step shop feeder", "Another"),
    "times.burnback.taper": ("linear", "audio"),
    "feeder.wire_drive.coast": ("50 ms", "0.05 s", "43 ms"),
}
EDITED = st.fixed_dictionaries({}, optional={key: st.sampled_from(values) for key, values in EDITS.items()})


def changes(before, after):
    return [one for group in design_differences(before, after) for one in group.differences]


@settings(max_examples=25)
@given(EDITED, EDITED)
def test_there_is_a_difference_where_the_designs_differ_and_there_alone(one, other):
    before, after = (with_values(SHOP, values)[0] for values in (one, other))
    same = parse_design(before) == parse_design(after)
    assert (changes(before, after) == []) is same
    assert [(one.key, one.new, one.old) for one in changes(after, before)] == [
        (one.key, one.old, one.new) for one in changes(before, after)
    ]


@pytest.mark.parametrize("path", EXAMPLES)
def test_a_design_does_not_differ_from_itself_and_every_table_has_a_group(path):
    text = path.read_text()
    assert design_differences(text, text) == ()
    tables = [table for group in GROUPS.values() for table in group]
    assert sorted(tables) == sorted({*tables, *type(parse_design(text)).model_fields})


def test_values_are_told_as_they_were_typed_and_a_usual_one_as_not_stated():
    after = SHOP.replace('setting = "130 ms"', 'setting = "0.14 s"').replace("purge = true\n", "")
    after = after.replace('"60 Hz"', '"50 Hz"')
    assert [(group.title, group.differences) for group in design_differences(SHOP, after)] == [
        ("times and dials", (KeyDifference("times.burnback.setting", "130 ms", "0.14 s"),)),
        ("trigger, switches and panel", (KeyDifference("buttons.purge", "true", "false (not stated)"),)),
        ("supply and circuits", (KeyDifference("supply.line_frequency", "60 Hz", "50 Hz"),)),
    ]


def test_a_dial_that_becomes_fixed_loses_its_ends():
    after = SHOP.replace('{ from = "20 ms", to = "300 ms", setting = "130 ms" }', '"130 ms"')
    assert changes(SHOP, after) == [
        KeyDifference("times.burnback.from", "20 ms", None),
        KeyDifference("times.burnback.to", "300 ms", None),
    ]


def test_a_table_that_goes_takes_what_nobody_typed_with_it():
    spot = 'spot = { time = "600 ms" }\n'
    assert changes(spot + SHOP, SHOP) == [KeyDifference("spot.time.setting", "600 ms", None)]


def test_typed_differences_know_nothing_of_meaning():
    found = typed_differences('a = "0.1 s"\nb = true\n', 'a = "100 ms"\n[c]\nd = 1\n')
    assert found == (
        KeyDifference("a", "0.1 s", "100 ms"),
        KeyDifference("c.d", None, "1"),
        KeyDifference("b", "true", None),
    )
    assert [one.as_values for one in found] == [
        {"key": "a", "old": "0.1 s", "new": "100 ms"},
        {"key": "c.d", "new": "1"},
        {"key": "b", "old": "true", "new": "left out"},
    ]
