"""Currents into a short: of the winding through one diode, and behind the rectifier."""

from __future__ import annotations

import math

from timing.power.rectifier import Diode, RectifierCircuit

SHORTED_A = 10.0
"""Current for which a shorted diode's drop is taken: from 3 A to 30 A the logarithm differs by 0.1 V (choice)."""


def diode_v(diode: Diode, current_a: float) -> float:
    """Forward voltage of a rectifier diode at a current (A)."""
    return float(diode.emission_v * math.log1p(current_a / float(diode.saturation_a)) + current_a * diode.ohm)


def tied_a(circuit: RectifierCircuit) -> tuple[float, float]:
    """Return peak and RMS current (A) of a winding shorted through one of the bridge's diodes.

    It flows in every second half-wave, and not in the others.
    """
    diode = circuit.diode
    knee_v = diode_v(diode, SHORTED_A) - SHORTED_A * float(diode.ohm)
    peak_a, rms_a = _above_knee_a(float(circuit.emf_peak_v), float(circuit.source_ohm) + float(diode.ohm), knee_v)
    return peak_a, rms_a / math.sqrt(2.0)


def shorted_a(circuit: RectifierCircuit, behind_v: float = 0.0, behind_ohm: float = 0.0) -> float:
    """Return the RMS current (A) into a short behind the rectifier that keeps so many volts and ohms.

    The reservoir is empty then: what the coils on the winding leave flows in each half-wave, or in every second one
    behind a half-wave rectifier.
    """
    diode, count = circuit.diode, circuit.diodes_in_path
    knee_v = behind_v + count * (diode_v(diode, SHORTED_A) - SHORTED_A * float(diode.ohm))
    ohm = float(circuit.feed_ohm) + count * float(diode.ohm) + behind_ohm
    rms_a = _above_knee_a(float(circuit.emf_peak_v * circuit.divide), ohm, knee_v)[1]
    return rms_a if circuit.bridge else rms_a / math.sqrt(2.0)


def _above_knee_a(peak_v: float, ohm: float, knee_v: float) -> tuple[float, float]:
    """Return peak and RMS current of a sine of voltage behind a resistance, into a load that keeps `knee_v`.

    In each half-wave i = (E sin x - V) / R from arcsin(V / E) to pi less that.
    """
    if knee_v >= peak_v:
        return 0.0, 0.0
    starts = math.asin(knee_v / peak_v)
    lasts = math.pi - 2.0 * starts
    square = peak_v**2 * (lasts + math.sin(2.0 * starts)) / 2.0
    square += knee_v**2 * lasts - 4.0 * peak_v * knee_v * math.cos(starts)
    return (peak_v - knee_v) / ohm, math.sqrt(max(square, 0.0) / math.pi) / ohm
