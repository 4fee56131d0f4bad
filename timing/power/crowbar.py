"""What keeps a failed regulator from putting the reservoir's voltage on the board: a crowbar or a clamp on the rail.

A regulator that fails shorted passes its input on to its output. On a soldered board a zener diode then fires a
thyristor, which holds the rail near zero until the fuse opens; at one volt it stays cool meanwhile. Among modules a
suppressor diode clamps the rail: one part with two legs. It bears the whole power of the winding at the rail's voltage,
for which it is far too small; but it fails shorted, and the fuse opens either way.
"""

from __future__ import annotations

from dataclasses import dataclass

from timing.circuit.preferred import E24, at_least
from timing.power.rectifier import RectifierCircuit
from timing.power.shorts import shorted_a

ZENER_TOLERANCE = 0.05
"""Of zener diodes (practice)."""
THYRISTOR_GATE_V = (0.5, 0.9)
"""Gate voltage at which a sensitive thyristor fires, warm to cold (practice)."""
RAIL_ROOM = 1.05
"""The rail at its highest over its name: tolerance and ripple of the regulator (practice)."""
CROWBAR_GATE_OHM = 100.0
"""From gate to cathode: what the zener leaks below its voltage does not fire the thyristor (choice)."""
CROWBAR_CAPACITOR_F = 100e-9
"""From gate to cathode, against spikes (choice)."""
FIRED_V = 1.3
"""Across the thyristor once fired (practice)."""
SHORTED_REGULATOR_OHM = 0.3
"""What a shorted regulator leaves of itself: coil, wires, the failed switch (practice)."""
CLAMP_W, CLAMP_PULSE_S = 1500.0, 1e-3
"""Pulse rating of the suppressor diode, which the parts list asks for, and how long that pulse is (practice)."""
CLAMP_RISE = 1.15
"""Voltage of such a diode at some amperes over its breakdown (practice)."""
THYRISTOR_A = 8.0
"""Rating of the thyristor; the parts list asks for it (choice)."""


@dataclass(frozen=True)
class Crowbar:
    """The crowbar of a rail."""

    zener_v: float
    fires_from_v: float
    fires_by_v: float
    """Between these two it fires."""
    fault_a: float
    """Into the rectifier with the regulator shorted and the crowbar fired, at its least; RMS."""


@dataclass(frozen=True)
class Clamp:
    """The suppressor diode of a rail."""

    breakdown_v: float
    clamps_from_v: float
    clamps_by_v: float
    """With the regulator shorted it holds the rail between these two."""
    fault_a: float
    """Into the rectifier meanwhile, at its least; RMS. More flows once the diode has failed shorted."""
    heat_w: float
    """What the diode turns into heat meanwhile, at most."""

    @property
    def fails_in_s(self) -> float:
        """About how long the diode bears that before it fails shorted.

        What such a diode bears falls with the root of how long it lasts (practice).
        """
        return CLAMP_PULSE_S * (CLAMP_W / self.heat_w) ** 2


def clamp(rail_v: float, low: RectifierCircuit, high: RectifierCircuit) -> Clamp:
    """Return the clamp for a rail; `low` and `high` are the supply at low and at high line.

    No gate takes part of the voltage here: the diode alone must leave the rail's own highest voltage alone.
    """
    breakdown_v = at_least(RAIL_ROOM * rail_v / (1.0 - ZENER_TOLERANCE), E24)
    by_v = CLAMP_RISE * (1.0 + ZENER_TOLERANCE) * breakdown_v
    return Clamp(
        breakdown_v,
        (1.0 - ZENER_TOLERANCE) * breakdown_v,
        by_v,
        shorted_a(low, by_v, SHORTED_REGULATOR_OHM),
        # The mean current is below the RMS one: this is on the safe side.
        by_v * shorted_a(high, by_v, SHORTED_REGULATOR_OHM),
    )


def crowbar(rail_v: float, circuit: RectifierCircuit) -> Crowbar:
    """Return the crowbar for a rail; `circuit` is the supply at low line.

    The zener is the smallest of its series that leaves the rail's own highest voltage alone.
    """
    zener_v = at_least((RAIL_ROOM * rail_v - THYRISTOR_GATE_V[0]) / (1.0 - ZENER_TOLERANCE), E24)
    fault_a = shorted_a(circuit, FIRED_V, SHORTED_REGULATOR_OHM)
    return Crowbar(
        zener_v,
        (1.0 - ZENER_TOLERANCE) * zener_v + THYRISTOR_GATE_V[0],
        (1.0 + ZENER_TOLERANCE) * zener_v + THYRISTOR_GATE_V[1],
        fault_a,
    )
