"""Cues for the simulator's runner, and the events that it prints."""

from __future__ import annotations

from collections.abc import Iterable, Mapping
from dataclasses import dataclass, field

from timing.design.board import Board
from timing.design.design import Design
from timing.design.pinning import pin_names
from timing.design.roles import SUPPLY_SENSE
from timing.protocol.levels import RAW_CONTACTS
from timing.sequence.core import filters
from timing.sequence.core.engine import Edge
from timing.sequence.core.script import Change
from timing.sequence.core.table import Output

US_PER_S = 1_000_000
TIMER_0_CONTROL = 0x45
"""Data-memory address of TCCR0B, the same in the whole family."""
OUTPUT_ROLES = {"gas_valve": Output.GAS, "wire_drive": Output.WIRE, "contactor": Output.CONTACTOR}


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
        kind, _, name = change.what.partition(" ")
        if kind == "reset":
            return Cue(self.cycle(at_us), "reset")
        if kind == "dial":
            return self.counts(name, counts[name], at_us)
        if kind == "supply":
            return self.counts("supply", counts["supply"], at_us)
        role = f"{name}_switch" if kind == "switch" else kind
        # The model takes contacts of the panel as they count, which is later than they move.
        early_us = filters.PANEL_USUAL_US if filters.is_looked_at(change.what) else 0
        return self.contact(role, bool(change.value), at_us - early_us)

    def edges(self, events: Iterable[Event], offset_us: int) -> list[Edge]:
        """Return the edges of the outputs among `events`, in microseconds from `offset_us` (rounded down).

        A pin that is let go is off: its resistor pulls it there.
        """
        outputs = {self.port(role): (role, output) for role, output in OUTPUT_ROLES.items() if role in self._pins()}
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

    def port(self, role: str) -> tuple[str, int]:
        """Return port and bit of a role's pin. Raises KeyError for a role without one."""
        pin = self.board.pin(self._pins()[role])
        if pin is None:
            raise KeyError(role)
        return pin.port[1], int(pin.port[2])


@dataclass(frozen=True)
class Event:
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


def read_event(line: str) -> Event:
    """Return the event on one line of the runner. Raises ValueError for anything else."""
    words = line.split()
    match words:
        case [cycle, "pin", port, bit, level]:
            return Event(int(cycle), "pin", pin=(port, int(bit)), level=level)
        case [cycle, "uart", byte]:
            return Event(int(cycle), "uart", byte=int(byte, 16))
        case [cycle, "passes", count, longest, total]:
            return Event(int(cycle), "passes", passes=(int(count), int(longest), int(total)))
        case [cycle, "stack", used]:
            return Event(int(cycle), "stack", stack_bytes=int(used))
        case [cycle, "reset" | "end" as kind]:
            return Event(int(cycle), kind)
        case _:
            raise ValueError(f"not an event of the runner: {line!r}")


def said(events: Iterable[Event]) -> str:
    """Return what the board sent, as text."""
    return bytes(event.byte for event in events if event.kind == "uart").decode("latin-1")
