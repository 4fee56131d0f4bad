"""The recorder's sketch: a folder of C files made from a board alone; no design is in it."""

from __future__ import annotations

from dataclasses import dataclass

from codegen.link_names import LINK_TEMPLATES, link_names
from codegen.rendering import environment, render
from codegen.sketch import map_names
from codegen.sketch_facts import PinUse, UnplacedRoleError
from codegen.toolchain import digest_of
from timing.design.board import RECORDER_ROLES, Board, Kind
from timing.protocol import recorder
from timing.protocol.commands import RECORDER_COMMANDS
from timing.protocol.status import RECORDER_CONDITIONS

_OWN = "common/recorder"
_SKETCH = "sketch.ino.j2"
_NO_DIGEST = "0" * 16
_MADE_FROM = "Made from the facts of that board alone: no design is in it."

CHANGES_KEPT = 32
"""Places for changes that the interrupt found and the passes have not taken yet; a power of two (choice)."""


TICK_US = 4
"""In this the interrupt counts time: a tick of timer 0 as the AVR boards' core runs it, 64 cycles at 16 MHz
(derived)."""


@dataclass(frozen=True)
class LinePort:
    """One port of the chip with lines on it."""

    letter: str
    mask: int
    """Its bits that are lines."""
    on_low: int
    """Those that are on where the pin is low."""

    @property
    def name(self) -> str:
        """What its bits are called in the interrupt."""
        return f"of_port_{self.letter.lower()}"


def recorder_files(board: Board, version: str) -> dict[str, str]:
    """Return the files of the recorder's sketch, by name; its folder must be called `recorder.RECORDER`.

    version: of this tool, as it goes into `*IDN?`. Same board and version in, same text out.

    Raises UnplacedRoleError where the board's facts name a pin that it has not.
    """
    return _rendered(board, version, recorder_digest(board, version))


def recorder_digest(board: Board, version: str) -> str:
    """Return what `*IDN?` answers in the place of a design's digest: 16 hex digits for all that it is made from.

    Raises UnplacedRoleError.
    """
    undigested = _rendered(board, version, _NO_DIGEST)
    return digest_of(part for item in undigested.items() for part in item)


def recorder_pins(board: Board) -> tuple[PinUse, ...]:
    """Return the pins of a board that is a recorder, in the order of their jobs. Raises UnplacedRoleError."""
    return tuple(_pin_use(key, board) for key in RECORDER_ROLES)


def _pin_use(key: str, board: Board) -> PinUse:
    role, name = RECORDER_ROLES[key], board.recorder_pins.get(key)
    pin = None if name is None else board.pin(name)
    if pin is None:
        raise UnplacedRoleError(role, board, name)
    return PinUse(role, pin, on_high=True)


def _rendered(board: Board, version: str, digest: str) -> dict[str, str]:
    made = environment(
        f"{board.type}/recorder", f"{_OWN}/{board.family}", f"common/{board.family}", _OWN, LINK_TEMPLATES
    )
    names = _names(board, version, digest)
    templates = [name for name in made.list_templates() if not name.startswith("_") and name != _SKETCH]
    files = {name.removesuffix(".j2"): render(made, name, names).lstrip("\n") for name in templates}
    sketch = render(made, _SKETCH, names | map_names(files)).lstrip("\n")
    return dict(sorted({**files, f"{recorder.RECORDER}.ino": sketch}.items()))


def _names(board: Board, version: str, digest: str) -> dict[str, object]:
    pins = recorder_pins(board)
    line_of = {f"input_{one.number}": one.bit for one in recorder.RECORDER_INPUTS} | recorder.LINE_BIT
    press_of = {f"press_{one.key}": one.bit for one in recorder.RECORDER_PRESSES}
    on_lines = {line_of[use.role.key]: use for use in pins if use.role.key in line_of}
    ports = _line_ports(list(on_lines.values()))
    raw_bit = {line: _raw_bit(use, ports) for line, use in on_lines.items()}
    made_for = f"Recorder on {board.title}, digest {digest}"
    return link_names(RECORDER_COMMANDS, RECORDER_CONDITIONS, made_for, _MADE_FROM, version) | {
        "board": board,
        "digest": digest,
        "recorder": recorder,
        "inputs_all": sum(one.bit for one in recorder.RECORDER_INPUTS),
        "changes_kept": CHANGES_KEPT,
        "pins": pins,
        "contacts": [use for use in pins if use.role.kind is Kind.INPUT],
        "presses": [(use, press_of[use.role.key]) for use in pins if use.role.key in press_of],
        "lines": [(raw, line) for line, raw in raw_bit.items()],
        "line_ports": ports,
        "lines_mask": sum(raw_bit.values()),
        "lines_on_low": sum(raw for line, raw in raw_bit.items() if on_lines[line].role.kind is Kind.INPUT),
        "raw_disc": raw_bit[recorder.LINE_BIT["disc"]],
        "tick_us": TICK_US,
        "keeps_fault": False,
    }


def _line_ports(uses: list[PinUse]) -> list[LinePort]:
    """Return the ports with lines on them, by letter; none where the chip's pins have numbers alone."""
    letters = sorted({use.port for use in uses if use.port})
    return [
        LinePort(
            letter,
            sum(1 << use.bit for use in uses if use.port == letter),
            sum(1 << use.bit for use in uses if use.port == letter and use.role.kind is Kind.INPUT),
        )
        for letter in letters
    ]


def _raw_bit(use: PinUse, ports: list[LinePort]) -> int:
    """Return where a line stands among the bits that its board reads together: port behind port, 8 bits each."""
    place = next((place for place, port in enumerate(ports) if port.letter == use.port), 0)
    return 1 << (8 * place + use.bit)
