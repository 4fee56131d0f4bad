"""A board that is flashed in the background, for every tab to look at."""

from __future__ import annotations

import threading
from dataclasses import dataclass, field

from wirecue.flashing import FlashPlan, FlashResult, run_flash


@dataclass
class FlashJob:
    """One upload, in a thread of its own. What it tells can be read at any time."""

    plan: FlashPlan
    lines: list[str] = field(default_factory=list)
    """What was begun so far."""
    result: FlashResult | None = None
    trouble: str = ""
    """Why it ended without one."""

    def __post_init__(self) -> None:
        self._thread = threading.Thread(target=self._run, name="flash", daemon=True)

    def start(self) -> None:
        """Begin."""
        self._thread.start()

    def wait(self, timeout_s: float | None = None) -> None:
        """Wait for the end."""
        self._thread.join(timeout_s)

    @property
    def active(self) -> bool:
        """True until it has ended."""
        return self._thread.is_alive()

    def _run(self) -> None:
        try:
            self.result = run_flash(self.plan, self.lines.append)
        except Exception as error:
            # Errors of flashing are sentences for people; anything else must be seen too, not die with its thread.
            self.trouble = str(error) or type(error).__name__
