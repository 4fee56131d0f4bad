"""Work that takes minutes, in a thread of its own, for every tab to look at."""

from __future__ import annotations

import threading
from abc import ABC, abstractmethod
from dataclasses import dataclass, field


@dataclass
class BackgroundJob(ABC):
    """One piece of such work. What it finds can be read at any time."""

    trouble: str = field(init=False, default="")
    """Why it ended before its end; empty: it did not."""

    def __post_init__(self) -> None:
        self._thread = threading.Thread(target=self._run, name=type(self).__name__, daemon=True)

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

    @abstractmethod
    def _work(self) -> None:
        """Do it."""

    def _run(self) -> None:
        try:
            self._work()
        except Exception as error:
            # Errors of boards and files are sentences for people; anything else must be seen too, not die with its
            # thread.
            self.trouble = str(error) or type(error).__name__
