"""What a failing attack leaves for people: a short script, and a picture of expected above got."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass
from pathlib import Path

import drawsvg as draw

from codegen.style import COMMANDED, FONT, HOT, INK, PALE, WARM
from timing.formatting import round_step
from timing.sequence.core.engine import Edge, on_spans_us
from timing.sequence.core.script import Change, Dial, Script
from timing.sequence.core.table import Output
from timing.sequence.script_text import write_script

WIDTH, LEFT, RIGHT, TOP = 1000, 190, 24, 66
ROW, BAR = 30, 20


@dataclass(frozen=True)
class Disagreement:
    """One script on which two boards part. Times in microseconds from the start of the script."""

    title: str
    says: str
    script: Script
    expected: Sequence[Edge]
    got: Sequence[Edge]

    @property
    def end_us(self) -> int:
        assert self.script.end_us is not None
        return self.script.end_us


def write_disagreement(found: Disagreement, folder: Path) -> None:
    """Write script and picture below `folder`; one that shrinks further replaces its forerunner."""
    folder.mkdir(parents=True, exist_ok=True)
    (folder / f"{found.title}.txt").write_text(f"# {found.says}\n{write_script(found.script)}", encoding="utf-8")
    (folder / f"{found.title}.svg").write_text(picture(found), encoding="utf-8")


def edges_of_bytes(outputs: Sequence[tuple[int, int]]) -> list[Edge]:
    """Return the edges between outputs bytes, each with its instant; all are off before."""
    edges, before = [], 0
    for at_us, now in outputs:
        edges += [Edge(at_us, output, bool(now & output.value)) for output in Output if (now ^ before) & output.value]
        before = now
    return edges


def picture(found: Disagreement) -> str:
    """Return an SVG: what was done to the panel, then each output as expected above as got; where they part in red."""
    inputs = _inputs(found.script)
    height = TOP + ROW * (len(inputs) + 2 * len(Output)) + 12 * len(Output) + 50
    canvas = draw.Drawing(WIDTH, height, font_family=FONT)
    canvas.append(draw.Rectangle(0, 0, WIDTH, height, fill="white"))
    canvas.append(draw.Text(f"{found.title}: expected above got", 17, 16, 26, fill=INK, font_weight="bold"))
    canvas.append(draw.Text(found.says[:140], 12, 16, 46, fill=HOT))
    y = TOP
    for name, spans in inputs:
        _row(canvas, found, y, name, spans, INK)
        y += ROW
    for output in Output:
        y += 12
        wanted = on_spans_us(tuple(edge for edge in found.expected if edge.output is output), found.end_us)
        got = on_spans_us(tuple(edge for edge in found.got if edge.output is output), found.end_us)
        word = output.name.lower()
        _row(canvas, found, y, f"{word} expected", wanted, COMMANDED)
        _row(canvas, found, y + ROW, f"{word} got", got, WARM if got == wanted else HOT)
        y += 2 * ROW
    _axis(canvas, found, y)
    return str(canvas.as_svg())


def _inputs(script: Script) -> list[tuple[str, tuple[tuple[int, int], ...]]]:
    """Contacts, switches and faults as tracks; dials have no on and off and stand in the script."""
    assert script.end_us is not None
    moved = {change.what: None for change in script.changes if not isinstance(change.what, Dial)}
    tracks = []
    for what in moved:
        own = [change for change in script.changes if change.what == what]
        if what == "reset":
            spans = tuple((change.at_us, change.at_us) for change in own)
        else:
            # The first change tells how it stood before.
            at_rest = [Change(0, what, 1)] if not own[0].value else []
            edges = tuple(Edge(change.at_us, Output.GAS, bool(change.value)) for change in [*at_rest, *own])
            spans = on_spans_us(edges, script.end_us)
        tracks.append((what.replace("_", " "), spans))
    return tracks


def _x(found: Disagreement, at_us: float) -> float:
    return round(LEFT + at_us / max(found.end_us, 1) * (WIDTH - LEFT - RIGHT), 2)


def _row(
    canvas: draw.Drawing, found: Disagreement, y: float, name: str, spans: Sequence[tuple[int, int]], fill: str
) -> None:
    canvas.append(draw.Text(name, 13, LEFT - 10, y + BAR - 5, fill=INK, text_anchor="end"))
    canvas.append(draw.Line(LEFT, y + BAR, WIDTH - RIGHT, y + BAR, stroke=PALE, stroke_width=1.2))
    for from_us, to_us in spans:
        left, right = _x(found, from_us), _x(found, min(to_us, found.end_us))
        canvas.append(draw.Rectangle(left, y, max(right - left, 1.5), BAR, fill=fill))


def _axis(canvas: draw.Drawing, found: Disagreement, y: float) -> None:
    step_ms = round_step(max(found.end_us, 1) / 1000)
    for tick in range(int(found.end_us / 1000 / step_ms) + 1):
        x = _x(found, tick * step_ms * 1000)
        canvas.append(draw.Text(f"{tick * step_ms:g}", 11, x, y + 22, fill=INK, text_anchor="middle"))
    canvas.append(draw.Text("time, ms", 12, LEFT - 10, y + 22, fill=INK, text_anchor="end"))
