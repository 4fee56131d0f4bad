"""The add-on's own supply as parts and nets: isolation, rectifier, reservoir, regulator, and what guards the rail."""

from __future__ import annotations

from timing.circuit.builder import CircuitBuilder
from timing.circuit.parts import PartKind
from timing.circuit.preferred import RESISTOR_DERATING, VARISTOR_RATINGS_V, at_most, rating_at_least
from timing.circuit.ratings import RectifierRating, rectifier_rating
from timing.design.units import format_quantity
from timing.power.budget import LOSS_FACTOR, Budget
from timing.power.crowbar import CROWBAR_CAPACITOR_F, CROWBAR_GATE_OHM, THYRISTOR_A
from timing.power.loads import preload_a

WIRE_WOUND_W = (3.0, 5.0, 7.0, 11.0, 17.0)
"""Sizes of wirewound resistors, which bear the surge; smaller ones do not (practice)."""


def rectifier_of(budget: Budget) -> RectifierRating:
    """Return what the rectifier of a budget must be rated for."""
    bridge, inrush = budget.supply.rectifier == "bridge", budget.inrush
    return rectifier_rating(bridge, budget.highest_v, budget.fuse.continuous_a, inrush.peak_a, inrush.a2s)


def feed(wiring: CircuitBuilder) -> None:
    """Rectifier and reservoir."""
    build, supply = wiring.build, wiring.design.supply
    highest = wiring.budget.highest_v
    high_v = wiring.budget.winding.open_v * (1.0 + supply.line_tolerance_percent / 100.0)
    surge_v = rating_at_least(high_v, VARISTOR_RATINGS_V) or VARISTOR_RATINGS_V[-1]
    ref = wiring.add(
        PartKind.VARISTOR, f"{surge_v:g} VAC", f"varistor, {surge_v:g} V RMS, 10 mm disc or larger", ("1", "2"),
        reason=f"takes the spikes that coils and high-frequency starters put on the winding; {high_v:.1f} V RMS with "
        "the line high and nothing drawn",
    )  # fmt: skip
    build.two(ref, wiring.ac_a, wiring.ac_b)
    live, back = _rectifier_feed(wiring)
    common = wiring.feed_common
    rated = rectifier_of(wiring.budget)
    inrush = wiring.budget.inrush
    meets = f"meets {highest:.0f} V and an inrush of {inrush.peak_a:.0f} A, {inrush.a2s:.2g} A^2 s"
    value = f"{rated.volts:g} V {rated.amps:g} A"
    text = f"{rated.volts:g} V, {rated.amps:g} A, {rated.surge_a:g} A surge"
    if supply.rectifier == "bridge":
        ref = wiring.add(PartKind.BRIDGE, value, f"bridge rectifier, {text}", ("~1", "~2", "+", "-"), reason=meets)
        build.join(live, f"{ref}.~1")
        build.join(back, f"{ref}.~2")
        build.join(wiring.plus, f"{ref}.+")
        build.join(common, f"{ref}.-")
    else:
        ref = wiring.add(PartKind.DIODE, value, f"diode, {text}", ("A", "K"), reason=meets)
        build.two(ref, live, wiring.plus)
        # Half-wave has no second diode: one side of the winding is common.
        link = wiring.add(PartKind.WIRE_LINK, "wire", "wire link", ("1", "2"), reason="half-wave: the winding's return")
        build.two(link, back, common)
    value = format_quantity(supply.reservoir_f, "F")
    ripple = supply.reservoir_ripple_a or wiring.budget.capacitor_ripple_a
    ref = wiring.add(
        PartKind.ELECTROLYTIC, value,
        f"electrolytic capacitor {value}, {supply.reservoir_rating_v:g} V, 105 degC, "
        f"tan delta {LOSS_FACTOR:g} or less, ripple {ripple:.2g} A or more",
        ("+", "-"), reason=f"reservoir; can stand at {highest:.1f} V",
    )  # fmt: skip
    build.two(ref, wiring.plus, common)


def _rectifier_feed(wiring: CircuitBuilder) -> tuple[str, str]:
    """Add what stands between fuse and rectifier, if anything, and return the nets that the rectifier is on."""
    build, supply, budget = wiring.build, wiring.design.supply, wiring.budget
    live, back = wiring.ac_a, wiring.ac_b
    if budget.isolation.kind == "transformer":
        value = f"{supply.nominal_v:g} V : {supply.isolation_output_v:g} V, {supply.isolation_rating_va:g} VA"
        text = f"transformer, {value}, safety isolating (IEC 61558-2-6), separate windings"
        ref = wiring.add(
            PartKind.SECOND_TRANSFORMER, value, text, ("1", "2", "3", "4"),
            reason="parts COMMON from the feeder's winding, which is or may be grounded",
        )  # fmt: skip
        build.join(live, f"{ref}.1")
        build.join(back, f"{ref}.2")
        live = build.net("APART-A", "ac", budget.fuse.rating_a)
        unfused = build.net("APART-TAP", "ac", budget.fuse.rating_a, "short: nothing protects it")
        back = build.net("APART-B", "ac", budget.fuse.rating_a)
        build.join(live, f"{ref}.3")
        build.join(unfused, f"{ref}.4")
        if budget.second_fuse is not None:
            fuse = wiring.add(
                PartKind.FUSE, budget.second_fuse.marking,
                f"fuse {budget.second_fuse.title}, time-lag, 5 x 20 mm, with holder", ("1", "2"),
                reason="a short behind the second transformer is too weak to open the first fuse",
            )  # fmt: skip
            build.two(fuse, unfused, back)
    if supply.series_resistor_ohm is not None:
        into, live = live, build.net("RECTIFIER-A", "ac", budget.fuse.rating_a)
        heat_w = budget.series_heat_w
        watts = rating_at_least(heat_w / RESISTOR_DERATING, WIRE_WOUND_W) or WIRE_WOUND_W[-1]
        value = format_quantity(supply.series_resistor_ohm, "ohm")
        ref = wiring.add(
            PartKind.RESISTOR, value,
            f"resistor {value}, {watts:g} W, 5 %, wirewound, flameproof, clear of everything that burns", ("1", "2"),
            reason=f"keeps the surge at {budget.inrush.peak_a:.1f} A, so that the fuse fits the load; "
            f"{heat_w:.1f} W at worst",
        )  # fmt: skip
        build.two(ref, into, live)
    return live, back


