"""Builds and drives the simulator's runner.

The ATmega32U4's USB cannot be run: the simulator knows its endpoints but needs a kernel module at the host's end.
Its sketch is therefore compiled with LINK_UART=1, which puts the link on the hardware serial port; everything else
is the sketch as it is.
"""

from __future__ import annotations

import hashlib
import os
import shutil
import subprocess
from collections.abc import Callable, Iterable, Iterator, Mapping, Sequence
from concurrent.futures import ThreadPoolExecutor
from contextlib import contextmanager
from dataclasses import dataclass
from pathlib import Path

from bench.avr.cues import Cue, Event, read_event
from timing.design.board import Board
from timing.errors import WirecueError

SOURCE = Path(__file__).with_name("runner.c")
UART_DEFINES = {True: ("LINK_UART=1",), False: ()}
"""What a sketch must be compiled with to be run here, by whether the microcontroller itself speaks USB."""
LONGEST_RUN_S = 300
# Linked in where that can be: it runs a tenth faster than from a shared library.
_SIMULATOR_LIBRARIES = (("-Wl,-Bstatic", "-lsimavr", "-Wl,-Bdynamic"), ("-lsimavr",))


class SimulatorError(WirecueError):
    """The simulator is missing, or stopped. Keeps what it said."""

    def __init__(self, what: str, said: str = "") -> None:
        super().__init__(what, said)
        self.what, self.said = what, said

    def __str__(self) -> str:
        return f"{self.what}\n{self.said}".rstrip()


def build_runner(cache: Path) -> Path:
    """Compile the runner, once, below `cache`. Raises SimulatorError."""
    compiler = shutil.which("gcc") or shutil.which("cc")
    if compiler is None:
        raise SimulatorError("no C compiler here; on Debian: gcc")
    digest = hashlib.sha256(SOURCE.read_bytes()).hexdigest()[:16]
    runner = cache / f"runner-{digest}"
    if not runner.is_file():
        cache.mkdir(parents=True, exist_ok=True)
        made = cache / f"runner-{digest}-{os.getpid()}"
        said = ""
        for simulator in _SIMULATOR_LIBRARIES:
            command = [compiler, "-O2", "-Wall", "-Wextra", "-Werror", SOURCE, "-o", made, *simulator, "-lelf"]
            done = subprocess.run(command, capture_output=True, text=True, check=False)
            if done.returncode == 0:
                break
            said = done.stderr
        else:
            raise SimulatorError("the simulator's runner does not compile; on Debian: libsimavr-dev, libelf-dev", said)
        made.replace(runner)
    return runner


