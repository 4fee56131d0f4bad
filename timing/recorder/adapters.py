"""Adapters: what stands between a circuit of the machine and an input of the recorder, and how late it is.

Each is a source of light: a coupler's LED behind resistors, across a coil, the motor, the welding output, or in a loop
with a battery of its own and a bare contact. Nothing but light goes over to the laptop's side. Every value is the
smallest resistor that keeps the LED within its rating at the highest voltage with all tolerances against it, so that
the pin falls as early after a zero as it can; what that leaves at the lowest voltage is computed, and checked.

Of a sine the peak is the square root of 2 times its RMS; it stays below a threshold v round each of its zeros for
2 asin(v / peak) / (2 pi f) (both exact).
"""

from __future__ import annotations

import math
from dataclasses import dataclass
from enum import Enum

from timing.circuit.preferred import E12, at_least, at_most, nearest, resistor_rating_w
from timing.circuit.senses import RESISTOR_TOLERANCE
from timing.circuit.trigger_input import LED_DARK_V, LED_LIT_V, LED_MAX_A, gap_us
from timing.power.crowbar import ZENER_TOLERANCE
from timing.protocol.recorder import LONGEST_BRIDGE_US, RecorderInput
from timing.recorder.couplers import LOOK, AdapterLag, PinCoupler

WELDING_HIGHEST_V = 113.0
"""Highest peak of a welding power source's no-load voltage, dc, where hands may come near it (published: IEC 60974-1,
rated no-load voltage, seen quoted)."""
IN_SERIES_WELDING = 2
"""Resistors in series across the welding output: one that fails shorted leaves the other (choice)."""
JUNCTION_V = (0.5, 0.9)
"""Least and most that a silicon diode of a small bridge drops at the currents here (practice)."""
BRIDGE_DIODES = 2
"""That the current passes in a bridge (exact)."""
ZENER_SHARE = 0.35
"""Share of the 24 VAC's nominal peak at which the supply sense's zener stands: with LED and bridge above it, the pin
falls at about half of the peak, where a dip lengthens the dark time most for what it costs in room at low line
(choice)."""
BATTERY_V = (6.0, 9.6)
"""A battery of 9 V at its end, 1 V a cell, and new (practice)."""
CONTACT_ROOM = 1.1
"""LED current in a battery's loop over what is needed, at its end (choice)."""
BRIDGE_ROOM = 1.5
"""Length of the bridge over the longest dark time (choice)."""
RESISTOR_RATINGS_V = {0.25: 250.0, 0.5: 350.0, 1.0: 350.0, 2.0: 500.0, 3.0: 500.0, 5.0: 500.0, 10.0: 500.0}
"""Highest working voltage of resistors by their watts, the least of what is usual (practice)."""
MODULE_ON_V, MODULE_OFF_V = 15.0, 5.0
"""What an input module for 24 V sees surely as on and as off (published: IEC 61131-2, type 1, seen quoted)."""
MODULE_LAG_US = (0.0, 500.0)
"""How late an input module follows, either way; the parts list asks for no more (choice)."""
MODULE_ROOM_V = 1.05
"""What an input module must stand over the highest peak (choice)."""
REED_ON_US, REED_OFF_US = (100.0, 600.0), (10.0, 400.0)
"""How late a small reed switch closes, its bounce included, and opens: 0.3 ms and 0.07 ms under a test coil, with room
for a current that rises and falls slower (published: data sheet of a small dry reed switch, seen quoted)."""
REFLEX_US = (5.0, 200.0)
"""How late a reflex sensor with its transistor follows, either edge: 15 us into 1 kohm, more into the transistor's base
(published: data sheet of a reflex sensor, seen quoted)."""


class AdapterKind(Enum):
    """What an adapter is made for; the value names it for people."""

    AC_COIL = "coil on ac"
    DC_COIL = "coil on dc"
    MOTOR = "dc motor"
    WELDING = "welding voltage"
    CONTACT = "bare contact"
    CURRENT = "current switch"
    REFLEX = "reflex sensor"
    SUPPLY = "24 VAC"

    @property
    def from_battery(self) -> bool:
        """True where the LED is fed by a battery of its own and the machine gives a contact, or light, only."""
        return self in (AdapterKind.CONTACT, AdapterKind.CURRENT, AdapterKind.REFLEX)


