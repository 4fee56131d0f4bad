"""Rules for what comes from the feeder: the winding's voltage and load, the fuse, the rectifier."""

from __future__ import annotations

from collections.abc import Iterator

from timing.checks.finding import DesignEdit, Figure, Finding, Remedy, Severity
from timing.checks.remedies import full_wave, series_resistor, set_supply, smaller_reservoir
from timing.circuit.preferred import REGULATOR_RATINGS_V, VOLTAGE_MARGIN, rating_at_least
from timing.power.fuse import CONTINUOUS_SHARE, OTHER_FAMILY, PULSE_SHARE, choose_fuse
from timing.power.loads import PULL_IN_SHARE
from timing.project import Project

CLASS_2_VA, CLASS_2_V = 100.0, 30.0
"""Limits of a class 2 source, 30 V and 100 VA (published: NFPA 70, chapter 9, table 11(A), seen quoted)."""
CLASS_2_SHORT_A = 8.0
"""What an inherently limited one gives into a dead short at most (published: NFPA 70, chapter 9, table 11(A), seen
quoted)."""
DIRECT_SHARE = 0.05
"""Direct current that a small transformer takes without complaint, as a share of its rated current (practice)."""


def input_voltage(project: Project) -> Iterator[Finding]:
    """A lightly loaded winding at high line rectifies far above its name; the regulator must be rated for it."""
    budget, supply = project.budget, project.design.supply
    highest, limit = budget.highest_v, budget.regulator.input_max_v
    if highest * VOLTAGE_MARGIN <= limit:
        return
    wanted = rating_at_least(highest * VOLTAGE_MARGIN, REGULATOR_RATINGS_V)
    remedies: list[Remedy] = []
    if wanted is not None:
        rating = set_supply("regulator_input_max", wanted, "V")
        switching = (DesignEdit("supply.regulator", "switching"),) if budget.regulator.linear else ()
        what = "switching regulator" if switching else "regulator"
        remedies.append(Remedy(f"Fit a {what} rated for {wanted:g} V at its input or more", (*switching, rating)))
    yield Finding(
        "supply.input-voltage",
        Severity.ERROR if highest > limit else Severity.WARNING,
        "supply.regulator_input_max",
        f"The reservoir can stand at {highest:.1f} V, and the regulator is rated for {limit:g} V",
        f"A {supply.nominal_v:g} VAC winding gives {budget.winding.open_v:.1f} V with nothing drawn; with the "
        f"line {supply.line_tolerance_percent:g} % high its peak, {budget.winding.open_v:.1f} V x "
        f"{1 + supply.line_tolerance_percent / 100:g} x 1.414 less the diodes, stays on the reservoir",
        (Figure("highest reservoir voltage", highest, "V"), Figure("regulator's highest input", limit, "V")),
        tuple(remedies),
    )


def volt_amperes(project: Project) -> Iterator[Finding]:
    """The transformer carries feeder and add-on together."""
    budget = project.budget
    rated_a = project.design.supply.rating_va / project.design.supply.nominal_v
    settled = [phase for phase in budget.phases if phase.state.settled]
    worst = max(settled, key=lambda phase: float(phase.state.winding_rms_a), default=None)
    if worst is None:
        return
    total = float(worst.state.winding_rms_a)
    if total <= rated_a:
        return
    alone = worst.load.ac_hold_a
    figures = (
        Figure("winding current", total, "A"),
        Figure("winding current as found", alone, "A"),
        Figure("rated current", rated_a, "A"),
    )
    own = Remedy("Feed the add-on from a small transformer of its own")
    linear = (DesignEdit("supply.regulator", "switching"),)
    remedies = (Remedy("Use a switching regulator: it draws less current", linear), own)
    yield Finding(
        "supply.volt-amperes",
        Severity.WARNING if alone > rated_a else Severity.ERROR,
        "supply.rating",
        f"In {worst.load.phase.word} the winding carries {total:.2f} A and is rated {rated_a:.2f} A",
        "It is already overloaded as found, if only for the length of a weld; the add-on makes it worse"
        if alone > rated_a
        else "A rectifier draws its current in short pulses: more VA than the watts say",
        figures,
        remedies if budget.regulator.linear else (own,),
    )


