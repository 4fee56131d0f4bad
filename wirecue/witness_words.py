"""What a person connects, and heeds, before a recorder witnesses a bench test."""

from __future__ import annotations

from collections.abc import Iterator
from typing import TYPE_CHECKING

from timing.protocol.recorder import recorder_input

if TYPE_CHECKING:
    from timing.project import Project

BENCH_V = 24.0
"""Of the supply of the lamps (choice: what the recorder's adapters are made for)."""


def witness_cautions(project: Project) -> tuple[str, ...]:
    """Return what must be so before both boards are tested, a sentence or two each, in the order of the hands."""
    return tuple(_cautions(project))


def _cautions(project: Project) -> Iterator[str]:
    design = project.design
    yield (
        "Connect with both boards and the lamps' supply unplugged. The recorder touches the add-on through its "
        "adapters and press outputs alone, never by a bare wire: they keep the computer apart from its terminals."
    )
    for role in ("gas_valve", "wire_drive", "contactor"):
        if getattr(design.feeder, role) is not None:
            word = role.replace("_", " ")
            yield (
                f"The adapter of the recorder's input {recorder_input(role).number} lies across the lamp at the "
                f"add-on's {word} terminals. All lamps are fed by one current-limited supply of 24 V dc."
            )
    yield (
        "The recorder's output 1 stands for the gun's trigger: its contact, in series with "
        + (
            "the lamps' supply, lies at the add-on's trigger terminals, which sense 24 V dc, plus at plus."
            if design.trigger.circuit_voltage_v == BENCH_V
            else f"a current-limited supply of {design.trigger.circuit_voltage_v:g} V dc, lies at the add-on's trigger "
            "terminals, plus at plus."
        )
    )
    if design.buttons.purge:
        yield (
            "The recorder's output 2 lies across the purge button's terminals, which carry no voltage of their own. "
            "Without it the cases that press purge are left out."
        )
    yield (
        "The recorder's press jumper is fitted for the test and comes out again after it, as does the add-on's bench "
        "link. The trigger of the gun and every hand stay off the terminals while it runs."
    )
