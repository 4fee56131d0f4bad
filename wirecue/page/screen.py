"""One browser tab: what a panel needs to follow the design and to say something."""

from __future__ import annotations

import json
from collections.abc import Callable
from dataclasses import dataclass, field

from nicegui import Client, ui

from timing.design.errors import DesignFileError
from wirecue.page.shared import Shared, Topic


@dataclass
class Screen:
    """One tab on the shared design."""

    shared: Shared
    client: Client
    show_field: Callable[[str], None] = lambda _: None
    """Brings the field of a key into view; set by the settings panel."""
    _ends: list[Callable[[], None]] = field(default_factory=list)

    def follow(self, topic: Topic, listener: Callable[[], None]) -> None:
        """Call `listener` now and after every change, as long as the tab lives."""
        self._ends.append(topic.follow(listener))
        listener()

    def close(self) -> None:
        """The tab is gone."""
        for end in self._ends:
            end()
        self._ends.clear()

    def say(self, words: str, kind: str = "info") -> None:
        """Show a sentence for a while; kind: info or warning."""
        with self.client:
            ui.notify(
                words,
                type="warning" if kind == "warning" else None,
                position="bottom",
                group=False,
                timeout=8000 if kind == "warning" else 3500,
                close_button="OK" if kind == "warning" else False,
            )

    def attempt(self, change: Callable[[], None]) -> str:
        """Do `change`; return why it was refused, or nothing."""
        try:
            change()
        except DesignFileError as refused:
            return refusal(refused)
        return ""

    def run_script(self, code: str) -> None:
        """Run a line of script in the browser."""
        self.client.run_javascript(code)

    def keep_text(self) -> None:
        """Let the browser keep the design's text, for when the server goes."""
        document = self.shared.document
        self.run_script(f"wirecueKeep({json.dumps(document.text)}, {json.dumps(document.name)})")


def refusal(error: DesignFileError) -> str:
    """Return the first complaint as one line, for the place beside a field."""
    complaint = error.complaints[0]
    found = f"{complaint.key}: {complaint.found}" if complaint.key else complaint.found
    hint = f"; {complaint.hint}" if complaint.hint else ""
    return f"{found}. Allowed: {complaint.allowed}{hint}"
