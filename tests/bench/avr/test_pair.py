"""Two simulated boards in one true time."""

from __future__ import annotations

import heapq
from dataclasses import dataclass, field
from statistics import linear_regression

import pytest
import serial
from hypothesis import given, settings
from hypothesis import strategies as st

from bench.avr.pair import AHEAD_US, Pair, PairCue, said_to, started_pair
from bench.avr.paired_board import MOST_PPM, OutputPin, PairedBoard, addon_board
from bench.avr.simulator import Simulator, SimulatorError, build_runner
from bench.link import Link
from codegen.toolchain import compile_sketch
from tests.bench.avr.conftest import BOOT_US
from tests.conftest import CACHE
from wirecue.projects import load_board

pytestmark = pytest.mark.debian("gcc", "avr-gcc", "arduino-core", "simavr")

TICKS = """void setup() { noInterrupts(); DDRB = 1; for (;;) { PINB = 1; __builtin_avr_delay_cycles(15997); } }
void loop() {}"""
"""Turns its pin over every millisecond of its clock."""
AT_RANDOM = """void setup() {
    noInterrupts(); DDRB = 1;
    for (uint32_t seed = 7;; seed = seed * 1664525ul + 1013904223ul) {
        __builtin_avr_delay_cycles(1600);
        for (volatile uint8_t left = (uint8_t)(seed >> 25); left != 0; left--) {}
        PINB = 1;
    }
}
void loop() {}"""
"""Turns its pin over now and then, after 100 us at the least."""
ECHO = """void setup() { noInterrupts(); PORTB = 1; DDRB = 1; for (;;) { PORTB = PIND >> 2 & 1; } }
void loop() {}"""
"""Turns its pin as another is turned."""
ENDS = """void setup() { noInterrupts(); delayMicroseconds(5000); asm volatile("sleep"); } void loop() {}"""
"""Sleeps where nothing can wake it."""
ECHO_US = 1.0
"""What one look at the pin takes, and what is lost by counting whole microseconds."""


@dataclass(frozen=True, order=True)
class Change:
    at_us: int
    line: str
    on: bool


@dataclass
class Wire:
    """Leads what one drives to a line of the other, after a lag."""

    lag_us: int = AHEAD_US
    changes: list[Change] = field(default_factory=list)

    def output(self, at_us: int, role: str, on: bool) -> None:
        heapq.heappush(self.changes, Change(at_us + self.lag_us, f"recorder.{role}", on))

    def press(self, at_us: int, what: str, on: bool) -> None:
        heapq.heappush(self.changes, Change(at_us + self.lag_us, f"board.{what}", on))

    def next_us(self) -> int | None:
        return self.changes[0].at_us if self.changes else None

    def take(self, until_us: int) -> list[Change]:
        due = []
        while self.changes and self.changes[0].at_us <= until_us:
            due.append(heapq.heappop(self.changes))
        return due


def chip(sketch: str, fast_ppm: int = 0, on_level: str = "1") -> PairedBoard:
    """Return a chip whose pin B 0 is its output `out`, and whose pin D 2 is its input `out`."""
    board = load_board("uno")
    simulator = Simulator(build_runner(CACHE), compile_sketch({"sketch.ino": sketch}, board, CACHE), board)
    return PairedBoard(simulator, {"out": OutputPin("B", 0, on_level)}, {"out": ("D", 2)}, ("pin D 2 1",), fast_ppm)


def addon(rig, *, bench_link: bool = True, fast_ppm: int = 0) -> PairedBoard:
    return addon_board(rig.simulator, rig.wiring, rig.counts(), bench_link=bench_link, fast_ppm=fast_ppm)


@pytest.mark.parametrize(
    ("board_ppm", "recorder_ppm"), [(0, 0), (MOST_PPM, -MOST_PPM), (-MOST_PPM, MOST_PPM), (37, -1_204)]
)
def test_each_clock_is_as_fast_as_it_was_ordered(board_ppm, recorder_ppm):
    with started_pair(chip(TICKS, board_ppm), chip(TICKS, recorder_ppm), Wire()) as pair:
        pair.run_until(700_000)
    for side, ppm in (("board", board_ppm), ("recorder", recorder_ppm)):
        at_us = [edge.at_us for edge in pair.edges if edge.side == side]
        # Over all ticks: each instant alone is a whole microsecond.
        tick_us = linear_regression(range(len(at_us)), at_us).slope
        assert 1_000 / tick_us - 1 == pytest.approx(ppm / 1e6, abs=1e-6)


