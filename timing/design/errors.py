"""What the message on a bad design file says: where, what was found, what is allowed, what was likely meant."""

from __future__ import annotations

import os
from dataclasses import dataclass

from timing.errors import WirecueError

_LONGEST = 240


def shown(path: str | os.PathLike[str]) -> str:
    """Return a file's name as it may be printed: control characters, line ends and bytes of no text escaped."""
    return "".join(one if one.isprintable() else ascii(one)[1:-1] for one in os.fspath(path))


def _shortened(text: str) -> str:
    """Return what stood in a file as it may be printed: escaped, and no longer than a few lines."""
    if len(text) > _LONGEST:
        text = f"{text[: _LONGEST // 2]}... ({len(text)} characters)"
    return shown(text)


@dataclass(frozen=True)
class Complaint:
    """One thing wrong with one key of a design file."""

    key: str
    """Dotted path of the key, such as ``times.burnback``; empty when the file itself cannot be read."""
    found: str
    """What stands there, as the file's author would recognise it."""
    allowed: str
    """What may stand there."""
    hint: str = ""
    """A likely meaning or the next step; empty when there is nothing better to say than `allowed`."""
    line: int | None = None
    """Line in the file, counted from 1; None when it cannot be told."""


class DesignFileError(WirecueError):
    """A design file cannot be used. Keeps every complaint, and shows them on one screen."""

    shown_at_most = 5

    def __init__(self, source: str, complaints: list[Complaint]) -> None:
        super().__init__(source, complaints)
        self.source = source
        self.complaints = complaints

    def __str__(self) -> str:
        blocks = [self._block(complaint) for complaint in self.complaints[: self.shown_at_most]]
        hidden = len(self.complaints) - self.shown_at_most
        if hidden > 0:
            blocks.append(f"... and {hidden} more of the kind; fix these first.")
        return "\n".join(blocks)

    def _block(self, complaint: Complaint) -> str:
        source = shown(self.source)
        place = source if complaint.line is None else f"{source}, line {complaint.line}"
        lines = [f"{place}: {_shortened(complaint.key)}" if complaint.key else place]
        lines.append(f"  found    {_shortened(complaint.found)}")
        lines.append(f"  allowed  {complaint.allowed}")
        if complaint.hint:
            lines.append(f"  hint     {_shortened(complaint.hint)}")
        return "\n".join(lines)
