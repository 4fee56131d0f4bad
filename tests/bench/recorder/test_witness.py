"""A bench test with a witness: what is sound passes, and what is wrong is found and laid at the right door."""

from __future__ import annotations

import json
import xml.etree.ElementTree as ET

import pytest

from bench.compare import LONGEST_PASS_US
from bench.errors import NotFittedError
from bench.feeder_model.hidden import HiddenCoupler, HiddenPress
from bench.recorder.errors import PressJumperError
from bench.recorder.words import verdict_lines, witness_data, witness_text
from bench.reports import junit_text
from bench.virtual.looks import RecorderFaults
from bench.virtual.machine import Faults
from tests.conftest import gate_share
from timing.sequence.core.table import Output
from wirecue.witness_paper import witness_paper

BUSY = ("weld", "purge", "press-in-postflow", "closed-at-power-up")


def said(report):
    return "\n".join([*verdict_lines(report), *(line for case in report.cases for line in case.result.troubles)])


@pytest.mark.parametrize(
    ("example", "names", "relays"),
    gate_share(
        [
            ("shop_two_step", BUSY, False),
            ("spot_stitch", ("spot", "tap", "arc-stays-in-idle"), False),
            ("gasless_four_step", ("four-step", "interlock-in-weld", "weld"), False),
            ("shop_two_step", ("weld", "inch", "dial-moved-burnback"), True),
        ],
        2,
        first=1,
    ),
)
def test_a_sound_pair_passes_whatever_its_clocks_show(witnessed, example, names, relays):
    report = witnessed(
        example, names, relays=relays, board_ppm=4_000, recorder_ppm=-4_500, recorder_start_us=(1 << 32) - 2_000_000
    )
    assert report.passed, said(report)
    ratio = report.clocks.ratio
    assert abs(ratio.ratio - 1.004 / 0.9955) <= ratio.uncertainty
    assert all(case.edges for case in report.cases if case.name != "tap")
    assert said(report) == "What the board claims is what the recorder saw, and both are what the design says."


def test_a_press_is_answered_after_its_filter_and_the_lags_on_the_way(witnessed):
    (gas, wire) = witnessed("shop_two_step", step_us=1_009).latencies
    assert (gas.contact, gas.pressed, gas.output, gas.on) == ("trigger", True, Output.GAS, True)
    assert (wire.contact, wire.pressed, wire.output, wire.on) == ("trigger", False, Output.WIRE, False)
    press, coupler = HiddenPress().lag, HiddenCoupler().lag
    for latency, lag_us in (
        (gas, press.on.mean_us + coupler.on.mean_us),
        (wire, press.off.mean_us + coupler.off.mean_us),
    ):
        assert latency.filter_us == 25_000
        assert -LONGEST_PASS_US <= latency.typical_us - 25_000 - lag_us <= 3 * LONGEST_PASS_US


WIRING = "The wiring is to be put right first"
OWN_TRACE = "its own trace already shows another course"
LIES = "it claims to do what its design says, and the recorder saw otherwise"


@pytest.mark.parametrize(
    ("wrong", "says"),
    gate_share(
        [
            ({"faults": Faults(swapped=(Output.GAS, Output.WIRE))}, (WIRING, "Swapped", "input 1 (gas valve) follows")),
            ({"faults": Faults(dead=frozenset({Output.WIRE}))}, (WIRING, "Dead", "own trace does not show it")),
            ({"faults": Faults(stuck=frozenset({Output.GAS}))}, (WIRING, "Always on", "input 1 (gas valve)")),
            ({"recorder_faults": RecorderFaults(deaf=frozenset({"contactor"}))}, (WIRING, "Dead", "look at the lamp")),
            ({"recorder_faults": RecorderFaults(stuck=frozenset({"gas_valve"}))}, (WIRING, "Always on")),
            ({"recorder_faults": RecorderFaults(swapped=("gas_valve", "wire_drive"))}, (WIRING, "Swapped")),
            ({"recorder_faults": RecorderFaults(dead_presses=frozenset({"trigger"}))}, (WIRING, "Dead", "output 1")),
            ({"recorder_faults": RecorderFaults(loses_every=5)}, (WIRING, "Loose")),
            ({"faults": Faults(stretched_us={"burnback": 2_000})}, (OWN_TRACE, "Claimed by the board", "late")),
            ({"faults": Faults(stretched_us={"burnback": -2_000})}, (OWN_TRACE, "Seen by the recorder", "early")),
            ({"faults": Faults(slow_filter_us=3_000)}, (LIES, "Seen by the recorder", "late")),
            ({"board_ppm": 30_000}, ("The clock: the board counts more", "3.0")),
        ],
        3,
        first=1,
    ),
    ids=str,
)
def test_what_is_wrong_is_found_and_told(witnessed, wrong, says):
    report = witnessed("shop_two_step", ("weld", "purge"), **wrong)
    assert not report.passed
    for words in says:
        assert words in said(report)
    assert "Do not connect" in witness_text(report)


def test_a_purge_press_that_arrives_nowhere_leaves_its_cases_out(witnessed):
    wrong = RecorderFaults(dead_presses=frozenset({"purge"}))
    report = witnessed("shop_two_step", ("weld", "purge"), recorder_faults=wrong)
    assert report.passed
    assert (report.left_out, [case.name for case in report.cases]) == (("purge",), ["weld"])
    assert "put that pair across the purge button's terminals" in witness_text(report)


def test_without_its_jumpers_neither_board_is_tested(witnessed):
    with pytest.raises(PressJumperError):
        witnessed("shop_two_step", recorder_faults=RecorderFaults(no_jumper=True))
    with pytest.raises(NotFittedError):
        witnessed("shop_two_step", bench_link=False)


def test_a_report_goes_to_every_form(witnessed):
    report = witnessed("shop_two_step", faults=Faults(slow_filter_us=3_000))
    data = json.loads(json.dumps(witness_data(report)))
    assert not data["passed"]
    assert data["cases"][1]["name"] == "weld"
    (case,) = data["recorder"]["cases"]
    assert case["claims"] == []
    assert case["seen"]
    first = case["edges"][0]
    assert first["seen"]["at_us"] - first["expected"]["at_us"] > 3_000
    assert data["recorder"]["clocks"]["used"]["uncertainty"] > 0
    suite = ET.fromstring(junit_text(report.bench, "witness"))[0]
    assert [case.get("name") for case in suite.findall("testcase")] == ["wiring", "weld", "clocks"]
    names = [section.key for section in witness_paper(report).sections]
    assert names[:5] == ["verdict", "witness", "clocks", "latency", "seen"]
