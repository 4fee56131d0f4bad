"""The planted faults, as data: mutations.toml beside this file."""

from __future__ import annotations

import tomllib
from dataclasses import dataclass
from pathlib import Path

ROOT = Path(__file__).parents[2]
TABLE = Path(__file__).with_name("mutations.toml")


@dataclass(frozen=True)
class Mutation:
    """One fault: in `file`, the text `old` becomes `new`; `tests` must notice."""

    area: str
    what: str
    """What the fault is, in a few words; its name in the report."""
    file: str
    old: str
    new: str
    tests: tuple[str, ...]
    """Test files or folders, quickest first, relative to the root."""

    def applied(self, text: str) -> str:
        """Return `text` with the fault in it. Raises ValueError where `old` does not stand there exactly once."""
        times = text.count(self.old)
        if times != 1:
            raise ValueError(f"{self.file}: {self.old!r} stands there {times} times, and must stand there once")
        return text.replace(self.old, self.new)


def mutations() -> list[Mutation]:
    """Return all planted faults, in the order of the table."""
    areas = tomllib.loads(TABLE.read_text(encoding="utf-8"))
    return [
        Mutation(area, row["what"], row["file"], row["old"], row["new"], tuple(row["tests"]))
        for area, rows in areas.items()
        for row in rows
    ]
