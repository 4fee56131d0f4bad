"""The rules for the 24 VAC budget: one function a rule, each from a Budget to findings."""

from __future__ import annotations

from collections.abc import Callable, Iterator
from typing import Any

from timing.design.units import format_quantity
from timing.supply.budget import Budget, budget, hold_up_s
from timing.supply.finding import Change, Figure, Finding, Remedy
from timing.supply.fuse import CONTINUOUS_SHARE, PULSE_SHARE, FuseChoice, choose, least_melting_a2s
from timing.supply.preferred import CAPACITOR_RATINGS_V, E6, REGULATOR_RATINGS_V, at_least, nearest, rating_at_least

VOLTAGE_MARGIN = 1.05
"""What a rating should stand above the highest voltage met (practice)."""
DROPOUT_MARGIN_V = 0.5
JUNCTION_MARGIN_K = 15.0
PULL_IN_SHARE = 0.85
"""A coil is made to pull in from 85 % of its rated voltage on (IEC 60947-4-1, memory)."""
LARGEST_RESERVOIR_F = 0.022
LEAST_SINK_K_PER_W = 4.0
"""Better than this, junction included, a small heat sink in a closed box does not get (practice)."""
CLASS_2_VA, CLASS_2_V = 100.0, 30.0
"""Limits of a class 2 source, 30 V and 100 VA (national codes, memory)."""

Rule = Callable[[Budget], Iterator[Finding]]


def quantity(value: float, unit: str) -> str:
    """Return a value as a design file would state it, small ones in a handy multiple."""
    if unit == "F":
        return f"{value * 1e6:.4g} uF" if value >= 1e-6 else f"{value * 1e9:.4g} nF"
    if unit == "ohm" and value >= 1000.0:
        return f"{value / 1000.0:.4g} kohm"
    return format_quantity(value, unit)


def _set(key: str, value: float, unit: str) -> Change:
    return Change(f"supply.{key}", quantity(value, unit))


def _retry(found: Budget, **supply: Any) -> Budget:
    """The budget with other supply fields (by field name)."""
    changed = found.supply.model_copy(update=supply)
    return budget(found.design.model_copy(update={"supply": changed}), found.board)


def periodic(found: Budget) -> Iterator[Finding]:
    """Every corner must have a periodic state."""
    for corner in found.corners:
        if not corner.state.settled:
            yield Finding(
                "supply.collapse",
                "error",
                "supply.reservoir",
                f"At {corner.title} the reservoir runs empty.",
                "The load takes more than the winding and the rectifier can put back in each half-wave.",
                (Figure("source resistance", found.winding.source_ohm, "ohm"),),
                tuple(_larger_reservoir(found)) + tuple(_full_wave(found)),
            )
            return


def _full_wave(found: Budget) -> Iterator[Remedy]:
    if found.supply.rectifier == "half-wave":
        yield Remedy("Use a bridge: it charges the reservoir twice a cycle.", (Change("supply.rectifier", "bridge"),))


def _larger_reservoir(found: Budget) -> Iterator[Remedy]:
    """The smallest E6 reservoir with which the lowest voltages keep their margin, if there is one."""
    wanted = found.regulator.input_min_v + DROPOUT_MARGIN_V
    value = at_least(found.supply.reservoir_f * 1.01, E6)
    while value <= LARGEST_RESERVOIR_F:
        tried = _retry(found, reservoir_f=value)
        held = tried.closes and _lowest_v(tried) >= wanted
        if held:
            yield Remedy(f"Fit a larger reservoir, {quantity(value, 'F')}.", (_set("reservoir", value, "F"),))
            return
        value = at_least(value * 1.01, E6)


def _lowest_v(found: Budget) -> float:
    lowest = float(found.corner("low-aged").state.dc_min_v)
    return lowest if found.sag is None else min(lowest, found.sag.lowest_v)


