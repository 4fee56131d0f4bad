"""A sound board passes every case, and whatever is wrong with a board is found and named."""

from __future__ import annotations

from dataclasses import replace

import pytest

from bench.cases import cases_of
from bench.compare import EDGE_TOLERANCE
from bench.errors import ClockStandsError, GarbledError, NoAnswerError, NotFittedError, VanishedError
from bench.link import Link
from bench.monitor import BoardMonitor
from bench.run import LAPSED, Bench
from bench.virtual.board import AheadClock, VirtualBoard
from bench.virtual.machine import Faults
from tests.conftest import gate_share
from tests.support.virtual_boards import HostClock, Loopback
from timing.sequence.core.table import Output, Phase


@pytest.mark.parametrize("name", gate_share(["shop", "spots", "gasless"], 3, first=1))
def test_a_sound_board_passes_every_case(name, request, linked):
    target = request.getfixturevalue(name)
    bench = Bench(linked(VirtualBoard(target, clock=AheadClock(2_003))), target)
    with bench.held():
        results = bench.run(cases_of(target))
    assert [(result.name, result.troubles) for result in results if not result.passed] == []
    assert len(results) > 20
    assert sum(result.compared for result in results) > 150


def test_phases_and_edges_are_compared(shop, run_case):
    result = run_case(shop, "weld")
    # Idle to preflow, weld, burnback, postflow, idle; gas, wire and contactor on and off.
    assert result.compared == 5 + 6
    assert result.took_us > shop.rig.times_us["postflow"]


def test_all_is_released_at_the_end(shop, linked):
    board = VirtualBoard(shop)
    with Bench(linked(board), shop).held():
        board.machine.force_contacts(3)
    assert board.machine.forced_contacts is None


def test_all_is_released_when_the_bench_is_interrupted(shop, linked):
    board = VirtualBoard(shop)
    bench = Bench(linked(board), shop, begins=_interrupt)
    board.machine.force_contacts(3)
    with pytest.raises(KeyboardInterrupt), bench.held():
        bench.run(cases_of(shop))
    assert board.machine.forced_contacts is None


def _interrupt(_: object) -> None:
    raise KeyboardInterrupt


@pytest.mark.parametrize(
    ("faults", "says"),
    [
        (Faults(dead=frozenset({Output.WIRE})), "wire drive: comes on expected at"),
        (Faults(dead=frozenset({Output.GAS})), "gas valve: comes on expected at"),
        (Faults(stuck=frozenset({Output.CONTACTOR})), "An output is on at rest."),
        (Faults(swapped=(Output.WIRE, Output.CONTACTOR)), "wire drive: goes off at"),
        (Faults(swapped=(Output.GAS, Output.CONTACTOR)), "gas valve: comes on at"),
        (Faults(stretched_us={"burnback": 500}), "0.5"),
        (Faults(stretched_us={"preflow": -500}), "early"),
        (Faults(stretched_us={"postflow": 20_000}), "phase: idle begins at"),
        (Faults(slow_filter_us=1_000), "phase: preflow begins at"),
    ],
)
def test_a_fault_of_the_board_is_found(shop, run_case, faults, says):
    result = run_case(shop, "weld", faults)
    assert not result.passed
    assert any(says in trouble for trouble in result.troubles), result.troubles


def test_an_error_beyond_the_tolerance_is_told_with_its_size(shop, run_case):
    result = run_case(shop, "weld", Faults(stretched_us={"burnback": 1_000}))
    late = next(trouble for trouble in result.troubles if trouble.startswith("contactor"))
    assert "late (allowed 0.084 ms early to 0.248 ms late)" in late
    assert 1_000 <= result.latest_us <= 1_000 + EDGE_TOLERANCE.late_us


def test_an_error_within_the_tolerance_passes(shop, run_case):
    assert run_case(shop, "weld", Faults(stretched_us={"burnback": 100})).passed


def test_a_board_that_never_comes_to_rest_fails_with_its_phase(shop, run_case):
    class Stuck(VirtualBoard):
        def receive(self, data: bytes) -> bytes:
            self.machine.state.phase = Phase.PURGE
            self.machine.state.since_us = self.machine.now_us
            self.machine.state.purge_was = True
            self.machine.release()
            self.machine.pin_contacts |= 2
            return super().receive(data)

    result = run_case(shop, "weld", board=Stuck(shop, clock=AheadClock(20_000)))
    assert result.troubles == ("The board does not come to rest: it stays in purge with everything open and all well.",)


def test_a_fault_left_over_from_before_is_no_trouble(shop, linked, case_named):
    bench = Bench(linked(VirtualBoard(shop, clock=AheadClock(5_003))), shop)
    with bench.held():
        first, second = bench.run([case_named(shop, "dial-broken"), case_named(shop, "purge")])
    assert first.passed
    assert second.passed
    assert second.predicted.phases[0].fault.name == "DIAL"


