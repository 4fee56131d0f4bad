"""A board that is flashed in the background."""

from __future__ import annotations

from dataclasses import dataclass, field

from wirecue.flashing import FlashPlan, FlashResult, run_flash
from wirecue.page.background import BackgroundJob


@dataclass
class FlashJob(BackgroundJob):
    """One upload."""

    plan: FlashPlan
    lines: list[str] = field(default_factory=list)
    """What was begun so far."""
    result: FlashResult | None = None

    def _work(self) -> None:
        self.result = run_flash(self.plan, self.lines.append)
