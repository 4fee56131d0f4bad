"""Plates of switches, buttons and lamp, in the look of the dials' plates: a word for each position, a hole to drill.

Beside the lamp stands what each number that it blinks means, and what to do.
"""

from __future__ import annotations

from collections.abc import Iterator, Sequence
from dataclasses import dataclass

from codegen.papers.plate_parts import (
    PITCH_MM,
    PLATE_WIDTH_MM,
    SMALL_SIZE_MM,
    SWITCH_HOLES_MM,
    TITLE_MM,
    TITLE_SIZE_MM,
    WORD_SIZE_MM,
    WORDS_MM,
    drill_marks,
    holes_text,
    lever_tick,
    plate_outline,
)
from codegen.papers.shapes import CAP_HEIGHT, Shape, Text
from codegen.style import FRAME
from timing.design.front_panel import Control, ControlKind, Position, controls_of
from timing.project import Project
from timing.protocol.resets import Reset
from timing.sequence.faults import EXPLANATIONS, faults_of

HOLES_MM = {
    ControlKind.OFF_SWITCH: SWITCH_HOLES_MM,
    ControlKind.SWITCH: SWITCH_HOLES_MM,
    ControlKind.BUTTON: (12.2, 16.2),
    ControlKind.LAMP: (6.5, 8.2),
}
"""For the usual bushes: toggle switches; push buttons of 12 mm and 16 mm; holders of LEDs of 3 mm and 5 mm
(practice)."""
HOLE_MM = (14.0, 23.0)
"""Drilling centre, from the plate's upper left corner."""
HEIGHT_MM = 40.0
"""Of a switch's or a button's plate."""
LAMP_WIDTH_MM, CODES_X_MM, MEANS_X_MM, DO_X_MM = 180.0, 56.0, 62.0, 106.0
"""The lamp's plate, and where the columns of its codes begin."""
STATES_X_MM, STATES_Y_MM, LAMP_HEIGHT_MM = (4.0, 21.0), 31.0, 49.0
"""What a sound lamp does, below its hole; the height that this takes."""
LAMP_HOLE_MM = (14.0, 17.5)
"""The lamp's drilling centre."""
CODE_SIZE_MM, CODE_PITCH_MM = 2.4, 4.0
LAMP_STATES = (
    ("steady", "ready"),
    ("slow blink", "wait; let everything go"),
    ("quick blink", "at work"),
    ("flicker", "moved from the bench"),
)
"""What the lamp does while nothing is wrong, as the sketch's lamp.h has it."""


@dataclass(frozen=True)
class ControlPlate:
    """The plate of one control."""

    control: Control
    codes: tuple[tuple[str, str, str], ...] = ()
    """Beside a lamp: the number that it blinks, what that means, what to do."""

    @property
    def width_mm(self) -> float:
        """Its width."""
        return LAMP_WIDTH_MM if self.control.kind is ControlKind.LAMP else PLATE_WIDTH_MM

    @property
    def height_mm(self) -> float:
        """Its height."""
        if self.control.kind is not ControlKind.LAMP:
            return HEIGHT_MM
        return max(LAMP_HEIGHT_MM, TITLE_MM + CODE_PITCH_MM * (len(self.codes) + 1.4) + 3.0)

    @property
    def centre_mm(self) -> tuple[float, float]:
        """Drilling centre, from its upper left corner."""
        return LAMP_HOLE_MM if self.control.kind is ControlKind.LAMP else HOLE_MM

    @property
    def holes_mm(self) -> tuple[float, ...]:
        """Diameters of the holes to choose from."""
        return HOLES_MM[self.control.kind]


def control_plates(project: Project) -> tuple[ControlPlate, ...]:
    """Return the plates of all controls that have no place on a dial's plate, in the order of the panel."""
    dialled = {f"{name}_switch" for name in project.dials}
    codes = tuple(
        (str(int(fault)), EXPLANATIONS[fault].brief, EXPLANATIONS[fault].act) for fault in faults_of(project.table)
    )
    return tuple(
        ControlPlate(control, codes if control.kind is ControlKind.LAMP else ())
        for control in controls_of(project.design)
        if not (control.kind is ControlKind.OFF_SWITCH and control.key in dialled)
    )


def control_shapes(plate: ControlPlate) -> list[Shape]:
    """Return the plate with its outline, from its upper left corner."""
    control = plate.control
    lamp = control.kind is ControlKind.LAMP
    title_x = LAMP_HOLE_MM[0] if lamp else PLATE_WIDTH_MM / 2
    return [
        *plate_outline(plate.width_mm, plate.height_mm),
        Text(title_x, TITLE_MM, control.title, TITLE_SIZE_MM, "middle", bold=True),
        *drill_marks(*plate.centre_mm, plate.holes_mm),
        *(_lamp(plate) if lamp else _positions(control)),
        Text(4.0, plate.height_mm - 1.8, holes_text(plate.holes_mm), SMALL_SIZE_MM, colour=FRAME),
    ]


def _positions(control: Control) -> Iterator[Shape]:
    """The words of each position, from the top down, with a tick from the lever towards them."""
    x, middle = HOLE_MM
    count = len(control.positions)
    for index, position in enumerate(control.positions):
        y = middle + (index - (count - 1) / 2) * PITCH_MM
        yield from _words(position, y)
        if control.kind is not ControlKind.BUTTON:
            yield lever_tick(HOLE_MM, (x + WORDS_MM - 2.0, y), position.label)


def _words(position: Position, y: float) -> Iterator[Shape]:
    base = y + WORD_SIZE_MM * CAP_HEIGHT / 2 - (1.3 if position.says else 0.0)
    yield Text(HOLE_MM[0] + WORDS_MM, base, position.label, WORD_SIZE_MM, bold=True)
    if position.says:
        yield Text(HOLE_MM[0] + WORDS_MM, base + 3.2, position.says, SMALL_SIZE_MM)


def _lamp(plate: ControlPlate) -> Iterator[Shape]:
    for index, (does, means) in enumerate(LAMP_STATES):
        y = STATES_Y_MM + index * CODE_PITCH_MM
        yield Text(STATES_X_MM[0], y, does, SMALL_SIZE_MM, bold=True)
        yield Text(STATES_X_MM[1], y, means, SMALL_SIZE_MM)
    yield from _codes(plate.codes)


def _codes(codes: Sequence[tuple[str, str, str]]) -> Iterator[Shape]:
    for x, head in ((CODES_X_MM - 3.0, "blinks"), (MEANS_X_MM, "what it means"), (DO_X_MM, "what to do")):
        yield Text(x, TITLE_MM - 0.6, head, SMALL_SIZE_MM, colour=FRAME)
    y = TITLE_MM
    for number, means, do in codes:
        y += CODE_PITCH_MM
        yield Text(CODES_X_MM, y, number, CODE_SIZE_MM, "middle", bold=True)
        yield Text(MEANS_X_MM, y, means, CODE_SIZE_MM, bold=True)
        yield Text(DO_X_MM, y, do, CODE_SIZE_MM)
    causes = ", ".join(f"{int(cause)} {cause.word}" for cause in Reset if cause.on_lamp)
    y += CODE_PITCH_MM * 1.4
    yield Text(CODES_X_MM - 3.0, y, f"lit, goes dark for a moment: the board started anew; {causes}", SMALL_SIZE_MM)
