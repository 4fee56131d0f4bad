"""Parts proposed for what a design leaves open, each with its reason and the change that writes it down."""

from __future__ import annotations

from dataclasses import dataclass

from timing.checks.finding import DesignEdit
from timing.circuit.preferred import (
    CAPACITOR_RATINGS_V,
    E6,
    REGULATOR_RATINGS_V,
    VOLTAGE_MARGIN,
    at_least,
    rating_at_least,
)
from timing.circuit.trigger_input import trigger_sense
from timing.design.units import format_quantity
from timing.power.components import board_feed
from timing.project import Project


@dataclass(frozen=True)
class Proposal:
    """One value for the design file."""

    change: DesignEdit
    part: str
    reason: str
    open: bool
    """True where the design says nothing; False where the proposal differs from what it says."""


def proposals(project: Project) -> tuple[Proposal, ...]:
    """Return the parts that suit the budget, where the design leaves them open or falls short."""
    budget = project.budget
    supply, highest = budget.supply, budget.highest_v
    offered: list[Proposal] = []

    def offer(key: str, value: float, unit: str, part: str, reason: str, is_open: bool) -> None:
        offered.append(Proposal(DesignEdit(f"supply.{key}", format_quantity(value, unit)), part, reason, is_open))

    rated_v = rating_at_least(highest * VOLTAGE_MARGIN, REGULATOR_RATINGS_V)
    if rated_v is not None and rated_v > budget.regulator.input_max_v:
        reason = f"the reservoir can stand at {highest:.1f} V with the line high and nothing drawn"
        part = f"{supply.regulator} regulator for {rated_v:g} V"
        offer("regulator_input_max", rated_v, "V", part, reason, supply.regulator_input_max_v is None)
    if supply.regulator_output_v is None:
        feed = board_feed(budget.board, project.design.circuits)
        reason = f"the board takes {feed.low_v:g} V to {feed.high_v:g} V at {feed.terminal}"
        part = f"regulator set to {budget.regulator.output_v:g} V"
        offer("regulator_output", budget.regulator.output_v, "V", part, reason, True)
    rated_v = rating_at_least(highest * VOLTAGE_MARGIN, CAPACITOR_RATINGS_V)
    if rated_v is not None and rated_v > supply.reservoir_rating_v:
        reason = f"it can stand at {highest:.1f} V"
        offer("reservoir_rating", rated_v, "V", f"reservoir rated {rated_v:g} V", reason, False)
    if supply.reservoir_ripple_a is None:
        ripple = at_least(budget.capacitor_ripple_a * 1.2, E6)
        reason = f"its ripple current is {budget.capacitor_ripple_a:.2f} A at worst"
        offer("reservoir_ripple", ripple, "A", f"reservoir for {ripple:g} A of ripple or more", reason, True)
    if supply.fuse_a is None:
        fuse = budget.fuse
        reason = (
            f"carries {fuse.continuous_a:.2f} A, withstands {fuse.inrush_a2s:.2f} A^2 s at switching on, opens on the "
            f"{fuse.prospective_a:.0f} A that a dead short draws at least"
        )
        offer("fuse", fuse.rating_a, "A", f"fuse {fuse.title}", reason, True)
    sense = trigger_sense(project.design, project.board)
    if sense.holds and supply.trigger_resistor_ohm is None:
        reason = f"the trigger reads closed from {sense.kept.on_v:.1f} V on, with an aged optocoupler"
        part = f"{format_quantity(sense.resistor_ohm, 'ohm')}, {sense.rating_w:g} W"
        offer("trigger_resistor", sense.resistor_ohm, "ohm", part, reason, True)
    if sense.holds and supply.trigger_bleed_ohm is None:
        reason = f"a leak of up to {1000 * sense.kept.off_a:.1f} mA reads open, with a new optocoupler"
        part = f"{format_quantity(sense.bleed_ohm, 'ohm')} across the optocoupler's input"
        offer("trigger_bleed", sense.bleed_ohm, "ohm", part, reason, True)
    return tuple(offered)
