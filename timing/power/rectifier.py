"""The circuit that everything in this package computes: winding, rectifier, reservoir, load.

The winding is a sinusoidal source behind a resistance. The ac loads hang on its terminals as a conductance, in
phase with the voltage: coils lag in truth and pull the voltage down less, so this is the unkind assumption. The
rectifier's diodes follow the exponential law with a series resistance. The dc load is a constant current, a
conductance and a constant power in parallel, which covers linear regulators, dividers and switching regulators.

Every number may be a float or an array; arrays of one shape are that many circuits at once.
"""

from __future__ import annotations

from dataclasses import dataclass
from typing import Any

import numpy as np
from numpy.typing import NDArray

Array = NDArray[np.floating[Any]]
Values = float | Array

THERMAL_V = 0.02585
"""kT/q at 300 K (exact: rounded)."""


@dataclass(frozen=True)
class Diode:
    """One rectifier diode: v = emission_v ln(1 + i / saturation_a) + i ohm.

    The defaults give 0.75 V at 0.1 A and 0.93 V at 1 A: within 35 mV of the model card of a 1 A silicon diode that open
    simulators carry (seen; a test compares).
    """

    saturation_a: Values = 5e-9
    emission_v: Values = 1.7 * THERMAL_V
    ohm: Values = 0.05


@dataclass(frozen=True)
class RectifierCircuit:
    """Winding, ac loads, rectifier, reservoir capacitor and dc load."""

    emf_peak_v: Values
    """Peak of the winding's open-circuit voltage."""
    source_ohm: Values
    """Resistance of the winding and its leads, primary side included."""
    frequency_hz: Values
    bridge: bool
    """True for a bridge, two diodes in the path; False for half-wave, one diode."""
    capacitance_f: Values
    esr_ohm: Values
    """Series resistance of the capacitor."""
    ac_load_s: Values = 0.0
    """Conductance of the ac loads across the winding, in siemens."""
    load_a: Values = 0.0
    """Constant-current part of the dc load."""
    load_s: Values = 0.0
    """Conductance in the dc load, in siemens."""
    load_w: Values = 0.0
    """Constant-power part of the dc load."""
    diode: Diode = Diode()

    @property
    def omega(self) -> Values:
        """Angular frequency in rad/s."""
        return 2.0 * np.pi * self.frequency_hz

    @property
    def diodes_in_path(self) -> int:
        """Diodes that the charging current flows through."""
        return 2 if self.bridge else 1

    @property
    def pulses(self) -> int:
        """Charging pulses in a cycle of the line."""
        return 2 if self.bridge else 1

    @property
    def divide(self) -> Values:
        """Share of the open-circuit voltage that the ac loads leave at the terminals (Thevenin)."""
        return 1.0 / (1.0 + self.source_ohm * self.ac_load_s)

    def load_current_a(self, reservoir_v: Values) -> Values:
        """Current of the dc load at a reservoir voltage (above zero)."""
        return self.load_a + self.load_s * reservoir_v + self.load_w / reservoir_v
