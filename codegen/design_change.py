"""What a change from one design to another asks of the hands: flash, plates, dials, pins, wires, parts.

It is worked out from what would be built of either, not from which keys changed: a part that gets another number, since
one was added before it, is no work.
"""

from __future__ import annotations

import re
from collections import Counter
from collections.abc import Iterable, Iterator, Mapping
from dataclasses import dataclass, replace
from enum import Enum

from codegen.papers.control_plate import control_plates
from codegen.papers.dial_plate import Tick, dial_plates
from codegen.sketch import sketch_files
from timing.circuit.lists import WireRow, parts_list, wire_list
from timing.circuit.parts import Netlist
from timing.design.board import ROLES
from timing.design.moves import PanelMove, panel_moves
from timing.project import Project

_NO_VERSION = ""
_NOWHERE = Tick(0.0, 0, "")
_STRING_OR_COMMENT = re.compile(r'"(?:[^"\\\n]|\\.)*"|/\*.*?\*/|//[^\n]*', re.DOTALL)


class ProgramChange(Enum):
    """What becomes of the board's program."""

    NONE = "The board needs nothing: the program is the same, and so is its digest."
    DIGEST = (
        "The board does the same with either; only the digest that it answers is another. `bench` and `status` take it "
        "for another design until it is flashed again."
    )
    PROGRAM = "Flash the board anew, and test it on the bench before it goes back."


@dataclass(frozen=True)
class PinMove:
    """A role whose pin is another. None: the design has no such role, or no pin for it."""

    role: str
    before: str | None
    after: str | None

    @property
    def sentence(self) -> str:
        """In words, without a full stop."""
        what = ROLES[self.role].meaning
        if self.before is None:
            return f"{what}: new, on pin {self.after}"
        return (
            f"{what}: pin {self.before} is free" if self.after is None else f"{what}: pin {self.before} -> {self.after}"
        )


@dataclass(frozen=True)
class DesignChange:
    """All that follows from a change of the design for whoever has built the first."""

    program: ProgramChange
    sketch_files: tuple[str, ...]
    """Files of the sketch that are otherwise, comments aside."""
    moves: tuple[PanelMove, ...]
    plates: tuple[str, ...]
    """Titles of the plates to print: of dials, then of switches, buttons and lamp."""
    plates_off: tuple[str, ...]
    """Titles of those that come off."""
    pins: tuple[PinMove, ...]
    wires_off: tuple[str, ...]
    wires_new: tuple[str, ...]
    parts_off: tuple[str, ...]
    parts_new: tuple[str, ...]


def design_change(before: Project, after: Project) -> DesignChange:
    """Return what follows from a change for what is built. Raises UnplacedRoleError where a role has no pin."""
    old_files, new_files = (_program(one) for one in (before, after))
    changed = tuple(sorted(name for name in {*old_files, *new_files} if old_files.get(name) != new_files.get(name)))
    same_digest = before.design.digest() == after.design.digest()
    moves = panel_moves(before.design, after.design)
    old_plates, new_plates = _plates(before), _plates(after)
    wires_off, wires_new = _wires(before.netlist, after.netlist)
    parts_off, parts_new = _parts(before.netlist, after.netlist)
    return DesignChange(
        program=ProgramChange.PROGRAM if changed else ProgramChange.NONE if same_digest else ProgramChange.DIGEST,
        sketch_files=changed,
        moves=moves,
        plates=tuple(title for title, plate in new_plates.items() if old_plates.get(title) != plate),
        plates_off=tuple(title for title in old_plates if title not in new_plates),
        pins=tuple(_pin_moves(before.pins, after.pins)),
        wires_off=wires_off,
        wires_new=wires_new,
        parts_off=parts_off,
        parts_new=parts_new,
    )


def _program(project: Project) -> dict[str, str]:
    """Return the sketch without what the compiler does not see and without the digest."""
    digest = project.design.digest()
    return {
        name: " ".join(_STRING_OR_COMMENT.sub(_kept, text).replace(digest, "").split())
        for name, text in sketch_files(project, _NO_VERSION).items()
    }


def _kept(found: re.Match[str]) -> str:
    return found[0] if found[0].startswith('"') else " "


def _plates(project: Project) -> dict[str, object]:
    """Return what is printed on each plate of the panel, by its title; where a dial's setting stands makes none lie."""
    dials = {plate.name: replace(plate, setting=_NOWHERE) for plate in dial_plates(project)}
    controls = {
        f"{plate.control.title} {plate.control.kind.value}": (
            tuple((position.label, position.says) for position in plate.control.positions),
            plate.codes,
        )
        for plate in control_plates(project)
    }
    return {**dials, **controls}


def _pin_moves(before: Mapping[str, str | None], after: Mapping[str, str | None]) -> Iterator[PinMove]:
    for role in dict.fromkeys([*after, *before]):
        if before.get(role) != after.get(role):
            yield PinMove(role, before.get(role), after.get(role))


def _wires(before: Netlist, after: Netlist) -> tuple[tuple[str, ...], tuple[str, ...]]:
    """Return the wires that go and those that come. A wire is known by what it joins, whatever that is numbered."""
    old, new = _by_what_they_join(before), _by_what_they_join(after)
    return tuple(_surplus(old, new)), tuple(_surplus(new, old))


_Joined = tuple[object, ...]


def _by_what_they_join(wiring: Netlist) -> dict[_Joined, list[str]]:
    found: dict[_Joined, list[str]] = {}
    for wire in wire_list(wiring):
        key = (wire.net, _end(wiring, wire.from_end), _end(wiring, wire.to_end), str(wire.gauge), wire.treatment)
        found.setdefault(key, []).append(_wire_text(wire))
    return found


def _end(wiring: Netlist, end: str) -> object:
    """Return what stands at the end of a wire, without its number: the part and its terminal, or the star point."""
    if end.startswith("*"):
        return end
    ref, _, terminal = end.partition(".")
    part = wiring.part(ref)
    return part.kind, part.place, part.description, part.value, terminal


def _wire_text(wire: WireRow) -> str:
    board = ", on the circuit board" if wire.on_board else f", {wire.gauge}"
    return f"{wire.from_end} to {wire.to_end}{board}"


def _surplus(these: Mapping[_Joined, list[str]], others: Mapping[_Joined, list[str]]) -> Iterator[str]:
    for key, wires in these.items():
        yield from wires[len(others.get(key, ())) :]


def _parts(before: Netlist, after: Netlist) -> tuple[tuple[str, ...], tuple[str, ...]]:
    old, new = (_counted(one) for one in (before, after))
    return tuple(_part_texts(old - new)), tuple(_part_texts(new - old))


def _counted(wiring: Netlist) -> Counter[str]:
    counted: Counter[str] = Counter()
    for row in parts_list(wiring):
        value = "" if not row.value or row.value in row.description else f", {row.value}"
        counted[f"{row.description}{value}"] += row.quantity
    return counted


def _part_texts(counted: Mapping[str, int]) -> Iterable[str]:
    return (f"{quantity} x {text}" for text, quantity in counted.items())
