"""What the integrators of scipy are stopped by."""

from __future__ import annotations

from collections.abc import Callable
from dataclasses import dataclass
from typing import Any


@dataclass(frozen=True)
class StopsAtZero:
    """An event for solve_ivp that ends the run where a function of time and state falls through zero."""

    of: Callable[..., float]
    """Takes the time, the state and whatever else the right-hand side takes."""
    terminal: bool = True
    direction: float = -1.0

    def __call__(self, *at: Any) -> float:
        return self.of(*at)
