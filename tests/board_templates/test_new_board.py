"""A new board is a new folder: nothing else need know of it."""

from __future__ import annotations

import re
import shutil
from importlib.resources import files

import pytest
from click.testing import CliRunner

from codegen.sketch import sketch_files
from codegen.toolchain import compile_sketch, measure
from tests.conftest import CACHE, ROOT, VERSION
from timing.design.loading import load_design
from timing.project import Project
from wirecue.cli import main
from wirecue.projects import board_names, load_board

EXAMPLE = ROOT / "examples" / "shop_two_step.toml"

HINTS = """#ifndef COMPILER_H
#define COMPILER_H
#define ONE_COPY
#define QUICK inline
#endif
"""


@pytest.fixture
def templates(tmp_path, monkeypatch):
    """The templates with one folder more: a board of another maker, with a lamp of its own way."""
    folder = tmp_path / "board_templates"
    shutil.copytree(ROOT / "board_templates", folder, ignore=shutil.ignore_patterns("__pycache__"))
    new = folder / "workbench"
    new.mkdir()
    text = (folder / "uno" / "board.toml").read_text()
    text = text.replace('type = "uno"', 'type = "workbench"').replace("Uno-style board", "Workbench board")
    text = text.replace('gas_valve = "D5"', 'gas_valve = "D8"').replace('interlock = "D8"', 'interlock = "D5"')
    (new / "board.toml").write_text(text)
    (new / "compiler.h.j2").write_text(
        "#ifndef COMPILER_H\n#define COMPILER_H\n#define ONE_COPY\n#define QUICK inline\n#endif\n"
    )

    def elsewhere(package):
        return folder if package == "board_templates" else files(package)

    monkeypatch.setattr("wirecue.projects._templates", lambda: folder)
    monkeypatch.setattr("codegen.rendering.files", elsewhere)
    return folder


@pytest.fixture
def path(tmp_path):
    """A design for it."""
    text = EXAMPLE.read_text().replace('type = "uno"', 'type = "workbench"')
    path = tmp_path / EXAMPLE.name
    path.write_text(text)
    return path


@pytest.mark.usefixtures("templates")
def test_it_is_listed_checked_and_built(path, tmp_path):
    assert "workbench" in board_names()
    assert "Workbench board, ATmega328P, 5 V" in CliRunner().invoke(main, ["boards"]).output
    assert CliRunner().invoke(main, ["check", str(path)]).exit_code == 0
    result = CliRunner().invoke(main, ["build", str(path), "--output", str(tmp_path / "out")])
    assert result.exit_code == 0, result.output
    settings = (tmp_path / "out" / "shop_two_step" / "settings.h").read_text()
    assert re.search(r"#define GAS_VALVE_PIN PIN_OF\(B, 0\) /\* D8: gas valve", settings)


@pytest.mark.debian("avr-gcc", "arduino-core")
@pytest.mark.usefixtures("templates")
def test_its_own_templates_go_before_its_familys_and_compile(path):
    design, board = load_design(path), load_board("workbench")
    made = sketch_files(Project(design, board), VERSION)
    assert made["compiler.h"] == HINTS
    assert made["board.cpp"] == sketch_files(Project(design, load_board("uno")), VERSION)["board.cpp"]
    assert measure(compile_sketch(made, board, CACHE)).flash_bytes > 4_000


def test_no_module_names_a_board():
    """Boards are data. The survey alone names one, for whoever has none; nano and mega are prefixes of units, too."""
    names = "|".join(board_names())
    named = re.compile(rf"""["'](?:{names})["']""")
    sources = [path for package in ("timing", "codegen", "bench") for path in (ROOT / package).rglob("*.py")]
    found = [f"{path.relative_to(ROOT)}: {match[0]}" for path in sources if (match := named.search(path.read_text()))]
    allowed = ("timing/survey/topics.py", "timing/design/units.py")
    assert [place for place in found if not place.startswith(allowed)] == []
