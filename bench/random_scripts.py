"""Random trigger scripts for a design, for hypothesis, and whether a run of one is too close to call.

A run is too close to call where two things are so near to each other that a board may take them in either order.
"""

from __future__ import annotations

from collections.abc import Iterator, Sequence
from dataclasses import replace

from hypothesis import strategies as st
from hypothesis.strategies import SearchStrategy

from bench.compare import EDGE_TOLERANCE
from bench.forcing import rig_as_forced
from timing.protocol.target import Target
from timing.sequence.core.engine import Engine, Rig, run_script
from timing.sequence.core.script import Change, Script, Switch, What
from timing.sequence.core.table import Fault, Phase

GAPS_US = (2_000, 15_000, 40_000, 90_000, 250_000, 700_000)
"""Times between two steps: around filters, burnback and the rest."""
MOST_STEPS = 10
LONGEST_SCRIPT_US = 20_000_000
"""A script that goes on for longer is not run."""
PULL_US = 150_000
"""Longer than any filter: a pull of the trigger that surely counts."""
FIRST_STEP_US = 50_000


def random_scripts(target: Target) -> SearchStrategy[Script]:
    """Return scripts of any inputs that the design has; all are brought to rest in the end."""
    step = st.tuples(st.sampled_from(GAPS_US), st.integers(0, 999), st.sampled_from(_inputs(target)))
    scripts = st.lists(step, min_size=1, max_size=MOST_STEPS).map(lambda steps: _script(target, steps))
    rig = rig_as_forced(target)
    return scripts.filter(lambda script: run_script(rig, script).end_us <= LONGEST_SCRIPT_US)


def _inputs(target: Target) -> Sequence[What]:
    # The trigger is what it is all about.
    contacts = [what for what in ("purge", "inch", "arc", "interlock", "four_step") if what in target.fitted]
    switches = [Switch(name) for name in target.rig.times_us if f"{name}_switch" in target.fitted]
    return ["trigger"] * 4 + contacts + switches


def _script(target: Target, steps: Sequence[tuple[int, int, What]]) -> Script:
    rig = target.rig
    stands: dict[What, int] = {"interlock": 1, "four_step": int(rig.four_step)}
    stands |= {Switch(name): int(on) for name, on in rig.switches.items()}
    changes, at_us = [], FIRST_STEP_US
    for gap_us, odd_us, what in steps:
        at_us += gap_us + odd_us
        stands[what] = 1 - stands.get(what, 0)
        changes.append(Change(at_us, what, stands[what]))
    for what in ("trigger", "purge", "inch", "arc"):
        if stands.get(what):
            at_us += PULL_US
            changes.append(Change(at_us, what, 0))
    if not stands["interlock"]:
        at_us += PULL_US
        changes.append(Change(at_us, "interlock", 1))
    return Script((*changes, *_pull_to_end(target, changes, at_us + 2 * PULL_US)))


def _pull_to_end(target: Target, changes: Sequence[Change], at_us: int) -> list[Change]:
    """Return a pull of the trigger where a four-step weld would go on without one."""
    engine = Engine(rig_as_forced(target))
    engine.settle()
    for change in changes:
        engine.apply(change)
    engine.run_until(at_us)
    if engine.state.phase not in (Phase.PREFLOW, Phase.WELD) or not engine.state.four_step:
        return []
    return [Change(at_us, "trigger", 1), Change(at_us + PULL_US, "trigger", 0)]


SLACK_US = EDGE_TOLERANCE.early_us + EDGE_TOLERANCE.late_us


def too_close(rig: Rig, script: Script, fault: Fault = Fault.NONE) -> bool:
    """Tell whether other phases come about when the inputs come a tolerance earlier or later."""
    wanted = _course(rig, script, fault)
    return any(_course(rig, variant, fault) != wanted for variant in _variants(script))


def _course(rig: Rig, script: Script, fault: Fault) -> list[tuple[Phase, Fault]]:
    return [(change.phase, change.fault) for change in run_script(rig, script, fault=fault).phases]


def _variants(script: Script) -> Iterator[Script]:
    """Yield `script` with one change moved each, later and earlier, as far as its neighbours of the same input let."""
    for index, change in enumerate(script.changes):
        for shift_us in (-SLACK_US, SLACK_US):
            moved = replace(change, at_us=max(change.at_us + shift_us, 0))
            yield _with(script, index, moved)


def _with(script: Script, index: int, moved: Change) -> Script:
    changes = [*script.changes[:index], moved, *script.changes[index + 1 :]]
    return Script(tuple(sorted(changes, key=lambda change: change.at_us)), script.end_us)
