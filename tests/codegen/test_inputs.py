"""Filters, dials and supply sense: the generated C beside the Python model, and beside plain statements of the rule."""

from __future__ import annotations

import random

import numpy as np
import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from tests.conftest import ROOT, VERSION
from tests.support.host_core import compile_core
from timing.circuit.dial import dial_of
from timing.circuit.senses import supply_thresholds
from timing.design.features import features_of
from timing.design.loading import load_design
from timing.design.units import format_duration
from timing.project import Project
from timing.protocol.target import RAW_ALL, RAW_BIT
from timing.protocol.target_of_design import target_of
from timing.sequence.core import filters
from timing.sequence.core.filters import ContactFilter, SupplyFilter, SupplyLevel
from timing.sequence.core.table import Fault
from wirecue.projects import load_board

pytestmark = pytest.mark.debian("gcc")

WRAP = 1 << 32


@pytest.fixture(scope="module")
def core(cache):
    design = load_design(ROOT / "examples" / "shop_two_step.toml")
    return compile_core(design, load_board("uno"), VERSION, cache)


@pytest.fixture(scope="module")
def shop(cache):
    return load_design(cache.parents[1] / "examples" / "shop_two_step.toml")


@pytest.fixture(scope="module")
def gasless_core(cache):
    design = load_design(cache.parents[1] / "examples" / "gasless_four_step.toml")
    return compile_core(design, load_board("leonardo"), VERSION, cache)


SHOP_SUPPLY = 3
GASLESS_PANEL = ("interlock", "four_step")

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
    core = compile_core(design, board, VERSION, cache)
    counts = np.arange(board.adc_full_scale + 1, dtype=np.uint16)
    dials = [setting for setting in features_of(design).times.values() if setting.dial]
    assert dials
    for index, setting in enumerate(dials):
        scale = dial_of("spot", setting, board).scale
        # A fault keeps the last good time: at first the low end, behind the last sound reading the high one.
        wanted, last = [], scale.low_us
        for reading in counts.tolist():
            last = last if scale.is_fault(reading) else scale.time_us(reading)
            wanted.append(last)
        time_us, _ = core.dial(index, counts)
        assert time_us.tolist() == wanted, format_duration(setting.high_us)
        assert {setting.low_us, setting.high_us} <= set(wanted)


def test_a_dial_is_at_fault_with_a_reading_that_no_sound_dial_gives_and_sound_with_the_next(core):
    _, fault = core.dial(0, np.array([500, 0, 500, 1023, 0, 500], np.uint16))
    assert fault.tolist() == [0, 1, 0, 1, 1, 0]


counts_near_anything = st.sampled_from([0, 20, 21, 60, 100, 260, 300, 330, 500, 700, 990, 1003, 1023]) | st.integers(
    0, 1023
)


@given(st.lists(counts_near_anything, min_size=1, max_size=12), st.integers(0, 2))
@settings(max_examples=50)
def test_the_middle_one_of_the_last_three_readings_counts_and_nothing_before_there_are_three(core, shop, counts, dial):
    board, scale = core.board(bench_link=False), dial_of("spot", dials_of(shop)[dial], load_board("uno")).scale
    wanted_us, at_fault = scale.low_us, False
    for _ in range(3):
        board.reading(SHOP_SUPPLY, 500, 0)
    for number, reading in enumerate(counts):
        board.reading(dial, reading, 0)
        if number >= 2:
            middle = sorted(counts[number - 2 : number + 1])[1]
            at_fault = scale.is_fault(middle)
            wanted_us = wanted_us if at_fault else scale.time_us(middle)
        answers = board.ask(f"INP:TIME? {dial_number(dial)};*TST?\n", passes=400).strip().split(";")
        assert int(answers[0]) == wanted_us
        assert (int(answers[1]) == Fault.DIAL) == at_fault
    board.close()


