"""The recorder as a host follows it: what it saw in order of time, presses that end whatever happens."""

from __future__ import annotations

import pytest
from hypothesis import given
from hypothesis import strategies as st

from bench.board_clock import WRAP_US
from bench.errors import BenchError, ClockStandsError, GarbledError
from bench.link import Link
from bench.message import Identity
from bench.recorder.errors import NotARecorderError, PressJumperError, RestlessLinesError
from bench.recorder.monitor import RecorderMonitor, require_recorder
from tests.support.scripted_recorder import ScriptedRecorder
from timing.protocol.recorder import LINE_BIT, RECORDER, RECORDER_RECORDS

GAS, WIRE = LINE_BIT["gas_valve"], LINE_BIT["wire_drive"]


def watched(recorder: ScriptedRecorder) -> RecorderMonitor:
    return RecorderMonitor(Link(recorder, "ttyUSB1", 0.0, follows_host=False))


def told(monitor: RecorderMonitor) -> list[tuple[int, str, bool]]:
    return [(edge.at_us, edge.line, edge.on) for edge in monitor.edges]


@given(st.lists(st.tuples(st.integers(1, 3_000), st.integers(0, 7)), max_size=RECORDER_RECORDS), st.integers(0, 9))
def test_every_edge_of_a_full_trace_comes_in_order(steps: list[tuple[int, int]], turns: int) -> None:
    recorder = ScriptedRecorder(clock_us=turns * WRAP_US // 3, step_us=200_000)
    monitor = watched(recorder)
    at_us, lines, expected = recorder.clock_us, 0, []
    origin_us = monitor.latest_us - recorder.clock_us
    for gap_us, wanted in steps:
        at_us += gap_us
        recorder.trace.append((at_us, wanted))
        changed = [name for name, bit in LINE_BIT.items() if (wanted ^ lines) & bit]
        expected += [(at_us + origin_us, name, bool(wanted & LINE_BIT[name])) for name in changed]
        lines = wanted
    monitor.poll()
    assert told(monitor) == expected
    # Up to seven records a line: a full trace takes few questions.
    assert sum("DATA?" in line for line in recorder.heard) <= 1 + -(-max(len(steps) - 1, 0) // 7)


def test_an_edge_that_a_bridge_held_back_stands_where_it_happened():
    recorder = ScriptedRecorder(clock_us=1_000_000)
    monitor = watched(recorder)
    start_us = monitor.latest_us
    recorder.trace += [(start_us + 10, GAS), (start_us + 900, GAS | WIRE), (start_us + 400, WIRE)]
    recorder.clock_us += 60_000
    monitor.poll()
    assert told(monitor) == [
        (start_us + 10, "gas_valve", True),
        (start_us + 400, "gas_valve", False),
        (start_us + 900, "wire_drive", True),
    ]


def test_an_edge_in_the_middle_of_the_start_is_not_lost():
    class Restless(ScriptedRecorder):
        def _answer(self, whole: str) -> str | None:
            answer = super()._answer(whole)
            if whole == "INP:LIN?" and len(self.heard) == 2:
                self.lines = GAS
                self.trace.append((self.clock_us, GAS))
            return answer

    monitor = watched(Restless())
    monitor.poll()
    assert (monitor.at_start, told(monitor)) == ({"gas_valve"}, [])


@pytest.mark.parametrize(
    ("says", "error"),
    [
        ({"TRAC:DATA?": "49,500,1"}, GarbledError),
        ({"TRAC:DATA?": "1,500,1024"}, GarbledError),
        ({"TRAC:DATA?": "1,900000000,1"}, GarbledError),
        ({"TRAC:DATA?": "1,4000000000,1"}, GarbledError),
        ({"TRAC:DATA?": "one"}, GarbledError),
        ({"TRAC:DATA?": "48,5000,1"}, RestlessLinesError),
        ({"INP:CLOC?": "77"}, ClockStandsError),
        ({"INP:LIN?": "-1"}, GarbledError),
        ({"INP:DISC?": "3,900,400"}, GarbledError),
    ],
)
def test_what_no_recorder_would_say_ends_the_watch(says, error, monkeypatch):
    monkeypatch.setattr("bench.recorder.monitor.MOST_LINE_EDGES", 150)
    recorder = ScriptedRecorder(says=dict(says))
    with pytest.raises(error, match="ttyUSB1"):  # noqa: PT012
        monitor = watched(recorder)
        monitor.disc() if "INP:DISC?" in says else None
        flips = 0
        while True:
            if says.get("TRAC:DATA?", "").startswith("48"):
                flips += 1
                recorder.says["TRAC:DATA?"] = f"48,{recorder.clock_us},{flips % 2}"
            monitor.poll()


def test_a_contact_that_chatters_is_named_and_no_wait_is_endless():
    class Chattering(ScriptedRecorder):
        def write(self, data: bytes, /) -> int:
            self.trace.append((self.clock_us, WIRE * (len(self.heard) % 2)))
            return super().write(data)

    with pytest.raises(RestlessLinesError, match="do not come to rest: wire drive changes all the time"):
        watched(Chattering(step_us=10_000)).drain()


def test_a_press_ends_whatever_happens():
    recorder = ScriptedRecorder()
    monitor = watched(recorder)
    with pytest.raises(KeyboardInterrupt), monitor.pressing():  # noqa: PT012
        monitor.press("trigger", "purge")
        assert recorder.presses == 3
        raise KeyboardInterrupt
    assert (recorder.presses, monitor.pressed) == (0, frozenset())
    monitor.poll()
    assert [edge.line for edge in monitor.edges if edge.on] == ["press_trigger", "press_purge"]
    assert not monitor.lapsed


def test_an_error_in_the_middle_is_told_and_not_that_of_letting_go():
    recorder = ScriptedRecorder()
    monitor = watched(recorder)
    with pytest.raises(ClockStandsError), monitor.pressing():  # noqa: PT012
        recorder.says["SYST:ERR?"] = "nonsense"
        raise ClockStandsError("ttyUSB1")
    assert recorder.heard[-1].startswith("OUTP:PRES 0")


def test_a_press_that_ended_by_itself_is_told_and_one_let_go_of_is_not():
    recorder = ScriptedRecorder()
    monitor = watched(recorder)
    monitor.press("trigger")
    monitor.press()
    monitor.press("trigger")
    monitor.poll()
    assert not monitor.lapsed
    recorder._press(0)
    monitor.poll()
    assert monitor.lapsed
    monitor.start()
    assert not monitor.lapsed


def test_without_the_jumper_nothing_is_pressed():
    recorder = ScriptedRecorder(jumper=0, says={"SYST:ERR?": '-203,"Command protected"'})
    monitor = watched(recorder)
    with pytest.raises(PressJumperError, match="press jumper of the recorder on ttyUSB1"), monitor.pressing():
        raise AssertionError
    with pytest.raises(PressJumperError):
        monitor.press("trigger")
    assert monitor.pressed == frozenset()


def test_a_bridge_beyond_what_a_board_keeps_is_refused():
    with pytest.raises(ValueError, match="65535 us"):
        watched(ScriptedRecorder()).set_bridge("gas_valve", 65_536)
    with pytest.raises(KeyError):
        watched(ScriptedRecorder()).set_bridge("gas", 100)


def test_any_other_board_is_no_recorder():
    addon = Identity("wirecue", "shop", "0123456789abcdef", "1")
    with pytest.raises(
        NotARecorderError, match="on ttyUSB1 is no recorder: it carries shop with digest 0123"
    ) as refused:
        require_recorder(addon, "ttyUSB1")
    assert isinstance(refused.value, BenchError)
    require_recorder(Identity("wirecue", RECORDER, "0123456789abcdef", "1"), "ttyUSB1")
