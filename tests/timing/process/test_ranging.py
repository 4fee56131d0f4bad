"""Where advice goes: before the plates are made dials get new ends, afterwards settings move within them alone."""

from __future__ import annotations

import pytest
from hypothesis import given
from hypothesis import strategies as st

from tests.timing.conftest import SHOP
from timing.design.loading import parse_design
from timing.design.moves import panel_moves
from timing.design.saving import with_values
from timing.design.times import TimeSetting
from timing.process.ranging import TimeAdvice, end_of_dial, placing, settable_us, shortfalls

MADE = f"{SHOP}\n[panel]\nmade = true\n"
TENTH_MS = 100


def advice(setting: int, low: int, high: int, name: str = "burnback") -> TimeAdvice:
    """Advice in tenths of a millisecond; the dial that serves has room at both ends."""
    work = low * TENTH_MS, high * TENTH_MS
    return TimeAdvice(name, setting * TENTH_MS, *work, work[0] // 2, work[1] * 2, (), work)


def dial(low_ms: int, high_ms: int, setting_ms: int) -> TimeSetting:
    return TimeSetting(setting=f"{setting_ms} ms", **{"from": f"{low_ms} ms", "to": f"{high_ms} ms"})


advised = st.tuples(st.integers(1, 5000), st.integers(1, 5000), st.integers(1, 5000)).map(
    lambda three: advice(sorted(three)[1], sorted(three)[0], sorted(three)[2])
)


@given(advised)
def test_with_made_plates_a_dial_keeps_its_ends_and_the_setting_stays_on_it(time: TimeAdvice):
    before = parse_design(MADE)
    placed = placing(before, [time])
    text, _ = with_values(MADE, placed.values)
    own, after = before.times.burnback, parse_design(text).times.burnback
    assert (after.from_us, after.to_us) == (own.from_us, own.to_us)
    assert placed.new_ranges == ()
    assert not [move for move in panel_moves(before, parse_design(text)) if move.new_plate]
    # As near to the advice as the dial goes, and where that is not near, said.
    assert after.setting_us == settable_us(own, time.setting_us)
    if abs(after.setting_us - time.setting_us) > 14_000:
        assert any(one.setting_out for one in placed.short)
    if time.reach_us[0] >= own.low_us and time.reach_us[1] <= own.high_us:
        assert placed.short == ()
    for one in placed.short:
        assert (one.has_us, one.asks_us) in ((own.low_us, time.reach_us[0]), (own.high_us, time.reach_us[1]))


@given(advised, st.booleans())
def test_new_ranges_are_asked_for_or_the_plates_are_not_made(time: TimeAdvice, made: bool):
    text = MADE if made else SHOP
    before = parse_design(text)
    lacking = tuple(shortfalls(before.times.burnback, time))
    placed = placing(before, [time], new_ranges=made)
    assert placed.short == ()
    assert bool(placed.new_ranges) == (bool(lacking) or not made)
    after = parse_design(with_values(text, placed.values)[0]).times.burnback
    if placed.new_ranges:
        assert (after.low_us, after.high_us) == (time.dial_from_us, time.dial_to_us)
        assert after.setting_us == time.setting_us


def test_a_shortfall_says_which_end_and_by_how_much():
    made = dial(50, 190, 100)
    (above,) = shortfalls(made, advice(2300, 1000, 2300))
    assert above.sentence == "burnback: its dial ends at 190 ms and the advised setting is 230 ms, 40 ms above it"
    (below,) = shortfalls(made, advice(1000, 200, 1500))
    assert below.sentence == (
        "burnback: its dial begins at 50 ms and the whole of the work asks for 20 ms, 30 ms below it"
    )
    assert not list(shortfalls(made, advice(1000, 440, 1960))), "less than half a mark is at the end, not beyond it"
    assert not list(shortfalls(TimeSetting(setting="90 ms"), advice(2300, 1000, 2300))), "fixed: any time will do"


@pytest.mark.parametrize(
    ("setting_ms", "low_ms", "end"),
    [(100, 50, ""), (190, 50, "high"), (184, 50, "high"), (182, 50, ""), (50, 50, "low"), (56, 50, "low"), (0, 0, "")],
)
def test_a_setting_within_half_a_mark_of_an_end_sits_at_it(setting_ms: int, low_ms: int, end: str):
    assert end_of_dial(dial(low_ms, 190, setting_ms)) == end


@pytest.mark.parametrize(
    ("setting_ms", "end"), [(500, "low"), (1_200, ""), (2_500, ""), (54_000, ""), (56_000, "high")]
)
def test_an_audio_taper_has_room_where_it_crowds_the_short_times(setting_ms: int, end: str):
    own = TimeSetting(setting=f"{setting_ms} ms", taper="audio", **{"from": "250 ms", "to": "60 s"})
    assert end_of_dial(own) == end


def test_what_a_design_has_not_is_left_alone():
    placed = placing(parse_design(MADE), [advice(5000, 4000, 6000, "spot")])
    assert (placed.values, placed.new_ranges, placed.short) == ({}, (), ())
