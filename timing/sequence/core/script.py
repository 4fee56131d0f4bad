"""Trigger scripts: what happens to the machine's inputs, and when."""

from __future__ import annotations

from dataclasses import dataclass


@dataclass(frozen=True)
class Change:
    """One input takes one value at one instant."""

    at_us: int
    what: str
    """One of trigger, purge, inch, arc, interlock, supply, four_step, dial_fault; `dial NAME`; `switch NAME`; or
    `reset`."""
    value: int
    """Contacts and switches: 1 closed, on; 0 open, off. Supply: a filters.SupplyLevel. A dial's fault: 1 while its wire
    is broken or shorted. Dials: microseconds."""


@dataclass(frozen=True)
class Script:
    """Changes in order of time, and the instant at which to stop looking."""

    changes: tuple[Change, ...]
    end_us: int | None = None
    """None: look until everything has come to rest."""
