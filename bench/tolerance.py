"""How far a board's edges may lie from the prediction, and why.

Everything is measured on the board's own clock, by which it also counts its times: the error of its oscillator
drops out here, and is looked at by comparing with the host's clock.
"""

from __future__ import annotations

from dataclasses import dataclass

LONGEST_PASS_US = 80
"""Longest pass of the firmware's loop with the serial link busy: what the firmware promises (measured: by the tests in
the simulator)."""
CLOCK_STEP_US = 4
"""The clock of the boards' core steps 4 us at 16 MHz; finer elsewhere (exact)."""
READING_US = 200
"""One analog channel is read in this time: a conversion of 104 us on an 8-bit board, 13 clocks at 125 kHz, and the
pass that fetches it (published: ATmega328P data sheet, ADC prescaler, seen quoted)."""
DIAL_FAULT_READINGS = 3
"""Bad readings of a dial, one after the other, that the firmware takes for a broken wire (choice)."""
HOST_LATENCY_S = 0.05
"""How long an answer may lie in drivers and hubs before the host sees it: 16 ms, doubled and more (practice)."""
SHORTEST_HOST_SPAN_S = 5.0
"""A shorter run says too little of the board's clock (choice)."""


@dataclass(frozen=True)
class Tolerance:
    """An edge may come this much before and after its prediction."""

    early_us: int
    late_us: int

    def allows(self, error_us: int) -> bool:
        """Tell whether an error (positive: late) is within."""
        return -self.early_us <= error_us <= self.late_us

    def later(self, window_us: int) -> Tolerance:
        """Return the tolerance where a change of an input may have taken effect that much later."""
        return Tolerance(self.early_us, self.late_us + window_us)


EDGE_TOLERANCE = Tolerance(
    # A contact that opens was last seen closed up to one pass before.
    early_us=LONGEST_PASS_US + CLOCK_STEP_US,
    # One pass until a forced contact is read, one in which its filter ends, one in which the phase's time ends.
    # Passes do not add up beyond that: a phase counts from the instant that its forerunner was due.
    late_us=3 * LONGEST_PASS_US + 2 * CLOCK_STEP_US,
)
"""How far an edge may be from the prediction (derived)."""


def reading_window_us(channels: int, readings: int = 1) -> int:
    """Return how late the firmware may notice a change of a reading, with that many channels read in turn."""
    return channels * READING_US * readings


def clock_tolerance(clock_tolerance_ppm: int, host_span_s: float) -> float:
    """Return how far board time over host time may lie from 1, for a run of `host_span_s`."""
    return clock_tolerance_ppm / 1e6 + 2 * HOST_LATENCY_S / host_span_s
