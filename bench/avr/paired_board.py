"""One of two simulated boards beside each other: its program, how fast its clock really is, what its pins are."""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass

from bench.avr.simulator import OUTPUT_PINS, Simulator, SimulatorError, Wiring
from timing.design.board import Board
from timing.protocol.recorder import RECORDER_INPUTS, RECORDER_PRESSES

MOST_PPM = 5_000
"""A crystal, or a resonator, that is further off than that does not run a serial port any more (practice)."""


@dataclass(frozen=True)
class OutputPin:
    """A pin that a program drives."""

    port: str
    bit: int
    on_level: str
    """The level, 0 or 1, at which what hangs on it is on."""


@dataclass(frozen=True)
class PairedBoard:
    """One of the two: its program, how fast its clock really is, and what its pins are."""

    simulator: Simulator
    outputs: Mapping[str, OutputPin]
    """By role, or by what is pressed."""
    inputs: Mapping[str, tuple[str, int]]
    """Port and bit by key. A line that is on pulls its pin low."""
    panel: tuple[str, ...] = ()
    """How pins and voltages stand at power-up: cues of the runner without their cycle."""
    fast_ppm: int = 0
    """By so many parts per million its crystal is fast; negative: slow."""

    def __post_init__(self) -> None:
        if abs(self.fast_ppm) > MOST_PPM:
            raise SimulatorError(
                f"a clock {self.fast_ppm} parts per million fast is no crystal; -{MOST_PPM} to {MOST_PPM} are allowed"
            )

    def real_hz(self) -> int:
        """Return what its clock really does."""
        return round(self.simulator.board.clock_hz * (1 + self.fast_ppm / 1e6))


def addon_board(
    simulator: Simulator, wiring: Wiring, counts: Mapping[str, int], *, bench_link: bool = False, fast_ppm: int = 0
) -> PairedBoard:
    """Return the add-on as its design wires it, its panel at rest; `counts`: reading by channel, as `Wiring.quiet`."""
    on_levels = {role: "1" if getattr(wiring.design.board.on_level, role) == "high" else "0" for role in OUTPUT_PINS}
    fitted = wiring.fitted()
    return PairedBoard(
        simulator,
        {role: OutputPin(*wiring.port(role), on_levels[role]) for role in OUTPUT_PINS if role in fitted},
        {role: wiring.port(role) for role in ("trigger", "purge", "arc") if role in fitted},
        tuple(cue.what for cue in wiring.quiet(counts, bench_link=bench_link)),
        fast_ppm,
    )


def recorder_board(
    simulator: Simulator, pins: Mapping[str, str], *, may_press: bool = True, fast_ppm: int = 0
) -> PairedBoard:
    """Return the recorder; `pins`: name by key, `input_1` and so on, `press_trigger`, `press_purge`, `press_jumper`."""
    board = simulator.board
    inputs = {one.key: pin_port(board, pins[f"input_{one.number}"]) for one in RECORDER_INPUTS}
    jumper, bit = pin_port(board, pins["press_jumper"])
    presses = {one.key: OutputPin(*pin_port(board, pins[f"press_{one.key}"]), "1") for one in RECORDER_PRESSES}
    panel = [f"pin {port} {place} 1" for port, place in inputs.values()]
    # Their resistors hold the presses off while nothing drives them.
    panel += [f"pin {one.port} {one.bit} 0" for one in presses.values()]
    return PairedBoard(simulator, presses, inputs, (*panel, f"pin {jumper} {bit} {0 if may_press else 1}"), fast_ppm)


def pin_port(board: Board, name: str) -> tuple[str, int]:
    """Return port and bit of a pin by its name. Raises KeyError."""
    pin = board.pin(name)
    if pin is None:
        raise KeyError(name)
    return pin.port[1], int(pin.port[2])
