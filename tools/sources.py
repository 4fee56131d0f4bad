"""What every value rests on: docs/sources.md, made from the constants themselves and the marks beside them.

A constant's docstring ends with its mark in brackets, `(practice)` or `(published: where)`. Rows of a table of
constants carry fields `mark` and `source`; a board states the marks of its facts in its own file.
"""

from __future__ import annotations

import ast
import importlib
import re
from collections.abc import Iterator, Mapping
from dataclasses import dataclass, fields, is_dataclass
from enum import Enum
from pathlib import Path
from typing import Any, get_args

from timing.marks import MARK_MEANINGS, Mark
from wirecue.projects import board_names, load_board

ROOT = Path(__file__).parent.parent
PLACES = ("timing", "bench/compare.py", "bench/feeder_model")
MECHANICS = (
    "timing/proof",
    "timing/design/loading.py",
    "timing/design/section.py",
    "timing/design/loading.py",
    "timing/design/units.py",
    "timing/protocol/status.py",
    "timing/protocol/target.py",
    "timing/sequence/core/engine.py",
    "timing/sequence/core/scan.py",
    "timing/sequence/script_text.py",
    "timing/sequence/core/table.py",
    "timing/sequence/simulate.py",
)
"""Where numbers are the program's own: bits of a word, depths of a search, names of units."""

MARKED = re.compile(rf"\s*\((?P<mark>{'|'.join(get_args(Mark))})(?:: (?P<source>.*))?\)\.?$", re.DOTALL)
UNITS = {
    "US": "us", "MS": "ms", "S": "s", "V": "V", "A": "A", "W": "W", "VA": "VA", "OHM": "ohm", "F": "F", "HZ": "Hz",
    "MM": "mm", "C": "degC", "K": "K", "BAR": "bar", "DEG": "deg", "PERCENT": "%", "BYTES": "bytes",
}  # fmt: skip


class UnmarkedError(Exception):
    """A constant without a mark. Keeps where."""


@dataclass(frozen=True)
class Constant:
    """One value, or one row of a table of values."""

    place: str
    """Folder of the file, for the page's sections."""
    name: str
    value: str
    unit: str
    file: str
    mark: Mark
    source: str
    meaning: str


def constants() -> list[Constant]:
    """Return every constant of the model and every fact of a board. Raises UnmarkedError."""
    found = [one for path in _modules() for one in _of_module(path)]
    return [*found, *(one for name in board_names() for one in _of_board(name))]


def _modules() -> Iterator[Path]:
    for place in PLACES:
        for path in sorted([ROOT / place] if place.endswith(".py") else (ROOT / place).rglob("*.py")):
            if not path.relative_to(ROOT).as_posix().startswith(MECHANICS):
                yield path


def _of_module(path: Path) -> Iterator[Constant]:
    file = path.relative_to(ROOT).as_posix()
    module = importlib.import_module(file.removesuffix(".py").removesuffix("/__init__").replace("/", "."))
    body = ast.parse(path.read_text(encoding="utf-8")).body
    for node, after in zip(body, [*body[1:], None], strict=True):
        for name in _names(node):
            value = getattr(module, name)
            if numeric(value):
                yield from _of_constant(file, name, value, _text(after))


def _names(node: ast.stmt) -> list[str]:
    targets: list[ast.expr] = []
    if isinstance(node, ast.Assign):
        targets = node.targets[0].elts if isinstance(node.targets[0], ast.Tuple) else node.targets
    elif isinstance(node, ast.AnnAssign) and node.value is not None:
        targets = [node.target]
    names = [target.id for target in targets if isinstance(target, ast.Name)]
    return [name for name in names if name.isupper()]


def _text(node: ast.stmt | None) -> str:
    if isinstance(node, ast.Expr) and isinstance(node.value, ast.Constant) and isinstance(node.value.value, str):
        return " ".join(node.value.value.split())
    return ""


def numeric(value: Any) -> bool:
    """Tell whether a value is made of numbers: one, several, or rows that hold some."""
    if isinstance(value, bool | str | Enum) or value is None:
        return False
    if isinstance(value, int | float):
        return True
    if isinstance(value, Mapping):
        return bool(value) and all(numeric(one) for one in value.values())
    if isinstance(value, tuple):
        return bool(value) and all(numeric(one) for one in value)
    return is_dataclass(value) and any(numeric(getattr(value, field.name)) for field in fields(value))


