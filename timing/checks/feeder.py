"""Rules for what comes from the feeder: the winding's voltage and load, the fuse, the rectifier."""

from __future__ import annotations

from collections.abc import Iterator

from timing.checks.finding import DesignEdit, Figure, Finding, Remedy, Severity
from timing.checks.remedies import full_wave, set_supply, smaller_reservoir
from timing.circuit.preferred import REGULATOR_RATINGS_V, VOLTAGE_MARGIN, rating_at_least
from timing.power.components import CONTINUOUS_SHARE, PULSE_SHARE, choose_fuse, least_melting_a2s
from timing.project import Project

PULL_IN_SHARE = 0.85
"""A coil is made to pull in from 85 % of its rated voltage on, the lower limit in the IEC 60947 series (practice)."""
CLASS_2_VA, CLASS_2_V = 100.0, 30.0
"""Limits of a class 2 source, 30 V and 100 VA (published: NFPA 70, chapter 9, table 11(A), seen quoted)."""
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
    with_it, without = budget.sag.winding_v, budget.sag.winding_alone_v
    if with_it >= wanted:
        return
    own = without >= wanted
    yield Finding(
        "supply.pull-in",
        Severity.WARNING,
        "feeder.contactor.coil.inrush",
        f"At low line the winding falls to {with_it:.1f} V in the change from {budget.sag.change.before.word} to "
        f"{budget.sag.change.after.word}; coils are made to pull in from {wanted:.1f} V on",
        f"Without the add-on it falls to {without:.1f} V: "
        + ("the add-on makes the difference" if own else "the feeder does that by itself; the add-on adds little"),
        (Figure("winding voltage", with_it, "V"), Figure("without the add-on", without, "V")),
        (Remedy("Try the contactor at low line; if it chatters, feed the add-on from its own small transformer"),),
    )


def fuse(project: Project) -> Iterator[Finding]:
    """The add-on's fuse must carry, survive switching on, and open on a short."""
    budget = project.budget
    held, supply = budget.fuse, project.design.supply
    better = choose_fuse(held.continuous_a, held.inrush_a2s, held.prospective_a)
    works = better.carries and better.survives_inrush and better.opens_in_s is not None
    remedy = Remedy(f"Fit T {better.rating_a:g} A", (set_supply("fuse", better.rating_a, "A"),))
    fine = held.carries and held.survives_inrush and held.opens_in_s is not None
    remedies: tuple[Remedy, ...] = ()
    # Searched for only where something is wrong: each try computes a budget of its own.
    if not fine:
        remedies = (remedy,) if works and better.rating_a != held.rating_a else tuple(smaller_reservoir(budget))
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
            f"Switching on takes {held.inrush_a2s:.2f} A^2 s of the {least_melting_a2s(held.rating_a):.2f} A^2 s "
            f"that are sure not to melt a fuse of {held.rating_a:g} A",
            f"Beyond {100 * PULSE_SHARE:g} % of it the wire ages with each switching-on and opens one day for nothing",
            figures,
            remedies,
        )
    if held.opens_in_s is None:
        yield Finding(
            "supply.fuse-short",
            Severity.ERROR,
            "supply.fuse",
            f"A dead short draws {held.prospective_a:.1f} A, too little to open {held.rating_a:g} A in seconds",
            "The winding's resistance limits the current; the wires would overheat before the fuse opens",
            figures,
            remedies,
        )
    if budget.fuse_proposed and fine:
        text = f"Fuse the add-on's feed with T {held.rating_a:g} A (IEC 60127-2, time-lag), at the point of tapping"
        reason = (
            f"It carries {held.continuous_a:.2f} A, withstands {held.inrush_a2s:.2f} A^2 s at switching on, and opens "
            f"on a dead short within {held.opens_in_s:g} s; every wire behind it is sized to carry its rating"
        )
        yield Finding(
            "supply.fuse", Severity.INFO, "supply.fuse", text, reason, figures, (remedy,) if not supply.fuse_a else ()
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
    limited = supply.rating_va <= CLASS_2_VA and budget.winding.open_v <= CLASS_2_V
    yield Finding(
        "supply.limited-power",
        Severity.INFO,
        "supply.rating",
        "At its usual line voltage the winding keeps to 30 V and 100 VA, the usual bounds of a class 2 circuit"
        if limited
        else "The winding exceeds 30 V or 100 VA, the usual bounds of a class 2 circuit: expect it to burn wires",
        "Whether the circuit counts as class 2 or limited power depends on the transformer's marking and the local "
        "code, not on the figures alone; ask where you work. Fuse the tap in either case",
        (Figure("open voltage", budget.winding.open_v, "V"), Figure("rating", supply.rating_va, "VA")),
    )