def input_voltage(found: Budget) -> Iterator[Finding]:
    """A lightly loaded winding at high line rectifies far above its name; the regulator must bear it."""
    highest, limit = found.highest_v, found.regulator.input_max_v
    if highest <= limit:
        return
    wanted = rating_at_least(highest * VOLTAGE_MARGIN, REGULATOR_RATINGS_V)
    remedies: list[Remedy] = []
    if wanted is not None:
        bears = _set("regulator_input_max", wanted, "V")
        switching = (Change("supply.regulator", "switching"),) if found.regulator.linear else ()
        what = "switching regulator" if switching else "regulator"
        remedies.append(Remedy(f"Fit a {what} made for {wanted:g} V at its input or more.", (*switching, bears)))
    yield Finding(
        "supply.input-voltage",
        "error",
        "supply.regulator_input_max",
        f"The reservoir can stand at {highest:.1f} V, and the regulator bears {limit:g} V.",
        f"A {found.supply.nominal_v:g} VAC winding gives {found.winding.open_v:.1f} V with nothing drawn; with the "
        f"line {found.supply.line_tolerance_percent:g} % high its crest, {found.winding.open_v:.1f} V x "
        f"{1 + found.supply.line_tolerance_percent / 100:g} x 1.414 less the diodes, stays on the reservoir.",
        (Figure("highest reservoir voltage", highest, "V"), Figure("regulator's highest input", limit, "V")),
        tuple(remedies),
    )


def board_voltage(found: Budget) -> Iterator[Finding]:
    """The regulator's output must suit the board's supply input."""
    low, high, rail = found.board.vin_min_v, found.board.vin_max_v, found.regulator.output_v
    if not low <= rail <= high:
        usual = _retry(found, regulator_output_v=None).regulator.output_v
        yield Finding(
            "supply.board-voltage",
            "error",
            "supply.regulator_output",
            f"The regulator makes {rail:g} V, and the board takes {low:g} V to {high:g} V.",
            "Below, the board's logic browns out; above, its own regulator overheats or dies.",
            (Figure("regulator output", rail, "V"),),
            (Remedy(f"Set the regulator to {usual:g} V.", (_set("regulator_output", usual, "V"),)),),
        )


def dropout(found: Budget) -> Iterator[Finding]:
    """At low line, all on, capacitor aged, contactor pulling in: the regulator must keep regulating."""
    if not found.closes:
        return
    lowest, wanted = _lowest_v(found), found.regulator.input_min_v
    if lowest >= wanted + DROPOUT_MARGIN_V:
        return
    moment = "while the contactor pulls in" if found.sag and found.sag.lowest_v <= lowest else "with all on"
    yield Finding(
        "supply.dropout",
        "error" if lowest < wanted else "warning",
        "supply.reservoir",
        f"At low line {moment} the reservoir falls to {lowest:.1f} V; the regulator needs {wanted:.1f} V.",
        "Below its output plus its dropout the regulator lets the board's supply fall with the reservoir.",
        (Figure("lowest reservoir voltage", lowest, "V"), Figure("regulator's least input", wanted, "V")),
        (*_larger_reservoir(found), *_full_wave(found), *_lower_rail(found)),
    )


def _lower_rail(found: Budget) -> Iterator[Remedy]:
    low = max(found.board.vin_min_v, 1.8)
    if low < found.regulator.output_v:
        tried = _retry(found, regulator_output_v=low)
        if tried.closes and _lowest_v(tried) >= tried.regulator.input_min_v + DROPOUT_MARGIN_V:
            yield Remedy(
                f"Set the regulator to {low:g} V, with relay coils for that voltage.",
                (_set("regulator_output", low, "V"),),
            )


def capacitor(found: Budget) -> Iterator[Finding]:
    """Voltage and ripple current rating of the reservoir."""
    highest, rating = found.highest_v, found.supply.reservoir_rating_v
    if highest * VOLTAGE_MARGIN > rating:
        better = rating_at_least(highest * VOLTAGE_MARGIN, CAPACITOR_RATINGS_V)
        yield Finding(
            "supply.capacitor-voltage",
            "error" if highest > rating else "warning",
            "supply.reservoir_rating",
            f"The reservoir is rated {rating:g} V and can stand at {highest:.1f} V.",
            "An electrolytic capacitor above its rating heats, vents and fails.",
            (Figure("highest reservoir voltage", highest, "V"), Figure("rating", rating, "V")),
            (Remedy(f"Fit one rated {better:g} V.", (_set("reservoir_rating", better, "V"),)),) if better else (),
        )
    ripple, rated = found.capacitor_ripple_a, found.supply.reservoir_ripple_a
    if rated is not None and ripple > rated:
        wanted = at_least(ripple * 1.2, E6)
        yield Finding(
            "supply.capacitor-ripple",
            "error",
            "supply.reservoir_ripple",
            f"The reservoir's ripple current is {ripple:.2f} A, its rating {rated:g} A.",
            "Ripple current heats the capacitor from inside; its life halves for every 10 K (practice).",
            (Figure("ripple current", ripple, "A"), Figure("rating", rated, "A")),
            (Remedy(f"Fit one rated {wanted:g} A or more.", (_set("reservoir_ripple", wanted, "A"),)),),
        )