def pull_in(project: Project) -> Iterator[Finding]:
    """The coils must still pull in at low line, and the add-on must not be what stops them."""
    budget = project.budget
    if budget.sag is None:
        return
    wanted = PULL_IN_SHARE * project.design.supply.nominal_v
    with_it, without, best = budget.sag.winding_v, budget.sag.winding_alone_v, budget.sag.winding_best_v
    if with_it >= wanted:
        return
    own = without >= wanted
    lag = Remedy(
        "State the coils' power factor while they pull in, watts over volt-amperes of their data sheet "
        "(pull_in_power_factor): it decides here"
    )
    yield Finding(
        "supply.pull-in",
        Severity.WARNING,
        "feeder.contactor.coil.inrush",
        f"At low line the winding falls to {with_it:.1f} V, or {best:.1f} V where the coils lag more, in the change "
        f"from {budget.sag.change.before.word} to {budget.sag.change.after.word}; coils are made to pull in from "
        f"{wanted:.1f} V on",
        f"Without the add-on it falls to {without:.1f} V: "
        + ("the add-on makes the difference" if own else "the feeder does that by itself; the add-on adds little"),
        (Figure("winding voltage", with_it, "V"), Figure("without the add-on", without, "V")),
        (
            *((lag,) if best >= wanted else ()),
            Remedy("Try the contactor at low line; if it chatters, feed the add-on from its own small transformer"),
        ),
    )


def fuse(project: Project) -> Iterator[Finding]:
    """The add-on's fuse must carry, survive switching on, and open on a short."""
    budget = project.budget
    held, supply = budget.fuse, project.design.supply
    better = choose_fuse(held)
    remedy = Remedy(f"Fit {better.marking}", (set_supply("fuse", better.rating_a, "A"),))
    remedies: tuple[Remedy, ...] = ()
    # Searched for only where something is wrong: each try computes a budget of its own.
    if not held.works:
        own = better.works and better.rating_a != held.rating_a
        remedies = (remedy,) if own else (*series_resistor(budget), *smaller_reservoir(budget))
    figures = (
        Figure("fuse", held.rating_a, "A"),
        Figure("continuous current", held.continuous_a, "A"),
        Figure("switching-on integral", held.inrush_a2s, "A^2 s"),
        Figure("least melting integral", held.least_melting_a2s, "A^2 s"),
        Figure("short-circuit current, least", held.prospective_a, "A"),
        Figure("short behind the rectifier, least", held.fault_a, "A"),
        Figure("short-circuit current, most", held.highest_a, "A"),
    )
    if not held.carries:
        yield Finding(
            "supply.fuse-current",
            Severity.ERROR,
            "supply.fuse",
            f"The fuse of {held.rating_a:g} A carries {held.continuous_a:.2f} A continuously",
            f"In a warm box it should carry {100 * CONTINUOUS_SHARE:g} % of its rating at most",
            figures,
            remedies,
        )
    if not held.survives_inrush:
        yield Finding(
            "supply.fuse-inrush",
            Severity.ERROR,
            "supply.fuse",
            f"Switching on takes {held.inrush_a2s:.2f} A^2 s of the {held.least_melting_a2s:.2f} A^2 s "
            f"that are sure not to melt {held.marking}",
            f"Beyond {100 * PULSE_SHARE:g} % of it the wire ages with each switching-on and opens one day for nothing",
            figures,
            remedies,
        )
    if held.opens_in_s is None or held.fault_opens_in_s is None or not held.breaks:
        weakest = min(held.prospective_a, held.fault_a)
        broken = f"A dead short draws up to {held.highest_a:.0f} A, more than {held.marking} is made to break"
        slow = f"A short draws {weakest:.1f} A at its least, too little to open {held.rating_a:g} A in seconds"
        yield Finding(
            "supply.fuse-short",
            Severity.ERROR,
            "supply.fuse",
            slow if held.breaks else broken,
            "The resistance of winding and feed limits the current; the wires would overheat before the fuse opens"
            if held.breaks
            else "Beyond its breaking capacity a fuse may burst, and the arc in it goes on",
            figures,
            remedies,
        )
    if budget.fuse_proposed and held.works:
        text = f"Fuse the add-on's feed with {held.title}, time-lag, 5 x 20 mm, at the point of tapping"
        reason = (
            f"It carries {held.continuous_a:.2f} A, withstands {held.inrush_a2s:.2f} A^2 s at switching on, and opens "
            f"within {held.opens_in_s:g} s on a dead short of {held.prospective_a:.0f} A, the least that low line and "
            f"the readings allow; every wire behind it is sized to carry its rating. Buy it by that name: "
            f"{OTHER_FAMILY}"
        )
        yield Finding(
            "supply.fuse", Severity.INFO, "supply.fuse", text, reason, figures, (remedy,) if not supply.fuse_a else ()
        )


FUSE_OVERSIZE = 1.9
"""From this multiple of what the load asks for on, the surge is said to set the fuse (choice)."""