def regulator_stage(wiring: CircuitBuilder) -> None:
    """Regulator with the capacitors at its input and output, and what guards the rail."""
    build, budget, supplied = wiring.build, wiring.budget, wiring.budget.regulator
    kind = PartKind.LINEAR_REGULATOR if supplied.linear else PartKind.SWITCHING_REGULATOR
    apart = budget.isolation.kind == "module"
    if apart:
        kind = PartKind.ISOLATING_MODULE
    cooling = f", {supplied.k_per_w:g} K/W to air or better" if supplied.linear else ""
    isolates = ", 1.5 kV dc or more from input to output" if apart else ""
    takes = (
        f"{supplied.input_min_v:g} V to {supplied.input_max_v:g} V" if apart else f"{supplied.input_max_v:g} V or more"
    )
    ref = wiring.add(
        kind, f"{supplied.output_v:g} V",
        f"{kind.value}, {supplied.output_v:g} V, input {takes}, {supplied.output_max_a:g} A{cooling}{isolates}",
        ("IN", "IN-COM", "OUT", "COM") if apart else ("IN", "COM", "OUT"),
        reason=f"its input can stand at {budget.highest_v:.1f} V",
    )  # fmt: skip
    if apart:
        build.join(wiring.feed_common, f"{ref}.IN-COM")
    build.join(wiring.plus, f"{ref}.IN")
    build.join(wiring.common, f"{ref}.COM")
    build.join(wiring.rail, f"{ref}.OUT")
    wiring.ceramic(100e-9, wiring.plus, wiring.feed_common, "keeps the regulator's input quiet; close to it")
    ref = wiring.add(
        PartKind.ELECTROLYTIC, "100 uF", "electrolytic capacitor 100 uF, 25 V", ("+", "-"),
        reason="steadies the rail when a relay pulls in",
    )  # fmt: skip
    build.two(ref, wiring.rail, wiring.common)
    preload(wiring)
    _crowbar(wiring)


def preload(wiring: CircuitBuilder) -> None:
    """What keeps an isolating module at its least load."""
    drawn_a, supplied = preload_a(wiring.design, wiring.board), wiring.budget.regulator
    if drawn_a > 0.0:
        ohm = at_most(supplied.output_v / drawn_a)
        text = f"keeps the module at its least load of {1000 * supplied.least_load_a:.0f} mA"
        wiring.resistor(ohm, wiring.rail, wiring.common, text, supplied.output_v**2 / ohm)


def _crowbar(wiring: CircuitBuilder) -> None:
    """What shorts the rail when the regulator fails and passes its input on, so that the fuse opens."""
    found = wiring.budget.crowbar
    if found is None:
        return
    gate = wiring.build.net("CROWBAR-GATE", "dc", 0.1)
    ref = wiring.add(
        PartKind.THYRISTOR, f"{THYRISTOR_A:g} A",
        f"thyristor, 400 V, {THYRISTOR_A:g} A, sensitive gate (0.2 mA), 80 A surge, TO-220", ("A", "K", "G"),
        reason=f"crowbar: shorts the rail between {found.fires_from_v:.1f} V and {found.fires_by_v:.1f} V, as when the "
        f"regulator fails; the fuse then opens on {found.fault_a:.1f} A or more",
    )  # fmt: skip
    wiring.build.join(wiring.rail, f"{ref}.A")
    wiring.build.join(wiring.common, f"{ref}.K")
    wiring.build.join(gate, f"{ref}.G")
    zener = wiring.add(
        PartKind.ZENER, f"{found.zener_v:g} V", f"zener diode, {found.zener_v:g} V, 5 %, 1.3 W", ("A", "K"),
        reason="fires the crowbar",
    )  # fmt: skip
    wiring.build.two(zener, gate, wiring.rail)
    wiring.resistor(CROWBAR_GATE_OHM, gate, wiring.common, "what the zener leaks does not fire the crowbar")
    wiring.ceramic(CROWBAR_CAPACITOR_F, gate, wiring.common, "spikes on the rail do not fire the crowbar", 50.0)