def volt_amperes(found: Budget) -> Iterator[Finding]:
    """The transformer carries feeder and add-on together."""
    rated_a = found.supply.rating_va / found.supply.nominal_v
    worst = max(found.phases, key=lambda phase: float(phase.state.winding_rms_a))
    total = float(worst.state.winding_rms_a)
    if total <= rated_a:
        return
    alone = worst.load.ac_hold_a
    figures = (
        Figure("winding current", total, "A"),
        Figure("winding current as found", alone, "A"),
        Figure("rated current", rated_a, "A"),
    )
    own = Remedy("Feed the add-on from a small transformer of its own.")
    linear = (Change("supply.regulator", "switching"),)
    remedies = (Remedy("Use a switching regulator: it draws less current.", linear), own)
    yield Finding(
        "supply.volt-amperes",
        "warning" if alone > rated_a else "error",
        "supply.rating",
        f"In {worst.load.phase.word} the winding carries {total:.2f} A and is rated {rated_a:.2f} A.",
        "It is already overloaded as found, if only for the length of a weld; the add-on makes it worse."
        if alone > rated_a
        else "A rectifier draws its current in short pulses: more VA than the watts say.",
        figures,
        remedies if found.regulator.linear else (own,),
    )


def pull_in(found: Budget) -> Iterator[Finding]:
    """The coils must still pull in at low line, and the add-on must not be what stops them."""
    if found.sag is None:
        return
    wanted = PULL_IN_SHARE * found.supply.nominal_v
    with_it, without = found.sag.winding_v, found.sag.winding_alone_v
    if with_it >= wanted:
        return
    own = without >= wanted
    yield Finding(
        "supply.pull-in",
        "warning",
        "feeder.contactor.coil.inrush",
        f"At low line the winding falls to {with_it:.1f} V while the contactor pulls in; coils are made to pull in "
        f"from {wanted:.1f} V on.",
        f"Without the add-on it falls to {without:.1f} V: "
        + ("the add-on makes the difference." if own else "the feeder does that by itself; the add-on adds little."),
        (Figure("winding voltage", with_it, "V"), Figure("without the add-on", without, "V")),
        (Remedy("Try the contactor at low line; if it chatters, feed the add-on from its own small transformer."),),
    )


def fuse(found: Budget) -> Iterator[Finding]:
    """The add-on's fuse must carry, survive switching on, and open on a short."""
    held, supply = found.fuse, found.supply
    better = choose(held.continuous_a, held.inrush_a2s, held.prospective_a)
    works = better.carries and better.survives_inrush and better.opens_in_s is not None
    remedy = Remedy(f"Fit T {better.rating_a:g} A.", (_set("fuse", better.rating_a, "A"),))
    remedies = (remedy,) if works and better.rating_a != held.rating_a else tuple(_smaller_reservoir(found))
    figures = (
        Figure("fuse", held.rating_a, "A"),
        Figure("continuous current", held.continuous_a, "A"),
        Figure("switching-on integral", held.inrush_a2s, "A^2 s"),
        Figure("least melting integral", least_melting_a2s(held.rating_a), "A^2 s"),
        Figure("short-circuit current", held.prospective_a, "A"),
    )
    if not held.carries:
        yield Finding(
            "supply.fuse-current",
            "error",
            "supply.fuse",
            f"The fuse of {held.rating_a:g} A carries {held.continuous_a:.2f} A for good.",
            f"In a warm box it should carry {100 * CONTINUOUS_SHARE:g} % of its rating at most.",
            figures,
            remedies,
        )
    if not held.survives_inrush:
        yield Finding(
            "supply.fuse-inrush",
            "error",
            "supply.fuse",
            f"Switching on takes {held.inrush_a2s:.2f} A^2 s of the {least_melting_a2s(held.rating_a):.2f} A^2 s "
            f"that are sure not to melt a fuse of {held.rating_a:g} A.",
            f"Beyond {100 * PULSE_SHARE:g} % of it the wire ages with each switching-on and opens one day for nothing.",
            figures,
            remedies,
        )
    if held.opens_in_s is None:
        yield Finding(
            "supply.fuse-short",
            "error",
            "supply.fuse",
            f"A dead short draws {held.prospective_a:.1f} A, too little to open {held.rating_a:g} A in seconds.",
            "The winding's resistance limits the current; the wires would roast before the fuse opens.",
            figures,
            remedies,
        )
    if found.fuse_proposed and held.carries and held.survives_inrush and held.opens_in_s is not None:
        text = f"Fuse the add-on's feed with T {held.rating_a:g} A (IEC 60127-2, time-lag), at the point of tapping."
        reason = (
            f"It carries {held.continuous_a:.2f} A, bears {held.inrush_a2s:.2f} A^2 s at switching on, and opens "
            f"on a dead short within {held.opens_in_s:g} s; every wire behind it is sized to carry its rating."
        )
        yield Finding(
            "supply.fuse", "note", "supply.fuse", text, reason, figures, (remedy,) if not supply.fuse_a else ()
        )


