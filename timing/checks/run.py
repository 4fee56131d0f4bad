"""All rules, and the running of them."""

from __future__ import annotations

from collections.abc import Callable, Iterable

from timing.checks import dials, duty, gas, levels, limits, memory, pins, process, supply, times, trigger
from timing.checks.finding import Finding, Severity
from timing.project import Project

Rule = Callable[[Project], Iterable[Finding]]

RULES: tuple[Rule, ...] = (
    pins.every_role_has_a_pin,
    pins.one_role_a_pin,
    pins.pins_can_do_their_job,
    pins.pins_are_free_at_boot,
    pins.outputs_are_pulled_off,
    pins.no_idle_pins,
    levels.board_was_tested,
    levels.gates_open_at_logic_level,
    levels.signals_keep_to_logic_level,
    trigger.filter_bridges_the_gaps,
    trigger.filter_outlasts_bounce,
    trigger.release_delay,
    gas.gas_suits_wire,
    process.arc_can_burn,
    process.preflow_clears_the_air,
    times.spot_dial_range,
    process.spot_outlasts_the_start,
    times.burnback_is_short,
    process.burnback_leaves_a_good_end,
    process.burnback_serves_all_speeds,
    process.postflow_outlasts_the_crater,
    times.pause_parts_the_stitches,
    dials.dial_step,
    supply.supply_and_circuits,
    limits.weld_limit,
    limits.four_step_rests,
    limits.arc_start_limit,
    duty.relay_operations,
    duty.duty_cycle,
    memory.memory_fit,
)
"""Every rule, once, in the order in which a person would fix things."""


def check(project: Project) -> list[Finding]:
    """Run every rule; return the findings, the gravest first, otherwise in the order of the rules."""
    findings = [finding for rule in RULES for finding in rule(project)]
    return sorted(findings, key=lambda finding: -finding.severity)


def worst(findings: Iterable[Finding]) -> Severity:
    """Return the gravest severity among `findings`; INFO when there are none."""
    return max((finding.severity for finding in findings), default=Severity.INFO)
