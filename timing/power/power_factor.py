"""The power factor of ac coils: what is usual, and within which range it is known."""

from __future__ import annotations

from typing import Literal

Guess = Literal["low", "typical", "high"]
"""An end of the range in which a coil's power factor lies, or what is usual."""
HELD_POWER_FACTORS: dict[Guess, float] = {"low": 0.20, "typical": 0.35, "high": 0.50}
"""Of an ac coil once pulled in (practice: makers of contactors state 0.2 to 0.4)."""
PULL_IN_POWER_FACTORS: dict[Guess, float] = {"low": 0.50, "typical": 0.70, "high": 0.85}
"""Of the same while it pulls in (practice: makers of contactors state 0.5 to 0.85)."""
STATED_WITHIN: dict[Guess, float] = {"low": -0.1, "typical": 0.0, "high": 0.1}
"""How far a coil may be off the power factor that its data sheet states (choice)."""


def power_factor(stated_percent: float | None, usual: dict[Guess, float], guess: Guess) -> float:
    """Return a power factor: about the stated one, if any, else within the usual range."""
    if stated_percent is None:
        return usual[guess]
    return min(max(stated_percent / 100.0 + STATED_WITHIN[guess], 0.05), 1.0)
