"""The rules for the 24 VAC budget: what each finds is said with the figures of the budget."""

from __future__ import annotations

from collections.abc import Iterator

from timing.checks.finding import DesignEdit, Figure, Finding, Remedy, Severity
from timing.checks.remedies import (
    DROPOUT_MARGIN_V,
    better_thresholds,
    fit_sense,
    full_wave,
    larger_reservoir,
    lower_rail,
    lowest_v,
    retried,
    set_supply,
    smaller_fuse,
)
from timing.circuit.feed import rectifier_of
from timing.circuit.preferred import (
    CAPACITOR_RATINGS_V,
    E6,
    E12,
    REGULATOR_RATINGS_V,
    VOLTAGE_MARGIN,
    at_least,
    rating_at_least,
)
from timing.circuit.ratings import surge_a2s
from timing.design.supply import SupplySense
from timing.design.units import format_quantity
from timing.power.budget import hold_up_s
from timing.power.components import USUAL_SWITCHING_V, board_feed
from timing.power.fuse import SECONDS_S
from timing.project import Project

JUNCTION_MARGIN_K = 15.0
"""Room wanted between the regulator's junction and its limit (choice)."""
LEAST_SINK_K_PER_W = 4.0
"""Better than this, junction included, a small heat sink in a closed box does not get (practice)."""
SURGE_SHARE = 0.8
"""Share of its surge rating that a rectifier is left with by the resistor that a remedy names (choice)."""
LEAST_SERIES_OHM = 0.47
"""Smallest resistor that such a remedy names (choice)."""


def periodic(project: Project) -> Iterator[Finding]:
    """Every corner must have a periodic state."""
    budget = project.budget
    for corner in budget.corners:
        if not corner.state.settled:
            yield Finding(
                "supply.collapse",
                Severity.ERROR,
                "supply.reservoir",
                f"At {corner.title} the reservoir runs empty",
                "The load takes more than the winding and the rectifier can put back in each half-wave",
                (Figure("source resistance", budget.winding.source_ohm, "ohm"),),
                tuple(larger_reservoir(budget)) + tuple(full_wave(budget)),
            )
            return


def board_voltage(project: Project) -> Iterator[Finding]:
    """The regulator's output must suit the board's supply input."""
    budget = project.budget
    feed, rail = board_feed(project.board, project.design.circuits), budget.regulator.output_v
    low, high = feed.low_v, feed.high_v
    if not low <= rail <= high:
        usual = retried(budget, regulator_output_v=None).regulator.output_v
        yield Finding(
            "supply.board-voltage",
            Severity.ERROR,
            "supply.regulator_output",
            f"The regulator makes {rail:g} V, and the board takes {low:g} V to {high:g} V at {feed.terminal}",
            "Below, the board's logic browns out; above, its own regulator overheats or dies",
            (Figure("regulator output", rail, "V"),),
            (Remedy(f"Set the regulator to {usual:g} V", (set_supply("regulator_output", usual, "V"),)),),
        )


def dropout(project: Project) -> Iterator[Finding]:
    """At low line, all on, capacitor aged, contactor pulling in: the regulator must keep regulating."""
    budget = project.budget
    if not budget.closes:
        return
    lowest, wanted = lowest_v(budget), budget.regulator.input_min_v
    if lowest >= wanted + DROPOUT_MARGIN_V:
        return
    moment = "while the coils pull in" if budget.sag and budget.sag.lowest_v <= lowest else "with all on"
    yield Finding(
        "supply.dropout",
        Severity.ERROR if lowest < wanted else Severity.WARNING,
        "supply.reservoir",
        f"At low line {moment} the reservoir falls to {lowest:.1f} V; the regulator needs {wanted:.1f} V",
        "Below its output plus its dropout the regulator lets the board's supply fall with the reservoir",
        (Figure("lowest reservoir voltage", lowest, "V"), Figure("regulator's least input", wanted, "V")),
        (*larger_reservoir(budget), *full_wave(budget), *lower_rail(budget)),
    )


