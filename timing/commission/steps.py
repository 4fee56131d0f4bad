"""All steps of commissioning one project, in their order, and what can hurt at each stage."""

from __future__ import annotations

from collections.abc import Iterator, Mapping
from dataclasses import dataclass

from timing.commission.dry_runs import dry_steps
from timing.commission.gas_and_supply import gas_steps, supply_steps
from timing.commission.readings import before_power, first_power
from timing.commission.step import CommissionStage, CommissionStep
from timing.commission.welding import dial_marks, first_arc, test_weld_steps
from timing.once import once
from timing.project import Project
from timing.safety import (
    ALTERED,
    BEFORE_OPENING,
    GAS,
    HIGH_FREQUENCY,
    LIVE_MEASURING,
    NOT_SAFETY,
    ROLLS_AND_WIRE,
    TRIGGER_HELD,
    WELDING_CIRCUIT,
    WHILE_WELDING,
)

DRY_CAUTION = (
    "Pressure arm up where the wire need not run, work clamp off, gun clear of everything: while the contactor is in, "
    "the wire is live. One hand on the gun's handle or on a button, the other off the machine."
)
"""Said before every run without an arc."""


@dataclass(frozen=True)
class CommissionPlan:
    """What to do, in order, and what to know before each stage."""

    steps: tuple[CommissionStep, ...]
    cautions: Mapping[CommissionStage, tuple[str, ...]]

    @property
    def stages(self) -> tuple[CommissionStage, ...]:
        """The stages that have steps."""
        return tuple(dict.fromkeys(step.stage for step in self.steps))

    def of(self, stage: CommissionStage) -> tuple[CommissionStep, ...]:
        """Return the steps of a stage."""
        return tuple(step for step in self.steps if step.stage is stage)

    def step(self, key: str) -> CommissionStep:
        """Return the step of that key. Raises KeyError."""
        return {step.key: step for step in self.steps}[key]


@once
def commission_plan(project: Project) -> CommissionPlan:
    """Return the steps of commissioning `project`. The burnback advice is asked for; it takes a moment."""
    return CommissionPlan(tuple(_steps(project)), _cautions(project))


def _steps(project: Project) -> Iterator[CommissionStep]:
    yield from before_power(project)
    yield from first_power(project)
    yield from dry_steps(project)
    yield from gas_steps(project)
    yield from _safety_steps()
    yield from first_arc(project)
    yield from test_weld_steps(project)
    yield from dial_marks(project)
    yield from supply_steps(project)
    yield from _hand_over()


def _cautions(project: Project) -> Mapping[CommissionStage, tuple[str, ...]]:
    common = next(one.text for one in project.netlist.cautions if one.at == "COMMON")
    gas = (GAS,) if project.design.feeder.gas_valve is not None else ()
    return {
        CommissionStage.BEFORE_POWER: (BEFORE_OPENING, NOT_SAFETY, ALTERED, HIGH_FREQUENCY, common),
        CommissionStage.FIRST_POWER: (LIVE_MEASURING, TRIGGER_HELD),
        CommissionStage.DRY_RUNS: (ROLLS_AND_WIRE, *gas, DRY_CAUTION),
        CommissionStage.GAS: gas,
        CommissionStage.FIRST_ARC: (WHILE_WELDING, WELDING_CIRCUIT),
    }


def _safety_steps() -> Iterator[CommissionStep]:
    yield from _confirmed(
        CommissionStage.SAFETY,
        (
            "stop",
            "Emergency stop",
            "Press the emergency stop while the machine runs, pressure arm up, no arc; release it as its maker says.",
            "It stops the machine by itself, whatever the add-on does.",
            "The machine is not used before it does. Look where it was wired before the add-on came.",
        ),
        (
            "cut-outs",
            "Interlocks and thermal cut-out",
            "Compare interlocks and thermal cut-out with the photographs and with the ladder diagram as found.",
            "They are wired as they were found, and the add-on listens to dry contacts of its own.",
            "Put them back as they were: the add-on is a timer, not a safety function.",
        ),
        needed=True,
    )


def _hand_over() -> Iterator[CommissionStep]:
    yield from _confirmed(
        CommissionStage.HAND_OVER,
        (
            "marked",
            "Marked and told",
            "Mark the machine as altered. Tell everybody who uses it what is new, and where the bypass plug is.",
            "Everybody who uses it knows.",
            "It stays locked until they do.",
        ),
        (
            "kept",
            "Papers",
            "Put bypass plug, commissioning sheet, build sheet and design file where the machine stands.",
            "They are there, and readable.",
            "Print them again: `wirecue build`, `wirecue sheet`.",
        ),
        (
            "tested",
            "Inspected and tested again",
            "Have the machine inspected and tested again by a competent person (IEC 60974-4).",
            "It passed; who, and on which day, stands on the sheet.",
            "It does not go back to work before it has passed.",
        ),
    )


def _confirmed(
    stage: CommissionStage, *rows: tuple[str, str, str, str, str], needed: bool = False
) -> Iterator[CommissionStep]:
    """Steps that a person looks at and says yes to: key, title, what to do, what should be, what to do if not."""
    for key, title, do, expect, if_not in rows:
        yield CommissionStep(f"{stage.value}.{key}", stage, title, (do,), expect, if_not, needed=needed)
