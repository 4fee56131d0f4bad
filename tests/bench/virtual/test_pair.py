"""Add-on and recorder of software with a machine between: presses come through, and what is seen is what happened."""

from __future__ import annotations

import pytest

from bench.errors import ClockStandsError, GarbledError, NoAnswerError
from bench.feeder_model.machines import lamps, usual_machine
from bench.link import Link, connected
from bench.recorder.errors import PressJumperError
from bench.recorder.monitor import RecorderMonitor, is_recorder
from bench.virtual.board import DirectPort
from bench.virtual.looks import RecorderFaults
from bench.virtual.machine import PASS_US
from bench.virtual.pair import TrueTime, VirtualPair, virtual_pair
from tests.bench.feeder_model.conftest import project_named
from timing.protocol.recorder import PRESS_LAPSE_US, SAMPLE_US
from timing.protocol.target import OUTPUT_BIT
from timing.protocol.target_of_design import target_of

COUPLER_US = 130
"""Most that a usual coupler adds."""


def pair_of(name: str, machine: bool = False, **options) -> VirtualPair:
    project = project_named(name)
    hidden = usual_machine(project) if machine else lamps()
    return VirtualPair(target_of(project), hidden, **{"true": TrueTime(2_003)} | options)


def watched(port: DirectPort) -> RecorderMonitor:
    return RecorderMonitor(Link(port, "recorder", 0.0, follows_host=False))


def one_weld(monitor: RecorderMonitor, press_us: int = 1_000_000) -> None:
    monitor.poll_until(monitor.latest_us + 1_000_000)
    monitor.start()
    with monitor.pressing():
        monitor.press("trigger")
        monitor.poll_until(monitor.latest_us + press_us)
        monitor.press()
    monitor.poll_until(monitor.latest_us + 2_600_000)
    monitor.drain()


@pytest.mark.parametrize(("board_ppm", "recorder_ppm"), [(0, 0), (5_000, -5_000), (-5_000, 40)])
def test_the_recorder_sees_the_outputs_when_they_changed(board_ppm, recorder_ppm):
    pair = pair_of("shop_two_step", board_ppm=board_ppm, recorder_ppm=recorder_ppm)
    monitor = watched(pair.ports()[1])
    one_weld(monitor)
    assert monitor.edges
    for role in OUTPUT_BIT:
        moves = pair.model.truth.moves(f"pin.{role}")
        seen = monitor.edges_of(role)
        assert [edge.on for edge in seen] == [on for _, on in moves] == [True, False]
        for edge, (true_us, _) in zip(seen, moves, strict=True):
            late_us = edge.at_us - pair.recorder_clock.at(true_us)
            assert 0 <= late_us <= COUPLER_US + SAMPLE_US


@pytest.mark.parametrize("step_us", [1_009, 30_011])
def test_how_often_lines_come_is_nothing_to_the_add_on(step_us):
    """It sees its trigger move at its own passes, whenever somebody asks next."""
    pair = pair_of("shop_two_step", true=TrueTime(step_us))
    one_weld(watched(pair.ports()[1]))
    filter_us = pair.target.rig.filters_us["trigger"][0]
    (pressed_us, _), (let_go_us, _) = pair.model.truth.moves("pressed.trigger")
    gas_us, wire_us = (pair.model.truth.moves(f"pin.{role}") for role in ("gas_valve", "wire_drive"))
    assert filter_us <= gas_us[0][0] - pressed_us <= filter_us + 2 * PASS_US
    assert filter_us - PASS_US <= wire_us[-1][0] - let_go_us <= filter_us + 2 * PASS_US


def test_both_boards_tell_one_story():
    """The add-on's own trace and the recorder's, each on its clock, are the same edges."""
    pair = pair_of("shop_two_step", board_ppm=3_000, recorder_ppm=-2_000)
    port, recorder_port = pair.ports()
    link = Link(port, "board", 0.0, follows_host=False)
    monitor = watched(recorder_port)
    one_weld(monitor)
    own = []
    while (record := link.query("trace")).number("records"):
        own.append((record.number("time_us"), record.number("levels") & 7))
    edges = [
        (own_us, role, bool(levels & bit))
        for (_, before), (own_us, levels) in zip([(0, 0), *own], own, strict=False)
        for role, bit in OUTPUT_BIT.items()
        if (before ^ levels) & bit
    ]
    assert len(edges) == len([edge for edge in monitor.edges if edge.line in OUTPUT_BIT]) == 6
    for own_us, role, on in edges:
        seen_us = pair.recorder_clock.at(pair.board_clock.true_us(own_us))
        assert any(edge.line == role and edge.on is on and abs(edge.at_us - seen_us) <= 80 for edge in monitor.edges)


@pytest.mark.parametrize("name", ["shop_two_step", "spot_stitch"])
def test_a_press_makes_an_arc_at_the_machine(name):
    pair = pair_of(name, machine=True)
    monitor = watched(pair.ports()[1])
    for key in ("gas_valve", "contactor", "supply"):
        monitor.set_bridge(key, 12_000)
    one_weld(monitor)
    truth = pair.model.truth
    assert [on for _, on in truth.moves("arc")][:2] == [True, False]
    assert monitor.lost() == 0
    struck_us = pair.recorder_clock.at(truth.moves("reed")[0][0])
    assert 0 <= monitor.edges_of("sensor")[0].at_us - struck_us <= COUPLER_US + SAMPLE_US
    assert monitor.disc().slots > 8


