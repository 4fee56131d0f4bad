"""Rules for the trigger's input: never pressed by a leak, always pressed by a press."""

from __future__ import annotations

from collections.abc import Iterator

from timing.checks.controls import GAP_MARGIN
from timing.checks.finding import DesignEdit, Figure, Finding, Remedy, Severity, time_figure
from timing.checks.remedies import set_duration, whole_ms
from timing.circuit.found_ends import SAME_CIRCUIT, found_ends
from timing.circuit.preferred import E6, at_most
from timing.circuit.trigger_input import LED_MAX_A, TriggerSense, trigger_sense
from timing.design.controls import Trigger
from timing.design.design import Design
from timing.design.units import format_quantity
from timing.formatting import ms
from timing.project import Project

LEAST_RC_F = 1e-9
"""Smallest capacitor across the trigger that a remedy proposes (choice)."""


def trigger_levels(project: Project) -> Iterator[Finding]:
    """The input's ON and OFF levels, its leak and the current through the optocoupler's LED."""
    sense = trigger_sense(project.design, project.board)
    figures, remedies = _figures(sense), tuple(_remedies(project, sense))
    kept, wanted, unit = sense.kept, sense.wanted, "V RMS" if sense.ac else "V"
    if kept.on_v > wanted.on_v:
        yield Finding(
            "circuits.trigger-current",
            Severity.ERROR if sense.margin < 1.0 else Severity.WARNING,
            "supply.trigger_resistor",
            f"With an aged optocoupler the trigger is sure to read closed only from {kept.on_v:.1f} {unit} on; wanted "
            f"is {wanted.on_v:.1f} {unit}, and low line leaves {sense.low_v:.1f} {unit}",
            f"Couplers lose half their current transfer ratio over the years, and some when warm. At low line the LED "
            f"gets {1000 * sense.low_a:.1f} mA of the {1000 * sense.needed_a:.1f} mA that it then needs",
            figures,
            remedies,
        )
    if kept.off_a < wanted.off_a:
        stated = sense.leak_a >= wanted.off_a
        cause = "the RC or leak across the trigger passes" if stated else "a damp gun cable may leak"
        yield Finding(
            "circuits.trigger-leak",
            Severity.ERROR,
            "trigger.snubber_capacitor" if project.design.trigger.snubber_capacitor_f else "supply.trigger_bleed",
            f"The trigger is sure to read open only up to a leak of {1000 * kept.off_a:.1f} mA; {cause} "
            f"{1000 * wanted.off_a:.1f} mA",
            "What leaks through the open trigger lights the LED of a new optocoupler: the machine may start by itself, "
            "or never stop",
            figures,
            remedies,
        )
    if kept.off_v < wanted.off_v:
        yield Finding(
            "circuits.trigger-off",
            Severity.WARNING,
            "supply.trigger_resistor",
            f"With a new optocoupler the trigger is sure to read open only up to {kept.off_v:.1f} {unit}; wanted is "
            f"{wanted.off_v:.1f} {unit}",
            "What is left of the voltage while the trigger is open, from a cable beside others or a dirty socket, must "
            "not count",
            figures,
            remedies,
        )
    if sense.high_a > LED_MAX_A:
        yield Finding(
            "circuits.trigger-led",
            Severity.ERROR,
            "supply.trigger_resistor",
            f"At high line the trigger's optocoupler gets {1000 * sense.high_a:.1f} mA; {1000 * LED_MAX_A:g} mA is "
            "plenty",
            "An LED driven hard ages fast",
            figures,
            remedies,
        )
    if sense.proposed and sense.holds:
        yield _proposal(sense, figures)


def _proposal(sense: TriggerSense, figures: tuple[Figure, ...]) -> Finding:
    unit = "V RMS" if sense.ac else "V"
    gaps = f". The longest gap between pulses is {sense.gap_us / 1000:.1f} ms at low line" if sense.ac else ""
    return Finding(
        "circuits.trigger",
        Severity.INFO,
        "supply.trigger_resistor",
        f"Trigger sense: {_pair(sense)} across the optocoupler",
        f"Open up to {sense.kept.off_v:.1f} {unit} and up to a leak of {1000 * sense.kept.off_a:.1f} mA with a new "
        f"coupler, closed from {sense.kept.on_v:.1f} {unit} on with an aged one; the contact carries "
        f"{1000 * sense.wetting_a:.0f} mA, the resistor turns {sense.dissipation_w:.2f} W into heat while the trigger "
        f"is held{gaps}",
        figures,
        (_fit(sense),),
    )


def _pair(sense: TriggerSense) -> str:
    series, bleed = format_quantity(sense.resistor_ohm, "ohm"), format_quantity(sense.bleed_ohm, "ohm")
    return f"{series}, {sense.rating_w:g} W, in series, and {bleed}"


def _fit(sense: TriggerSense) -> Remedy:
    series, bleed = format_quantity(sense.resistor_ohm, "ohm"), format_quantity(sense.bleed_ohm, "ohm")
    return Remedy(
        f"Fit {_pair(sense)} across the optocoupler",
        (DesignEdit("supply.trigger_resistor", series), DesignEdit("supply.trigger_bleed", bleed)),
    )


