"""What a bench comes to: plain data."""

from __future__ import annotations

from dataclasses import dataclass

from bench.trace import Observation
from timing.sequence.core.engine import Timeline


@dataclass(frozen=True)
class CaseResult:
    """One case on one board."""

    name: str
    title: str
    troubles: tuple[str, ...]
    """What is wrong, a sentence each; empty: passed."""
    compared: int = 0
    """Edges and phase changes that were compared."""
    earliest_us: int = 0
    """Error of the earliest of them; negative is early."""
    latest_us: int = 0
    took_us: int = 0
    """How long it took on the board's clock."""
    predicted: Timeline | None = None
    seen: Observation | None = None

    @property
    def passed(self) -> bool:
        """True where nothing is wrong."""
        return not self.troubles


@dataclass(frozen=True)
class Report:
    """A whole bench run."""

    design: str
    digest: str
    board: str
    firmware: str
    """Version that the board's sketch was made with."""
    port: str
    results: tuple[CaseResult, ...]

    @property
    def passed(self) -> bool:
        """True where there were cases and all passed."""
        return bool(self.results) and all(result.passed for result in self.results)

    @property
    def failures(self) -> int:
        """How many failed."""
        return sum(not result.passed for result in self.results)