def capacitor(project: Project) -> Iterator[Finding]:
    """Voltage and ripple current rating of the reservoir."""
    budget = project.budget
    highest, rating = budget.highest_v, project.design.supply.reservoir_rating_v
    if highest * VOLTAGE_MARGIN > rating:
        better = rating_at_least(highest * VOLTAGE_MARGIN, CAPACITOR_RATINGS_V)
        yield Finding(
            "supply.capacitor-voltage",
            Severity.ERROR if highest > rating else Severity.WARNING,
            "supply.reservoir_rating",
            f"The reservoir is rated {rating:g} V and can stand at {highest:.1f} V",
            "An electrolytic capacitor above its rating heats, vents and fails",
            (Figure("highest reservoir voltage", highest, "V"), Figure("rating", rating, "V")),
            (Remedy(f"Fit one rated {better:g} V", (set_supply("reservoir_rating", better, "V"),)),) if better else (),
        )
    ripple, rated = budget.capacitor_ripple_a, project.design.supply.reservoir_ripple_a
    if rated is not None and ripple > rated:
        wanted = at_least(ripple * 1.2, E6)
        yield Finding(
            "supply.capacitor-ripple",
            Severity.ERROR,
            "supply.reservoir_ripple",
            f"The reservoir's ripple current is {ripple:.2f} A, its rating {rated:g} A",
            "Ripple current heats the capacitor from inside; its life halves for every 10 K (practice)",
            (Figure("ripple current", ripple, "A"), Figure("rating", rated, "A")),
            (Remedy(f"Fit one rated {wanted:g} A or more", (set_supply("reservoir_ripple", wanted, "A"),)),),
        )


def heat(project: Project) -> Iterator[Finding]:
    """The regulator's junction in a warm box."""
    budget = project.budget
    worst = max(budget.settled, key=lambda corner: corner.junction_deg_c)
    limit = budget.regulator.junction_max_deg_c
    if worst.junction_deg_c <= limit - JUNCTION_MARGIN_K:
        return
    remedies: list[Remedy] = []
    allowed = (limit - JUNCTION_MARGIN_K - budget.regulator.box_deg_c) / worst.loss_w
    if budget.regulator.linear:
        rated_v = rating_at_least(budget.highest_v * VOLTAGE_MARGIN, REGULATOR_RATINGS_V)
        changes: tuple[DesignEdit, ...] = (DesignEdit("supply.regulator", "switching"),)
        if rated_v is not None and rated_v > USUAL_SWITCHING_V:
            changes += (set_supply("regulator_input_max", rated_v, "V"),)
        remedies.append(Remedy("Use a switching regulator: it makes a fraction of the heat", changes))
    if allowed >= LEAST_SINK_K_PER_W:
        sink = float(int(allowed))
        text = f"Give it a heat sink: {sink:g} K/W at most from junction to air"
        remedies.append(Remedy(text, (set_supply("regulator_cooling", sink, "K/W"),)))
    yield Finding(
        "supply.heat",
        Severity.ERROR if worst.junction_deg_c > limit else Severity.WARNING,
        "supply.regulator",
        f"The regulator's junction reaches {worst.junction_deg_c:.0f} degC ({worst.title}); its limit is {limit:g}",
        f"It turns {worst.loss_w:.2f} W into heat, through {budget.regulator.k_per_w:g} K/W, in a box at "
        f"{budget.regulator.box_deg_c:g} degC",
        (Figure("loss", worst.loss_w, "W"), Figure("junction", worst.junction_deg_c, "degC")),
        tuple(remedies),
    )


def readings(project: Project) -> Iterator[Finding]:
    """A winding sags under load: readings that say otherwise were not taken as they should be."""
    open_v, loaded_v = project.design.supply.measured_open_v, project.design.supply.measured_loaded_v
    if open_v is not None and loaded_v is not None and loaded_v >= open_v:
        yield Finding(
            "supply.readings",
            Severity.ERROR,
            "supply.measured_loaded",
            f"The winding reads {loaded_v:g} V loaded and {open_v:g} V open",
            "No winding rises under load: one reading is wrong, or they were taken at different line voltages. Fuse "
            "and regulator are calculated from them",
            (Figure("open", open_v, "V"), Figure("loaded", loaded_v, "V")),
            (Remedy("Measure both again, one right after the other, and enter them"),),
        )