def _figures(sense: TriggerSense) -> tuple[Figure, ...]:
    return (
        Figure("series resistor", sense.resistor_ohm, "ohm"),
        Figure("bleed resistor", sense.bleed_ohm, "ohm"),
        Figure("reads open up to", sense.kept.off_v, "V"),
        Figure("reads open with a leak up to", 1000 * sense.kept.off_a, "mA"),
        Figure("reads closed from", sense.kept.on_v, "V"),
        Figure("leak that is stated", 1000 * sense.leak_a, "mA"),
        Figure("current through the contact at low line", 1000 * sense.wetting_a, "mA"),
        Figure("LED current at low line", 1000 * sense.low_a, "mA"),
        Figure("LED current needed", 1000 * sense.needed_a, "mA"),
        Figure("LED current at high line", 1000 * sense.high_a, "mA"),
        Figure("heat in the resistor", sense.dissipation_w, "W"),
        Figure("pin's rise after a release", sense.rise_us / 1000, "ms"),
    )


def _remedies(project: Project, sense: TriggerSense) -> Iterator[Remedy]:
    """Both resistors chosen anew where that is enough; else what keeps them from doing it."""
    board, open_design = project.board, _with_supply(project.design, trigger_resistor_ohm=None, trigger_bleed_ohm=None)
    chosen = trigger_sense(open_design, board)
    if chosen.holds:
        if not sense.holds:
            yield _fit(chosen)
        return
    trigger = project.design.trigger
    if trigger.snubber_capacitor_f is not None:
        value = at_most(trigger.snubber_capacitor_f, E6)
        while value > LEAST_RC_F and not trigger_sense(_with_rc(open_design, value), board).holds:
            value = at_most(value * 0.99, E6)
        smaller = trigger_sense(_with_rc(open_design, value), board)
        if smaller.holds:
            text = format_quantity(value, "F")
            yield Remedy(
                "Take the RC off the trigger's contact: the coils that it was for hang there no longer. Or fit one of "
                f"{text} at most",
                (DesignEdit("trigger.snubber_capacitor", text), *_fit(smaller).changes),
            )
            return
    if trigger.leak_ohm is not None:
        yield Remedy("Dry the gun's cable and its connector, or renew it, and measure again")
        return
    volts = project.design.supply.nominal_v
    own = trigger.model_copy(update={"sense": "ac", "circuit_voltage_v": volts})
    fed = trigger_sense(open_design.model_copy(update={"trigger": own}), board)
    if fed.holds:
        yield Remedy(
            "Take both wires of the trigger off that circuit, and feed it from the tapped 24 VAC, behind the fuse",
            (
                DesignEdit("trigger.sense", "ac"),
                DesignEdit("trigger.circuit_voltage", f"{volts:g} V"),
                *_fit(fed).changes,
            ),
        )


def _with_supply(design: Design, **supply: None) -> Design:
    return design.model_copy(update={"supply": design.supply.model_copy(update=supply)})


def _with_rc(design: Design, capacitor_f: float) -> Design:
    trigger: Trigger = design.trigger.model_copy(update={"snubber_capacitor_f": capacitor_f})
    return design.model_copy(update={"trigger": trigger})


def trigger_sag(project: Project) -> Iterator[Finding]:
    """A trigger fed from the winding that a contactor pulls down must not be lost meanwhile."""
    design, sag = project.design, project.budget.sag
    trigger, sense = design.trigger, trigger_sense(design, project.board)
    dry = found_ends(design, project.drives).dry
    shared = sense.ac and (dry or abs(trigger.circuit_voltage_v / design.supply.nominal_v - 1.0) <= SAME_CIRCUIT)
    if sag is None or not shared or sag.winding_v >= sense.kept.on_v or sag.change.lasts_us < trigger.filter_us:
        return
    lasts_us = sag.change.lasts_us
    longer = set_duration("trigger.filter", whole_ms(GAP_MARGIN * lasts_us))
    yield Finding(
        "circuits.trigger-sag",
        Severity.WARNING,
        "trigger.filter",
        f"While the coils pull in, up to {ms(lasts_us)}, the winding may fall to {sag.winding_v:.1f} V RMS; an aged "
        f"trigger input is sure to read closed only from {sense.kept.on_v:.1f} V RMS on, and the filter is "
        f"{ms(trigger.filter_us)}",
        "The trigger hangs on the same winding: its release would be read in the middle of the start, the coils would "
        "let go, the voltage come back, and so on",
        (
            Figure("winding during the pull-in", sag.winding_v, "V"),
            Figure("reads closed from", sense.kept.on_v, "V"),
            time_figure("pull-in", lasts_us),
            time_figure("filter", trigger.filter_us),
        ),
        (Remedy(f"A filter that outlasts it, {longer.value}; or a larger transformer", (longer,)),),
    )