@dataclass(frozen=True)
class Simulator:
    """One program on one microcontroller."""

    runner: Path
    program: Path
    """As ELF; see UART_DEFINES for how it must be compiled."""
    board: Board

    def run(self, cues: Iterable[Cue]) -> list[Event]:
        """Run from power-up through `cues`, the last of which must be `end`. Raises SimulatorError."""
        return self._events("".join(f"{cue}\n" for cue in cues))

    def run_each(self, boot: Sequence[Cue], scripts: Sequence[Sequence[Cue]]) -> list[list[Event]]:
        """Boot once, then run each script on a copy of the machine as it stands after the last cue of `boot`.

        The last cue of every script must be `end`. The scripts are shared out among the machine's cores. Events of
        the boot are not returned. Raises SimulatorError.
        """
        cores = os.cpu_count() or 1
        shares = [scripts[core::cores] for core in range(cores)]
        with ThreadPoolExecutor(cores) as pool:
            done = list(pool.map(lambda share: self._run_share(boot, share), shares))
        results: list[list[Event]] = [[] for _ in scripts]
        for core, share in enumerate(done):
            results[core::cores] = share
        return results

    @contextmanager
    def booted(self, boot: Sequence[Cue]) -> Iterator[Callable[[Sequence[Cue]], list[Event]]]:
        """Boot once; yield a function that runs a script on a copy of the machine as it stands after `boot`.

        The last cue of every script must be `end`. The function returns the script's events; it raises SimulatorError.
        """
        process = subprocess.Popen(
            self.command(), stdin=subprocess.PIPE, stdout=subprocess.PIPE, stderr=subprocess.PIPE, text=True
        )
        assert process.stdin is not None
        assert process.stdout is not None
        assert process.stderr is not None
        forked = max(cue.cycle for cue in boot)
        process.stdin.write("".join(f"{cue}\n" for cue in boot))
        try:
            yield lambda script: _run_copy(process, forked, script)
        finally:
            process.kill()
            process.communicate()

    def _run_share(self, boot: Sequence[Cue], scripts: Sequence[Sequence[Cue]]) -> list[list[Event]]:
        if not scripts:
            return []
        forked = max(cue.cycle for cue in boot)
        lines = [f"{cue}\n" for cue in boot]
        for script in scripts:
            lines += [f"{forked} fork\n", *(f"{cue}\n" for cue in script)]
        events = self._events("".join(lines) + f"{forked} end\n")
        runs: list[list[Event]] = [[]]
        for event in events:
            if event.kind == "end":
                runs.append([])
            else:
                runs[-1].append(event)
        # Before the first end stand the boot's events too; they are from before the fork.
        runs[0] = [event for event in runs[0] if event.cycle >= forked]
        return runs[: len(scripts)]

    def _events(self, cues: str) -> list[Event]:
        try:
            done = subprocess.run(
                self.command(), input=cues, capture_output=True, text=True, check=False, timeout=LONGEST_RUN_S
            )
        except subprocess.TimeoutExpired:
            raise SimulatorError(f"the simulator did not end within {LONGEST_RUN_S} s") from None
        if done.returncode != 0:
            raise SimulatorError("the simulator stopped", done.stderr)
        return [read_event(line) for line in done.stdout.splitlines()]

    def command(self) -> list[str]:
        """Return the runner's command line."""
        uart = "1" if self.board.native_usb else "0"
        return [str(self.runner), str(self.program), self.board.mcu, str(self.board.clock_hz), uart]

    @contextmanager
    def behind_port(self, cues: Iterable[Cue]) -> Iterator[str]:
        """Run `cues`, then serve the board behind a pseudo terminal in real time; yield its name.

        Raises SimulatorError.
        """
        process = subprocess.Popen(
            [*self.command(), "--port"],
            stdin=subprocess.PIPE,
            stdout=subprocess.PIPE,
            stderr=subprocess.DEVNULL,
            text=True,
        )
        try:
            assert process.stdin is not None
            assert process.stdout is not None
            process.stdin.write("".join(f"{cue}\n" for cue in cues))
            process.stdin.close()
            name = next((line.strip() for line in process.stdout if line.startswith("/dev/")), "")
            if not name:
                raise SimulatorError("the simulator stopped before it had a serial port")
            yield name
        finally:
            process.terminate()
            process.wait()
            if process.stdout is not None:
                process.stdout.close()


def _run_copy(process: subprocess.Popen[str], forked: int, script: Sequence[Cue]) -> list[Event]:
    assert process.stdin is not None
    assert process.stdout is not None
    try:
        process.stdin.write(f"{forked} fork\n" + "".join(f"{cue}\n" for cue in script))
        process.stdin.flush()
    except BrokenPipeError:
        raise SimulatorError("the simulator stopped") from None
    events: list[Event] = []
    for line in process.stdout:
        event = read_event(line)
        if event.kind == "end":
            # Before the first copy's events stand the boot's.
            return [event for event in events if event.cycle >= forked]
        events.append(event)
    raise SimulatorError("the simulator stopped", process.stderr.read() if process.stderr else "")


def symbols(program: Path, nm: str = "avr-nm") -> Mapping[str, int]:
    """Return the data-memory addresses of a program's variables, by name. Raises SimulatorError."""
    done = subprocess.run([nm, str(program)], capture_output=True, text=True, check=False)
    if done.returncode != 0:
        raise SimulatorError("the program's symbols cannot be read", done.stderr)
    rows = [line.split() for line in done.stdout.splitlines()]
    # The compiler puts data memory at 0x800000.
    return {row[2]: int(row[0], 16) - 0x800000 for row in rows if len(row) == 3 and int(row[0], 16) >= 0x800000}
