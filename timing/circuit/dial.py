"""Dial wiring: end resistors that keep a sound dial off the rails, and a pull that makes an open wiper a rail."""

from __future__ import annotations

from dataclasses import dataclass

from timing.circuit.preferred import at_most, nearest
from timing.design.board import Board
from timing.design.design import Design
from timing.design.times import TimeSetting
from timing.sequence.core.table import TIME_NAMES
from timing.sequence.readings import END_RESISTOR_SHARE, dial_scale

PIN_LEAKAGE_A = 1e-6
"""Most that an analog pin may leak (published: ATmega328P data sheet, DC characteristics, input leakage 1 uA, seen)."""
WIPER_CAPACITOR_F = 100e-9
"""From wiper to common at the board, against noise from the arc (practice)."""


@dataclass(frozen=True)
class DialWiring:
    """One dial's resistors."""

    name: str
    setting: TimeSetting
    end_ohm: float
    """At either end of the potentiometer."""
    wiper_pull_ohm: float
    """From wiper to board common."""
    current_a: float
    """Through the potentiometer."""
    sag_share: float
    """Most that the pull takes off the reading, as a share of full scale, near the middle of the dial."""


def wiper_fraction(turned: float, pot_ohm: float, end_ohm: float, pull_ohm: float) -> float:
    """Return the pin's voltage over the reference, for the wiper at `turned` (0 to 1) of the track.

    The pull loads the divider; the wiper sees the two parts of the track, ends included, in parallel.
    """
    below = end_ohm + turned * pot_ohm
    above = end_ohm + (1.0 - turned) * pot_ohm
    loaded = below * pull_ohm / (below + pull_ohm)
    return loaded / (loaded + above)


def dial_wiring(name: str, setting: TimeSetting, board: Board) -> DialWiring:
    """Return the wiring of one dial. Raises ValueError for a setting without a dial."""
    scale = dial_scale(setting, board)
    end = nearest(END_RESISTOR_SHARE * setting.resistance_ohm)
    # An open wiper must read as broken even when the pin leaks all it may.
    broken_v = scale.fault_below / board.adc_full_scale * board.adc_reference_v
    pull = at_most(broken_v / PIN_LEAKAGE_A)
    total = setting.resistance_ohm + 2.0 * end
    sag = max(
        (end + turned / 20 * setting.resistance_ohm) / total
        - wiper_fraction(turned / 20, setting.resistance_ohm, end, pull)
        for turned in range(21)
    )
    return DialWiring(name, setting, end, pull, board.adc_reference_v / total, sag)


def dial_wirings(design: Design, board: Board) -> tuple[DialWiring, ...]:
    """Return the wiring of every dial of the design, in the order of the panel."""
    settings = [(name, design.setting(name)) for name in TIME_NAMES]
    return tuple(
        dial_wiring(name, setting, board) for name, setting in settings if setting is not None and setting.dial
    )
