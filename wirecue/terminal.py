"""What the command line prints: data, text, findings, and a word to whoever waits."""

from __future__ import annotations

import contextlib
import itertools
import json
import re
import sys
import textwrap
from collections.abc import Callable, Container, Iterable, Iterator, Mapping, Sequence
from pathlib import Path
from typing import TYPE_CHECKING, Any

import click

from timing.design.text_file import shown

# Late where they are used: help, which wraps its lines here, has no findings.
if TYPE_CHECKING:
    from timing.checks.finding import Finding


def json_text(data: Mapping[str, Any] | Sequence[Any]) -> str:
    """Return `data` as JSON text."""
    return json.dumps(data, indent=2, ensure_ascii=False) + "\n"


WIDEST_COLUMNS = 100
"""Longer lines are hard to read, however wide the terminal is (choice)."""
NARROWEST_COLUMNS = 40
"""In a terminal that is narrower lines run over: broken after each word they would say nothing (choice)."""


def terminal_columns() -> int:
    """Return how wide the terminal is; 0 where there is none, as in a pipe."""
    # Late: what prints nothing that is wrapped shall not wait for it.
    import shutil

    return shutil.get_terminal_size((0, 0)).columns


def columns() -> int:
    """Return how long a line may be: as the terminal is wide, within limits; where there is none, the most."""
    return min(max(terminal_columns() or WIDEST_COLUMNS, NARROWEST_COLUMNS), WIDEST_COLUMNS)


_HOLD = "\N{NO-BREAK SPACE}"
_HELD = re.compile(r'[\w.]+ = (?:"[^"]*"|true|false)|\d [A-Za-z%]')


def paragraph(text: str, width: int | None = None, first: str = "", then: str = "") -> str:
    """Return `text` broken into lines, `first` and `then` at their beginnings; `width` is the terminal's if left out.

    A number is not parted from its unit, and a line for the design file, to be copied, not in itself; nor is a word,
    which may be a path.
    """
    lines = textwrap.wrap(
        _held(text),
        columns() if width is None else width,
        initial_indent=first,
        subsequent_indent=then,
        break_long_words=False,
        break_on_hyphens=False,
    )
    return "\n".join(lines).replace(_HOLD, " ")


def _held(text: str) -> str:
    return _HELD.sub(lambda found: found[0].replace(" ", _HOLD), text)


def unbroken(text: str) -> str:
    """Return a text that no table breaks, such as a bar."""
    return text.replace(" ", _HOLD)


_GAP = re.compile(r"(?<=\S) {2,}(?=\S)")
_FARTHEST_HANG = 0.75
"""Share of a line from which text would hang in too narrow a column (choice)."""
_BELOW = 4
"""Columns that what finds no room beside the rest of its line stands in, on the next (choice)."""


def within_width(text: str, width: int | None = None) -> str:
    """Return a text whose long lines are broken; the last of a line's columns goes on beneath itself.

    A command line that stands alone is to be copied: it stays whole. `width` is the terminal's if left out; where
    there is none, whole lines go to whatever reads them.
    """
    if width is None and not terminal_columns():
        return text
    wide = columns() if width is None else width
    return "\n".join(_wrapped_line(line, wide) for line in text.split("\n"))


def _wrapped_line(line: str, wide: int) -> str:
    if len(click.unstyle(line)) <= wide:
        return line
    indent = len(line) - len(line.lstrip(" "))
    gap = next(reversed([*_GAP.finditer(line)]), None)
    if gap is None and line.startswith("wirecue ", indent):
        return line
    if gap is None:
        return paragraph(line[indent:], wide, " " * indent, " " * (indent + 2))
    if gap.end() <= _FARTHEST_HANG * wide:
        return paragraph(line[gap.end() :], wide, line[: gap.end()], " " * gap.end())
    below = " " * (indent + _BELOW)
    return f"{_wrapped_line(line[: gap.start()], wide)}\n{paragraph(line[gap.end() :], wide, below, below)}"


def say(text: str, *, err: bool = False) -> None:
    """Print a text, its long lines broken."""
    click.echo(within_width(text), err=err)


def rounded(data: Any) -> Any:
    """Return `data` with every float to six figures: more would only look exact."""
    if isinstance(data, float):
        return float(f"{data:.6g}")
    if isinstance(data, Mapping):
        return {key: rounded(value) for key, value in data.items()}
    return [rounded(value) for value in data] if isinstance(data, list | tuple) else data


