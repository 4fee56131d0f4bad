"""What keeps a failed regulator from putting the reservoir's voltage on the board: a crowbar across the rail.

A regulator that fails shorted passes its input on to its output. A zener diode then fires a thyristor, which holds the
rail near zero until the fuse opens; at one volt it stays cool meanwhile, where a clamp at the rail's voltage would have
to bear the whole power of the winding.
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