def thresholds(project: Project) -> Iterator[Finding]:
    """The board's own low-supply threshold: above the dropout, below what low line and pull-in leave."""
    budget = project.budget
    sense = project.design.supply.sense
    if sense is None:
        yield Finding(
            "supply.no-sense",
            Severity.WARNING,
            "supply.sense",
            "The board does not measure its supply",
            "It cannot switch the outputs off in good order before its own supply gives way",
            (),
            tuple(fit_sense(budget)),
        )
        return
    if not budget.closes:
        return
    least, settled, lowest = (
        budget.regulator.input_min_v,
        float(budget.corner("low-aged").state.dc_min_v),
        lowest_v(budget),
    )
    figures = (
        Figure("threshold", sense.low_v, "V"),
        Figure("regulator's least input", least, "V"),
        Figure("lowest at low line", settled, "V"),
        Figure("lowest at pull-in", lowest, "V"),
    )
    remedies = tuple(better_thresholds(budget))
    if sense.low_v < least:
        yield Finding(
            "supply.threshold-low",
            Severity.ERROR,
            "supply.sense.low",
            f"The supply counts as low below {sense.low_v:g} V, but the regulator gives way at {least:.1f} V already",
            "The board would brown out before it has switched the outputs off",
            figures,
            remedies,
        )
    below_us = 1e6 * (budget.sag.below_sense_s if budget.sag else 0.0)
    if sense.good_v > settled or below_us > sense.filter_us:
        yield Finding(
            "supply.threshold-high",
            Severity.ERROR,
            "supply.sense.good",
            f"At low line the reservoir stands at {settled:.1f} V, {lowest:.1f} V at pull-in; low is set to "
            f"{sense.low_v:g} V and good to {sense.good_v:g} V",
            _why_too_high(sense, settled),
            figures,
            remedies,
        )


def _why_too_high(sense: SupplySense, settled_v: float) -> str:
    """What thresholds do that a bad day's supply, with nothing wrong, does not reach."""
    if settled_v < sense.low_v:
        return "On a bad day the supply would count as low with nothing wrong, and no weld would start"
    if settled_v < sense.good_v:
        return "On a bad day one dip would stop the sequence, and the supply would not count as good again after it"
    return "On a bad day the sequence would stop for a low supply each time that the coils pull in"


def hold_up(project: Project) -> Iterator[Finding]:
    """From the low threshold to the dropout there must be time to switch off."""
    budget = project.budget
    sense = project.design.supply.sense
    if sense is None or not budget.closes:
        return
    left_s = hold_up_s(budget.corner("low-aged").circuit, sense.low_v, budget.regulator.input_min_v)
    wanted_s = sense.filter_us / 1e6
    if sense.low_v > budget.regulator.input_min_v and left_s < wanted_s:
        yield Finding(
            "supply.hold-up",
            Severity.WARNING,
            "supply.sense.filter",
            f"From {sense.low_v:g} V the reservoir lasts {1000 * left_s:.0f} ms, less than the filter of "
            f"{1000 * wanted_s:.0f} ms",
            "The board may lose its supply before it has decided that the supply is low. The external resistors "
            "still switch the outputs off then",
            (Figure("time left", 1000 * left_s, "ms"),),
            (*larger_reservoir(budget), Remedy("Raise sense.low or shorten sense.filter")),
        )


RAIL_SHARE = 0.8
"""Share of its rated output that a regulator is loaded with in a warm box (practice)."""
OUTPUT_RATINGS_A = (0.5, 1.0, 2.0, 3.0, 5.0)
"""Outputs of regulators on sale (practice)."""


def regulator_current(project: Project) -> Iterator[Finding]:
    """The rail's current against what the regulator is rated for."""
    budget = project.budget
    drawn, rated = max(phase.load.rail_a for phase in budget.phases), budget.regulator.output_max_a
    if drawn <= RAIL_SHARE * rated:
        return
    better = rating_at_least(drawn / RAIL_SHARE, OUTPUT_RATINGS_A)
    change = () if better is None else (set_supply("regulator_output_max", better, "A"),)
    yield Finding(
        "supply.regulator-current",
        Severity.ERROR if drawn > rated else Severity.WARNING,
        "supply.regulator_output_max",
        f"The rail takes {1000 * drawn:.0f} mA and the regulator is rated {1000 * rated:.0f} mA",
        f"In a warm box it should give {100 * RAIL_SHARE:g} % of its rating at most",
        (Figure("rail", drawn, "A"), Figure("rating", rated, "A")),
        (Remedy(f"Fit one for {better:g} A" if better else "Use relays that draw less", change),),
    )


