from __future__ import annotations

import re
from collections.abc import Callable

import pytest

from timing.design.design import Design
from timing.design.times import LONGEST_US
from timing.process.advice import Advice, advise, rhythm_advice
from timing.process.case import burnback_case
from timing.process.errors import ProcessError
from timing.sequence.core.columns import TIME_NAMES

DRAWS = 2000
FIGURE_WITHOUT_UNIT = re.compile(r"(?<![a-z])\d(?! ?(mm|ms|s|m|A|V|L|cm3|mm3|in|per|times|%|to|/|\.|\d|,|\)|V/))")


def read_out(advice: Advice) -> str:
    lines = [reason for time in advice.times for reason in time.reasons]
    return "\n".join([*lines, *advice.notes, advice.closing])


def test_shop_feeder_gets_the_advice_an_experienced_welder_would_give(design_of: Callable[..., Design]) -> None:
    """Ranges by common practice, no source: 0.9 mm steel at 200 in/min in sheet."""
    advice = advise(design_of(), DRAWS)
    got = {time.name: time.setting_us / 1e6 for time in advice.times}
    assert list(got) == list(TIME_NAMES)
    assert 0.1 <= got["preflow"] <= 0.5
    assert 0.05 <= got["burnback"] <= 0.25
    assert 0.5 <= got["postflow"] <= 3
    assert 0.5 <= got["spot"] <= 2
    left = advice.burnback.curve.best.extension_mm
    assert 3 < left.low < left.middle < left.high < 12
    assert 90 <= advice.burnback.curve.current_a <= 150


def test_every_time_lies_in_its_range_and_on_its_dial(design_of: Callable[..., Design]) -> None:
    for time in advise(design_of(), DRAWS).times:
        assert time.low_us <= time.setting_us <= time.high_us, time
        assert time.dial_from_us <= time.setting_us <= time.dial_to_us, time
        assert time.reasons


def test_times_are_no_longer_than_a_design_may_set(design_of: Callable[..., Design]) -> None:
    plates = {"plate_thickness": '"12 mm"', "plate_thickness_high": '"13 mm"', "duty_cycle": '"10 %"'}
    design = design_of(
        {**plates, "wire_feed_speed": '"140 in/min"', "wire_feed_speed_low": "", "contact_tip_to_work": '"15 mm"'}
    )
    spot, pause = rhythm_advice(design, burnback_case(design)).times
    assert spot.setting_us == spot.dial_to_us == pause.setting_us == pause.dial_to_us == LONGEST_US
    assert spot.low_us <= spot.high_us == LONGEST_US
    assert "more than 60 s is not allowed" in spot.reasons[0]


def test_a_crater_that_freezes_at_once_does_so_in_milliseconds(design_of: Callable[..., Design]) -> None:
    plates = {f"plate_thickness{end}": '"12 mm"' for end in ("", "_low", "_high")} | {"plug_hole": '"3 mm"'}
    said = read_out(advise(design_of(plates), 80))
    assert "The crater needs" in said
    assert " 0.0 s" not in said


def test_every_figure_in_the_sentences_carries_its_unit(design_of: Callable[..., Design]) -> None:
    for line in read_out(advise(design_of(), DRAWS)).splitlines():
        assert FIGURE_WITHOUT_UNIT.search(line) is None, line


def test_advice_ends_with_a_warning_to_prove_it(design_of: Callable[..., Design]) -> None:
    assert "prove it on scrap" in advise(design_of(), DRAWS).closing


def test_advice_is_the_same_for_the_same_design(design_of: Callable[..., Design]) -> None:
    first, second = (advise(design_of(), 500) for _ in range(2))
    assert first.times == second.times


def test_gasless_wire_gets_neither_preflow_nor_postflow(gasless_design: Design) -> None:
    advice = advise(gasless_design, DRAWS)
    assert advice.preflow is advice.postflow is advice.gas is None
    assert [time.name for time in advice.times] == ["spot", "burnback", "pause"]
    assert any("No melting rates of this wire" in note for note in advice.notes)


def test_missing_voltage_is_said_to_be_assumed(design_of: Callable[..., Design]) -> None:
    advice = advise(design_of({"open_circuit_voltage": ""}), DRAWS)
    assert any("is assumed" in note for note in advice.notes)


def test_longer_hose_stretches_the_preflow(design_of: Callable[..., Design]) -> None:
    short, long = (advise(design_of({"gun_length": length}), 500).preflow for length in ('"3 m"', '"8 m"'))
    assert short is not None
    assert long is not None
    assert long.time.setting_us > short.time.setting_us


@pytest.mark.parametrize(
    ("changes", "words"),
    [
        ({"open_circuit_voltage": '"14 V"'}, "no arc is possible"),
        ({"open_circuit_voltage": '"60 V"'}, "climbs into the contact tip"),
        ({"contact_tip_to_work": '"4 mm"'}, "too short to start again"),
        ({"wire_diameter": '"2.4 mm"'}, "wire diameter"),
    ],
)
def test_impossible_design_gets_a_sentence(
    design_of: Callable[..., Design], changes: dict[str, str], words: str
) -> None:
    with pytest.raises(ProcessError) as caught:
        advise(design_of(changes), 100)
    assert words in caught.value.what
    assert caught.value.remedy
