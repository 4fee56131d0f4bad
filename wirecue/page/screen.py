"""One browser tab: how it looks, and what a panel needs to follow the design and to say something.

What the browser does by itself stands in page.css and page.js.
"""

from __future__ import annotations

import json
import re
from collections.abc import Callable
from dataclasses import dataclass, field
from pathlib import Path

from nicegui import Client, ui

from codegen.style import COMMANDED, FONT, FRAME, HOT, INK, PALE, TINT, WARM
from timing.design.text_file import DesignFileError
from wirecue.page.shared import Shared, Signal

PAPER = "#f6f7f5"
_COLOURS = {
    "ink": INK,
    "pale": PALE,
    "frame": FRAME,
    "lead": COMMANDED,
    "tint": TINT,
    "paper": PAPER,
    "warm": WARM,
    "hot": HOT,
    "letters": FONT,
}


def head_html() -> str:
    """Return the page's style, in the colours of our pictures."""
    values = " ".join(f"--{name}: {value};" for name, value in _COLOURS.items())
    return f"<style>:root {{ {values} }}\n{_asset('page.css')}</style>"


def body_html(gone: str) -> str:
    """Return what must work without the server: the keys, and the notice, a file, that the server has gone."""
    return f"{_asset(gone)}<script>{_asset('page.js')}{_asset('zoom.js')}</script>"


def _asset(name: str) -> str:
    return (Path(__file__).parent / name).read_text(encoding="utf-8")


def in_page(svg: str, name: str, label: str) -> str:
    """Return a picture's SVG document as a part of the page.

    Several pictures stand in one page, so the ids in each get its `name` in front; `label` tells those who do not
    see it what it is.
    """
    body = svg[svg.index("<svg") :]
    body = re.sub(r'\bid="([^"]+)"', rf'id="{name}-\1"', body)
    body = re.sub(r"url\(#([^)]+)\)", rf"url(#{name}-\1)", body)
    body = re.sub(r'href="#([^"]+)"', rf'href="#{name}-\1"', body)
    return body.replace("<svg", f'<svg role="img" aria-label="{label}"', 1)


def typed_in(name: str) -> str:
    """Return the script that sends what stands in a field now, with an event of another part of the page.

    Not the field's own value as the server knows it: events may overtake each other.
    """
    return f"() => emit(document.querySelector('input[data-testid={name}]').value)"


@dataclass
class Screen:
    """One tab on the shared design."""

    shared: Shared
    client: Client
    show_field: Callable[[str], None] = lambda _: None
    """Brings the field of a key into view; set by the settings panel."""
    refused: dict[str, str] = field(default_factory=dict)
    """Why the value that stands in a field was refused, by key: the design goes on without it."""
    refusals: Signal = field(default_factory=Signal)
    _ends: list[Callable[[], None]] = field(default_factory=list)

    def note_refusal(self, key: str, why: str) -> None:
        """Keep in mind that the value in a field was refused, or with an empty `why` that it stands right."""
        if why == self.refused.get(key, ""):
            return
        if why:
            self.refused[key] = why
        else:
            del self.refused[key]
        self.refusals.tell()

    @property
    def refused_words(self) -> str:
        """What was refused, for whoever asks for a verdict; empty where all that is shown is in the design."""
        if not self.refused:
            return ""
        many = len(self.refused) > 1
        what = "The values" if many else "The value"
        return (
            f"{what} entered for {' and '.join(self.refused)} {'are' if many else 'is'} refused and not in the design"
        )

    def only_as_shown(
        self, button: ui.button, may: Callable[[], bool] = lambda: True, *, told: bool = False
    ) -> Callable[[], None]:
        """Keep a button off while a value that is shown is refused, and say so here; else it is on where it `may`.

        For what leaves the page: a build, a bench run, a board to be flashed. told: the reason stands elsewhere.
        Return what looks at `may` again.
        """
        reason = None if told else ui.label().classes("refused-words").props('role="status"')

        def look() -> None:
            button.set_enabled(may() and not self.refused)
            if reason is not None:
                reason.set_text(f"Off: {self.refused_words[:1].lower()}{self.refused_words[1:]}. Put that right first.")
                reason.set_visibility(bool(self.refused))

        self.follow(self.refusals, look)
        return look

    def follow(self, topic: Signal, listener: Callable[[], None]) -> None:
        """Call `listener` now and after every change, as long as the tab lives."""
        self._ends.append(topic.follow(listener))
        listener()

    def on_close(self, end: Callable[[], None]) -> None:
        """Call `end` when the tab is gone."""
        self._ends.append(end)

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


def mark_refused(field: ui.element, why: str) -> None:
    """Say beside a field why what stands in it was refused; an empty `why` takes that back."""
    field.props["error"] = bool(why)
    field.props["error-message"] = why
    field.update()


def show_fresh(content: ui.html, fresh: bool) -> None:
    """Dim what stands in a box of its own while it is that of an earlier state; it is not sent to the browser again."""
    slot = content.parent_slot
    assert slot is not None
    slot.parent.classes(add="" if fresh else "stale", remove="stale" if fresh else "")


def refusal(error: DesignFileError) -> str:
    """Return the first complaint as one line, for the place beside a field."""
    complaint = error.complaints[0]
    found = f"{complaint.key}: {complaint.found}" if complaint.key else complaint.found
    hint = f"; {complaint.hint}" if complaint.hint else ""
    return f"{found}. Allowed: {complaint.allowed}{hint}"
