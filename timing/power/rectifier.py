"""The circuit that everything in this package computes: winding, ac loads, rectifier, reservoir, dc load.

The winding is a sinusoidal source behind a resistance. The ac loads hang on its terminals as a conductance and, since
coils lag, a susceptance: their current is taken as a sine, which that of a coil is, the pulses of the rectifier being
far too quick for it. The rectifier's diodes follow the exponential law with a series resistance, to which a resistor
in its feed may be added. The dc load is a constant current, a conductance and a constant power in parallel, which
covers linear regulators, dividers and switching regulators.

Every number may be a float or an array; arrays of one shape are that many circuits at once.
"""

from __future__ import annotations

from dataclasses import dataclass
from typing import TYPE_CHECKING, Any

import numpy as np

if TYPE_CHECKING:
    from numpy.typing import NDArray

    Array = NDArray[np.floating[Any]]
    Values = float | Array
else:
    # Types alone; `wirecue check` shall not wait for what they are made of.
    Array = Values = Any

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
    """Conductance of the ac loads across the winding, in siemens: their current in phase with the voltage."""
    ac_lag_s: Values = 0.0
    """Susceptance of the same, in siemens: their current a quarter of a cycle behind the voltage."""
    series_ohm: Values = 0.0
    """Resistor in the feed of the rectifier, behind the ac loads."""
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
        return 1.0 / np.hypot(1.0 + self.source_ohm * self.ac_load_s, self.source_ohm * self.ac_lag_s)

    @property
    def lead_rad(self) -> Values:
        """Angle by which that voltage leads the open-circuit voltage, behind loads that lag."""
        return np.arctan2(self.source_ohm * self.ac_lag_s, 1.0 + self.source_ohm * self.ac_load_s)

    @property
    def pulse_share(self) -> Values:
        """Share of a quick change in the rectifier's current that the winding has to carry; the ac loads spare it the
        rest. Coils, which lag, do not follow."""
        return 1.0 / (1.0 + self.source_ohm * self.ac_load_s)

    @property
    def feed_ohm(self) -> Values:
        """Resistance of winding, ac loads and the resistor in the feed, as the rectifier sees them."""
        return self.source_ohm * self.pulse_share + self.series_ohm

    def load_current_a(self, reservoir_v: Values) -> Values:
        """Current of the dc load at a reservoir voltage (above zero)."""
        return self.load_a + self.load_s * reservoir_v + self.load_w / reservoir_v


@dataclass(frozen=True)
class SteadyState:
    """What repeats from cycle to cycle; floats, or arrays shaped like the circuit's."""

    settled: Values
    """1 where a periodic state was found; 0 where the load pulls the reservoir down or the diodes never stop."""
    on_rad: Values
    start_v: Values
    """Capacitor voltage, behind its series resistance, at `on_rad`: where a simulation starts settled."""
    dc_mean_v: Values
    dc_min_v: Values
    dc_max_v: Values
    ripple_v: Values
    """Peak to peak."""
    load_mean_a: Values
    capacitor_rms_a: Values
    rectifier_rms_a: Values
    """RMS of the current into the rectifier."""
    rectifier_peak_a: Values
    diode_mean_a: Values
    winding_rms_a: Values
    """RMS current of the winding, ac loads included."""
    winding_peak_a: Values
    winding_rms_v: Values
    """RMS voltage at the winding's terminals."""
    rectifier_va: Values
    rectifier_w: Values
    rectifier_power_factor: Values
    total_va: Values
