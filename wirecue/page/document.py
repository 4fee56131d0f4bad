"""The design that is being worked on: its text, what was done to it, and what is saved. No screen, no disk.

The text of the file is the one truth, comments included; it is a valid design at every moment.
"""

from __future__ import annotations

from collections.abc import Callable, Mapping
from dataclasses import dataclass, replace
from typing import Any

import tomlkit

from timing.design.difference import typed_differences
from timing.design.saving import Value, with_values
from timing.project import Project
from wirecue.projects import parse_project

LONGEST_HISTORY = 500
"""Steps that can be undone."""


@dataclass(frozen=True)
class KeyChange:
    """One key that stands otherwise than in the saved file."""

    key: str
    saved: str
    """Empty where the saved file does not have the key."""
    now: str
    """Empty where it was taken out."""


@dataclass(frozen=True)
class _Step:
    text: str
    """The text before."""
    what: str
    """In words, for the tool tip."""
    group: str
    """Steps of one group that follow each other are one step; empty: never joined."""
    file: str | None = None
    """Name of the file before, where the step opened another; None for all other steps."""


class Document:
    """One design file in work.

    Every change either leaves a valid design or raises DesignFileError and changes nothing. `revision` counts
    changes, `openings` designs that were opened; `project` is the design on its board.
    """

    def __init__(self, text: str, name: str = "") -> None:
        self._listeners: list[Callable[[], None]] = []
        self.project: Project = parse_project(text, name or "design")
        self.text, self.name = text, name
        self.revision = self.openings = 1
        self._saved = {name: text}
        """What each file that was opened or saved here holds on the disk, as far as is known."""
        self._undo: list[_Step] = []
        self._redo: list[_Step] = []

    @property
    def saved_text(self) -> str:
        """What the file in work holds on the disk."""
        return self._saved[self.name]

    @property
    def dirty(self) -> bool:
        """True where the text is not what was saved."""
        return self.text != self.saved_text

    @property
    def undo_what(self) -> str:
        """What undo would take back; empty where there is nothing."""
        return self._undo[-1].what if self._undo else ""

    @property
    def redo_what(self) -> str:
        """What redo would do again; empty where there is nothing."""
        return self._redo[-1].what if self._redo else ""

    def on_change(self, listener: Callable[[], None]) -> None:
        """Call `listener` after every change of text, name or saved state."""
        self._listeners.append(listener)

    def open(self, text: str, name: str) -> None:
        """Work on another design from here on. Undo leads back, unsaved changes included. Raises DesignFileError."""
        project = parse_project(text, name or "design")
        self._did(_Step(self.text, f"{name} loaded", "", self.name))
        self.name, self._saved[name] = name, text
        self.openings += 1
        self._now_is(text, project)

    def set_values(self, values: Mapping[str, Value], group: str = "") -> None:
        """Put values in by dotted key. Changes of one `group` that follow each other are undone together."""
        text, changes = with_values(self.text, values, self.name or "design")
        if changes:
            what = ", ".join(f"{change.key} = {change.new}" for change in changes[:2])
            self._become(text, what, group)

    def take_out(self, key: str) -> None:
        """Take a key out, so that its default holds."""
        self._become(without_key(self.text, key), f"{key} left out")

    def replace_text(self, text: str, what: str = "text edited") -> None:
        """Take a whole new text, as one step."""
        self._become(text, what)

    def seal(self) -> None:
        """End the present group: what follows is a step of its own."""
        if self._undo:
            last = self._undo[-1]
            self._undo[-1] = replace(last, group="")

    def undo(self) -> None:
        """Take back the last step, if there is one."""
        self._travel(self._undo, self._redo)

    def redo(self) -> None:
        """Do the last step again that was taken back, if there is one."""
        self._travel(self._redo, self._undo)

    def saved(self, name: str = "") -> None:
        """Note that the text, as it is now, stands on the disk."""
        self.name = name or self.name
        self._saved[self.name] = self.text
        self.seal()
        self._tell()

    def differences(self) -> list[KeyChange]:
        """Return what stands otherwise than in the saved file, key by key, in the order of the text."""
        return [
            KeyChange(one.key, one.old or "", one.new or "") for one in typed_differences(self.saved_text, self.text)
        ]

    def _become(self, text: str, what: str, group: str = "") -> None:
        if text == self.text:
            return
        project = parse_project(text, self.name or "design")
        joined = group and self._undo and self._undo[-1].group == group
        before = self._undo.pop().text if joined else self.text
        self._did(_Step(before, what, group))
        self._now_is(text, project)

    def _did(self, step: _Step) -> None:
        self._undo.append(step)
        del self._undo[:-LONGEST_HISTORY]
        self._redo.clear()

    def _travel(self, back: list[_Step], forth: list[_Step]) -> None:
        if not back:
            return
        step = back.pop()
        if step.file is None:
            forth.append(_Step(self.text, step.what, ""))
        else:
            forth.append(_Step(self.text, step.what, "", self.name))
            self.name = step.file
            self.openings += 1
        self._now_is(step.text, parse_project(step.text, self.name or "design"))

    def _now_is(self, text: str, project: Project) -> None:
        self.text, self.project = text, project
        self.revision += 1
        self._tell()

    def _tell(self) -> None:
        for listener in list(self._listeners):
            listener()


def without_key(text: str, key: str) -> str:
    """Return `text` without the key of that dotted path, or as it is where it has none."""
    document = tomlkit.parse(text)
    *above, last = key.split(".")
    table = _table(document, above)
    if table is None or last not in table:
        return text
    del table[last]
    return tomlkit.dumps(document)


def as_dial(text: str, key: str, setting: str, from_: str, to: str) -> str:
    """Return `text` with the fixed time at `key` on a dial; its off switch stays."""
    return _replaced(text, key, {"from": from_, "to": to, "setting": setting})


def as_fixed(text: str, key: str, setting: str) -> str:
    """Return `text` with the time at `key` fixed; its off switch stays."""
    return _replaced(text, key, {"setting": setting})


def _replaced(text: str, key: str, values: Mapping[str, str]) -> str:
    document = tomlkit.parse(text)
    *above, last = key.split(".")
    table = _table(document, above)
    if table is None:
        raise KeyError(key)
    before = table.get(last)
    dial = tomlkit.inline_table()
    dial.update(values)
    if hasattr(before, "get") and before.get("off_switch"):
        dial["off_switch"] = True
    table[last] = dial if len(dial) > 1 else values["setting"]
    return tomlkit.dumps(document)


def _table(document: Any, path: list[str]) -> Any | None:
    table = document
    for step in path:
        table = table.get(step) if hasattr(table, "get") else None
        if table is None:
            return None
    return table
