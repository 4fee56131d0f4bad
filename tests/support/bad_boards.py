"""Bad boards: each a short script at the far end of a pseudo terminal, and the sentence that a bench ends with."""

from __future__ import annotations

import contextlib
import os
import re
import select
import threading
from collections.abc import Callable, Iterator
from dataclasses import dataclass, field
from pathlib import Path

from bench.virtual.board import VirtualBoard
from bench.virtual.machine import Faults
from tests.support.virtual_boards import HostClock
from timing.protocol.target import Target

CHUNK = 4096
AT_WORK = 18
"""Lines that a bench has sent when its first case is under way, however few a busy computer sends after that."""


class OverError(Exception):
    """The bench is done with this board."""


@dataclass
class Port:
    """A board's end of the line."""

    path: Path
    """What the bench opens: a link, so that a board that is gone is not found again under its old name."""
    _far: int
    _near: int
    _stop: int
    _pending: bytes = b""

    def lines(self) -> Iterator[bytes]:
        """Yield each line that comes, without its end."""
        while True:
            while b"\n" not in self._pending:
                self._wait(reading=True)
                self._pending += os.read(self._far, CHUNK)
            line, _, self._pending = self._pending.partition(b"\n")
            yield line

    def send(self, data: bytes) -> None:
        """Send, at the pace at which the bench reads."""
        while data:
            self._wait(reading=False)
            data = data[os.write(self._far, data[:CHUNK]) :]

    def pause(self, duration_s: float) -> None:
        """Let time go by."""
        if select.select([self._stop], [], [], duration_s)[0]:
            raise OverError

    def vanish(self) -> None:
        """Be unplugged."""
        self.path.unlink()
        os.close(self._near)
        os.close(self._far)
        raise OverError

    def _wait(self, reading: bool) -> None:
        ready, _, _ = select.select([self._stop, *[self._far] * reading], [self._far] * (not reading), [])
        if self._stop in ready:
            raise OverError


Script = Callable[[Port, Target], None]


@contextlib.contextmanager
def served(script: Script, target: Target, path: Path) -> Iterator[Path]:
    """Run a bad board behind `path`."""
    import pty
    import tty

    far, near = pty.openpty()
    tty.setraw(near)
    os.set_blocking(far, False)
    path.symlink_to(os.ttyname(near))
    stop, wake = os.pipe()

    def run() -> None:
        with contextlib.suppress(OverError, OSError):
            script(Port(path, far, near, stop), target)

    thread = threading.Thread(target=run, daemon=True)
    thread.start()
    try:
        yield path
    finally:
        os.close(wake)
        thread.join()
        os.close(stop)
        if path.is_symlink():
            path.unlink()
            os.close(near)
            os.close(far)


def identity(target: Target, version: bytes = b"0.1") -> bytes:
    return f"wirecue,{target.design},{target.digest},".encode() + version + b"\n"


# Boards that are no board of ours.


def silent(port: Port, _: Target) -> None:
    for _line in port.lines():
        pass


def reads_nothing(port: Port, _: Target) -> None:
    port.pause(60)


def garbage(port: Port, _: Target) -> None:
    for _line in port.lines():
        port.send(b"\xff\x00~}\x1f\x80\xfe\x1b[2J\n")


def trickle(port: Port, _: Target) -> None:
    while True:
        port.send(b"w")
        port.pause(0.02)


def flood_of_identities(port: Port, target: Target) -> None:
    while True:
        port.send(identity(target) * 50)


def flood_of_empty_lines(port: Port, _: Target) -> None:
    while True:
        port.send(b"\n" * CHUNK)


def flood_without_line_end(port: Port, _: Target) -> None:
    while True:
        port.send(b"U" * CHUNK)


def echo(port: Port, _: Target) -> None:
    for line in port.lines():
        port.send(line + b"\n")


def another_instrument(port: Port, _: Target) -> None:
    for line in port.lines():
        port.send(b"SOMEBODY,METER,1,2\n" if b"IDN" in line else b"1999.0\n" if b"VERS" in line else b"")


def another_design(port: Port, target: Target) -> None:
    _answer(port, VirtualBoard(target, "0.1", HostClock(), faults=Faults(digest="f" * 16)))


def without_bench_link(port: Port, target: Target) -> None:
    _answer(port, VirtualBoard(target, "0.1", HostClock(), bench_link=False))


def control_characters(port: Port, target: Target) -> None:
    for line in port.lines():
        port.send(identity(target, b"\x1b]0;mine\x07\x1b[2J\x00") if b"IDN" in line else b"1999.0\n")


def endless_version(port: Port, target: Target) -> None:
    for line in port.lines():
        port.send(identity(target, b"9" * 250) if b"IDN" in line else b"1999.0\n")


