"""Ladders: circuits drawn as rungs between two rails, and the cuts that lead from one state to another.

A ladder has a rail left and right, and between them one rung a circuit, as control diagrams are drawn (common practice,
no source). The left rail is the side of the supply in which the trigger or its relay switches, the right one that to
which all coils go.
"""

from __future__ import annotations

from dataclasses import dataclass
from enum import Enum
from typing import Literal

Rail = Literal["left", "middle", "right"]
Side = Literal["left", "middle", "right", "open"]
"""Where a rung begins and ends; open: on nothing but the connector."""


class Symbol(Enum):
    """What stands in a rung."""

    CONTACT = "normally open contact"
    BREAK_CONTACT = "normally closed contact"
    RESISTOR = "resistor"
    COIL = "coil"
    VALVE = "solenoid valve"
    MOTOR = "motor"
    ELECTRONICS = "control circuit board"
    CUT = "cut"
    GAP = "open"
    TERMINAL = "terminal of the add-on"
    OURS = "inside the add-on"
    FUSE = "fuse"
    WINDING = "secondary winding"


@dataclass(frozen=True)
class RungPart:
    """One thing in a rung, from left to right."""

    symbol: Symbol
    label: str = ""
    """Its name; for a cut its number, for a terminal its full name, such as J1.GAS-FEED."""


@dataclass(frozen=True)
class Rung:
    """One line of a ladder."""

    start: Side
    end: Side
    steps: tuple[RungPart, ...]
    note: str = ""
    """Stands below it."""


@dataclass(frozen=True)
class Ladder:
    """One circuit of the machine with a supply of its own."""

    title: str
    left: str
    """Name of the left rail, such as '24VAC-A'."""
    right: str
    rungs: tuple[Rung, ...]
    grounded: Rail | None = None
    middle: str = ""
    """Name of the rail that the trigger or its relay makes live; empty where there is none."""


@dataclass(frozen=True)
class Cut:
    """One wire to cut, where its two ends go, and how to be sure of it with a meter."""

    number: int
    wire: str
    ends: tuple[tuple[str, str], tuple[str, str]]
    """Each end by name, and where it goes."""
    before: str
    after: str


@dataclass(frozen=True)
class FeederWiring:
    """Both states of the machine's wiring, and the way from one to the other."""

    found: tuple[Ladder, ...]
    changed: tuple[Ladder, ...]
    cuts: tuple[Cut, ...]
    words: tuple[tuple[str, str], ...]
    """What the names of the terminals mean."""
