"""RC snubbers across a contact or triac: their size, and whether their leakage can hold a coil in."""

from __future__ import annotations

import math

from timing.circuit.preferred import E6, at_least

LEAST_F = 1e-9
"""Smallest capacitor worth fitting (choice)."""
OHM_PER_V = 0.5
"""Lower bound of a second rule, 0.5 to 1 ohm for each volt across the open contact (practice)."""


def capacitor_f(load_a: float) -> float:
    """Capacitor by the rule of C. C. Bates: C in uF = I^2 / 10, I in A (published)."""
    return load_a**2 / 10.0 * 1e-6


def resistor_ohm(voltage_v: float, load_a: float) -> float:
    """Resistor by the same rule: R = V / (10 I (1 + 50 / V)) (published)."""
    return voltage_v / (10.0 * load_a * (1.0 + 50.0 / voltage_v))


def proposed(voltage_v: float, load_a: float) -> tuple[float, float]:
    """Return (F, ohm) from the preferred values, the resistor not below half an ohm a volt."""
    return (
        at_least(max(capacitor_f(load_a), LEAST_F), E6),
        at_least(max(resistor_ohm(voltage_v, load_a), OHM_PER_V * voltage_v)),
    )


def leakage_a(
    voltage_v: float, frequency_hz: float, snubber_f: float, snubber_ohm: float, coil_ohm: float = 0.0
) -> float:
    """RMS current through an open switch with a snubber across it.

    `coil_ohm` is the impedance of the coil in series, taken as a pure inductance: it cancels part of the
    capacitor's reactance, so this is the largest leakage that such a coil can see.
    """
    reactance = 1.0 / (2.0 * math.pi * frequency_hz * snubber_f)
    return voltage_v / math.hypot(snubber_ohm, reactance - min(coil_ohm, 0.9 * reactance))
