"""The difference of two designs as text for people and as plain data."""

from __future__ import annotations

from collections.abc import Iterator, Sequence
from dataclasses import dataclass
from typing import Any

from codegen.design_change import DesignChange, ProgramChange
from timing.design.difference import DifferenceGroup
from timing.design.text_file import shown
from timing.errors import WirecueError
from wirecue import __version__
from wirecue.design_sides import DesignSide
from wirecue.terminal import paragraph, table

DIFF_FORMAT = 1
SHOWN_AT_MOST = 12
"""Rows of wires or parts that are shown; JSON has all."""
_LONGEST_VALUE = 60


@dataclass(frozen=True)
class DiffReport:
    """Two designs, what differs, and what follows for the hands."""

    before: DesignSide
    after: DesignSide
    groups: tuple[DifferenceGroup, ...]
    change: DesignChange | None
    """None where nothing differs, and where it cannot be told."""
    why_not: str = ""
    """Why not, in words."""

    @property
    def same(self) -> bool:
        """True where they mean the same."""
        return not self.groups


def compared(before: DesignSide, after: DesignSide) -> DiffReport:
    """Compare two designs. Raises DesignFileError."""
    from codegen.design_change import design_change
    from timing.design.difference import design_differences

    groups = design_differences(before.text, after.text, (before.label, after.label))
    if not groups:
        return DiffReport(before, after, groups, None)
    try:
        return DiffReport(before, after, groups, design_change(before.project, after.project))
    except WirecueError as error:
        return DiffReport(before, after, groups, None, f"{error}; `wirecue check` says more")


def diff_text(report: DiffReport) -> str:
    """Return the difference for people."""
    before, after = report.before, report.after
    heads = [(word, f"{side.label}, digest {side.digest}") for word, side in (("from", before), ("to", after))]
    head = "\n".join(paragraph(label, first=f"{word:<5}", then=" " * 5) for word, label in heads)
    if report.same:
        return "\n\n".join([head, "The same design: nothing differs.", *_versions(report)]) + "\n"
    blocks = [head, *map(_group, report.groups), "\n".join(["What it means for the hands", *_hands(report)])]
    return "\n\n".join([*blocks, *_versions(report)]) + "\n"


def _group(group: DifferenceGroup) -> str:
    rows = [(f"  {one.key}", _value(one.old), "->", _value(one.new)) for one in group.differences]
    return f"{group.title}\n{table(rows)}"


def _value(text: str | None) -> str:
    if text is None:
        return "(not there)"
    line = shown(" ".join(text.split()))
    return line if len(line) <= _LONGEST_VALUE else f"{line[: _LONGEST_VALUE - 3]}..."


def _hands(report: DiffReport) -> Iterator[str]:
    change = report.change
    if change is None:
        yield _item(f"It cannot be told: {report.why_not}")
        return
    yield _item(change.program.value)
    yield from (_item(f"On the panel, {move.sentence}.") for move in change.moves)
    yield _item(_plates(report, change))
    if change.plates_off:
        yield _item(f"Plates that come off: {', '.join(change.plates_off)}.")
    yield from (_item(f"On the board, {move.sentence}.") for move in change.pins)
    yield from _listed("Wires to take out, numbered as they were", change.wires_off)
    yield from _listed("Wires to put in", change.wires_new)
    yield from _listed("Parts no longer needed", change.parts_off)
    yield from _listed("Parts to buy", change.parts_new)
    if not (change.wires_off or change.wires_new or change.pins):
        yield _item("No wire moves.")


def _plates(report: DiffReport, change: DesignChange) -> str:
    if not change.plates:
        return "Every plate that stays is still true."
    kept = [name for name in report.after.project.dials if name not in change.plates]
    made = " though the design says that they are made" if report.before.project.design.panel.made else ""
    stay = f" The dials of {', '.join(kept)} keep theirs." if kept else ""
    return f"Plates to print anew{made}: {', '.join(change.plates)}.{stay}"


def _listed(title: str, rows: Sequence[str]) -> Iterator[str]:
    if not rows:
        return
    more = len(rows) - SHOWN_AT_MOST
    yield _item(f"{title}:")
    yield from (paragraph(row, first="      ", then="        ") for row in rows[:SHOWN_AT_MOST])
    if more > 0:
        yield f"      and {more} more; --json has all"


def _item(text: str) -> str:
    return paragraph(text, first="  - ", then="    ")


def _versions(report: DiffReport) -> list[str]:
    made = {side.made_by for side in (report.before, report.after)} - {"", f"wirecue {__version__}"}
    if not made:
        return []
    return [
        paragraph(
            f"Built by {' and '.join(sorted(made))}. What follows from the settings is worked out with this version; a "
            "build by another one may do what it does in another way."
        )
    ]


def diff_data(report: DiffReport) -> dict[str, Any]:
    """Return the difference as data."""
    change = report.change
    return {
        "format": DIFF_FORMAT,
        "same": report.same,
        "from": _side_data(report.before),
        "to": _side_data(report.after),
        "changes": [
            {"about": group.title, "key": one.key, "old": one.old, "new": one.new}
            for group in report.groups
            for one in group.differences
        ],
        "hands": None if change is None else _change_data(change),
        "hands_why_not": report.why_not,
    }


def _side_data(side: DesignSide) -> dict[str, str]:
    return {"what": side.label, "design": side.project.design.name, "digest": side.digest, "made_by": side.made_by}


def _change_data(change: DesignChange) -> dict[str, Any]:
    return {
        "flash": change.program is ProgramChange.PROGRAM,
        "same_digest": change.program is ProgramChange.NONE,
        "sketch_files": list(change.sketch_files),
        "panel": [{"time": move.name, "new_plate": move.new_plate, "what": move.sentence} for move in change.moves],
        "plates": list(change.plates),
        "plates_off": list(change.plates_off),
        "pins": [{"role": move.role, "old": move.before, "new": move.after} for move in change.pins],
        "wires_off": list(change.wires_off),
        "wires_new": list(change.wires_new),
        "parts_off": list(change.parts_off),
        "parts_new": list(change.parts_new),
    }
