"""The texts of the tree: every tracked file, and of a Python file what people read in it."""

from __future__ import annotations

import io
import subprocess
import tokenize
from collections.abc import Iterator
from functools import cache
from pathlib import Path

from tests.conftest import ROOT

BINARY = {".png", ".pdf", ".ttf", ".woff2"}
SKIPPED = {".git", ".venv", "out", "__pycache__"}


@cache
def tracked() -> tuple[Path, ...]:
    """Return every file that belongs to the project: what git tracks; without git, what lies in the checkout."""
    listed = subprocess.run(["git", "ls-files", "-z"], cwd=ROOT, capture_output=True, text=True, check=False)
    if listed.returncode == 0:
        found = [ROOT / name for name in listed.stdout.split("\0") if name]
    else:
        found = [path for path in ROOT.rglob("*") if not SKIPPED & set(path.relative_to(ROOT).parts)]
    return tuple(path for path in sorted(found) if path.is_file() and path.suffix not in BINARY)


@cache
def lines(path: Path) -> tuple[tuple[int, str], ...]:
    """Return number and text of the lines of a file; of a Python file only of its comments and strings."""
    return tuple(_lines(path))


def _lines(path: Path) -> Iterator[tuple[int, str]]:
    text = path.read_text(encoding="utf-8", errors="replace")  # what a fuzzer found is no text
    if path.suffix != ".py":
        yield from enumerate(text.splitlines(), 1)
        return
    for token in tokenize.generate_tokens(io.StringIO(text).readline):
        if token.type in TEXTUAL:
            yield from enumerate(token.string.splitlines(), token.start[0])


TEXTUAL = {
    kind for name in ("COMMENT", "STRING", "FSTRING_MIDDLE") if (kind := getattr(tokenize, name, None)) is not None
}
