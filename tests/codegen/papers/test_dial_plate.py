"""The plate of a dial: its marks stand where the firmware reads them, and its numbers can be read."""

from __future__ import annotations

from itertools import combinations, pairwise

import pytest
from hypothesis import given
from hypothesis import strategies as st

from codegen.papers.dial_plate import dial_plate, dial_plates, labels_clear
from tests.conftest import ROOT
from timing.circuit.dial import dial_of, dials_of, track_share
from timing.design.loading import load_design
from timing.design.times import TimeSetting
from timing.project import Project
from wirecue.projects import load_board

UNO = load_board("uno")


@st.composite
def dials(draw, least_deg=90, most_deg=330):
    low_us = draw(st.integers(0, 59_000_000))
    high_us = draw(st.integers(low_us + 1_000, 60_000_000))
    return TimeSetting.model_validate(
        {
            "from": f"{low_us} us",
            "to": f"{high_us} us",
            "setting": f"{draw(st.integers(low_us, high_us))} us",
            "taper": draw(st.sampled_from(["linear", "audio"])),
            "rotation": f"{draw(st.integers(least_deg, most_deg))} deg",
            "resistance": f"{draw(st.sampled_from([1, 5, 10, 47, 100]))} kohm",
        }
    )


@given(setting=dials())
def test_every_mark_stands_where_the_firmware_reads_its_time(setting):
    dial = dial_of("spot", setting, UNO)
    per_count_us = (dial.scale.high_us - dial.scale.low_us) / (dial.scale.high_counts - dial.scale.low_counts)
    for tick in dial_plate(dial).ticks:
        assert 0 <= tick.angle_deg <= setting.rotation_deg
        # Half a count from standing in its middle, and a count lost where the firmware rounds its step down.
        lost_us = (tick.time_us - setting.low_us) / max(setting.high_us - setting.low_us, 1) * 1024 / 16
        assert abs(dial.time_at_us(tick.angle_deg) - tick.time_us) <= per_count_us + lost_us + 1


@given(setting=dials())
def test_marks_rise_and_no_label_lies_on_another(setting):
    plate = dial_plate(dial_of("spot", setting, UNO))
    assert len(plate.ticks) >= 2
    for one, other in pairwise(plate.ticks):
        assert one.angle_deg < other.angle_deg
        assert one.time_us < other.time_us
    for one, other in combinations([tick for tick in plate.ticks if tick.label], 2):
        assert labels_clear(plate, one, other)


@given(setting=dials(331, 3600))
def test_a_dial_of_many_turns_gets_a_short_table(setting):
    plate = dial_plate(dial_of("spot", setting, UNO))
    assert plate.many_turns
    assert 2 <= len(plate.ticks) <= 14


def test_labels_are_round_and_in_the_unit_of_the_dial():
    design = load_design(ROOT / "examples" / "spot_stitch.toml")
    plates = {plate.name: plate for plate in dial_plates(Project(design, load_board(design.board.type)))}
    labels = {name: [tick.label for tick in plate.ticks if tick.label] for name, plate in plates.items()}
    assert plates["burnback"].unit == "ms"
    assert labels["burnback"] == ["10", "20", "40", "60", "80", "100", "120", "140", "160", "180", "200"]
    assert plates["spot"].unit == "s"
    assert labels["spot"][:4] == ["0.2", "0.25", "0.3", "0.35"]
    assert labels["spot"][-1] == "2"
    assert [name for name, plate in plates.items() if plate.switch] == ["spot", "pause"]


def test_a_linear_scale_is_divided_alike_all_the_way_round():
    design = load_design(ROOT / "examples" / "shop_two_step.toml")
    for plate in dial_plates(Project(design, load_board(design.board.type))):
        labelled = [tick.time_us for tick in plate.ticks if tick.label]
        steps = {upper - lower for lower, upper in pairwise(labelled[1:-1])}
        assert len(steps) == 1


def test_the_ends_of_the_scale_lie_just_inside_the_stops():
    design = load_design(ROOT / "examples" / "shop_two_step.toml")
    for dial in dials_of(design, load_board(design.board.type)).values():
        assert dial.reach_us == (dial.setting.from_us, dial.setting.to_us)
        assert 0 < dial.angle_deg(dial.setting.low_us) < 10
        assert 290 < dial.angle_deg(dial.setting.high_us) < 300


def test_a_potentiometer_too_high_for_its_pull_shows_only_what_it_reaches():
    setting = TimeSetting.model_validate({"from": "0 ms", "to": "1 s", "setting": "0 ms", "resistance": "100 kohm"})
    dial = dial_of("preflow", setting, UNO)
    reached_us = dial.reach_us[1]
    assert reached_us < 1_000_000
    assert max(tick.time_us for tick in dial_plate(dial).ticks) <= reached_us


def test_an_audio_taper_has_passed_a_small_share_at_half():
    assert track_share(0.5, "audio") == pytest.approx(0.15)  # common practice, no source
    assert [track_share(end, taper) for end in (0, 1) for taper in ("audio", "linear")] == [0, 0, 1, 1]
