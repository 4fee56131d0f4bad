"""Test welds as people tell them: one grammar, and a logbook's entry that reads the same."""

from __future__ import annotations

from dataclasses import replace

import pytest
from hypothesis import given
from hypothesis import strategies as st

from timing.circuit.dial import dial_of
from timing.design.times import BurnbackSetting
from timing.logbook.entry import Entry, EntryKind
from timing.logbook.text import line_of_entry, read_logbook_text
from timing.process.welds import TestWeld, WeldError, WeldOutcome, read_weld, weld_of_values, weld_values
from wirecue.projects import load_board

DIAL = dial_of(
    "burnback",
    BurnbackSetting.model_validate({"setting": "90 ms", "from": "40 ms", "to": "140 ms"}),
    load_board("nano"),
)


@pytest.mark.parametrize(
    ("text", "weld"),
    [
        ("90 ms: 9 mm", TestWeld(0.09, 9.0)),
        ("0.09 s : free 9 mm", TestWeld(0.09, 9.0)),
        ("115 ms: frozen", TestWeld(0.115, outcome=WeldOutcome.FROZEN)),
        ("115 ms:  Frozen in  the puddle", TestWeld(0.115, outcome=WeldOutcome.FROZEN)),
        ("115 ms: fused, 15 mm away", TestWeld(0.115, outcome=WeldOutcome.FUSED, distance_mm=15.0)),
        ("90 ms: 9 mm, ball", TestWeld(0.09, 9.0, ball=True)),
        ("90 ms: 9 mm, no ball", TestWeld(0.09, 9.0, ball=False)),
        ("90 ms: 9 mm, ball 1.5 mm, 600 mm/min", TestWeld(0.09, 9.0, ball=True, ball_mm=1.5, feed_mm_s=10.0)),
        ("90 ms: 3/8 in, ball 1/16 in", TestWeld(0.09, 9.525, ball=True, ball_mm=1.5875)),
        ('90 ms: 1 1/4"', TestWeld(0.09, 31.75)),
        ("mark 100: 9 mm", TestWeld(0.1, 9.0, mark="mark 100")),
        ("mark 100 ms: 9 mm", TestWeld(0.1, 9.0, mark="mark 100 ms")),
        ("mark 0.1 s: frozen", TestWeld(0.1, outcome=WeldOutcome.FROZEN, mark="mark 0.1 s")),
    ],
)
def test_a_weld_is_read_as_it_is_told(text: str, weld: TestWeld) -> None:
    assert read_weld(text, DIAL) == weld


def test_a_mark_of_a_knobs_own_scale_is_a_share_of_its_turn() -> None:
    at_stops = [read_weld(f"mark {number} of 10: frozen", DIAL).burnback_s for number in (0, 10)]
    assert at_stops == [DIAL.reach_us[0] / 1e6, DIAL.reach_us[1] / 1e6]
    middle = read_weld("mark 5 of 10: frozen", DIAL).burnback_s
    assert DIAL.angle_deg(round(middle * 1e6)) == pytest.approx(150.0, abs=1.0)


@pytest.mark.parametrize(
    ("text", "words"),
    [
        ("90 ms 9 mm", "burnback, a colon, then the extension left"),
        ("90: 9 mm", "a number needs its unit: ms or s"),
        ("90 ms: 9,5 mm", "a decimal point, not a comma"),
        ("90 ms: 9 s", "measures something else"),
        ("90 ms: 900 mm", "0.1 mm to 60 mm"),
        ("90 ms: 1/0 in", "a fraction goes with inches and feet"),
        ("9 s: 9 mm", "0 ms to 2 s"),
        ("90 ms: bent", "'frozen', or 'fused'"),
        ("90 ms:", "'frozen', or 'fused'"),
        ("90 ms: 9 mm, 15 mm", "'15 mm away' (the gun)"),
        ("90 ms: 9 mm, ball big", "ball 'big'"),
        ("mark 4: 9 mm", "the plate reads from 40 to 140 ms"),
        ("mark four: 9 mm", "'mark 90' for what is printed there"),
        ("mark 11 of 10: 9 mm", "0 to 10"),
        ("mark 0 of 0: 9 mm", "0 to 0"),
    ],
)
def test_a_weld_that_cannot_be_read_is_told_how_to_write_it(text: str, words: str) -> None:
    with pytest.raises(WeldError) as caught:
        read_weld(text, DIAL)
    assert words in str(caught.value)


def test_a_mark_without_a_dial_asks_for_the_time() -> None:
    with pytest.raises(WeldError, match="burnback has no dial in this design: give the time"):
        read_weld("mark 90: 9 mm", None)


tenths = st.integers(1, 400).map(lambda number: number / 10)
all_welds = st.builds(
    TestWeld,
    burnback_s=st.integers(0, 2_000_000).map(lambda us: us / 1e6),
    extension_mm=tenths,
    outcome=st.sampled_from(WeldOutcome),
    ball=st.sampled_from([None, True, False]),
    ball_mm=st.none() | st.integers(3, 80).map(lambda number: number / 10),
    distance_mm=st.none() | st.integers(40, 400).map(lambda number: number / 10),
    feed_mm_s=st.none() | st.integers(10, 500).map(float),
).map(
    lambda weld: replace(
        weld,
        extension_mm=weld.extension_mm if weld.outcome is WeldOutcome.FREE else None,
        ball_mm=weld.ball_mm if weld.ball else None,
    )
)


@given(weld=all_welds)
def test_any_weld_is_the_same_again_from_its_sentence_and_from_a_line_of_the_logbook(weld: TestWeld) -> None:
    assert read_weld(weld.sentence, None) == weld
    line = line_of_entry(Entry("2026-03-01T10:22:05+01:00", EntryKind.WELD, weld_values(weld)))
    (entry,) = read_logbook_text(line).entries
    assert weld_of_values(entry.values) == weld


@given(text=st.text(max_size=40) | st.from_regex(r"(mark )?[0-9/. ]{1,9}( ms)?: ?[0-9/.]{0,6}( mm| in|\")?(, .{0,9})?"))
def test_any_text_is_a_weld_or_an_error_of_its_own(text: str) -> None:
    try:
        weld = read_weld(text, DIAL)
    except WeldError:
        return
    assert (weld.extension_mm is None) == (weld.outcome is not WeldOutcome.FREE)


def test_the_logbook_keeps_what_was_typed_and_the_time_behind_a_mark() -> None:
    weld = read_weld("mark 100: 3/8 in, 15 mm away, 200 in/min", DIAL)
    assert weld_values(weld) == {
        "burnback": "100 ms",
        "outcome": "free",
        "mark": "mark 100",
        "extension": "3/8 in",
        "distance": "15 mm",
        "speed": "200 in/min",
    }
    again = weld_of_values(weld_values(weld))
    assert (again, again.sentence) == (weld, weld.sentence)


@pytest.mark.parametrize(
    "values",
    [
        {},
        {"burnback": "90 ms"},
        {"burnback": 90, "outcome": "frozen"},
        {"burnback": "90 ms", "outcome": "free"},
        {"burnback": "90 ms", "outcome": "gone"},
        {"burnback": "90", "outcome": "free", "extension": "9 mm"},
        {"burnback": "90 ms", "outcome": "frozen", "distance": True},
        {"burnback": "90 ms", "outcome": "frozen", "ball": "x"},
    ],
)
def test_an_entry_that_tells_of_no_weld_is_refused(values: dict[str, object]) -> None:
    with pytest.raises(WeldError):
        weld_of_values(values)
