"""A minute at the terminal as a picture: commands run for real, in a folder of their own, and what they printed."""

from __future__ import annotations

import contextlib
import re
import shutil
import tempfile
from collections.abc import Sequence
from dataclasses import dataclass
from datetime import datetime, timedelta
from pathlib import Path

import drawsvg as draw
from click.testing import CliRunner

from codegen.style import HOT, INK, TINT
from timing.commission.reply import read_step_reply
from timing.commission.step import CommissionStep, ReadingAsked
from wirecue.cli import main as wirecue
from wirecue.commissioning import Commissioning

ROOT = Path(__file__).parent.parent
EXAMPLE = "shop_two_step"
FONT = "DejaVu Sans Mono, Liberation Mono, Menlo, Consolas, monospace"
SIZE, LINE, LETTER, MARGIN = 12.0, 16.0, 7.23, 16.0
"""Height and distance of lines, width of a letter, and the margin, in picture units."""
COLUMNS = 100
_STYLE = re.compile(r"\x1b\[([0-9;]*)m")
_CODES = {"1": {"font_weight": "bold"}, "31": {"fill": HOT}, "33": {"fill": "#8a5a00"}}


@dataclass(frozen=True)
class Typed:
    """A command with what is typed while it runs."""

    arguments: tuple[str, ...]
    lines: tuple[str, ...] = ()


class SetClock:
    """A clock that goes on by so much each time it is asked."""

    def __init__(self, begin: str, step_s: int) -> None:
        self._now = datetime.fromisoformat(begin)
        self._step = timedelta(seconds=step_s)

    def __call__(self) -> str:
        now = self._now
        self._now += self._step
        return now.isoformat(timespec="seconds")


def commission_terminal() -> str:
    """Return a minute of commissioning: a reading that is outside, a stop, and a second start."""
    with tempfile.TemporaryDirectory() as folder, contextlib.chdir(folder):
        shutil.copy(ROOT / "examples" / f"{EXAMPLE}.toml", ".")
        clock = SetClock("2026-03-01T10:21:44+01:00", step_s=12)
        _enter_until(Commissioning.of(Path(f"{EXAMPLE}.toml"), clock), "power.rail")
        design = f"{EXAMPLE}.toml"
        session = (
            Typed(("commission", design), ("8.2", "8.95", "later")),
            Typed(("commission", design), ("21.4", "later")),
            Typed(("log", design, "--kind", "step")),
        )
        printed = [_run(one, clock) for one in session]
    # Of the log, the last entries are enough.
    printed[-1] = [printed[-1][0], "...", *printed[-1][-4:]]
    return terminal_svg([line for lines in printed for line in [*lines, ""]][:-1])


def _enter_until(going: Commissioning, key: str) -> None:
    """Answer every step before one as it should be answered."""

    for step in going.plan.steps:
        if step.key == key:
            return
        going.enter(step, read_step_reply(step, _good(step)))


def _good(step: CommissionStep) -> str:
    asked = step.ask
    if not isinstance(asked, ReadingAsked):
        return "yes"
    return "OL" if asked.unit == "ohm" else f"{(asked.low or 0.0) + 3:.1f}"


def _run(typed: Typed, clock: SetClock) -> list[str]:
    result = CliRunner(echo_stdin=True).invoke(
        wirecue, typed.arguments, input="".join(f"{line}\n" for line in typed.lines), color=True, obj=clock,
        env={"COLUMNS": str(COLUMNS)},
    )  # fmt: skip
    if result.exit_code not in (0, 1):
        raise RuntimeError(result.output)
    return [f"$ wirecue {' '.join(typed.arguments)}", *result.output.rstrip("\n").split("\n")]


def terminal_svg(lines: Sequence[str]) -> str:
    """Return lines with their terminal styles as a picture."""
    width, height = 2 * MARGIN + COLUMNS * LETTER, 2 * MARGIN + len(lines) * LINE
    picture = draw.Drawing(width, height, font_family=FONT)
    picture.append(draw.Rectangle(0, 0, width, height, fill=TINT, rx=6))
    style: dict[str, str] = {}
    for number, line in enumerate(lines):
        column, y = 0, MARGIN + (number + 0.75) * LINE
        for turn, part in enumerate(_STYLE.split(line)):
            if turn % 2:
                # A style goes on over the end of a line.
                style = _styled(style, part)
                continue
            for piece in re.finditer(r"\S+(?: \S+)*", part):
                x = MARGIN + (column + piece.start()) * LETTER
                bold = {"font_weight": "bold"} if line.startswith("$ ") else {}
                picture.append(draw.Text(piece[0], SIZE, x, y, **{"fill": INK, **style, **bold, **_spaced(piece[0])}))
            column += len(part)
    svg: str = picture.as_svg()
    return svg


def _styled(style: dict[str, str], codes: str) -> dict[str, str]:
    for code in codes.split(";"):
        style = {} if code in ("", "0") else {**style, **_CODES.get(code, {})}
    return style


def _spaced(text: str) -> dict[str, str]:
    """Letters of one width in whatever typeface there is, so that columns stand under each other."""
    return {"textLength": f"{len(text) * LETTER:.1f}", "lengthAdjust": "spacing"}