def test_a_weld_that_is_under_way_is_reset_first(shop, linked, case_named):
    board = VirtualBoard(shop, clock=AheadClock(5_003))
    board.machine.state.phase = Phase.WELD
    board.machine.state.four_step = True
    bench = Bench(linked(board), replace(shop))
    with bench.held():
        assert bench.run_case(case_named(shop, "weld")).passed


def test_forced_contacts_that_lapse_are_told(shop, linked, monkeypatch, case_named):
    board = VirtualBoard(shop, clock=AheadClock(2_003))
    bench = Bench(linked(board), shop)
    keep = bench._finish

    def pause_then_finish() -> list[str]:
        board.clock.time_us += 1_100_000
        return keep()

    monkeypatch.setattr(bench, "_finish", pause_then_finish)
    with bench.held():
        assert LAPSED in bench.run_case(case_named(shop, "purge")).troubles


def test_a_trace_that_lost_records_is_told(shop, run_case):
    board = VirtualBoard(shop, clock=AheadClock(2_003))
    machine = board.machine
    original = machine._pass

    def lose() -> None:
        original()
        machine.lost = 7

    machine._pass = lose  # type: ignore[method-assign]
    assert "The edge trace lost 7 records." in run_case(shop, "purge", board=board).troubles


def test_the_bench_link_must_be_fitted(shop, linked):
    board = VirtualBoard(shop, bench_link=False)
    with pytest.raises(NotFittedError, match="put the jumper from the bench link pin to board common"):
        Bench(linked(board), shop).held().__enter__()


@pytest.mark.parametrize(
    ("faults", "error"),
    [
        (Faults(mute=True), NoAnswerError),
        (Faults(noisy=True), GarbledError),
        (Faults(clock_stands=True), ClockStandsError),
    ],
)
def test_a_board_that_cannot_be_talked_to_stops_the_bench(shop, linked, faults, error):
    bench = Bench(linked(VirtualBoard(shop, faults=faults)), shop)
    with pytest.raises(error), bench.held():
        bench.run(cases_of(shop))


def test_a_board_that_goes_away_in_the_middle_stops_the_bench(shop):
    class Unplugged(Loopback):
        lines = 0

        def write(self, data: bytes, /) -> int:
            self.lines += 1
            if self.lines > 50:
                raise OSError(5, "Input/output error")
            return super().write(data)

    bench = Bench(Link(Unplugged(VirtualBoard(shop)), "ttyACM0"), shop)
    with pytest.raises(VanishedError, match="ttyACM0 went away"), bench.held():
        bench.run(cases_of(shop))


class HandClock:
    """A host clock that tests move: each question takes it a millisecond on."""

    def __init__(self) -> None:
        self.time_s = 0.0

    def __call__(self) -> float:
        self.time_s += 0.001
        return self.time_s


@pytest.mark.parametrize(("rate", "passes"), [(1.0, True), (0.95, False), (1.05, False)])
def test_the_boards_clock_is_held_against_the_hosts(shop, linked, rate, passes, case_named):
    host = HandClock()
    board = VirtualBoard(shop, clock=HostClock(rate, host))
    bench = Bench(linked(board, follows_host=True, host_s=host), shop)
    with bench.held():
        before = bench.both_clocks()
        results = bench.run([case_named(shop, "press-in-burnback")] * 3)
        clock = bench.compare_clocks(before)
    assert all(result.passed for result in results)
    assert (clock.name, clock.passed) == ("clock", passes)
    if not passes:
        assert f"runs {'slow' if rate < 1 else 'fast'} against this computer's" in clock.troubles[0]


def test_a_short_run_says_nothing_of_the_clock(shop, linked):
    bench = Bench(linked(VirtualBoard(shop), host_s=HandClock()), shop)
    with bench.held():
        assert bench.compare_clocks(bench.both_clocks()) is None


def test_a_case_in_which_the_forced_contacts_lapsed_is_run_again(shop, linked, case_named, monkeypatch):
    board = VirtualBoard(shop, clock=AheadClock(2_003))
    bench = Bench(linked(board), shop)
    keep, pauses = bench._finish, [1_100_000]

    def pause_once_then_finish() -> list[str]:
        board.clock.time_us += pauses.pop() if pauses else 0
        return keep()

    monkeypatch.setattr(bench, "_finish", pause_once_then_finish)
    with bench.held():
        (result,) = bench.run([case_named(shop, "purge")])
    assert result.passed


@pytest.mark.parametrize("answer", [b"1,5000,0,17,0;9000\n", b"1,5000,0,1,99;9000\n"])
def test_a_phase_or_fault_that_there_is_not_is_garbled(shop, answer):
    class Odd(Loopback):
        def write(self, data: bytes, /) -> int:
            if data.startswith(b"TRAC:DATA?"):
                self._answers += answer
                return len(data)
            return super().write(data)

    with pytest.raises(GarbledError, match="TRAC:DATA"):
        BoardMonitor(Link(Odd(VirtualBoard(shop)), "ttyACM0", 0)).poll()