def table(rows: Iterable[Sequence[str]], head: Sequence[str] = (), right: Container[int] = ()) -> str:
    """Return rows as aligned columns, those of the numbers in `right` to the right.

    Where they are wider than the terminal, the widest break their texts; a blank that must stay is a no-break space.
    """
    body = [*rows]
    lines = [*([head] if head else []), *body]
    widths = _widest(lines)
    words = [max(_longest_word(line[column]) for line in lines) for column in range(len(widths))]
    # The head gives way first, then the widest column, as long as no word has to.
    for least in ([max(both) for both in zip(words, _widest(body), strict=True)] if body else words, words):
        for _ in range(sum(widths) + 2 * (len(widths) - 1) - columns() if terminal_columns() else 0):
            giving = [column for column, need in enumerate(least) if widths[column] > need]
            if giving:
                widths[max(giving, key=widths.__getitem__)] -= 1
    return "\n".join(text for line in lines for text in _row(line, widths, right)).replace(_HOLD, " ")


def _widest(lines: Sequence[Sequence[str]]) -> list[int]:
    return [max(len(line[column]) for line in lines) for column in range(len(lines[0]))] if lines else []


def _row(cells: Sequence[str], widths: Sequence[int], right: Container[int]) -> Iterator[str]:
    broken = [
        [cell] if len(cell) <= width else paragraph(cell, width).split("\n")
        for cell, width in zip(cells, widths, strict=True)
    ]
    for parts in itertools.zip_longest(*broken, fillvalue=""):
        placed = [
            part.rjust(width) if column in right else part.ljust(width)
            for column, (part, width) in enumerate(zip(parts, widths, strict=True))
        ]
        yield "  ".join(placed).rstrip()


def _longest_word(cell: str) -> int:
    return max(map(len, _held(cell).split(" ")))


@contextlib.contextmanager
def working(on: str) -> Iterator[Callable[[str], None]]:
    """Show what is being worked on, on standard error, and take it away again. Gives what to tell how far it is."""
    shown = sys.stderr.isatty()

    def tell(how_far: str) -> None:
        if shown:
            click.echo(f"\r\x1b[K{on} ... {how_far}", nl=False, err=True)

    tell("")
    try:
        yield tell
    finally:
        if shown:
            click.echo("\r\x1b[K", nl=False, err=True)


_COLOURS = {"error": "red", "warning": "yellow", "info": "cyan"}
_FACT, _MORE = 9, 15
"""Columns that the severity takes, and that a label in front of a reason or remedy takes."""


def finding_text(finding: Finding) -> str:
    """Return the lines of a finding; each remedy with the lines that it puts into the design file."""
    word = finding.severity.word
    head = paragraph(f"{finding.key}: {finding.text}", first=word.ljust(_FACT), then=" " * _FACT)
    remedies = [remedy.with_lines for remedy in finding.remedies]
    labels = ["why", "do", *["or"] * len(remedies)]
    more = [_labelled(label, text) for label, text in zip(labels, (finding.reason, *remedies), strict=False)]
    return "\n".join([click.style(word, fg=_COLOURS[word], bold=True) + head[len(word) :], *more])


def verdict_text(name: str, findings: Sequence[Finding]) -> str:
    """Return one line that counts the findings and says whether the design may be built."""
    from timing.checks.finding import Severity, worst

    verdict = "must not be built yet" if worst(findings) is Severity.ERROR else "may be built"
    return f"{name}: {counted(findings)}; it {verdict}."


def untold_text(number: int, design: Path) -> str:
    """Return what stands in place of infos that were left out."""
    infos, them = ("1 info asks", "it") if number == 1 else (f"{number} infos ask", "them")
    return f"{infos} for nothing: `wirecue check --all {shown(design)}` shows {them}."


def counted(findings: Sequence[Finding]) -> str:
    """Return how many errors and warnings there are, in words."""
    from timing.checks.finding import Severity, count

    return f"{count(findings, Severity.ERROR)}, {count(findings, Severity.WARNING)}"


def _labelled(label: str, text: str) -> str:
    return paragraph(text, first=" " * _FACT + label.ljust(_MORE - _FACT), then=" " * _MORE)