def _smaller_reservoir(found: Budget) -> Iterator[Remedy]:
    value = nearest(found.supply.reservoir_f / 1.5, E6)
    while value >= 47e-6:
        tried = _retry(found, reservoir_f=value, fuse_a=None)
        held: FuseChoice = tried.fuse
        if held.survives_inrush and held.opens_in_s is not None and _lowest_v(tried) >= tried.regulator.input_min_v:
            yield Remedy(
                f"Fit a smaller reservoir, {quantity(value, 'F')}, and T {held.rating_a:g} A.",
                (_set("reservoir", value, "F"), _set("fuse", held.rating_a, "A")),
            )
            return
        value = nearest(value / 1.5, E6)


def heat(found: Budget) -> Iterator[Finding]:
    """The regulator's junction in a warm box."""
    worst = max(found.corners, key=lambda corner: corner.junction_deg_c)
    limit = found.regulator.junction_max_deg_c
    if worst.junction_deg_c <= limit - JUNCTION_MARGIN_K:
        return
    remedies: list[Remedy] = []
    allowed = (limit - JUNCTION_MARGIN_K - found.regulator.box_deg_c) / worst.loss_w
    if found.regulator.linear:
        bears = rating_at_least(found.highest_v * VOLTAGE_MARGIN, REGULATOR_RATINGS_V)
        changes: tuple[Change, ...] = (Change("supply.regulator", "switching"),)
        if bears is not None and bears > 40.0:
            changes += (_set("regulator_input_max", bears, "V"),)
        remedies.append(Remedy("Use a switching regulator: it makes a fraction of the heat.", changes))
    if allowed >= LEAST_SINK_K_PER_W:
        sink = float(int(allowed))
        text = f"Give it a heat sink: {sink:g} K/W at most from junction to air."
        remedies.append(Remedy(text, (_set("regulator_cooling", sink, "K/W"),)))
    yield Finding(
        "supply.heat",
        "error" if worst.junction_deg_c > limit else "warning",
        "supply.regulator",
        f"The regulator's junction reaches {worst.junction_deg_c:.0f} degC ({worst.title}); its limit is {limit:g}.",
        f"It turns {worst.loss_w:.2f} W into heat, through {found.regulator.k_per_w:g} K/W, in a box at "
        f"{found.regulator.box_deg_c:g} degC.",
        (Figure("loss", worst.loss_w, "W"), Figure("junction", worst.junction_deg_c, "degC")),
        tuple(remedies),
    )


def thresholds(found: Budget) -> Iterator[Finding]:
    """The board's own low-supply threshold: above the dropout, below what low line and pull-in leave."""
    sense = found.supply.sense
    if sense is None:
        yield Finding(
            "supply.no-sense",
            "warning",
            "supply.sense",
            "The board does not measure its supply.",
            "It cannot switch the outputs off in good order before its own supply gives way.",
            (),
            (Remedy("Fit a divider to an analog pin and add [supply.sense]."),),
        )
        return
    if not found.closes:
        return
    least, settled, lowest = (
        found.regulator.input_min_v,
        float(found.corner("low-aged").state.dc_min_v),
        _lowest_v(found),
    )
    figures = (
        Figure("threshold", sense.low_v, "V"),
        Figure("regulator's least input", least, "V"),
        Figure("lowest at low line", settled, "V"),
        Figure("lowest at pull-in", lowest, "V"),
    )
    remedies = tuple(_better_thresholds(least, settled, lowest))
    if sense.low_v < least:
        yield Finding(
            "supply.threshold-low",
            "error",
            "supply.sense.low",
            f"The supply counts as low below {sense.low_v:g} V, but the regulator gives way at {least:.1f} V already.",
            "The board would brown out before it has switched the outputs off.",
            figures,
            remedies,
        )
    below_us = 1e6 * (found.sag.below_sense_s if found.sag else 0.0)
    if sense.good_v > settled or below_us > sense.filter_us:
        yield Finding(
            "supply.threshold-high",
            "error",
            "supply.sense.good",
            f"At low line the reservoir stands at {settled:.1f} V, {lowest:.1f} V at pull-in; low is set to "
            f"{sense.low_v:g} V and good to {sense.good_v:g} V.",
            "The sequence would stop for a low supply on a bad day with nothing wrong.",
            figures,
            remedies,
        )