def fuse_fits_load(project: Project) -> Iterator[Finding]:
    """Where the surge of switching on sets the fuse, a fault that the load's own fuse would end stands for minutes."""
    budget = project.budget
    held = budget.fuse
    wanted = choose_fuse(held, inrush=False)
    # Behind a second transformer a fuse of its own ends such a fault.
    if budget.second_fuse is not None or not held.works or held.rating_a < FUSE_OVERSIZE * wanted.rating_a:
        return
    stands_w = held.stands_a * budget.winding.open_v
    yield Finding(
        "supply.fuse-set-by-surge",
        Severity.WARNING,
        "supply.series_resistor",
        f"The fuse is {held.marking} for the surge of switching on; the load of {held.continuous_a:.2f} A asks for "
        f"{wanted.rating_a:g} A",
        f"A fault of up to {held.stands_a:.1f} A, some {stands_w:.0f} W, may stand for {held.stands_s / 60:g} minutes "
        "and longer before this fuse opens",
        (
            Figure("fuse", held.rating_a, "A"),
            Figure("fuse for the load alone", wanted.rating_a, "A"),
            Figure("surge", budget.inrush.peak_a, "A"),
            Figure("power of a fault that stands", stands_w, "W"),
        ),
        (
            *series_resistor(budget),
            Remedy(
                "Or an NTC thermistor of a few ohm in its place: it limits the first surge only. Switched off and on "
                "again it is still warm and lets nearly all of the surge through, so that the fuse must stay as it is"
            ),
        ),
    )


def half_wave(project: Project) -> Iterator[Finding]:
    """A half-wave rectifier draws direct current through the winding."""
    budget = project.budget
    if project.design.supply.rectifier == "half-wave":
        direct = max(float(corner.state.load_mean_a) for corner in budget.settled)
        rated = project.design.supply.rating_va / project.design.supply.nominal_v
        yield Finding(
            "supply.half-wave",
            Severity.WARNING if direct > DIRECT_SHARE * rated else Severity.INFO,
            "supply.rectifier",
            f"The half-wave rectifier draws {1000 * direct:.0f} mA of direct current through the winding",
            "Direct current magnetises the core one way: more heat and hum. Half-wave pays only where board common "
            "must join one side of the winding",
            (Figure("direct current", direct, "A"),),
            tuple(full_wave(budget)),
        )


def notes(project: Project) -> Iterator[Finding]:
    """What cannot be computed, and what a local code has a say in."""
    budget = project.budget
    supply = project.design.supply
    if not budget.winding.measured:
        yield Finding(
            "supply.not-measured",
            Severity.WARNING,
            "supply.measured_open",
            "The transformer was not measured; its regulation is taken from its rating",
            "Old transformers stray. The open voltage decides what the regulator must be rated for",
            (Figure("assumed open voltage", budget.winding.open_v, "V"),),
            (Remedy("Measure the winding open and with a known load, and enter the three values"),),
        )
    if budget.winding.measured and supply.measured_with == "coils" and not supply.measured_power_factor_percent:
        yield Finding(
            "supply.measured-with-coils",
            Severity.INFO,
            "supply.measured_with",
            f"The winding was loaded with coils, whose current lags: its resistance lies between "
            f"{budget.winding.least_ohm:.2f} ohm and {budget.winding.most_ohm:.2f} ohm",
            "Only the part of the current in phase with the voltage shows as a fall of it. Both ends of the range are "
            "in the budget: the surge and the highest voltages at the lower, the lowest voltages and the opening of "
            "the fuse at the upper",
            (
                Figure("least resistance", budget.winding.least_ohm, "ohm"),
                Figure("most resistance", budget.winding.most_ohm, "ohm"),
            ),
            (
                Remedy(
                    "Measure again with a lamp or a power resistor across the winding, as the survey says, and set "
                    'measured_with = "resistive"'
                ),
            ),
        )
    limited = supply.rating_va <= CLASS_2_VA and budget.winding.open_v <= CLASS_2_V
    short_a = budget.fuse.highest_a
    inherently = (
        f"Into a dead short it gives up to {short_a:.0f} A, and an inherently limited source keeps to "
        f"{CLASS_2_SHORT_A:g} A: without overcurrent protection of its own it is none. "
        if short_a > CLASS_2_SHORT_A
        else f"Into a dead short it gives {short_a:.1f} A at most, as an inherently limited source does "
        f"({CLASS_2_SHORT_A:g} A). "
    )
    yield Finding(
        "supply.limited-power",
        Severity.INFO,
        "supply.rating",
        "At its usual line voltage the winding keeps to 30 V and 100 VA, the usual bounds of a class 2 circuit"
        if limited
        else "The winding exceeds 30 V or 100 VA, the usual bounds of a class 2 circuit: expect it to burn wires",
        inherently + "Whether the circuit counts as class 2 or limited power depends on the transformer's marking and "
        "the local code, not on the figures alone; ask where you work. Fuse the tap in either case",
        (
            Figure("open voltage", budget.winding.open_v, "V"),
            Figure("rating", supply.rating_va, "VA"),
            Figure("current into a dead short", short_a, "A"),
        ),
    )
