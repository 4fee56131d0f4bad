"""Random trigger scripts for a design: steps of any inputs that it has, all brought to rest in the end."""

from __future__ import annotations

from collections.abc import Iterator, Sequence
from random import Random

from bench.cases import Case
from bench.forcing import rig_as_forced
from bench.random_course import SLACK_US, too_close
from timing.protocol.target import Target
from timing.sequence.core.engine import Engine, run_script
from timing.sequence.core.script import Change, Script, Switch, What
from timing.sequence.core.table import Phase

GAPS_US = (2_000, 15_000, 40_000, 90_000, 250_000, 700_000)
"""Times between two steps: around filters, burnback and the rest."""
MOST_STEPS = 10
LONGEST_SCRIPT_US = 20_000_000
"""A script that goes on for longer is not run."""
PULL_US = 150_000
"""Longer than any filter: a pull of the trigger that surely counts."""
FIRST_STEP_US = 50_000


def script_inputs(target: Target) -> Sequence[What]:
    """Return what a step may move, each as often as it deserves."""
    # The trigger is what it is all about.
    contacts = [what for what in ("purge", "inch", "arc", "interlock", "four_step") if what in target.fitted]
    switches = [Switch(name) for name in target.rig.times_us if f"{name}_switch" in target.fitted]
    return ["trigger"] * 4 + contacts + switches


def script_of(target: Target, steps: Sequence[tuple[int, int, What]]) -> Script:
    """Return the script of steps: gap to the one before, microseconds on top, and what moves."""
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


def drawn_cases(target: Target, count: int, seed: int, slack_us: int = SLACK_US) -> Iterator[Case]:
    """Yield `count` random cases; same target, seed and slack, same cases. Too long or too close ones are drawn anew.

    slack_us: how much earlier or later the boards may take an input.
    """
    random, rig = Random(seed), rig_as_forced(target)
    number = 0
    while number < count:
        steps = [
            (random.choice(GAPS_US), random.randrange(1_000), random.choice(script_inputs(target)))
            for _ in range(random.randint(1, MOST_STEPS))
        ]
        script = script_of(target, steps)
        end_us = run_script(rig, script).end_us
        if end_us <= LONGEST_SCRIPT_US and not too_close(rig, script, slack_us=slack_us):
            number += 1
            yield Case(f"random-{seed}-{number}", f"random script {number} of seed {seed}", script, end_us)