@dataclass(frozen=True)
class SeenCircuit:
    """What an adapter lies across. RMS for ac."""

    low_v: float
    """Lowest at which it must be seen."""
    nominal_v: float
    high_v: float
    frequency_hz: float = 0.0
    """0: dc."""
    pulses_hz: float = 0.0
    """Of a dc circuit that comes in pulses, at the slowest; 0: smooth."""

    @property
    def peak(self) -> float:
        """Peak over RMS: the square root of 2 for a sine (exact)."""
        return math.sqrt(2.0) if self.frequency_hz else 1.0


@dataclass(frozen=True)
class Adapter:
    """One input's adapter."""

    input: RecorderInput
    kind: AdapterKind
    circuit: SeenCircuit
    across: str
    """Where its two leads go, for people."""
    coupler: PinCoupler
    by_module: bool
    """True where a channel of a ready-made input module does it."""
    series_ohm: tuple[float, ...]
    """Resistors in series with the LED; none in a module."""
    heat_w: float
    """In each of them at the highest voltage."""
    rating_w: float
    zener_v: float
    """In series with the LED; 0: none."""
    low_a: float
    """LED current at the lowest voltage, at its peak, with every tolerance against it; 0 in a module."""
    high_a: float
    """The same at the highest."""
    on_v: float
    """Surely seen from this voltage on; with ac the peak."""
    off_v: float
    """Surely not seen up to this voltage; with ac the peak."""
    dark_us: float
    """Longest time round each zero without a signal, at the lowest voltage, or between pulses; 0 on smooth dc."""
    steady_lag: AdapterLag
    """On steady dc, as at the bench."""

    @property
    def lag(self) -> AdapterLag:
        """At the machine, with the longest dark time that is to be expected there."""
        return self.lag_with(self.dark_us)

    def lag_with(self, dark_us: float) -> AdapterLag:
        """Return the lag with a dark time as it was seen: on comes later by up to that; off may have been dark already.

        The recorder's longest bridged opening, while the circuit stood on, is such a time.
        """
        steady = self.steady_lag
        return AdapterLag((steady.on_us[0], steady.on_us[1] + dark_us), (steady.off_us[0] - dark_us, steady.off_us[1]))

    @property
    def bridge_us(self) -> int:
        """The opening that the recorder is to bridge, so that one operation is one pair of records; 0: none."""
        if not self.dark_us:
            return 0
        return min(math.ceil(BRIDGE_ROOM * self.dark_us / 100.0) * 100, LONGEST_BRIDGE_US)

    @property
    def resistor_v(self) -> float:
        """Highest voltage across each series resistor (peak)."""
        return self.circuit.high_v * self.circuit.peak / max(len(self.series_ohm), 1)

    @property
    def sees_low(self) -> bool:
        """True where the lowest voltage is surely seen."""
        return self.circuit.low_v * self.circuit.peak >= self.on_v

    @property
    def within_ratings(self) -> bool:
        """True where neither LED nor resistor is asked for more than its rating."""
        return self.high_a <= LED_MAX_A and (
            not self.series_ohm or self.resistor_v <= RESISTOR_RATINGS_V[self.rating_w]
        )


@dataclass(frozen=True)
class _Drops:
    """What is lost before the resistor: LED, bridge, zener, least and most."""

    least_v: float
    most_v: float

    @classmethod
    def of(cls, kind: AdapterKind, zener_v: float) -> _Drops:
        diodes = BRIDGE_DIODES if kind is AdapterKind.SUPPLY else 0
        return cls(
            LED_DARK_V + diodes * JUNCTION_V[0] + zener_v * (1.0 - ZENER_TOLERANCE),
            LED_LIT_V + diodes * JUNCTION_V[1] + zener_v * (1.0 + ZENER_TOLERANCE),
        )


def across_circuit(
    seen_at: RecorderInput, kind: AdapterKind, circuit: SeenCircuit, across: str, coupler: PinCoupler
) -> Adapter:
    """Return the adapter across a voltage of the machine: resistor, where needed bridge and zener, and the LED."""
    zener_v = nearest(ZENER_SHARE * circuit.nominal_v * circuit.peak) if kind is AdapterKind.SUPPLY else 0.0
    drops, count = _Drops.of(kind, zener_v), IN_SERIES_WELDING if kind is AdapterKind.WELDING else 1
    high = circuit.high_v * circuit.peak
    each_ohm = at_least((high - drops.least_v) / (LED_MAX_A * (1.0 - RESISTOR_TOLERANCE)) / count, E12)
    return _with_resistors(seen_at, kind, circuit, across, coupler, (each_ohm,) * count, zener_v)