def gone_at_once(port: Port, _: Target) -> None:
    for _line in port.lines():
        port.vanish()


# Boards that are sound at first.


def _answer(
    port: Port, board: VirtualBoard, change: Callable[[bytes, bytes], bytes] = lambda _, answer: answer
) -> None:
    """Answer as the virtual board does; `change` makes what is sent of line and sound answer."""
    for line in port.lines():
        if said := change(line, board.receive(line + b"\n")):
            port.send(said)


def _sound(target: Target, clock: HostClock | None = None) -> VirtualBoard:
    return VirtualBoard(target, "0.1", clock or HostClock())


def sound(port: Port, target: Target) -> None:
    _answer(port, _sound(target))


def _at_work(port: Port, board: VirtualBoard) -> Iterator[tuple[bytes, bytes]]:
    """Answer soundly until the first case is under way; then yield lines and sound answers."""
    for count, line in enumerate(port.lines()):
        answer = board.receive(line + b"\n")
        if count < AT_WORK:
            port.send(answer)
        else:
            yield line, answer


def gone_at_work(port: Port, target: Target) -> None:
    for _ in _at_work(port, _sound(target)):
        port.vanish()


def gone_in_mid_answer(port: Port, target: Target) -> None:
    for line, answer in _at_work(port, _sound(target)):
        if line.startswith(b"TRAC:DATA?"):
            port.send(answer[: len(answer) // 2])
            port.pause(0.05)
            port.vanish()
        port.send(answer)


def mute_at_work(port: Port, target: Target) -> None:
    for _ in _at_work(port, _sound(target)):
        pass


def answers_too_late(port: Port, target: Target) -> None:
    for _, answer in _at_work(port, _sound(target)):
        port.pause(1)
        port.send(answer)


def restarts_at_work(port: Port, target: Target) -> None:
    again = None
    for line, answer in _at_work(port, _sound(target)):
        again = again or _sound(target)
        port.send(again.receive(line + b"\n") or answer)


def late_by_one(port: Port, target: Target) -> None:
    kept = b""
    for _, answer in _at_work(port, _sound(target)):
        port.send(kept)
        kept = answer or kept


def doubled(port: Port, target: Target) -> None:
    for _, answer in _at_work(port, _sound(target)):
        port.send(answer * 2)


def other_questions(port: Port, target: Target) -> None:
    for _ in _at_work(port, _sound(target)):
        port.send(b"7,0,1\n")


def empty_answers(port: Port, target: Target) -> None:
    for _ in _at_work(port, _sound(target)):
        port.send(b"\r\n")


def escape_in_an_error(port: Port, target: Target) -> None:
    _answer(port, _sound(target), lambda _, answer: re.sub(rb'"No error"', b'"\x1b[31mNo error"', answer))


def errors_without_end(port: Port, target: Target) -> None:
    _answer(port, _sound(target), lambda _, answer: re.sub(rb'0,"No error"', b'-222,"Data out of range"', answer))


def _in_trace(port: Port, target: Target, record: Callable[[bytes], bytes]) -> None:
    """Give every question for the trace a record made of the board's clock."""

    def change(line: bytes, answer: bytes) -> bytes:
        if not line.startswith(b"TRAC:DATA?"):
            return answer
        clock = answer.strip().rpartition(b";")[2]
        return record(clock) + b";" + clock + b"\n"

    _answer(port, _sound(target), change)


def records_without_end(port: Port, target: Target) -> None:
    _in_trace(port, target, lambda clock: b"24," + clock + b",0,1,0")


def negative_counts(port: Port, target: Target) -> None:
    _in_trace(port, target, lambda clock: b"-3," + clock + b",0,1,0")


def more_records_than_there_are(port: Port, target: Target) -> None:
    _in_trace(port, target, lambda clock: b"4000000000," + clock + b",0,1,0")


def huge_numbers(port: Port, target: Target) -> None:
    _in_trace(port, target, lambda _: b"1," + b"9" * 200 + b",0,1,0")


def records_of_the_future(port: Port, target: Target) -> None:
    _in_trace(port, target, lambda clock: b"1,%d,0,1,0" % ((int(clock) + 600_000_000) % (1 << 32)))


def clock_stands(port: Port, target: Target) -> None:
    _answer(port, VirtualBoard(target, "0.1", HostClock(), faults=Faults(clock_stands=True)))


@dataclass
class GainingClock:
    """One microsecond more with each line."""

    time_us: int = 0

    def line_came(self) -> None:
        self.time_us += 1

    def now_us(self) -> int:
        return self.time_us


def clock_gains(port: Port, target: Target) -> None:
    _answer(port, VirtualBoard(target, "0.1", GainingClock()))


def clock_at_half_speed(port: Port, target: Target) -> None:
    _answer(port, _sound(target, HostClock(0.5)))


def clock_at_double_speed(port: Port, target: Target) -> None:
    _answer(port, _sound(target, HostClock(2.0)))


@dataclass
class JumpingClock(HostClock):
    """Follows the host, and jumps when the bench is at work."""

    jump_us: int = 0
    lines: int = field(default=0, init=False)

    def line_came(self) -> None:
        self.lines += 1

    def now_us(self) -> int:
        return 10_000_000 + super().now_us() + self.jump_us * (self.lines > AT_WORK)


def clock_jumps_back(port: Port, target: Target) -> None:
    _answer(port, _sound(target, JumpingClock(jump_us=-5_000_000)))


def clock_jumps_ahead(port: Port, target: Target) -> None:
    _answer(port, _sound(target, JumpingClock(jump_us=1_200_000_000)))


NO_SENSE = r"PORT answers '{}' to {}, which makes no sense\. Another device, or a bad cable\?"
NO_ANSWER = r"No answer on PORT to {} within \S+ s\. Is the sketch on the board, is it this port, .*"
GONE = r"PORT went away: unplugged, or the board restarted\. Plug it in and start again\."
APART = r"The clock of the board on PORT counted {} s while {} s went by on this computer: the board hangs, .*"
STANDS = r"The clock of the board on PORT stands still, or jumped back: the board hangs or restarted\."

BOARDS: tuple[tuple[Script, str], ...] = (
    (silent, NO_ANSWER.format(r"\*IDN\?")),
    (reads_nothing, NO_ANSWER.format(r"\*IDN\?")),
    (garbage, NO_SENSE.format(r"<ff><00>~}<1f><80><fe><1b>\[2J", r"\*IDN\?")),
    (trickle, NO_ANSWER.format(r"\*IDN\?")),
    (flood_of_identities, NO_SENSE.format("wirecue,shop_two_step,[0-9a-f]+,0.1", r"SYST:VERS\?")),
    (flood_of_empty_lines, NO_ANSWER.format(r"\*IDN\?")),
    (flood_without_line_end, NO_SENSE.format(r"U+\.\.\.", "a question")),
    (echo, r"PORT gives back what is sent to it: a loopback plug, .*"),
    (another_instrument, NO_SENSE.format("SOMEBODY,METER,1,2", r"\*IDN\?")),
    (another_design, r"The board on PORT carries shop_two_step with digest f{16}; this test is for .*"),
    (without_bench_link, r"The bench link of the board on PORT is not fitted\. .*"),
    (control_characters, NO_SENSE.format(r"wirecue,shop_two_step,.*", r"\*IDN\?")),
    (endless_version, NO_SENSE.format(r"wirecue,shop_two_step,[0-9a-f]+,9+\.\.\.", r"(\*IDN\?|a question)")),
    (gone_at_once, GONE + r"|There is no port PORT\..*"),
    (gone_at_work, GONE),
    (gone_in_mid_answer, GONE),
    (mute_at_work, NO_ANSWER.format(r"\S.*")),
    (answers_too_late, NO_ANSWER.format(r"\S.*")),
    (restarts_at_work, STANDS),
    (late_by_one, NO_ANSWER.format(r"\S.*") + "|" + NO_SENSE.format(".*", r"\S.*") + "|" + STANDS),
    (doubled, NO_SENSE.format(".*", r"\S.*")),
    (other_questions, NO_SENSE.format("7,0,1", r"\S.*")),
    (empty_answers, NO_SENSE.format("", r"\S.*")),
    (escape_in_an_error, NO_SENSE.format(r'0,"<1b>\[31mNo error"', r"\S.*")),
    (errors_without_end, r"The board on PORT refuses \S.*: -222 Data out of range\."),
    (records_without_end, r"The edge trace of the board on PORT never empties: .*"),
    (negative_counts, NO_SENSE.format(r"-3,.*", r"\S.*")),
    (more_records_than_there_are, NO_SENSE.format(r"4000000000,.*", r"\S.*")),
    (huge_numbers, NO_SENSE.format(r"1,9+\.\.\.", r"\S.*")),
    (records_of_the_future, NO_SENSE.format(r"1,.*", r"\S.*")),
    (clock_stands, STANDS + "|" + APART.format(r"0\.000", r"\S+")),
    (clock_gains, APART.format(r"0\.0\d\d", r"\S+")),
    (clock_at_half_speed, APART.format(r"\S+", r"\S+")),
    (clock_at_double_speed, APART.format(r"\S+", r"\S+")),
    (clock_jumps_back, STANDS),
    (clock_jumps_ahead, APART.format(r"1200\.\d\d\d", r"\S+")),
)
"""Each board with the sentence that a bench ends with; PORT stands for its address."""