def test_a_clock_that_no_crystal_has_is_refused():
    with pytest.raises(SimulatorError, match=r"^a clock 5001 parts per million fast is no crystal; -5000 to 5000"):
        chip(TICKS, MOST_PPM + 1)


@settings(max_examples=12)
@given(
    lag_us=st.integers(0, 90),
    ahead_us=st.integers(1, 60),
    board_ppm=st.integers(-MOST_PPM, MOST_PPM),
    recorder_ppm=st.integers(-MOST_PPM, MOST_PPM),
    swapped=st.booleans(),
)
def test_an_edge_reaches_the_other_after_its_lag_and_never_later_than_promised(
    lag_us, ahead_us, board_ppm, recorder_ppm, swapped
):
    """The echo of an edge at any instant comes after the lag between; late only by what one may be ahead."""
    first, second = ("recorder", "board") if swapped else ("board", "recorder")
    boards = {
        first: chip(AT_RANDOM, board_ppm),
        second: chip(ECHO, recorder_ppm, on_level="0"),
    }
    with started_pair(boards["board"], boards["recorder"], Wire(lag_us), ahead_us=ahead_us) as pair:
        pair.run_until(20_000)
    assert [edge.at_us for edge in pair.edges] == sorted(edge.at_us for edge in pair.edges)
    made = [edge.at_us for edge in pair.edges if edge.side == first]
    echoes = [edge.at_us for edge in pair.edges if edge.side == second]
    assert len(made) > 100
    late_us = max(ahead_us - lag_us, 0)
    for made_us, echo_us in zip(made, echoes, strict=False):
        assert lag_us <= echo_us - made_us <= lag_us + late_us + ECHO_US


def test_what_both_do_is_told_in_order_however_far_one_is_ahead():
    boards = chip(AT_RANDOM, MOST_PPM), chip(AT_RANDOM, -MOST_PPM)
    with started_pair(*boards, Wire(), ahead_us=1_000) as pair:
        pair.run_until(50_000)
    at_us = [edge.at_us for edge in pair.edges]
    assert len(at_us) > 400
    assert at_us == sorted(at_us)
    sides = [edge.side for edge in pair.edges]
    assert sides != sorted(sides)


def test_copies_of_one_boot_do_the_same_and_leave_it_as_it_is(shop):
    script = [
        PairCue(BOOT_US + 3_000, "board", "pin D 2 0"),
        said_to("recorder", b"*IDN?\n", BOOT_US + 10_000),
        PairCue(BOOT_US + 300_000, "board", "pin D 2 1"),
    ]
    with started_pair(addon(shop), addon(shop, fast_ppm=-2_000), Wire()) as pair:
        pair.run_until(BOOT_US)
        runs = []
        for _ in range(2):
            with pair.copied() as one:
                runs.append(one.play(script, BOOT_US + 500_000))
                with pytest.raises(RuntimeError, match="a copy of this pair is at work"):
                    pair.send("board", b"\n")
            with pytest.raises(RuntimeError, match="this copy's work is done"):
                one.send("board", b"\n")
        assert pair.at_us == BOOT_US
        assert not pair.edges
        after = pair.play(script, BOOT_US + 500_000)
    assert [(edge.what, edge.on) for edge in runs[0].edges][:1] == [("gas_valve", True)]
    assert runs[0].edges == runs[1].edges == after.edges
    assert runs[0].said == runs[1].said == after.said
    assert runs[0].said["board"] == b""
    assert runs[0].said["recorder"].startswith(b"wirecue,shop_two_step,")


def test_links_to_both_pass_no_time_but_that_of_the_boards(shop):
    with started_pair(addon(shop, fast_ppm=1_000), addon(shop, fast_ppm=-1_000), Wire()) as pair:
        pair.run_until(BOOT_US)
        links = [Link(pair.transport(side), side, host_s=pair.time_s) for side in ("board", "recorder")]
        assert [link.identify().design for link in links] == ["shop_two_step"] * 2

        def clocks() -> list[int]:
            return [link.query("clock").number("time_us") for link in links]

        before = clocks()
        pair.run_until(pair.at_us + 1_000_000)
        board_us, recorder_us = (now - then for now, then in zip(clocks(), before, strict=True))
    # Each reads its clock where it does: a pass apart, at the most, from one time to the next.
    assert board_us / recorder_us == pytest.approx(1.002, abs=200e-6)


