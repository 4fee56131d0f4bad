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
import sys
from collections.abc import Callable, Iterable, Iterator, Mapping, Sequence
from concurrent.futures import ThreadPoolExecutor
from contextlib import contextmanager
from dataclasses import dataclass, field
from pathlib import Path

from timing.design.board import SUPPLY_SENSE, Board
from timing.design.design import Design
from timing.design.pinning import pin_names
from timing.errors import WirecueError
from timing.protocol.target import RAW_CONTACTS
from timing.sequence.core import filters
from timing.sequence.core.engine import Edge
from timing.sequence.core.script import Change, Dial, Switch
from timing.sequence.core.table import Output

US_PER_S = 1_000_000
TIMER_0_CONTROL = 0x45
"""Data-memory address of TCCR0B, the same in the whole family."""
OUTPUT_PINS = {"gas_valve": Output.GAS, "wire_drive": Output.WIRE, "contactor": Output.CONTACTOR}


@dataclass(frozen=True)
class Cue:
    """One thing to do to the microcontroller, at one of its clock cycles."""

    cycle: int
    what: str

    def __str__(self) -> str:
        return f"{self.cycle} {self.what}"


@dataclass(frozen=True)
class Wiring:
    """Where a design's roles lie on the microcontroller, and how to move them."""

    design: Design
    board: Board
    cycles_per_us: int = field(init=False)

    def __post_init__(self) -> None:
        object.__setattr__(self, "cycles_per_us", self.board.clock_hz // US_PER_S)

    def cycle(self, at_us: int) -> int:
        """Return the clock cycle at an instant."""
        return at_us * self.cycles_per_us

    def contact(self, role: str, closed: bool, at_us: int) -> Cue:
        """Return the cue that closes or opens a contact. Raises KeyError for a role without a pin."""
        port, bit = self.port(role)
        # Contacts close to board common.
        return Cue(self.cycle(at_us), f"pin {port} {bit} {0 if closed else 1}")

    def counts(self, channel: str, counts: int, at_us: int) -> Cue:
        """Return the cue that puts a reading at an analog channel ('preflow' ... 'supply')."""
        role = SUPPLY_SENSE.key if channel == "supply" else f"{channel}_dial"
        pin = self.board.pin(self._pins()[role])
        if pin is None or pin.analog_channel is None:
            raise KeyError(role)
        # The least whole millivolts that the converter reads as `counts`.
        millivolts = -(-counts * round(self.board.adc_reference_v * 1000) // self.board.adc_full_scale)
        return Cue(self.cycle(at_us), f"adc {pin.analog_channel} {millivolts}")

    def serial(self, text: bytes, at_us: int) -> Cue:
        """Return the cue that sends bytes to the board."""
        return Cue(self.cycle(at_us), f"uart {text.hex()}")

    def mangled(self, text: bytes, at_us: int) -> Cue:
        """Return the cue that sends bytes to the board, each with a framing error."""
        return Cue(self.cycle(at_us), f"mangled {text.hex()}")

    def memory(self, address: int, content: bytes, at_us: int) -> Cue:
        """Return the cue that presets data memory."""
        return Cue(self.cycle(at_us), f"ram {address:x} {content.hex()}")

    def flipped(self, address: int, mask: int, at_us: int) -> Cue:
        """Return the cue that turns over bits of a register of the chip, as a disturbance might."""
        return Cue(self.cycle(at_us), f"flip {address:x} {mask:x}")

    def stuck(self, address: int, value: int, at_us: int) -> Cue:
        """Return the cue that holds a register at a value, whatever the program writes, until it is freed."""
        return Cue(self.cycle(at_us), f"stuck {address:x} {value:x}")

    def freed(self, address: int, at_us: int) -> Cue:
        """Return the cue that ends what `stuck` began."""
        return Cue(self.cycle(at_us), f"free {address:x}")

    def slowed(self, timer: int, halvings: int, at_us: int) -> Cue:
        """Return the cue that halves a timer's clock that many times; negative: doubles it."""
        return Cue(self.cycle(at_us), f"timer {timer} {halvings}")

    def clock(self, clock_hz: int, at_us: int) -> Cue:
        """Return the cue from which on the chip's own clock, whose cycles are counted here, runs at `clock_hz`."""
        return Cue(self.cycle(at_us), f"clock {clock_hz}")

    def reset(self, at_us: int, cause: str = "") -> Cue:
        """Return the cue that resets the board: by its pin (''), by 'power' or by 'brown-out'."""
        return Cue(self.cycle(at_us), f"reset {cause}".rstrip())

    def passes(self, at_us: int) -> Cue:
        """Return the cue from which on passes are timed; each writes the control register of timer 0 once."""
        return Cue(self.cycle(at_us), f"passes {TIMER_0_CONTROL:x}")

    def quiet(self, counts: Mapping[str, int], at_us: int = 0, *, bench_link: bool = False) -> list[Cue]:
        """Return the cues of a panel at rest: contacts open, interlock closed, switches on, dials as given.

        counts: reading by channel; the supply must be among them where it is sensed.
        """
        fitted = [role for role in RAW_CONTACTS if role in self._pins()]
        on = {role for role in fitted if role == "interlock" or role.endswith("_switch")}
        cues = [self.contact(role, role in on, at_us) for role in fitted]
        cues.append(self.contact("bench_link", bench_link, at_us))
        return cues + [self.counts(channel, reading, at_us) for channel, reading in counts.items()]

    def change(self, change: Change, counts: Mapping[str, int], offset_us: int) -> Cue:
        """Return the cue for one change of a trigger script; not in order where contacts of the panel move.

        counts: for changes of a dial or the supply, the reading to put there, by channel. Raises KeyError for a
        change that the wiring cannot make.
        """
        at_us = change.at_us + offset_us
        match change.what:
            case Dial(name):
                return self.counts(name, counts[name], at_us)
            case "reset":
                return Cue(self.cycle(at_us), "reset")
            case "supply":
                return self.counts("supply", counts["supply"], at_us)
            case Switch(name):
                role = f"{name}_switch"
            case contact:
                role = contact
        # The model takes contacts of the panel as they count, which is later than they move.
        early_us = filters.PANEL_USUAL_US if filters.is_looked_at(change.what) else 0
        return self.contact(role, bool(change.value), at_us - early_us)

    def edges(self, events: Iterable[ChipEvent], offset_us: int) -> list[Edge]:
        """Return the edges of the outputs among `events`, in microseconds from `offset_us` (rounded down).

        A pin that is let go is off: its resistor pulls it there.
        """
        outputs = {self.port(role): (role, output) for role, output in OUTPUT_PINS.items() if role in self._pins()}
        standing: dict[Output, bool] = {}
        edges = []
        for event in events:
            if event.pin in outputs:
                role, output = outputs[event.pin]
                on = event.level == ("1" if getattr(self.design.board.on_level, role) == "high" else "0")
                if on != standing.get(output, False):
                    standing[output] = on
                    edges.append(Edge(event.cycle // self.cycles_per_us - offset_us, output, on))
        return edges

    def _pins(self) -> dict[str, str]:
        return {role: name for role, name in pin_names(self.design, self.board).items() if name is not None}

    def fitted(self) -> frozenset[str]:
        """Return the roles that have a pin."""
        return frozenset(self._pins())

    def port(self, role: str) -> tuple[str, int]:
        """Return port and bit of a role's pin. Raises KeyError for a role without one."""
        pin = self.board.pin(self._pins()[role])
        if pin is None:
            raise KeyError(role)
        return pin.port[1], int(pin.port[2])


@dataclass(frozen=True)
class ChipEvent:
    """One thing that the microcontroller did."""

    cycle: int
    kind: str
    """pin, uart, reset, passes, stack or end."""
    pin: tuple[str, int] | None = None
    """Port and bit."""
    level: str = ""
    """Pin: 0, 1, or z for let go."""
    byte: int = 0
    """Uart: the byte that was sent."""
    passes: tuple[int, int, int] = (0, 0, 0)
    """Passes: how many, cycles of the longest, cycles of all."""
    stack_bytes: int = 0
    """Stack: bytes of it that were in use at the most."""


def read_event(line: str) -> ChipEvent:
    """Return the event on one line of the runner. Raises ValueError for anything else."""
    words = line.split()
    match words:
        case [cycle, "pin", port, bit, level]:
            return ChipEvent(int(cycle), "pin", pin=(port, int(bit)), level=level)
        case [cycle, "uart", byte]:
            return ChipEvent(int(cycle), "uart", byte=int(byte, 16))
        case [cycle, "passes", count, longest, total]:
            return ChipEvent(int(cycle), "passes", passes=(int(count), int(longest), int(total)))
        case [cycle, "stack", used]:
            return ChipEvent(int(cycle), "stack", stack_bytes=int(used))
        case [cycle, "reset" | "end" as kind]:
            return ChipEvent(int(cycle), kind)
        case _:
            raise ValueError(f"not an event of the runner: {line!r}")


def said(events: Iterable[ChipEvent]) -> str:
    """Return what the board sent, as text."""
    return bytes(event.byte for event in events if event.kind == "uart").decode("latin-1")


_HERE = Path(__file__).parent
SOURCES = tuple(_HERE / name for name in ("runner.c", "cues.c", "machine.c", "pair.c", "port.c"))
HEADERS = tuple(_HERE / name for name in ("cues.h", "machine.h", "pair.h", "port.h"))
UART_DEFINES = {True: ("LINK_UART=1",), False: ()}
"""What a sketch must be compiled with to be run here, by whether the microcontroller itself speaks USB."""
LONGEST_RUN_S = 300


class SimulatorError(WirecueError):
    """The simulator is missing, or stopped. Keeps what it said."""

    def __init__(self, what: str, said: str = "") -> None:
        super().__init__(what, said)
        self.what, self.said = what, said

    def __str__(self) -> str:
        return f"{self.what}\n{self.said}".rstrip()


_STRICT = ("-O2", "-Wall", "-Wextra", "-Werror")
# Linked in where that can be: it runs a tenth faster than from a shared library.
_SIMULATOR_LIBRARIES = (("-Wl,-Bstatic", "-lsimavr", "-Wl,-Bdynamic"), ("-lsimavr",))


def build_runner(cache: Path) -> Path:
    """Compile the runner, once, below `cache`. Raises SimulatorError."""
    if sys.platform == "win32":
        raise SimulatorError("the microcontroller's simulator runs on Linux only; `--virtual` alone tests the model")
    compiler = shutil.which("gcc") or shutil.which("cc")
    if compiler is None:
        raise SimulatorError("no C compiler here; on Debian: gcc")
    digest = hashlib.sha256(b"".join(file.read_bytes() for file in (*SOURCES, *HEADERS))).hexdigest()[:16]
    runner = cache / f"runner-{digest}"
    if not runner.is_file():
        cache.mkdir(parents=True, exist_ok=True)
        made = cache / f"runner-{digest}-{os.getpid()}"
        complaint = ""
        for simulator in _SIMULATOR_LIBRARIES:
            command = [compiler, "-D_GNU_SOURCE", *_STRICT, *SOURCES, "-o", made, *simulator, "-lelf"]
            done = subprocess.run(command, capture_output=True, encoding="utf-8", check=False)
            if done.returncode == 0:
                break
            complaint = done.stderr
        else:
            raise SimulatorError(
                "the simulator's runner does not compile; on Debian: libsimavr-dev, libelf-dev", complaint
            )
        made.replace(runner)
    return runner


@dataclass(frozen=True)
class Simulator:
    """One program on one microcontroller."""

    runner: Path
    program: Path
    """As ELF; see UART_DEFINES for how it must be compiled."""
    board: Board

    def run(self, cues: Iterable[Cue]) -> list[ChipEvent]:
        """Run from power-up through `cues`, the last of which must be `end`. Raises SimulatorError."""
        return self._events("".join(f"{cue}\n" for cue in cues))

    def run_each(self, boot: Sequence[Cue], scripts: Sequence[Sequence[Cue]]) -> list[list[ChipEvent]]:
        """Boot once, then run each script on a copy of the machine as it stands after the last cue of `boot`.

        The last cue of every script must be `end`. The scripts are shared out among the machine's cores. Events of
        the boot are not returned. Raises SimulatorError.
        """
        cores = os.cpu_count() or 1
        shares = [scripts[core::cores] for core in range(cores)]
        with ThreadPoolExecutor(cores) as pool:
            done = list(pool.map(lambda share: self._run_share(boot, share), shares))
        results: list[list[ChipEvent]] = [[] for _ in scripts]
        for core, share in enumerate(done):
            results[core::cores] = share
        return results

    @contextmanager
    def booted(self, boot: Sequence[Cue]) -> Iterator[Callable[[Sequence[Cue]], list[ChipEvent]]]:
        """Boot once; yield a function that runs a script on a copy of the machine as it stands after `boot`.

        The last cue of every script must be `end`. The function returns the script's events; it raises SimulatorError.
        """
        process = subprocess.Popen(
            self.command(), stdin=subprocess.PIPE, stdout=subprocess.PIPE, stderr=subprocess.PIPE, encoding="utf-8"
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

    def _run_share(self, boot: Sequence[Cue], scripts: Sequence[Sequence[Cue]]) -> list[list[ChipEvent]]:
        if not scripts:
            return []
        forked = max(cue.cycle for cue in boot)
        lines = [f"{cue}\n" for cue in boot]
        for script in scripts:
            lines += [f"{forked} fork\n", *(f"{cue}\n" for cue in script)]
        events = self._events("".join(lines) + f"{forked} end\n")
        runs: list[list[ChipEvent]] = [[]]
        for event in events:
            if event.kind == "end":
                runs.append([])
            else:
                runs[-1].append(event)
        # Before the first end stand the boot's events too; they are from before the fork.
        runs[0] = [event for event in runs[0] if event.cycle >= forked]
        return runs[: len(scripts)]

    def _events(self, cues: str) -> list[ChipEvent]:
        try:
            done = subprocess.run(
                self.command(), input=cues, capture_output=True, encoding="utf-8", check=False, timeout=LONGEST_RUN_S
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
            encoding="utf-8",
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


def _run_copy(process: subprocess.Popen[str], forked: int, script: Sequence[Cue]) -> list[ChipEvent]:
    assert process.stdin is not None
    assert process.stdout is not None
    try:
        process.stdin.write(f"{forked} fork\n" + "".join(f"{cue}\n" for cue in script))
        process.stdin.flush()
    except BrokenPipeError:
        raise SimulatorError("the simulator stopped") from None
    events: list[ChipEvent] = []
    for line in process.stdout:
        event = read_event(line)
        if event.kind == "end":
            # Before the first copy's events stand the boot's.
            return [event for event in events if event.cycle >= forked]
        events.append(event)
    raise SimulatorError("the simulator stopped", process.stderr.read() if process.stderr else "")


def symbols(program: Path, nm: str = "avr-nm") -> Mapping[str, int]:
    """Return the data-memory addresses of a program's variables, by name. Raises SimulatorError."""
    done = subprocess.run([nm, str(program)], capture_output=True, encoding="utf-8", check=False)
    if done.returncode != 0:
        raise SimulatorError("the program's symbols cannot be read", done.stderr)
    rows = [line.split() for line in done.stdout.splitlines()]
    # The compiler puts data memory at 0x800000.
    return {row[2]: int(row[0], 16) - 0x800000 for row in rows if len(row) == 3 and int(row[0], 16) >= 0x800000}
