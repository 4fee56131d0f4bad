"""Which files know one time by its name, from the design file to C, plate, trace, finding and bench.

    python tools/way_of_a_setting.py [burnback]

Most of the way a time is one of several that go through together, by name; a file counts where the code singles this
one out: an attribute such as `times.burnback`, a text that is its name or a key of it, a variable that holds it, a
macro. Comments and sentences for people do not count, nor does the model of what happens at the wire, which has the
same name.
"""

from __future__ import annotations

import ast
import re
import sys
from collections.abc import Iterator
from functools import cache
from pathlib import Path

ROOT = Path(__file__).resolve().parent.parent
ROOMS = ("timing", "codegen", "bench", "wirecue", "board_templates")


def way_of(name: str) -> dict[str, list[int]]:
    """Return each file that singles out the time `name`, with the lines where it does."""
    found = {}
    for path, content in _sources():
        lines = sorted(set(_template(content, name) if isinstance(content, str) else _python(content, name)))
        if lines:
            found[path.relative_to(ROOT).as_posix()] = lines
    return found


@cache
def _sources() -> list[tuple[Path, ast.Module | str]]:
    """Each file: Python as its tree, a template as its text."""
    files = [path for room in ROOMS for path in sorted((ROOT / room).rglob("*")) if path.suffix in (".py", ".j2")]
    texts = [(path, path.read_text(encoding="utf-8")) for path in files]
    return [(path, ast.parse(text) if path.suffix == ".py" else text) for path, text in texts]


def _python(module: ast.Module, name: str) -> Iterator[int]:
    texts = re.compile(rf"((times|spot|stitch)\.)?{name}(\..*)?|{name}_(dial|switch)|(dial|switch) {name}")
    holders = {f"{name}_us", f"_{name}_us"}
    for node in ast.walk(module):
        match node:
            case ast.Constant(value=str(value)) if texts.fullmatch(value):
                yield node.lineno
            case ast.Attribute(attr=attr, value=ast.Attribute(attr="times") | ast.Name(id="times")) if attr == name:
                yield node.lineno
            case ast.Attribute(attr=attr, value=ast.Name(id="Time")) if attr == name.upper():
                yield node.lineno
            case ast.Name(id=known) | ast.arg(arg=known) | ast.Attribute(attr=known) if known in holders:
                yield node.lineno


def _template(text: str, name: str) -> Iterator[int]:
    macro = re.compile(rf"\b{name}_us\b|\b{name.upper()}_(US|PIN|DIAL|SWITCH)\b|[\"']{name}[\"']")
    yield from (number for number, line in enumerate(text.splitlines(), 1) if macro.search(line))


def main() -> None:
    """Print the way of a time."""
    name = sys.argv[1] if len(sys.argv) > 1 else "burnback"
    found = way_of(name)
    for path, lines in found.items():
        print(f"{path}: {', '.join(map(str, lines))}")
    print(f"{len(found)} files single out {name}")


if __name__ == "__main__":
    main()