def rectifier_surge(project: Project) -> Iterator[Finding]:
    """The rectifier must survive switching on."""
    budget = project.budget
    rated, inrush = rectifier_of(budget), budget.inrush
    if rated.surge_a >= inrush.peak_a and surge_a2s(rated.surge_a) >= inrush.a2s:
        return
    value = format_quantity(
        at_least(max(budget.highest_v / (SURGE_SHARE * rated.surge_a), LEAST_SERIES_OHM), E12), "ohm"
    )
    yield Finding(
        "circuits.rectifier-surge",
        Severity.ERROR,
        "supply.series_resistor",
        f"Switching on drives {inrush.peak_a:.0f} A and {inrush.a2s:.2g} A^2 s through the rectifier; the largest of "
        f"the usual ones bears {rated.surge_a:g} A and {surge_a2s(rated.surge_a):.2g} A^2 s for one half-wave",
        "A rectifier beyond its surge fails shorted, and puts ac on the reservoir",
        (Figure("inrush peak", inrush.peak_a, "A"), Figure("surge rating", rated.surge_a, "A")),
        (Remedy(f"Fit {value} in series", (DesignEdit("supply.series_resistor", value),)),),
    )


def rail_guarded(project: Project) -> Iterator[Finding]:
    """A regulator that fails shorted must not put the reservoir's voltage on the board for long."""
    budget = project.budget
    if budget.crowbar is not None:
        fired, fault_a, highest_v = budget.crowbar, budget.crowbar.fault_a, budget.crowbar.fires_by_v
        name, ends = "crowbar", (Figure("fires from", fired.fires_from_v, "V"), Figure("fires by", highest_v, "V"))
        guard = (
            f"a zener diode of {fired.zener_v:g} V and a thyristor short the rail between {fired.fires_from_v:.1f} V "
            f"and {highest_v:.1f} V"
        )
        burns = "The thyristor would bear it for minutes, and burn"
    elif budget.rail_clamp is not None:
        held, fault_a, highest_v = budget.rail_clamp, budget.rail_clamp.fault_a, budget.rail_clamp.clamps_by_v
        name, ends = "clamp", (Figure("clamps from", held.clamps_from_v, "V"), Figure("clamps by", highest_v, "V"))
        guard = (
            f"a suppressor diode of {held.breakdown_v:g} V holds the rail between {held.clamps_from_v:.1f} V and "
            f"{highest_v:.1f} V; at up to {held.heat_w:.0f} W it fails shorted in some {held.fails_in_s:.1g} s"
        )
        burns = f"The diode, at up to {held.heat_w:.0f} W, would burn"
    else:
        return
    takes_v = board_feed(budget.board, budget.design.circuits).high_v
    fuse = budget.second_fuse or budget.fuse
    opens_s = fuse.sheet.opens_in_s(fuse.rating_a, fault_a)
    figures = (
        *ends,
        Figure("board's highest input", takes_v, "V"),
        Figure("current in the fuse, least", fault_a, "A"),
    )
    if opens_s is None or opens_s > SECONDS_S:
        yield Finding(
            "supply.crowbar",
            Severity.ERROR,
            "supply.fuse",
            f"With the regulator shorted the {name} draws {fault_a:.1f} A, too little to open "
            f"{fuse.marking} in seconds",
            f"{burns}; the reservoir's voltage may stand on the board then",
            figures,
            (
                *smaller_fuse(budget),
                Remedy("Fit a smaller resistor in the rectifier's feed, or a fuse nearer to the load"),
            ),
        )
        return
    above = highest_v > takes_v
    yield Finding(
        "supply.crowbar",
        Severity.INFO,
        "supply.regulator_output",
        f"Against a regulator that fails shorted, {guard}; the fuse then opens within {opens_s:g} s",
        f"Without it up to {budget.highest_v:.0f} V would stand on the board and the relays' coils"
        + (
            f". The board takes {takes_v:g} V, so that it may still die of the fault; what it drives is spared"
            if above
            else ""
        ),
        figures,
    )
