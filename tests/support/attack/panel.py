"""What stands at a board's pins, and what the machines may do to it."""

from __future__ import annotations

from collections.abc import Iterable, Sequence
from dataclasses import dataclass, field
from functools import cached_property
from pathlib import Path

from tests.conftest import VERSION
from tests.support.host_core import Core, compile_core
from timing.circuit.senses import SupplyThresholds, supply_thresholds
from timing.design.board import Board
from timing.design.design import Design
from timing.design.loading import load_design
from timing.project import Project
from timing.protocol.target import RAW_BIT, RAW_CONTACTS, Target
from timing.protocol.target_of_design import target_of
from timing.sequence.core.filters import SupplyLevel
from timing.sequence.core.script import Change, Dial, Script, Switch
from wirecue.projects import load_board

COUNTS = "counts "
"""How a change of a reading begins: `counts burnback`, `counts supply`; its value is a reading of the converter."""


@dataclass(frozen=True)
class Feeder:
    """One design: its sequence, its channels, its compiled core."""

    design: Design
    board: Board
    target: Target
    core: Core
    supply: SupplyThresholds | None

    @cached_property
    def channels(self) -> tuple[str, ...]:
        """The converter's channels in the order in which they are read: dials, then the supply."""
        return (*self.target.scales, *(("supply",) if self.supply else ()))

    @cached_property
    def contacts(self) -> tuple[str, ...]:
        """The contacts that the design has."""
        return tuple(role for role in RAW_CONTACTS if role in self.target.fitted)

    def counts_at_rest(self) -> dict[str, int]:
        """Return a sound reading of every channel: dials near their low ends, the supply good."""
        counts = {name: scale.low_counts + 20 for name, scale in self.target.scales.items()}
        return counts | ({"supply": self.supply.good_counts + 20} if self.supply else {})


def load_feeder(path: Path, cache: Path) -> Feeder:
    """Load a design and compile its core."""
    design = load_design(path)
    board = load_board(design.board.type)
    sense = design.supply.sense
    return Feeder(
        design,
        board,
        target_of(Project(design, board)),
        compile_core(design, board, VERSION, cache),
        supply_thresholds(sense, board) if sense else None,
    )


@dataclass
class Panel:
    """Contacts and readings as they stand."""

    feeder: Feeder
    closed: dict[str, bool] = field(init=False)
    counts: dict[str, int] = field(init=False)
    bits: int = field(init=False)
    """The contacts as the pins show them (levels.RAW_BIT)."""

    def __post_init__(self) -> None:
        on = {role for role in self.feeder.contacts if role == "interlock" or role.endswith("_switch")}
        self.closed = {role: role in on for role in self.feeder.contacts}
        self.counts = self.feeder.counts_at_rest()
        self.bits = sum(RAW_BIT[role] for role in on)

    def move(self, what: str, value: int) -> None:
        """Let one contact or one reading take a value."""
        if what.startswith(COUNTS):
            self.counts[what.removeprefix(COUNTS)] = value
        else:
            self.closed[what] = bool(value)
            self.bits = self.bits | RAW_BIT[what] if value else self.bits & ~RAW_BIT[what]

    def stands(self, what: str) -> int:
        """Return how one contact or one reading stands."""
        return self.counts[what.removeprefix(COUNTS)] if what.startswith(COUNTS) else int(self.closed[what])


def as_script(feeder: Feeder, changes: Iterable[Change], end_us: int) -> Script:
    """Return what was done to the panel as a trigger script: readings as dial times, broken dials, a low supply."""
    panel = Panel(feeder)
    told: list[Change] = [
        Change(0, Dial(name), scale.time_us(panel.counts[name])) for name, scale in feeder.target.scales.items()
    ]
    broken: set[str] = set()
    level = SupplyLevel.GOOD
    for change in changes:
        kind, _, name = change.what.partition(" ")
        if kind != COUNTS.strip():
            told += _contact(change)
        elif name == "supply":
            before, level = level, _level(feeder, change.value)
            told += [Change(change.at_us, "supply", level)] if level is not before else []
        else:
            told += _dial(feeder, change, name, broken)
    return Script(tuple(told), end_us)


def _level(feeder: Feeder, counts: int) -> SupplyLevel:
    limits = feeder.supply
    assert limits is not None
    if counts >= limits.good_counts:
        return SupplyLevel.GOOD
    return SupplyLevel.LOW if counts < limits.low_counts else SupplyLevel.BETWEEN


def _contact(change: Change) -> Sequence[Change]:
    if change.what.endswith("_switch"):
        return [Change(change.at_us, Switch(change.what.removesuffix("_switch")), change.value)]
    return [change]


def _dial(feeder: Feeder, change: Change, name: str, broken: set[str]) -> Sequence[Change]:
    scale = feeder.target.scales[name]
    were = bool(broken)
    if scale.is_fault(change.value):
        broken.add(name)
        return [] if were else [Change(change.at_us, "dial_fault", 1)]
    broken.discard(name)
    told = [Change(change.at_us, Dial(name), scale.time_us(change.value))]
    return [*told, Change(change.at_us, "dial_fault", 0)] if were and not broken else told
