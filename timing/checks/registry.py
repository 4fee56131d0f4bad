"""All rules, and the running of them."""

from __future__ import annotations

from collections.abc import Callable, Iterable

from timing.checks import board, controls, process, supply, times
from timing.checks.finding import Finding, Severity
from timing.project import Project

Rule = Callable[[Project], Iterable[Finding]]

RULES: tuple[Rule, ...] = (
    board.every_role_has_a_pin,
    board.one_role_a_pin,
    board.pins_can_do_their_job,
    board.pins_are_free_at_boot,
    board.outputs_are_pulled_off,
    board.no_idle_pins,
    board.board_was_tested,
    board.gates_open_at_logic_level,
    board.signals_keep_to_logic_level,
    controls.filter_bridges_the_gaps,
    controls.filter_outlasts_bounce,
    controls.release_delay,
    process.gas_suits_wire,
    process.arc_can_burn,
    process.preflow_clears_the_air,
    times.spot_dial_range,
    process.spot_outlasts_the_start,
    times.burnback_is_short,
    process.burnback_leaves_a_good_end,
    process.burnback_serves_all_speeds,
    process.postflow_outlasts_the_crater,
    times.pause_parts_the_stitches,
    controls.dial_step,
    supply.supply_and_circuits,
    times.weld_limit,
    times.four_step_rests,
    times.arc_start_limit,
    times.relay_operations,
    times.duty_cycle,
    board.memory_fit,
)
"""Every rule, once, in the order in which a person would fix things."""


def check(project: Project) -> list[Finding]:
    """Run every rule; return the findings, the gravest first, otherwise in the order of the rules."""
    findings = [finding for rule in RULES for finding in rule(project)]
    return sorted(findings, key=lambda finding: -finding.severity)


def worst(findings: Iterable[Finding]) -> Severity:
    """Return the gravest severity among `findings`; INFO when there are none."""
    return max((finding.severity for finding in findings), default=Severity.INFO)
