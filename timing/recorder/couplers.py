"""An input's optocoupler at the recorder's pin: what its LED needs, and how late its pin follows.

The transistor pulls the pin down against a resistor; its worst is an aged coupler in a warm box, its best a new one of
the highest ratio. How late it lets go hangs on that resistor: the charge that the light left in it drains through it.
"""

from __future__ import annotations

from dataclasses import dataclass

from timing.circuit.senses import HIGH_SHARE, INTERNAL_PULL_UP_OHM, LOW_SHARE, RESISTOR_TOLERANCE
from timing.circuit.trigger_input import CTR_LEFT_AT_END, CTR_LEFT_WARM, led_needed_a
from timing.design.board import Board
from timing.protocol.recorder import SAMPLE_US

CTR_LEAST, CTR_MOST = 1.0, 6.0
"""Current transfer ratio at 5 mA that the recorder's parts list asks for, and the most of any coupler (choice)."""
FAST_PULL_UP_OHM = 4.7e3
"""From the logic supply to the pin of an input whose LED may have plenty of current: lets go early (choice)."""
WEAK_PULL_UP_OHM = 10e3
"""The same where the LED must do with little (choice)."""
STORED_US, STORED_AT_OHM = 40.0, 1.9e3
"""Turn-off time of a coupler that was driven hard, storage time included, and the load resistor of that test, at 16 mA
and 5 V; taken in proportion to other resistors (published: data sheet of a coupler with ac input, switching times,
typical, seen quoted)."""
STORED_SPREAD = (0.25, 3.0)
"""Least and most of that time over its typical one, from coupler to coupler and with the LED's current (practice)."""
LIGHT_UP_US = 30.0
"""Longest until a coupler that gets just enough pulls its pin down; a typical one takes 2 us (choice)."""


@dataclass(frozen=True)
class AdapterLag:
    """How much later than the event a record is stamped (us, least and most). Below zero: it may be stamped early."""

    on_us: tuple[float, float]
    off_us: tuple[float, float]

    def and_then(self, other: AdapterLag) -> AdapterLag:
        """The lag of two things that follow on one another."""
        return AdapterLag(
            (self.on_us[0] + other.on_us[0], self.on_us[1] + other.on_us[1]),
            (self.off_us[0] + other.off_us[0], self.off_us[1] + other.off_us[1]),
        )


@dataclass(frozen=True)
class PinCoupler:
    """A coupler on a pin of the recorder."""

    pull_up_ohm: float
    lit_a: float
    """LED current from which the worst coupler surely pulls the pin to low."""
    dark_a: float
    """LED current up to which the best coupler surely leaves the pin high."""
    lag: AdapterLag
    """From the LED to the stamp."""


LOOK = AdapterLag((0.0, float(SAMPLE_US)), (0.0, float(SAMPLE_US)))
"""The recorder looks at its lines this often (derived)."""


def pin_coupler(board: Board, pull_up_ohm: float) -> PinCoupler:
    """Return the coupler of an input on a board, with the pin's own pull-up working against it."""
    low_a = board.logic_v * (1.0 - LOW_SHARE) * (
        1.0 / (pull_up_ohm * (1.0 - RESISTOR_TOLERANCE)) + 1.0 / INTERNAL_PULL_UP_OHM
    )  # fmt: skip
    high_a = board.logic_v * (1.0 - HIGH_SHARE) / (pull_up_ohm * (1.0 + RESISTOR_TOLERANCE))
    stored_us = STORED_US * pull_up_ohm / STORED_AT_OHM
    lights = AdapterLag(
        (0.0, LIGHT_UP_US), (STORED_SPREAD[0] * stored_us, STORED_SPREAD[1] * stored_us * (1.0 + RESISTOR_TOLERANCE))
    )
    return PinCoupler(
        pull_up_ohm=pull_up_ohm,
        lit_a=led_needed_a(low_a, CTR_LEAST * CTR_LEFT_AT_END * CTR_LEFT_WARM),
        dark_a=led_needed_a(high_a, CTR_MOST),
        lag=lights.and_then(LOOK),
    )
