"""The filters: what counts as a press, and when; what counts as a low supply, and as one good enough to begin with."""

from __future__ import annotations

import pytest
from hypothesis import given
from hypothesis import strategies as st

from timing.sequence.core.filters import ContactFilter, SupplyFilter, SupplyLevel

SUPPLY_FILTER_US = 20_000


def first_change(contact: ContactFilter, readings, wanted: bool) -> int | None:
    for at_us, raw in readings:
        if contact.read(raw, at_us) is wanted:
            return at_us
    return None


def steady(raw: bool, begin_us: int, end_us: int, step_us: int = 50):
    return [(at_us, raw) for at_us in range(begin_us, end_us, step_us)]


def test_a_clean_press_counts_after_the_filter_time():
    assert first_change(ContactFilter(12_000), steady(True, 0, 20_000), True) == 12_000


def test_a_dc_contact_that_breaks_starts_anew():
    readings = [*steady(True, 0, 11_000), (11_000, False), *steady(True, 11_050, 40_000)]
    assert first_change(ContactFilter(12_000), readings, True) == 23_050


def test_an_ac_contact_is_bridged():
    # 100 pulses a second, each 3 ms long: an ac-input optocoupler at 50 Hz.
    readings = [(at_us, at_us % 10_000 < 3_000) for at_us in range(0, 200_000, 50)]
    contact = ContactFilter(25_000, 25_000)
    assert first_change(contact, readings, True) == 30_000
    assert all(contact.read(raw, at_us + 200_000) for at_us, raw in readings)
    # The last pulse ended 7 ms before the end: the release counts from there.
    assert first_change(contact, steady(False, 400_000, 450_000), False) == 392_950 + 25_000


def test_a_spike_is_no_press_even_when_bridged():
    contact = ContactFilter(25_000, 25_000)
    assert not contact.read(True, 0)
    assert first_change(contact, steady(False, 50, 100_000), True) is None
    assert contact.deadline_us(False) is None


@given(st.lists(st.tuples(st.integers(1, 30_000), st.booleans()), max_size=40), st.sampled_from([0, 12_000]))
def test_the_filtered_contact_never_changes_twice_within_the_filter_time(steps, bridge_us):
    contact = ContactFilter(12_000, bridge_us)
    at_us, changes, before = 0, [], False
    for ahead_us, raw in steps:
        at_us += ahead_us
        if contact.read(raw, at_us) is not before:
            before = not before
            changes.append(at_us)
    assert all(later - earlier >= 12_000 for earlier, later in zip(changes[::2], changes[1::2], strict=False))


@given(st.integers(0, 50_000), st.integers(1, 100_000))
def test_the_deadline_is_where_the_change_comes(begin_us, filter_us):
    contact = ContactFilter(filter_us)
    contact.read(True, begin_us)
    due_us = contact.deadline_us(True)
    assert due_us == begin_us + filter_us
    assert not contact.read(True, due_us - 1)
    assert contact.read(True, due_us)
    assert contact.deadline_us(True) is None


@given(st.lists(st.integers(0, SUPPLY_FILTER_US), min_size=1, max_size=8))
def test_however_often_low_is_read_the_filter_counts_from_the_first(gaps_us: list[int]) -> None:
    supply, now_us = SupplyFilter(SUPPLY_FILTER_US), 1_000
    for gap_us in [0, *gaps_us]:
        now_us += gap_us
        supply.read(SupplyLevel.LOW, now_us)
        assert supply.low == (now_us - 1_000 >= SUPPLY_FILTER_US)


@pytest.mark.parametrize(
    ("level", "poor"), [(SupplyLevel.LOW, True), (SupplyLevel.BETWEEN, True), (SupplyLevel.GOOD, False)]
)
def test_only_a_supply_at_its_upper_threshold_is_good_enough_to_begin(level: SupplyLevel, poor: bool) -> None:
    supply = SupplyFilter(SUPPLY_FILTER_US)
    assert supply.poor
    supply.read(level, 0)
    assert supply.poor == poor
    assert not supply.low
