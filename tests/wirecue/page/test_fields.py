"""Fields from the schema: every key of every example has one, and every finding leads to one."""

from __future__ import annotations

import pytest
from hypothesis import given
from hypothesis import strategies as st

from timing.design.loading import parse_design
from timing.design.times import TIME_KEYS
from timing.design.units import format_quantity, parse_quantity
from wirecue.page.fields import ELSEWHERE, MAIN_KEYS, all_fields, nearest_key, tables_in, values_in
from wirecue.page.panels.settings import GROUP_TITLES, _group_of
from wirecue.page.panels.times import step_ms


def test_every_key_of_an_example_has_a_field(example):
    times = tuple(f"{key}." for key in TIME_KEYS.values())
    for key in values_in(example.read_text()):
        beside = key in TIME_KEYS.values() or key.startswith(times) or key in ELSEWHERE
        assert beside or key in all_fields(), key


def test_every_field_stands_in_a_group():
    assert set(MAIN_KEYS) <= set(all_fields())
    for field in all_fields().values():
        assert _group_of(field) in GROUP_TITLES, field.key


def test_what_holds_when_a_key_is_left_out_is_what_the_design_takes():
    fields = all_fields()
    assert fields["process.inductance"].default == "300 uH"
    assert fields["trigger.optocoupler"].choices == ("ac-input", "single")
    assert fields["buttons.purge"].kind == "yes-no"
    assert fields["process.wire_diameter"].required
    for field in fields.values():
        if field.kind == "quantity" and field.default:
            number = parse_quantity(field.default, field.unit)
            assert format_quantity(number, field.unit) == field.default


@pytest.mark.parametrize(
    ("key", "shown"),
    [
        ("trigger.filter", "trigger.filter"),
        ("supply.sense", "supply.sense.divider_top"),
        ("feeder.contactor.coil", "feeder.contactor.coil.fed_from"),
        ("process", "process.wire"),
        ("board.pins.gas_valve", "board.type"),
        ("nonsense.key", ""),
    ],
)
def test_a_findings_key_leads_to_the_nearest_field(key, shown):
    assert nearest_key(key, all_fields()) == shown


def test_values_and_tables_are_read_from_the_text(example):
    text = example.read_text()
    design = parse_design(text)
    assert values_in(text)["board.type"] == design.board.type
    assert ("arc_sensor" in tables_in(text)) is (design.arc_sensor is not None)
    assert {"process", "feeder.contactor", "supply.sense"} <= tables_in(text)


@given(st.floats(1, 60_000))
def test_a_slider_has_hundreds_of_round_steps_at_most(span_ms):
    step = step_ms(span_ms)
    assert span_ms / step <= 600