def from_battery(
    seen_at: RecorderInput, kind: AdapterKind, across: str, coupler: PinCoupler, switch: AdapterLag
) -> Adapter:
    """Return the adapter of a bare contact or a sensor: a battery of its own, resistor and LED in one loop.

    switch: how late the contact or sensor itself is. The resistor is the largest that leaves enough at the battery's
    end, so that it lasts.
    """
    low_v, high_v = BATTERY_V
    circuit = SeenCircuit(low_v, 9.0, high_v)
    ohm = at_most((low_v - LED_LIT_V) / (CONTACT_ROOM * coupler.lit_a * (1.0 + RESISTOR_TOLERANCE)), E12)
    return _with_resistors(seen_at, kind, circuit, across, coupler, (ohm,), 0.0, switch)


def _with_resistors(
    seen_at: RecorderInput, kind: AdapterKind, circuit: SeenCircuit, across: str, coupler: PinCoupler,
    series_ohm: tuple[float, ...], zener_v: float, switch: AdapterLag | None = None,
) -> Adapter:  # fmt: skip
    drops, ohm = _Drops.of(kind, zener_v), sum(series_ohm)
    least_ohm, most_ohm = ohm * (1.0 - RESISTOR_TOLERANCE), ohm * (1.0 + RESISTOR_TOLERANCE)
    low, high = circuit.low_v * circuit.peak, circuit.high_v * circuit.peak
    # RMS of the whole voltage, as if nothing else dropped any of it: what the resistor turns into heat at most.
    heat_w = circuit.high_v**2 / least_ohm / len(series_ohm)
    on_v = drops.most_v + most_ohm * coupler.lit_a
    return Adapter(
        input=seen_at,
        kind=kind,
        circuit=circuit,
        across=across,
        coupler=coupler,
        by_module=False,
        series_ohm=series_ohm,
        heat_w=heat_w,
        rating_w=resistor_rating_w(heat_w),
        zener_v=zener_v,
        low_a=max(low - drops.most_v, 0.0) / most_ohm,
        high_a=max(high - drops.least_v, 0.0) / least_ohm,
        on_v=on_v,
        off_v=drops.least_v + least_ohm * coupler.dark_a,
        dark_us=_dark_us(circuit, on_v),
        steady_lag=coupler.lag if switch is None else switch.and_then(coupler.lag),
    )


def by_module(
    seen_at: RecorderInput, kind: AdapterKind, circuit: SeenCircuit, across: str, coupler: PinCoupler
) -> Adapter:
    """Return the adapter that is a channel of an input module for 24 V dc; before an ac coil's stands a bridge."""
    bridge_v = BRIDGE_DIODES * JUNCTION_V[1] if kind is AdapterKind.AC_COIL else 0.0
    lag = AdapterLag(MODULE_LAG_US, MODULE_LAG_US).and_then(LOOK)
    on_v = MODULE_ON_V + bridge_v
    dark_us = _dark_us(circuit, on_v)
    return Adapter(
        seen_at, kind, circuit, across, coupler, True, (), 0.0, 0.0, 0.0, 0.0, 0.0, on_v, MODULE_OFF_V, dark_us, lag
    )


def _dark_us(circuit: SeenCircuit, on_v: float) -> float:
    """Longest time without a signal at the lowest voltage."""
    if circuit.frequency_hz:
        return gap_us(circuit.low_v * circuit.peak, on_v, circuit.frequency_hz, ac_input=True)
    return 1e6 / circuit.pulses_hz if circuit.pulses_hz else 0.0


def supply_share(rest_us: float, dip_us: float, line_hz: float) -> float:
    """Return the 24 VAC in a dip over that at rest, from the dark times of its input (us).

    The threshold v is the same, and a dark time is 2 asin(v / peak) / (2 pi f): so the peaks are as the sines of half
    of them, turned round (exact). Raises ValueError unless both are within half a cycle.
    """
    half_cycle_us = 5e5 / line_hz
    if not 0.0 < rest_us < half_cycle_us or not 0.0 < dip_us < half_cycle_us:
        raise ValueError(f"dark times of {rest_us:g} us and {dip_us:g} us; between 0 and {half_cycle_us:.0f} us")
    return math.sin(math.pi * line_hz * rest_us / 1e6) / math.sin(math.pi * line_hz * dip_us / 1e6)
