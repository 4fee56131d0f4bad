"""Where the walk through the steps stands: folded from the logbook, which is all that it remembers.

An outcome holds for what its step rested on. When the wiring, the sequence or the wire changes, the steps that rest on
it are asked anew, and no others; the last outcome of a step is the one that counts.
"""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass
from enum import StrEnum

from timing.commission.step import CommissionStep, ReadingAsked
from timing.commission.steps import CommissionPlan
from timing.design.units import QuantityError, parse_quantity
from timing.logbook.entry import Entry, EntryKind, EntryValue, Logbook


class StepOutcome(StrEnum):
    """What became of a step. The word stands in the logbook."""

    PASSED = "passed"
    FAILED = "failed"
    SKIPPED = "skipped"


class StepState(StrEnum):
    """How a step stands now."""

    OPEN = "open"
    """Never asked."""
    ANEW = "anew"
    """Asked, but what it rested on has changed since."""
    FAILED = "failed"
    SKIPPED = "skipped"
    PASSED = "passed"

    @property
    def to_do(self) -> bool:
        """True where nothing that comes later is asked before it."""
        return self in (StepState.OPEN, StepState.ANEW, StepState.FAILED)


@dataclass(frozen=True)
class StepRecord:
    """The last outcome of a step, as it was given."""

    when: str
    """Local time with its offset, as in the logbook."""
    outcome: StepOutcome
    reading: str
    """As it was typed, with its unit; empty where none was asked."""
    holds_for: str
    """Fingerprint of the step as it was then."""
    digest: str
    """Of the design then."""


def step_values(step: CommissionStep, outcome: StepOutcome, reading: str, digest: str) -> dict[str, EntryValue]:
    """Return an outcome as the values of a logbook's entry."""
    values: dict[str, EntryValue] = {"step": step.key, "outcome": outcome.value}
    if reading:
        values["reading"] = reading
    return values | {"holds_for": step.fingerprint, "digest": digest}


def records_of(logbook: Logbook) -> dict[str, StepRecord]:
    """Return the last outcome of each step by its key; entries that tell of none are passed over."""
    found: dict[str, StepRecord] = {}
    for entry in logbook.of(EntryKind.STEP):
        key, record = entry.values.get("step"), _record(entry)
        if isinstance(key, str) and record is not None:
            found[key] = record
    return found


def _record(entry: Entry) -> StepRecord | None:
    try:
        outcome = StepOutcome(str(entry.values.get("outcome")))
    except ValueError:
        return None
    reading, holds_for, digest = (str(entry.values.get(key, "")) for key in ("reading", "holds_for", "digest"))
    return StepRecord(entry.at, outcome, reading, holds_for, digest)


@dataclass(frozen=True)
class CommissionWalk:
    """The steps of a project with what became of each."""

    plan: CommissionPlan
    records: Mapping[str, StepRecord]

    def state(self, step: CommissionStep) -> StepState:
        """Return how a step stands."""
        record = self.records.get(step.key)
        if record is None:
            return StepState.OPEN
        return StepState(record.outcome.value) if record.holds_for == step.fingerprint else StepState.ANEW

    def in_state(self, *states: StepState) -> tuple[CommissionStep, ...]:
        """Return the steps that stand so, in order."""
        return tuple(step for step in self.plan.steps if self.state(step) in states)

    def next_step(self, passed_over: frozenset[str] = frozenset()) -> CommissionStep | None:
        """Return the step to ask next; None where there is none.

        The first that is open, failed or to be done anew; once there is none, the first that was skipped, unless its
        key stands in `passed_over`.
        """
        to_do = next((step for step in self.plan.steps if self.state(step).to_do), None)
        if to_do is not None:
            return to_do
        return next((step for step in self.in_state(StepState.SKIPPED) if step.key not in passed_over), None)

    def before(self, step: CommissionStep) -> CommissionStep | None:
        """Return the step before one; None for the first."""
        number = self.plan.steps.index(step)
        return self.plan.steps[number - 1] if number else None

    def reading(self, step: CommissionStep) -> float | None:
        """Return the reading that a step passed with, in the unit it asks for; None where there is none."""
        record, asked = self.records.get(step.key), step.ask
        if not isinstance(asked, ReadingAsked) or record is None or self.state(step) is not StepState.PASSED:
            return None
        try:
            return parse_quantity(record.reading, asked.unit)
        except QuantityError:
            return None

    @property
    def finished(self) -> bool:
        """True where every step passed, those left out excepted."""
        return not any(self.state(step).to_do for step in self.plan.steps)

    @property
    def left(self) -> int:
        """How many steps are still to be asked."""
        return sum(self.state(step).to_do for step in self.plan.steps)

    @property
    def started(self) -> bool:
        """True where at least one outcome of these steps was given."""
        return any(step.key in self.records for step in self.plan.steps)


def walk_of(plan: CommissionPlan, logbook: Logbook) -> CommissionWalk:
    """Return where the walk stands after what the logbook says."""
    return CommissionWalk(plan, records_of(logbook))
