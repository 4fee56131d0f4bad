"""Write the sketch of every example to tests/golden/, where a change of the templates has a diff to read."""

from __future__ import annotations

import shutil
from pathlib import Path

from codegen.sketch import sketch_files
from wirecue.projects import load_project

ROOT = Path(__file__).resolve().parent.parent
GOLDEN = ROOT / "tests" / "golden"
EXAMPLES = sorted((ROOT / "examples").glob("*.toml"))
VERSION = "0.0.0"
"""In place of the tool's own, so that a release changes no sketch here."""


def golden_files(example: Path) -> dict[str, str]:
    """Return the files of an example's sketch folder, by name."""
    project = load_project(example)
    return sketch_files(project, VERSION)


def main() -> None:
    """Write all examples anew."""
    shutil.rmtree(GOLDEN, ignore_errors=True)
    for example in EXAMPLES:
        folder = GOLDEN / example.stem
        folder.mkdir(parents=True)
        for name, text in golden_files(example).items():
            (folder / name).write_text(text, encoding="utf-8", newline="\n")


if __name__ == "__main__":
    main()
