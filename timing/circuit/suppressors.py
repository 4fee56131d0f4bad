"""What takes the spike of a coil: varistor, RC element, or a diode with or without a zener behind it."""

from __future__ import annotations

from timing.circuit.builder import CircuitBuilder
from timing.circuit.parts import PartKind, TerminalPlace
from timing.circuit.preferred import VARISTOR_RATINGS_V, nearest, rating_at_least, resistor_rating_w
from timing.circuit.ratings import (
    VARISTOR_DC_SHARE,
    ac_energy_j,
    dc_energy_j,
    diode_rating,
    disc_mm,
    highest_v,
    snubber_capacitor,
    snubber_peak_a,
    snubber_w,
    tvs_w,
    varistor_v,
)
from timing.design.feeder import Actuator
from timing.design.suppression import Suppression
from timing.design.units import format_quantity
from timing.formatting import energy_text


def across_dc(
    wiring: CircuitBuilder,
    kind: Suppression,
    nets: tuple[str, str],
    inner: str,
    *,
    volts: float,
    highest: float,
    amps: float,
    time_constant_s: float,
    place: TerminalPlace = "box",
) -> None:
    """Zener and diode, diode alone, or varistor across a dc coil; `nets` are its + and its -."""
    build, (plus, minus) = wiring.build, nets
    energy_j = dc_energy_j(volts, amps, time_constant_s)
    stored = f"the coil holds {energy_text(energy_j)}"
    if kind == "varistor":
        rated = rating_at_least(highest / VARISTOR_DC_SHARE, VARISTOR_RATINGS_V) or VARISTOR_RATINGS_V[-1]
        text = f"varistor, {rated:g} V RMS, {disc_mm(energy_j)} mm disc or larger"
        reason = f"takes the coil's spike and lets it go quickly; stands at {highest:.3g} V dc, {stored}"
        ref = wiring.add(PartKind.VARISTOR, f"{rated:g} VAC", text, ("1", "2"), place, reason)
        build.two(ref, plus, minus)
        return
    value = diode_rating(highest, amps)
    diode = wiring.add(
        PartKind.DIODE, value, f"diode, {value.replace('V ', 'V, ')}", ("A", "K"), place,
        f"takes the coil's {amps:.2g} A as it is switched off; blocks {highest:.3g} V",
    )  # fmt: skip
    if kind == "diode":
        build.two(diode, minus, plus)
        return
    middle = build.net(inner, "dc", max(amps, 0.1))
    watts = tvs_w(energy_j)
    clamp = f"{nearest(volts):g} V"
    text = f"suppressor diode, one way, {clamp}, {watts:g} W pulse" if watts else f"zener diode, {clamp}, 1.3 W"
    zener = wiring.add(PartKind.ZENER, clamp, text, ("A", "K"), place,
                      f"lets the coil's current die quickly, so that it lets go on time; {stored}")  # fmt: skip
    build.two(diode, minus, middle)
    build.join(middle, f"{zener}.K")
    build.join(plus, f"{zener}.A")


def across_ac(wiring: CircuitBuilder, actuator: Actuator, first: str, second: str) -> None:
    """Varistor across an ac load, at the load: one that fails shorted opens the fuse, it never pulls the load in."""
    design, coil = wiring.design, actuator.coil
    rated, energy_j = varistor_v(design, coil), ac_energy_j(coil, design.supply.line_frequency_hz)
    ref = wiring.add(
        PartKind.VARISTOR, f"{rated:g} VAC", f"varistor, {rated:g} V RMS, {disc_mm(energy_j)} mm disc or larger",
        ("1", "2"), "feeder",
        f"takes the load's spike; up to {highest_v(design, coil):.3g} V RMS with the line high; "
        f"the coil holds {energy_text(energy_j)}",
    )  # fmt: skip
    wiring.build.two(ref, first, second)


def rc_across(wiring: CircuitBuilder, actuator: Actuator, first: str, second: str, inner: str) -> None:
    """The RC element across a load, where the design has one."""
    farad = actuator.snubber_capacitor_f
    if farad is None:
        return
    build, design, ohm = wiring.build, wiring.design, actuator.snubber_resistor_ohm
    middle = build.net(inner, "load", 0.1)
    value, rated = format_quantity(farad, "F"), snubber_capacitor(design, actuator.coil)
    capacitor = wiring.add(
        PartKind.CAPACITOR, value, f"capacitor {value}, {rated}", ("1", "2"), "feeder",
        "slows the load's spike down; across the load, so that one that shorts cannot pull it in",
    )  # fmt: skip
    build.two(capacitor, first, middle)
    heat_w = snubber_w(design, actuator, farad)
    text = f"resistor {format_quantity(ohm, 'ohm')}, {resistor_rating_w(max(heat_w, 0.25)):g} W, 5 %, pulse-proof"
    resistor = wiring.add(
        PartKind.RESISTOR, format_quantity(ohm, "ohm"), text, ("1", "2"), "feeder",
        f"limits the contact's closing current to {snubber_peak_a(design, actuator):.2g} A; {heat_w:.2g} W of heat",
    )  # fmt: skip
    build.two(resistor, middle, second)