def test_both_talk_at_once_behind_their_ports(shop):
    answers: list[list[bytes]] = [[], []]
    with started_pair(addon(shop), addon(shop), Wire()) as pair:
        pair.run_until(BOOT_US)
        with (
            pair.behind_ports() as (first, second),
            serial.Serial(first, 115_200, timeout=5) as one,
            serial.Serial(second, 115_200, timeout=5) as other,
        ):
            for _ in range(20):
                for port in (one, other):
                    port.write(b"*IDN?;:SEQ:CLOCK?\n")
                for said, port in zip(answers, (one, other), strict=True):
                    said.append(port.readline())
    for said in answers:
        assert all(line.startswith(b"wirecue,shop_two_step,") and line.endswith(b"\n") for line in said)
        times = [int(line.rpartition(b";")[2]) for line in said]
        assert times == sorted(times)


def test_a_program_that_ends_is_told_by_its_board_and_instant():
    with (
        started_pair(chip(TICKS), chip(ENDS), Wire()) as pair,
        pytest.raises(SimulatorError, match=r"^the program of the recorder crashed at 50\d\d us$"),
    ):
        pair.run_until(20_000)


def test_a_program_that_ends_in_a_copy_leaves_what_was_copied_as_it_is():
    def run_on(pair: Pair) -> None:
        with pair.copied() as one:
            one.run_until(20_000)

    with started_pair(chip(TICKS), chip(ENDS), Wire()) as pair:
        pair.run_until(1_000)
        for _ in range(2):
            with pytest.raises(SimulatorError, match=r"^the program of the recorder crashed at 50\d\d us$"):
                run_on(pair)
        pair.run_until(3_500)
    assert [edge.at_us // 1_000 for edge in pair.edges] == [0, 1, 2, 3]


def test_behind_ports_a_program_that_ends_is_told_in_place_of_what_came_of_it():
    def wait_for_an_answer(pair: Pair) -> None:
        with pair.behind_ports() as (name, _), serial.Serial(name, timeout=5) as port:
            while True:  # until the port is gone
                port.read(1)

    with started_pair(chip(ENDS), chip(TICKS), Wire()) as pair:
        with pytest.raises(SimulatorError, match=r"^the program of the board crashed at 50\d\d us$") as told:
            wait_for_an_answer(pair)
        assert isinstance(told.value.__context__, serial.SerialException)


def test_a_program_that_cannot_be_read_is_told(tmp_path):
    board = load_board("uno")
    nothing = PairedBoard(Simulator(build_runner(CACHE), tmp_path / "none.elf", board), {}, {})
    with (
        pytest.raises(SimulatorError, match=r"(?s)^the simulator of the two boards stopped\n.*cannot read the program"),
        started_pair(chip(TICKS), nothing, Wire()),
    ):
        pass


def test_a_process_that_is_killed_is_told():
    with started_pair(chip(TICKS), chip(TICKS), Wire()) as pair:
        pair.run_until(1_000)
        pair.runner.kill()
        with pytest.raises(SimulatorError, match=r"^the simulator of the two boards stopped$"):
            pair.run_until(2_000)
        with pytest.raises(SimulatorError, match=r"^the simulator of the two boards stopped$"):
            pair.run_until(3_000)


def test_a_process_that_is_killed_behind_its_ports_is_told():
    def lose_it(pair: Pair) -> None:
        with pair.behind_ports() as (name, _), serial.Serial(name, timeout=5) as port:
            pair.runner.kill()
            port.read(1)

    with started_pair(chip(TICKS), chip(TICKS), Wire()) as pair:
        with pytest.raises(SimulatorError, match=r"^the simulator of the two boards stopped$") as told:
            lose_it(pair)
        assert isinstance(told.value.__context__, serial.SerialException)


def test_whoever_gives_up_behind_ports_is_not_told_what_broke_then():
    def give_up(pair: Pair) -> None:
        with pair.behind_ports():
            pair.runner.kill()
            raise KeyboardInterrupt

    with started_pair(chip(TICKS), chip(TICKS), Wire()) as pair, pytest.raises(KeyboardInterrupt):
        give_up(pair)


@pytest.mark.parametrize("order", ["0 pin Z 1 0", "0 watch D 9", "0 clock 8000000", "2 pin D 2 0", "ahead 1", "fly"])
def test_an_order_that_is_none_ends_it_with_a_sentence(order):
    with started_pair(chip(TICKS), chip(TICKS), Wire()) as pair:
        pair.runner.order(order)
        with pytest.raises(SimulatorError, match=r"runner: (no such pin|an unknown order)"):
            pair.run_until(1_000)
