"""The board's clock, unwrapped."""

from __future__ import annotations

import itertools

import pytest
from hypothesis import assume, example, given
from hypothesis import strategies as st

from bench.board_clock import FOLLOWS_HOST, RUNS_AS_IT_LIKES, WRAP_US, PaceGuard, Reading, UnwrappedClock
from bench.errors import ClockAstrayError, EndlessTraceError, GarbledError, LapsingError, NoAnswerError
from bench.link import Link
from bench.monitor import MOST_LEFT, MOST_RECORDS, BoardMonitor
from bench.run import LAPSED, TRIES, Bench
from bench.virtual.board import AheadClock, VirtualBoard
from tests.support.virtual_boards import HostClock, Loopback


@given(st.integers(0, WRAP_US - 1), st.lists(st.integers(0, WRAP_US // 2 - 1), max_size=12))
@example(WRAP_US - 10, [20])
@example(7, [WRAP_US // 2 - 1] * 9)
def test_a_clock_that_wraps_goes_on_counting(first_us: int, steps_us: list[int]) -> None:
    clock, now_us = UnwrappedClock(first_us), first_us
    for step_us in steps_us:
        now_us += step_us
        assert clock.advance(now_us % WRAP_US) == now_us


@example(WRAP_US - 10, 20)
@example(WRAP_US + 10, -20)
@given(st.integers(0, 5 * WRAP_US), st.integers(1 - WRAP_US // 2, WRAP_US // 2 - 1))
def test_a_reading_on_either_side_of_now_is_placed_there(now_us: int, away_us: int) -> None:
    assert UnwrappedClock(now_us).instant((now_us + away_us) % WRAP_US) == now_us + away_us


def test_a_clock_that_ran_back_is_refused() -> None:
    clock = UnwrappedClock(5_000)
    with pytest.raises(ValueError, match="ran back"):
        clock.advance(4_999)


STEP_S = st.floats(0.0001, 3)


@given(st.lists(st.tuples(STEP_S, STEP_S, STEP_S), min_size=1, max_size=60), st.floats(0.81, 1.19))
def test_a_clock_that_is_not_far_off_is_never_told_however_long_its_answers_take(steps, rate):
    """Each question waits, is under way, is answered; the board reads its clock at any point between."""
    guard = PaceGuard(FOLLOWS_HOST, Reading(0, 0, 0))
    now_s = 0.0
    for idle_s, way_s, back_s in steps:
        asked_s = now_s + idle_s
        read_s = asked_s + way_s
        now_s = read_s + back_s
        assert guard.trouble(Reading(asked_s, now_s, round(read_s * rate * 1e6))) is None


@given(st.floats(0.0, 0.7) | st.floats(1.3, 50), st.floats(0.0001, 0.1), st.floats(0, 40))
def test_a_clock_that_goes_wrong_is_told_within_seconds(rate, poll_s, sound_s):
    guard = PaceGuard(FOLLOWS_HOST, Reading(0, 0, 0))
    for now_s in itertools.takewhile(lambda at_s: at_s < sound_s, itertools.count(0, max(poll_s, 0.01))):
        assert guard.trouble(Reading(now_s, now_s, round(now_s * 1e6))) is None
    for after_s in itertools.count(0, poll_s):
        board_us = round((sound_s + after_s * rate) * 1e6)
        if (apart := guard.trouble(Reading(sound_s + after_s, sound_s + after_s, board_us))) is not None:
            break
        assert after_s < 15
    assume(apart)
    assert (apart[0] < apart[1]) == (rate < 1)


class Host:
    """A host clock that goes on with every question."""

    def __init__(self, step_s: float = 0.01) -> None:
        self.time_s, self.step_s = 0.0, step_s

    def __call__(self) -> float:
        self.time_s += self.step_s
        return self.time_s


class Answering(Loopback):
    """Gives one answer to every line that begins with `to`; everything else is the board's own."""

    def __init__(self, board: VirtualBoard, to: bytes, answer: bytes) -> None:
        super().__init__(board)
        self.to, self.answer = to, answer

    def write(self, data: bytes, /) -> int:
        if data.strip().startswith(self.to):
            self._answers += self.answer
            return len(data)
        return super().write(data)


class Flood(Loopback):
    """Sends one line for ever."""

    in_waiting = 4096

    def read(self, size: int, /) -> bytes:
        return (b"wirecue,shop_two_step,0123456789abcdef,1\n" * (size // 42 + 1))[:size]


def test_a_flood_of_identities_ends_on_the_hosts_clock(shop):
    host = Host()
    link = Link(Flood(VirtualBoard(shop)), "ttyACM0", host_s=host)
    with pytest.raises(GarbledError, match="to SYST:VERS"):
        link.identify()
    assert host.time_s < 20


def test_a_trickle_ends_on_the_hosts_clock(shop):
    class Trickle(Loopback):
        in_waiting = 0

        def read(self, size: int, /) -> bytes:
            return b"1" * min(size, 1)

    host = Host(1.0)
    link = Link(Trickle(VirtualBoard(shop)), "ttyACM0", host_s=host)
    with pytest.raises(NoAnswerError):
        link.query("clock")
    assert host.time_s < 10


@pytest.mark.parametrize("follows_host", [True, False])
def test_a_clock_that_gains_a_microsecond_an_answer_ends_every_wait(shop, follows_host):
    host = Host()
    board = VirtualBoard(shop, clock=AheadClock(1))
    monitor = BoardMonitor(Link(Loopback(board), "ttyACM0", follows_host=follows_host, host_s=host))
    with pytest.raises(ClockAstrayError, match=r"counted 0\.0.. s while .* s went by on this computer"):
        monitor.poll_until(10_000_000)
    assert host.time_s < (2 if follows_host else 200)


def test_a_board_of_software_may_run_ahead_and_fall_behind_but_not_stop(shop):
    host = Host(0.001)
    for rate in (0.1, 1, 100):
        board = VirtualBoard(shop, clock=HostClock(rate, host))
        BoardMonitor(Link(Loopback(board), "loopback", follows_host=False, host_s=host)).poll_until(2_000_000)
    assert RUNS_AS_IT_LIKES.slowest < 0.1


def test_a_trace_that_never_empties_ends_and_is_not_kept(shop):
    link = Link(Answering(VirtualBoard(shop), b"TRAC:DATA?", b"24,5000,0,1,0;9000\n"), "ttyACM0", host_s=Host(0.0001))
    monitor = BoardMonitor(link)
    with pytest.raises(EndlessTraceError, match="never empties"):
        monitor.drain()
    assert len(monitor.records) == MOST_LEFT


def test_one_case_keeps_no_more_records_than_a_case_can_have(shop, monkeypatch):
    monkeypatch.setattr("bench.board_clock.STANDING_POLLS", 10 * MOST_RECORDS)
    link = Link(Answering(VirtualBoard(shop), b"TRAC:DATA?", b"24,5000,0,1,0;9000\n"), "ttyACM0", host_s=Host(1e-6))
    monitor = BoardMonitor(link)
    with pytest.raises(EndlessTraceError):
        monitor.poll_until(10_000_000)
    assert len(monitor.records) == MOST_RECORDS + 1


@pytest.mark.parametrize(
    "answer",
    [
        b"-1,5000,0,1,0;9000\n",
        b"25,5000,0,1,0;9000\n",
        b"1,9001,0,1,0;9000\n",
        b"1,5000,99999,1,0;9000\n",
        b"1,4294967296,0,1,0;9000\n",
        b"1,5000,0,1;9000\n",
    ],
)
def test_a_record_that_cannot_be_is_garbled(shop, answer):
    with pytest.raises(GarbledError, match="TRAC:DATA"):
        BoardMonitor(Link(Answering(VirtualBoard(shop), b"TRAC:DATA?", answer), "ttyACM0")).poll()


def test_what_comes_unasked_ends_the_run(shop):
    loopback = Loopback(VirtualBoard(shop))
    link = Link(loopback, "ttyACM0")
    link.query("clock")
    loopback._answers += b"late\n"
    with pytest.raises(GarbledError, match="answers 'late' to no question"):
        link.query("clock")


def test_forced_contacts_that_lapse_at_every_try_end_the_run(shop, linked, case_named, monkeypatch):
    board = VirtualBoard(shop, clock=AheadClock(2_003))
    bench = Bench(linked(board), shop)
    keep, pauses = bench._finish, []

    def pause_then_finish() -> list[str]:
        pauses.append(board.clock.time_us)
        board.clock.time_us += 1_100_000
        return keep()

    monkeypatch.setattr(bench, "_finish", pause_then_finish)
    with bench.held(), pytest.raises(LapsingError, match=f"{TRIES} times in a row"):
        bench.run([case_named(shop, "purge")])
    assert len(pauses) == TRIES
    assert LAPSED not in str(LapsingError("ttyACM0", TRIES))
