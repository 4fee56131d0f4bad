"""What COMMON is against chassis: joined to the winding through the rectifier, it is not isolated from it.

Behind a bridge COMMON is the anode of two diodes, whose cathodes are the ends of the winding. Where one end is tied to
chassis, COMMON lies a diode's drop above chassis in one half-wave and the reservoir's voltage below it in the other.
Tied to chassis itself it shorts the winding in every second half-wave, through one diode. Behind a half-wave rectifier
COMMON is one end of the winding.
"""

from __future__ import annotations

import math
from collections.abc import Iterator
from dataclasses import dataclass, replace

from timing.checks.supply_finding import Figure, Finding, Remedy
from timing.power.budget import Budget
from timing.power.rectifier import Diode, RectifierCircuit
from timing.power.steady import solve

SHORTED_A = 10.0
"""Current for which a shorted diode's drop is taken: from 3 A to 30 A the logarithm differs by 0.1 V (choice)."""


@dataclass(frozen=True)
class CommonPotential:
    """COMMON against chassis with one side of the 24 VAC tied to it, and what flows if COMMON is tied as well."""

    lowest_v: float
    highest_v: float
    tied_peak_a: float
    tied_rms_a: float

    @property
    def swing(self) -> str:
        """The range in words."""
        return f"{self.lowest_v:.0f} V to {self.highest_v:+.1f} V"

    @property
    def short(self) -> str:
        """The current of the short in words."""
        return f"{self.tied_peak_a:.0f} A peak, {self.tied_rms_a:.0f} A RMS"


def common_potential(found: Budget) -> CommonPotential:
    """Return the worst of it at high line, with whichever side of the winding is the tied one."""
    idle = found.corner("high-bare").circuit
    emf_v, source_ohm = float(idle.emf_peak_v), float(idle.source_ohm)
    if not idle.bridge:
        # The tied side is the other one: COMMON has all of the winding's voltage, and tied it is a dead short.
        return CommonPotential(-emf_v, emf_v, emf_v / source_ohm, emf_v / source_ohm / math.sqrt(2.0))
    # The charging pulses are highest with all of the add-on on; the coils' current does not pass the diodes.
    charging = solve(replace(found.corner("high-on").circuit, ac_load_s=0.0))
    drop_v = diode_v(idle.diode, float(charging.winding_peak_a) if charging.settled else SHORTED_A)
    return CommonPotential(-(found.highest_v + drop_v), drop_v, *shorted_a(idle))


def diode_v(diode: Diode, current_a: float) -> float:
    """Forward voltage of a rectifier diode at a current (A)."""
    return float(diode.emission_v * math.log1p(current_a / float(diode.saturation_a)) + current_a * diode.ohm)


def shorted_a(circuit: RectifierCircuit) -> tuple[float, float]:
    """Return peak and RMS current (A) of a winding shorted through one of the bridge's diodes.

    In every second half-wave i = (E sin x - V) / R from arcsin(V / E) to pi less that, and nothing in the others.
    """
    diode, emf_v = circuit.diode, float(circuit.emf_peak_v)
    ohm = float(circuit.source_ohm) + float(diode.ohm)
    knee_v = diode_v(diode, SHORTED_A) - SHORTED_A * float(diode.ohm)
    starts = math.asin(min(knee_v / emf_v, 1.0))
    lasts = math.pi - 2.0 * starts
    square = (
        emf_v**2 * (lasts + math.sin(2.0 * starts)) / 2.0 - 4.0 * emf_v * knee_v * math.cos(starts) + knee_v**2 * lasts
    )
    return (emf_v - knee_v) / ohm, math.sqrt(max(square, 0.0) / (2.0 * math.pi)) / ohm


def common_to_chassis(found: Budget) -> Iterator[Finding]:
    """The rectifier does not isolate: say what COMMON is against chassis, and what a tie would do."""
    at, supply = common_potential(found), found.supply
    swings, how = ("swings", "through one diode") if supply.rectifier == "bridge" else ("can swing", "outright")
    what = "A bridge rectifier does not isolate." if supply.rectifier == "bridge" else "COMMON is one of its sides."
    figures = (
        Figure("lowest of COMMON against chassis", at.lowest_v, "V"),
        Figure("highest of COMMON against chassis", at.highest_v, "V"),
        Figure("peak current if tied", at.tied_peak_a, "A"),
        Figure("RMS current if tied", at.tied_rms_a, "A"),
    )
    if supply.grounded == "no":
        yield Finding(
            "supply.common-to-chassis",
            "info",
            "supply.grounded",
            "The 24 VAC was measured to float; COMMON is joined to it through the rectifier and floats with it.",
            f"{what} With one side of the 24 VAC grounded later, by a fault or by a cable, COMMON would swing "
            f"{at.swing} against chassis: keep USB, oscilloscope grounds and chassis off it in any case.",
            figures,
        )
        return
    starts = (
        "One side of the 24 VAC is tied to chassis:"
        if supply.grounded == "yes"
        else "Whether the 24 VAC is tied to chassis was not measured, so it counts as tied:"
    )
    measure = Remedy(
        "Measure it cold: ohmmeter from each side of the secondary to chassis, above 1 Mohm it floats; then "
        'supply.grounded = "no".'
    )
    yield Finding(
        "supply.common-to-chassis",
        "warning",
        "supply.grounded",
        f"{starts} COMMON {swings} {at.swing} against chassis.",
        f"{what} Whatever ties COMMON to chassis, such as a USB cable to a grounded computer or the clip of an "
        f"oscilloscope, shorts the winding {how}: {at.short}.",
        figures,
        (
            *((measure,) if supply.grounded == "unknown" else ()),
            Remedy(
                "Never connect USB, an oscilloscope's ground or chassis to the add-on while its feeder plug is in; "
                "where the port must be used there, through a USB isolator."
            ),
            Remedy(
                "Feed the add-on from a small isolating transformer of its own, 24 V to 24 V, behind the fuse, and "
                'describe that winding in [supply] with grounded = "no"; or from an isolated dc-dc module in place of '
                "the regulator, without [supply.sense], which would join both sides again."
            ),
        ),
    )
