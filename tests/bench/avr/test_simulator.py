"""Cues and events of the simulator's runner."""

from __future__ import annotations

import subprocess

import pytest

from bench.avr.simulator import ChipEvent, Cue, Simulator, SimulatorError, Wiring, build_runner, read_event
from tests.conftest import CACHE, ROOT
from timing.design.loading import load_design
from timing.sequence.core.engine import Edge
from timing.sequence.core.script import Change
from timing.sequence.core.table import Output
from wirecue.projects import load_board


@pytest.fixture
def wiring():
    return Wiring(load_design(ROOT / "examples" / "shop_two_step.toml"), load_board("uno"))


def test_contacts_close_to_board_common_on_the_pin_of_their_role(wiring):
    assert str(wiring.change(Change(1_000, "trigger", 1), {}, 500)) == "24000 pin D 2 0"
    assert str(wiring.change(Change(0, "trigger", 0), {}, 0)) == "0 pin D 2 1"


def test_a_reading_is_the_least_voltage_that_the_converter_reads_so(wiring):
    # 5 V over 1023 counts: 4.888 mV a count.
    assert str(wiring.counts("preflow", 1, 0)) == "0 adc 0 5"
    assert str(wiring.counts("postflow", 1023, 0)) == "0 adc 3 5000"
    assert all(-(-counts * 5000 // 1023) * 1023 // 5000 == counts for counts in range(1024))


def test_a_change_that_the_design_has_no_pin_for_is_an_error(wiring):
    with pytest.raises(KeyError):
        wiring.change(Change(0, "arc", 1), {}, 0)


def test_edges_are_read_from_pins_and_a_pin_that_is_let_go_is_off(wiring):
    events = [
        ChipEvent(16_000, "pin", ("D", 5), "0"),
        ChipEvent(32_015, "pin", ("D", 5), "1"),
        ChipEvent(48_000, "pin", ("B", 5), "1"),
        ChipEvent(64_000, "pin", ("D", 5), "z"),
    ]
    assert wiring.edges(events, 1_000) == [Edge(1_000, Output.GAS, True), Edge(3_000, Output.GAS, False)]


def test_every_event_is_read():
    assert read_event("12 pin D 5 z") == ChipEvent(12, "pin", ("D", 5), "z")
    assert read_event("12 uart 0a").byte == 10
    assert read_event("12 passes 3 900 2000").passes == (3, 900, 2000)
    assert read_event("12 reset").kind == "reset"
    with pytest.raises(ValueError, match="not an event"):
        read_event("12 nonsense")


@pytest.mark.debian("gcc", "simavr")
@pytest.mark.parametrize(
    ("cue", "says"),
    [("0 pin Z 1 1", "no such pin"), ("0 pin D 9 1", "no such pin"), ("0 jump", "unknown cue"), ("what", "no cue")],
)
def test_a_cue_that_makes_no_sense_stops_the_runner_with_a_sentence(tmp_path, cue, says):
    runner = build_runner(CACHE)
    program = tmp_path / "empty.elf"
    source = tmp_path / "empty.c"
    source.write_text("int main(void) { return 0; }")
    subprocess.run(["avr-gcc", "-mmcu=atmega328p", str(source), "-o", str(program)], check=True)
    simulator = Simulator(runner, program, load_board("uno"))
    words = cue.split(maxsplit=1)
    lines = [Cue(int(words[0]), words[1])] if words[0].isdigit() else [type("Bad", (), {"__str__": lambda _: cue})()]
    with pytest.raises(SimulatorError, match=says):
        simulator.run(lines)
