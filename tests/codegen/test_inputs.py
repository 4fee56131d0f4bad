"""Filters, dials and supply sense: the generated C beside the Python model, and beside plain statements of the rule."""

from __future__ import annotations

import random

import numpy as np
import pytest
from hypothesis import given
from hypothesis import strategies as st

from codegen.laptop import compile_core
from tests.conftest import ROOT
from timing.design.loading import load_design
from timing.design.units import format_duration
from timing.protocol.of_design import target_of
from timing.sequence.dials import dial_scale
from timing.sequence.filters import ContactFilter, SupplyFilter, SupplyLevel
from timing.sequence.of_design import time_settings
from timing.sequence.supply_sense import supply_thresholds
from wirecue.boards import load_board

pytestmark = pytest.mark.debian("gcc")

WRAP = 1 << 32


@pytest.fixture(scope="module")
def core(cache):
    design = load_design(ROOT / "examples" / "shop_two_step.toml")
    return compile_core(design, load_board("uno"), "0.1.0", cache)


readings = st.lists(st.tuples(st.booleans(), st.sampled_from([1, 48, 900, 4_000, 9_000])), min_size=1, max_size=80)


@given(
    readings, st.sampled_from([0, 5_000, 25_000]), st.booleans(), st.sampled_from([0, WRAP - 30_000, WRAP // 2 - 9_000])
)
def test_the_filter_counts_contacts_as_the_model_does(core, readings, filter_us, ac, start_us):
    bridge_us = filter_us if ac else 0
    model = ContactFilter(filter_us, bridge_us)
    now_us, instants, wanted = start_us, [], []
    for raw, ahead_us in readings:
        now_us += ahead_us
        instants.append(now_us % WRAP)
        wanted.append(model.read(raw, now_us))
    raw = np.array([raw for raw, _ in readings], np.uint8)
    closed = core.filter(raw, np.array(instants, np.uint32), filter_us, bridge_us)
    assert [bool(value) for value in closed] == wanted


def test_a_trigger_held_for_longer_than_the_clock_goes_round_stays_closed(core):
    instants = np.arange(0, 3 * WRAP, 50_000_000, np.uint64)
    closed = core.filter(np.ones(len(instants), np.uint8), (instants % WRAP).astype(np.uint32), 25_000, 0)
    assert closed[1:].all()


def test_every_reading_of_every_dial_gives_the_time_of_the_model(design, board, cache):
    core = compile_core(design, board, "0.1.0", cache)
    counts = np.arange(board.adc_full_scale + 1, dtype=np.uint16)
    dials = [setting for setting in time_settings(design).values() if setting.dial]
    assert dials
    for index, setting in enumerate(dials):
        scale = dial_scale(setting, board)
        # A fault keeps the last good time: at first the low end, behind the last sound reading the high one.
        wanted, last = [], scale.low_us
        for reading in counts.tolist():
            last = last if scale.is_fault(reading) else scale.time_us(reading)
            wanted.append(last)
        time_us, _ = core.dial(index, counts)
        assert time_us.tolist() == wanted, format_duration(setting.high_us)
        assert {setting.low_us, setting.high_us} <= set(wanted)


def test_a_dial_is_at_fault_after_three_bad_readings_on_end_and_sound_after_one(core):
    _, fault = core.dial(0, np.array([0, 0, 500, 1023, 0, 1023, 0, 500, 0], np.uint16))
    assert fault.tolist() == [0, 0, 0, 0, 0, 1, 1, 0, 0]


def test_the_supply_is_low_after_its_filter_and_good_from_the_higher_threshold_on(design, board, cache):
    core, sense = compile_core(design, board, "0.1.0", cache), design.supply.sense
    # The divider, by Ohm's law, on a 5 V converter of 1023 counts.
    low, good = (
        round(volts * sense.divider_bottom_ohm / (sense.divider_top_ohm + sense.divider_bottom_ohm) / 5 * 1023)
        for volts in (sense.low_v, sense.good_v)
    )
    filter_us = sense.filter_us
    steps = [(good, 0), (low - 1, 1_000), (low - 1, 999 + filter_us), (low, 1_000 + filter_us)]
    steps += [(low - 1, 50_000), (low - 1, 49_999 + filter_us), (low - 1, 50_000 + filter_us)]
    steps += [(low, 90_000), (good - 1, 91_000), (good, 92_000), (low, 93_000), (low - 1, 94_000)]
    counts = np.array([counts for counts, _ in steps], np.uint16)
    instants = np.array([(WRAP - 30_000 + at_us) % WRAP for _, at_us in steps], np.uint32)
    is_low, is_good = core.supply(counts, instants)
    assert is_low.tolist() == [0, 0, 0, 0, 0, 0, 1, 0, 0, 0, 0, 0]
    assert is_good.tolist() == [1, 0, 0, 0, 0, 0, 0, 0, 0, 1, 0, 0]


@pytest.mark.parametrize(("below_good", "good"), [(0, 1), (1, 0)])
def test_at_power_up_the_first_reading_of_the_supply_decides(core, below_good, good):
    sense = load_design(ROOT / "examples" / "shop_two_step.toml").supply.sense
    good_counts = supply_thresholds(sense, load_board("uno")).good_counts
    counts = np.array([good_counts - below_good], np.uint16)
    assert [int(one[0]) for one in core.supply(counts, np.array([7], np.uint32))] == [0, good]


def test_a_supply_that_stays_low_for_longer_than_the_clock_goes_round_stays_low(core):
    instants = np.arange(0, 3 * WRAP, 1_000_000, np.uint64)
    low, good = core.supply(np.full(len(instants), 100, np.uint16), (instants % WRAP).astype(np.uint32))
    assert low[1:].all()
    assert not good.any()


supply_readings = st.lists(
    st.tuples(st.sampled_from(list(SupplyLevel)), st.sampled_from([1, 600, 5_000, 20_000])), min_size=1, max_size=60
)


@given(supply_readings, st.sampled_from([0, WRAP - 30_000]))
def test_the_supply_counts_as_in_the_model(core, readings, start_us):
    design = load_design(ROOT / "examples" / "shop_two_step.toml")
    supply = target_of(design, load_board("uno")).supply
    model, now_us, instants, wanted = SupplyFilter(design.supply.sense.filter_us), start_us, [], []
    for level, ahead_us in readings:
        now_us += ahead_us
        instants.append(now_us % WRAP)
        model.read(level, now_us)
        wanted.append((model.low, not model.poor))
    counts = np.array([supply.at(level) for level, _ in readings], np.uint16)
    low, good = core.supply(counts, np.array(instants, np.uint32))
    assert [(bool(one), bool(other)) for one, other in zip(low, good, strict=True)] == wanted


def test_ac_pulses_with_single_missing_half_waves_count_as_closed(core):
    rng = random.Random(4)
    instants = np.arange(0, 500_000, 50, np.uint32)
    # 50 Hz, both half-waves: conducting for 7 ms of every 10; one half-wave in eight is missing.
    missing = {half_wave for half_wave in range(5, 50) if rng.random() < 0.125 and half_wave % 2}
    raw = np.array([instant % 10_000 < 7_000 and instant // 10_000 not in missing for instant in instants], np.uint8)
    closed = core.filter(raw, instants, 25_000, 25_000)
    assert missing
    assert not closed[instants < 25_000].any()
    assert closed[instants >= 25_000].all()
