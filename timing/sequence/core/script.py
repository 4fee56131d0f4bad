"""Trigger scripts: what happens to the machine's inputs, and when."""

from __future__ import annotations

from dataclasses import dataclass


@dataclass(frozen=True, order=True)
class Dial:
    """The dial of a time is turned."""

    name: str
    """Short name of the time (see columns.TIME_NAMES)."""

    def __str__(self) -> str:
        return f"dial {self.name}"


@dataclass(frozen=True, order=True)
class Switch:
    """The off switch of a time is moved."""

    name: str
    """Short name of the time (see columns.TIME_NAMES)."""

    def __str__(self) -> str:
        return f"switch {self.name}"


What = str | Dial | Switch
"""What a step moves: a dial, a switch, or by its name one of trigger, purge, inch, arc, interlock, supply, four_step,
dial_fault, reset. Its text is str() of it; scripts as people write them are script_text's."""


@dataclass(frozen=True)
class Change:
    """One input takes one value at one instant."""

    at_us: int
    what: What
    value: int
    """Contacts and switches: 1 closed, on; 0 open, off. Supply: a filters.SupplyLevel. A dial's fault: 1 while its wire
    is broken or shorted. Dials: microseconds."""


@dataclass(frozen=True)
class Script:
    """Changes in order of time, and the instant at which to stop looking."""

    changes: tuple[Change, ...]
    end_us: int | None = None
    """None: look until everything has come to rest."""