def _better_thresholds(least: float, settled: float, lowest: float) -> Iterator[Remedy]:
    low = round(least + 0.3 * (lowest - least), 1)
    good = round(low + 0.4 * (settled - low), 1)
    if least < low < good < settled:
        changes = (_set("sense.low", low, "V"), _set("sense.good", good, "V"))
        yield Remedy(f"Set low to {low:g} V and good to {good:g} V.", changes)


def hold_up(found: Budget) -> Iterator[Finding]:
    """From the low threshold to the dropout there must be time to switch off."""
    sense = found.supply.sense
    if sense is None or not found.closes:
        return
    left_s = hold_up_s(found.corner("low-aged").circuit, sense.low_v, found.regulator.input_min_v)
    wanted_s = sense.filter_us / 1e6
    if sense.low_v > found.regulator.input_min_v and left_s < wanted_s:
        yield Finding(
            "supply.hold-up",
            "warning",
            "supply.sense.filter",
            f"From {sense.low_v:g} V the reservoir lasts {1000 * left_s:.0f} ms, less than the filter of "
            f"{1000 * wanted_s:.0f} ms.",
            "The board may lose its supply before it has decided that the supply is low. The external resistors "
            "still switch the outputs off then.",
            (Figure("time left", 1000 * left_s, "ms"),),
            (*_larger_reservoir(found), Remedy("Raise sense.low or shorten sense.filter.")),
        )


def half_wave(found: Budget) -> Iterator[Finding]:
    """A half-wave rectifier draws direct current through the winding."""
    if found.supply.rectifier == "half-wave":
        direct = float(found.corner("nominal-on").state.load_mean_a)
        rated = found.supply.rating_va / found.supply.nominal_v
        yield Finding(
            "supply.half-wave",
            "warning" if direct > 0.05 * rated else "note",
            "supply.rectifier",
            f"The half-wave rectifier draws {1000 * direct:.0f} mA of direct current through the winding.",
            "Direct current magnetises the core one way: more heat and hum. Half-wave pays only where board common "
            "must join one side of the winding, and then isolation is lost.",
            (Figure("direct current", direct, "A"),),
            tuple(_full_wave(found)),
        )


def notes(found: Budget) -> Iterator[Finding]:
    """What cannot be computed, and what a local code has a say in."""
    supply = found.supply
    if not found.winding.measured:
        yield Finding(
            "supply.not-measured",
            "warning",
            "supply.measured_open",
            "The transformer was not measured; its regulation is taken from its rating.",
            "Old transformers stray. The open voltage decides what the regulator must bear.",
            (Figure("assumed open voltage", found.winding.open_v, "V"),),
            (Remedy("Measure the winding open and with a known load, and enter the three values."),),
        )
    limited = supply.rating_va <= CLASS_2_VA and found.winding.open_v <= CLASS_2_V
    yield Finding(
        "supply.limited-power",
        "note",
        "supply.rating",
        "The winding keeps to 30 V and 100 VA, the usual bounds of a class 2 circuit."
        if limited
        else "The winding exceeds 30 V or 100 VA, the usual bounds of a class 2 circuit: expect it to burn wires.",
        "Whether the circuit counts as class 2 or limited power depends on the transformer's marking and the local "
        "code, not on the figures alone; ask where you work. Fuse the tap in either case.",
        (Figure("open voltage", found.winding.open_v, "V"), Figure("rating", supply.rating_va, "VA")),
    )


RULES: tuple[Rule, ...] = (
    periodic, input_voltage, board_voltage, dropout, capacitor, volt_amperes, pull_in, fuse, heat, thresholds,
    hold_up, half_wave, notes,
)  # fmt: skip


def budget_findings(found: Budget) -> tuple[Finding, ...]:
    """Return what all rules find in a budget."""
    return tuple(finding for rule in RULES for finding in rule(found))