def test_an_ac_trigger_holds_through_its_zero_crossings():
    pair = pair_of("shop_two_step", machine=True)
    monitor = watched(pair.ports()[1])
    monitor.set_bridge("supply", 12_000)
    one_weld(monitor)
    for role in OUTPUT_BIT:
        assert [on for _, on in pair.model.truth.moves(f"pin.{role}")] == [True, False]


def test_a_press_that_nobody_keeps_ends_by_itself():
    pair = pair_of("shop_two_step")
    monitor = watched(pair.ports()[1])
    monitor.press("trigger")
    pair.advance_to(pair.true.now_us + 3 * PRESS_LAPSE_US)
    (_, pressed), (let_go_us, let_go) = pair.model.truth.moves("press.trigger")
    assert (pressed, let_go) == (True, False)
    assert let_go_us <= pair.recorder.last_line_us + PRESS_LAPSE_US + SAMPLE_US


@pytest.mark.parametrize(
    ("faults", "seen"),
    [
        (RecorderFaults(), {"gas_valve", "wire_drive", "contactor", "press_trigger"}),
        (RecorderFaults(deaf=frozenset({"gas_valve"})), {"wire_drive", "contactor", "press_trigger"}),
        (RecorderFaults(swapped=("gas_valve", "motor")), {"motor", "wire_drive", "contactor", "press_trigger"}),
        (RecorderFaults(dead_presses=frozenset({"trigger"})), {"press_trigger"}),
    ],
)
def test_faults_of_a_recorder_show(faults, seen):
    pair = pair_of("shop_two_step", recorder_faults=faults)
    monitor = watched(pair.ports()[1])
    one_weld(monitor)
    assert {edge.line for edge in monitor.edges} == seen


def test_a_stuck_input_shows_from_the_start_and_a_lost_record_is_not_told():
    pair = pair_of("shop_two_step", recorder_faults=RecorderFaults(stuck=frozenset({"contactor"}), loses_every=2))
    monitor = watched(pair.ports()[1])
    assert monitor.at_start == {"contactor"}
    one_weld(monitor)
    assert monitor.lost() == 0
    assert not monitor.edges_of("contactor")
    times_us = {edge.at_us for edge in monitor.edges}
    (pressed_us, _), _ = pair.model.truth.moves("press.trigger")
    assert min(times_us) > pressed_us + 10_000, "the record of the press is gone, its edge comes with a later one"


def test_a_press_that_sticks_goes_on_and_is_read_back_as_let_go():
    pair = pair_of("shop_two_step", recorder_faults=RecorderFaults(holds_presses=frozenset({"trigger"})))
    monitor = watched(pair.ports()[1])
    one_weld(monitor)
    assert [on for _, on in pair.model.truth.moves("press.trigger")] == [True]
    assert "press_trigger" not in monitor.lines()


@pytest.mark.parametrize(
    ("faults", "error"),
    [
        (RecorderFaults(mute=True), NoAnswerError),
        (RecorderFaults(noisy=True), GarbledError),
        (RecorderFaults(clock_stands=True), ClockStandsError),
        (RecorderFaults(no_jumper=True), PressJumperError),
    ],
)
def test_a_recorder_that_cannot_be_worked_with_is_told(faults, error):
    pair = pair_of("shop_two_step", recorder_faults=faults)
    with pytest.raises(error):
        one_weld(watched(pair.ports()[1]))


def test_a_recorder_that_lies_about_its_lines_says_the_opposite():
    pair = pair_of("shop_two_step", recorder_faults=RecorderFaults(lies=True))
    port = pair.ports()[1]
    port.write(b"INP:LIN?\n")
    assert port.read(100) == b"255\n"


@pytest.mark.parametrize("before_us", [100_000, 1_500_000])
def test_a_clock_that_wraps_in_the_middle_changes_nothing(before_us):
    runs = []
    for start_us in (0, (1 << 32) - before_us):
        pair = pair_of("shop_two_step", recorder_start_us=start_us)
        monitor = watched(pair.ports()[1])
        one_weld(monitor)
        runs.append([(edge.line, edge.on) for edge in monitor.edges])
        assert not monitor.lapsed
    assert runs[0] == runs[1]


def test_two_addresses_reach_two_boards():
    pair = pair_of("shop_two_step", version="0.1.0")
    with virtual_pair(pair) as (board, recorder), connected(board, follows_host=False) as (_, identity):
        assert not is_recorder(identity)
        with connected(recorder, follows_host=False) as (link, identity):
            assert is_recorder(identity)
            monitor = RecorderMonitor(link)
            monitor.poll_until(monitor.latest_us + 1_000_000)
            monitor.press("trigger")
            monitor.poll_until(monitor.latest_us + 100_000)
            monitor.press()
    assert pair.model.truth.moves("pin.gas_valve")


def test_a_pair_that_follows_the_host_takes_its_time():
    host_s = iter(range(100))
    pair = pair_of("shop_two_step", true=TrueTime(0, lambda: float(next(host_s))), recorder_ppm=1_000)
    port = pair.ports()[1]
    clocks = []
    for _ in range(3):
        port.write(b"INP:CLOC?\n")
        clocks.append(int(port.read(100)))
    assert clocks == [0, 1_001_000, 2_002_000]


def test_inputs_hung_elsewhere_see_something_else():
    pair = pair_of("shop_two_step")
    pair.hang(motor="gas_valve")
    monitor = watched(pair.ports()[1])
    one_weld(monitor)
    assert {edge.line for edge in monitor.edges} == {"motor", "press_trigger"}
