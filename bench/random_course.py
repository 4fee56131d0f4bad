"""Whether a run is too close to call: two things so near to each other that a board may take them in either order."""

from __future__ import annotations

from collections.abc import Iterator
from dataclasses import replace
from sys import maxsize

from bench.compare import EDGE_TOLERANCE
from timing.sequence.core.engine import Rig, run_script
from timing.sequence.core.script import Change, Script
from timing.sequence.core.table import Fault, Phase

SLACK_US = EDGE_TOLERANCE.early_us + EDGE_TOLERANCE.late_us
"""How much earlier or later a board may take an input (derived)."""


def too_close(rig: Rig, script: Script, fault: Fault = Fault.NONE, slack_us: int = SLACK_US) -> bool:
    """Tell whether other phases come about when one input comes that much earlier or later."""
    wanted = _course(rig, script, fault)
    return any(_course(rig, variant, fault) != wanted for variant in _variants(script, slack_us))


def _course(rig: Rig, script: Script, fault: Fault) -> list[tuple[Phase, Fault]]:
    return [(change.phase, change.fault) for change in run_script(rig, script, fault=fault).phases]


def _variants(script: Script, slack_us: int) -> Iterator[Script]:
    """Yield `script` with one change moved each, later and earlier, as far as its neighbours of the same input let."""
    for index, change in enumerate(script.changes):
        before_us = max((one.at_us for one in script.changes[:index] if one.what == change.what), default=-1)
        after_us = min((one.at_us for one in script.changes[index + 1 :] if one.what == change.what), default=maxsize)
        for shift_us in (-slack_us, slack_us):
            at_us = max(min(change.at_us + shift_us, after_us - 1), before_us + 1, 0)
            yield _with(script, index, replace(change, at_us=at_us))


def _with(script: Script, index: int, moved: Change) -> Script:
    changes = [*script.changes[:index], moved, *script.changes[index + 1 :]]
    return Script(tuple(sorted(changes, key=lambda change: change.at_us)), script.end_us)