def _of_constant(file: str, name: str, value: Any, text: str) -> Iterator[Constant]:
    place = file if file == "bench/compare.py" else file.rpartition("/")[0]
    if name.startswith("_") and hasattr(value, "mark"):
        return  # a part of the table below it
    rows = {name: value} if hasattr(value, "mark") else value if isinstance(value, Mapping) else {}
    if rows and all(hasattr(row, "mark") for row in rows.values()):
        for row in {id(row): row for row in rows.values()}.values():
            keys = [key for key, one in rows.items() if one is row]
            shown = name if row is value else f"{name}, {', '.join(keys)}"
            yield Constant(place, shown, written(row), "", file, row.mark, row.source, text)
        return
    marked = MARKED.search(text)
    if marked is not None:
        meaning = text[: marked.start()].rstrip(".")
        source = marked["source"] or ""
        yield Constant(place, name, written(value), _unit(name), file, _mark(marked["mark"]), source, meaning)
    elif not name.startswith("_"):
        words = ", ".join(MARK_MEANINGS)
        raise UnmarkedError(f"{file}: {name} has no mark; end the text under it with one of {words} in brackets")


def _mark(word: str) -> Mark:
    return next(mark for mark in MARK_MEANINGS if mark == word)


def _of_board(type_: str) -> Iterator[Constant]:
    board = load_board(type_)
    file = f"board_templates/{type_}/board.toml"
    for name, value in board.model_dump().items():
        if not numeric(value):
            continue
        if name not in board.sources:
            raise UnmarkedError(f"{file}: {name} has no mark; add it to [sources]")
        mark, _, source = board.sources[name].partition(": ")
        yield Constant("boards", name, written(value), _unit(name.upper()), file, _mark(mark), source, "")


def _unit(name: str) -> str:
    last = name.rpartition("_")[2]
    return UNITS.get(last, "")


def written(value: Any) -> str:
    """Return a value as the page shows it."""
    if isinstance(value, float):
        return f"{value:.6g}"
    if isinstance(value, Mapping):
        return ", ".join(f"{key} {written(one)}" for key, one in value.items())
    if isinstance(value, tuple):
        return ", ".join(f"({written(one)})" if isinstance(one, tuple) else written(one) for one in value)
    if is_dataclass(value):
        parts = ((field.name, getattr(value, field.name)) for field in fields(value))
        return ", ".join(f"{name} {written(one)}" for name, one in parts if name not in ("mark", "source"))
    return str(value)


def page() -> str:
    """Return docs/sources.md."""
    every = constants()
    counts = {mark: sum(one.mark == mark for one in every) for mark in MARK_MEANINGS}
    lines = [
        "<!-- Made by tools/write_docs.py; edits are lost. -->",
        "",
        "# What every value rests on",
        "",
        f"{len(every)} constants of the model and facts of the boards, each with its mark. A value that you measure",
        "replaces what stands here: `wirecue survey` asks for it, and `wirecue fit` finds coast and drop-out from test",
        "welds. Usual values of keys that a design file leaves out stand in [its reference](design-file.md); they are",
        "common practice, without a source.",
        "",
        "| mark | what it means | how many |",
        "|---|---|---|",
        *(f"| {mark} | {meaning} | {counts[mark]} |" for mark, meaning in MARK_MEANINGS.items()),
        "",
        "## Remembered values, and why none of them decides",
        "",
        *(f"- `{one.name}` ({one.value}): {one.source}. {_WHY[one.name]}" for one in every if one.mark == "remembered"),
        "",
    ]
    for place in dict.fromkeys(one.place for one in every):
        lines += [f"## {place}", "", f"| {' | '.join(_COLUMNS)} |", "|---" * len(_COLUMNS) + "|"]
        lines += ["| " + " | ".join(_cell(text) for text in _cells(one)) + " |" for one in every if one.place == place]
        lines.append("")
    return "\n".join(lines)


def _cells(one: Constant) -> tuple[str, ...]:
    where = one.file.split("/")[1] if one.place == "boards" else Path(one.file).name
    return f"`{one.name}`", one.value, one.unit, one.mark, one.source, one.meaning, where


def _cell(text: str) -> str:
    return text.replace("|", "\\|")


_COLUMNS = ("constant", "value", "unit", "mark", "source", "meaning", "file")


_WHY = {
    "PUBLISHED_ARC": "A volt of the fall, a fifth of the resistance or 30 % of the gradient leaves the advised "
    "burnback in its range; a test says so.",
    "METALS, mild-steel, flux-cored, self-shielded": "15 % of the heat capacity leaves postflow and pause in their "
    "ranges; a test says so.",
    "MATERIALS, aluminium": "10 % of either constant leaves every advised time in its range, the pause within 30 %; a "
    "test says so.",
    "LED_DARK_V": "With 0.1 V less the pair for a circuit of 12 V or more still reads a leak of 1 mA as open; a test "
    "says so.",
    "LED_LIT_V": "With 0.1 V more the pair for a circuit of 12 V or more still reads a press at low line; a test says "
    "so.",
    "CTR_FALL": "With 0.5 the pair for a circuit of 12 V or more still reads a press at low line; a test says so.",
    "_USUAL_REGULATION": "It counts only until the winding was measured open and loaded, as the survey asks.",
    "DC_BREAKING": "It is told beside a refusal; whether a contact may break dc goes by its stated rating alone.",
}
"""Why a remembered value does not decide; a remembered value that is not listed here fails the page."""