@given(st.lists(st.integers(0, 1023), min_size=1, max_size=30), st.integers(0, 3))
@settings(max_examples=50)
def test_single_wrong_readings_do_nothing_to_dials_and_supply(core, disturbed, channel):
    """Every third reading is anything at all: the supply stays good, the dial where it stands."""
    board = core.board(bench_link=False)
    for _ in range(3):
        for each in range(4):
            board.reading(each, 500, 0)
    asked = "INP:TIME? 0;TIME? 2;TIME? 3;*TST?\n"
    calm = board.ask(asked)
    for number, wrong in enumerate(disturbed):
        for counts in (wrong, 500, 500):
            board.reading(channel, counts, 30_000 * number)
        assert board.ask(asked, now_us=30_000 * number) == calm
    board.close()


def dials_of(design):
    return [setting for setting in features_of(design).times.values() if setting.dial]


def dial_number(dial):
    """The number on the link of the shop feeder's dials: preflow, burnback, postflow."""
    return (0, 2, 3)[dial]


class Looks:
    """One contact as the panel's rule states it: the fourth look on end that differs makes the change."""

    def __init__(self, closed):
        self.closed, self.differing, self.look = closed, 0, 0

    def read(self, closed, now_us):
        look = now_us // filters.PANEL_LOOK_US % 256
        if look != self.look:
            self.look = look
            self.differing = self.differing + 1 if closed != self.closed else 0
            if self.differing == filters.PANEL_LOOKS:
                self.closed, self.differing = closed, 0
        return self.closed


@given(
    st.lists(st.tuples(st.integers(0, RAW_ALL), st.sampled_from([1, 9, 40, 80, 128, 300])), min_size=1, max_size=120),
    st.integers(0, 3_000),
    st.sampled_from([0, WRAP - 5_000]),
)
def test_switches_and_interlock_count_once_four_looks_agree_and_filtered_contacts_pass(
    gasless_core, contacts, holds, start_us
):
    now_us, rows = start_us, []
    for raw, ahead_us in contacts:
        # Each state of the contacts is held for some passes.
        for _ in range(1 + holds % 9):
            now_us += ahead_us
            rows.append((raw, now_us))
    looks = {role: Looks(bool(rows[0][0] & RAW_BIT[role])) for role in GASLESS_PANEL}
    wanted = []
    for raw, at_us in rows:
        seen = raw
        for role, contact in looks.items():
            bit = RAW_BIT[role]
            seen = seen | bit if contact.read(bool(raw & bit), at_us) else seen & ~bit
        wanted.append(seen)
    got = gasless_core.panel(
        np.array([raw for raw, _ in rows], np.uint16), np.array([at_us % WRAP for _, at_us in rows], np.uint32)
    )
    assert got.tolist() == wanted


@pytest.mark.parametrize("pass_us", [3, 40, 80])
@pytest.mark.parametrize("offset_us", [0, 37, 100, 127])
def test_a_change_shorter_than_three_looks_does_nothing_and_one_that_stays_is_seen_in_time(
    gasless_core, pass_us, offset_us
):
    instants = np.arange(offset_us, 4_000, pass_us, np.uint32)
    closed = RAW_BIT["interlock"]

    def seen(lasts_us):
        raw = np.where((instants >= 1_000) & (instants < 1_000 + lasts_us), 0, closed).astype(np.uint16)
        return gasless_core.panel(raw, instants) & closed

    assert seen(filters.PANEL_SHORTEST_US - pass_us).all()
    gone = instants[seen(3_000) == 0]
    assert filters.PANEL_SHORTEST_US - pass_us <= gone[0] - 1_000 <= filters.PANEL_LONGEST_US + pass_us


def test_the_supply_is_low_after_its_filter_and_good_from_the_higher_threshold_on(design, board, cache):
    core, sense = compile_core(design, board, VERSION, cache), design.supply.sense
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
    supply = target_of(Project(design, load_board("uno"))).supply
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
