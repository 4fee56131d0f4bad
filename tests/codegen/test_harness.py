"""The harness is a folder that tests a board by itself, and finds a bad one."""

from __future__ import annotations

import ast
import json
import os
import subprocess
import sys
from pathlib import Path

import pexpect
import pytest

from bench.virtual.board import AheadClock, VirtualBoard
from bench.virtual.machine import NO_FAULTS, Faults
from bench.virtual.serving import behind_pty
from codegen.harness import UncarriedModuleError, carried, harness_files
from codegen.plan import Plan
from tests.conftest import EXAMPLES
from timing.design.loading import load_design
from timing.project import Project
from timing.protocol.target import from_json, to_json
from timing.protocol.target_of_design import target_of
from timing.sequence.core.table import Output
from wirecue.projects import load_board

OURS = {"timing", "bench", "codegen", "wirecue", "board_templates"}

# Put before everything else: the folder must do without this project even where it is installed.
GUARD = f"""
import pathlib
import sys
from importlib.machinery import PathFinder

class Guard:
    def find_spec(self, name, path=None, target=None):
        if name.partition(".")[0] in {OURS!r}:
            spec = PathFinder.find_spec(name, path)
            if spec is None or pathlib.Path.cwd() / "kit" not in pathlib.Path(spec.origin).parents:
                raise ImportError(f"the harness needs {{name}}")

sys.meta_path.insert(0, Guard())
"""


def made(name):
    design = load_design(Path(__file__).parents[2] / "examples" / f"{name}.toml")
    board = load_board(design.board.type)
    return target_of(Project(design, board)), harness_files(Project(design, board), "0.1")


@pytest.fixture(scope="module")
def folder(tmp_path_factory):
    """Write the harness of the two-step example, with the guard beside it."""
    _, files = made("shop_two_step")
    root = tmp_path_factory.mktemp("harness")
    (root / "guard").mkdir()
    (root / "guard" / "no_project.py").write_text(GUARD)
    for name, text in files.items():
        path = root / "bench" / name
        path.parent.mkdir(parents=True, exist_ok=True)
        path.write_text(text, encoding="utf-8")
    return root


def environment_of(folder):
    environment = {name: value for name, value in os.environ.items() if not name.startswith(("PYTEST", "COV"))}
    # Only what the folder asks for: whatever else is installed here is no part of the test.
    environment |= {"PYTEST_DISABLE_PLUGIN_AUTOLOAD": "1", "PYTHONDONTWRITEBYTECODE": "1"}
    environment["PYTHONPATH"] = str(folder / "guard")
    return environment


PYTEST = ("-m", "pytest", "-p", "no_project", "-p", "no:cacheprovider", "-q")


def run(folder, *arguments, heeded=True):
    command = [sys.executable, *PYTEST, *(["--yes"] if heeded else []), *arguments]
    done = subprocess.run(
        command, cwd=folder / "bench", env=environment_of(folder), capture_output=True, text=True, timeout=120,
        check=False, stdin=subprocess.DEVNULL,
    )  # fmt: skip
    return done.returncode, done.stdout + done.stderr


def against(folder, board, *arguments):
    with behind_pty(board) as name:
        return run(folder, f"--port={name}", "--no-press", "--no-host-clock", *arguments)


def virtual(faults=NO_FAULTS, **options):
    target, _ = made("shop_two_step")
    return VirtualBoard(target, "0.1", AheadClock(5_003), faults=faults, **options)


def test_a_sound_board_passes(folder):
    code, said = against(folder, virtual(), "-W", "error", "--random", "4")
    assert code == 0, said
    assert "failed" not in said


@pytest.mark.parametrize(
    ("faults", "says"),
    [
        (Faults(dead=frozenset({Output.WIRE})), "wire drive: comes on expected at"),
        (Faults(swapped=(Output.GAS, Output.CONTACTOR)), "gas valve: comes on at"),
        (Faults(stretched_us={"burnback": 2_000}), "late (allowed"),
    ],
)
def test_a_bad_board_fails(folder, faults, says):
    code, said = against(folder, virtual(faults), "-k", "test_case and weld", "--maxfail=2")
    assert code == 1, said
    assert says in said


def test_random_scripts_find_a_bad_board(folder):
    code, said = against(folder, virtual(Faults(slow_filter_us=3_000)), "-k", "random", "--random", "20")
    assert code == 1, said
    assert "\nE     after" in said or "after\n" in said


@pytest.mark.parametrize(
    ("board", "says"),
    [
        (lambda: virtual(Faults(digest="f" * 16)), "carries shop_two_step with digest ffffffffffffffff"),
        (lambda: virtual(Faults(edited=True)), "but its settings.h was edited after the build"),
        (lambda: virtual(bench_link=False), "put the jumper from the bench link pin"),
    ],
)
def test_the_wrong_board_ends_the_run_with_a_sentence(folder, board, says):
    code, said = against(folder, board())
    assert code == 2, said
    assert says in " ".join(said.split())
    assert "Traceback" not in said


def test_with_nobody_there_nothing_is_opened(folder, tmp_path):
    port = tmp_path / "port"
    port.write_text("untouched")
    code, said = run(folder, f"--port={port}", heeded=False)
    assert code == 2, said
    assert "nobody is there to say that the cautions are heeded; --yes says so" in said
    assert "Traceback" not in said
    assert port.read_text() == "untouched"


@pytest.mark.parametrize(("answer", "code"), [("y", 0), ("yes", 0), ("n", 2), ("", 2)])
def test_it_asks_before_it_moves_an_output(folder, answer, code):
    board = virtual()
    with behind_pty(board) as name:
        terminal = pexpect.spawn(
            sys.executable, [*PYTEST, f"--port={name}", "--no-press", "--no-host-clock", "-k", "test_case and tap"],
            cwd=str(folder / "bench"), env=environment_of(folder), encoding="utf-8", timeout=60, dimensions=(60, 200),
        )  # fmt: skip
        terminal.expect_exact("feeder plug of the add-on (P1) is pulled")
        terminal.expect_exact("Is all of this so? [y/N] ")
        terminal.sendline(answer)
        terminal.expect(pexpect.EOF)
        terminal.close()
    assert terminal.exitstatus == code, terminal.before
    assert ("the cautions are not heeded" in terminal.before) == (code == 2)


def test_without_a_port_it_lists_what_is_plugged_in(folder):
    code, said = run(folder)
    assert code == 2, said
    assert "No port was named" in said


def test_the_cautions_stand_at_the_top(folder):
    _, said = run(folder, "-v")
    assert "feeder plug of the add-on (P1) is pulled" in said


def test_a_fault_of_the_clock_is_looked_at_only_in_long_runs(folder):
    with behind_pty(virtual()) as name:
        code, said = run(folder, f"--port={name}", "--no-press", "-k", "clock", "-rs")
    assert code == 0, said
    assert "too short to say anything" in said


@pytest.mark.parametrize("path", EXAMPLES, ids=lambda path: path.stem)
def test_same_design_same_bytes_and_fit_for_a_plan(path):
    design = load_design(path)
    board = load_board(design.board.type)
    first, second = (harness_files(Project(design, board), "0.1") for _ in range(2))
    assert first == second
    plan = Plan({name: text.encode() for name, text in first.items()})
    assert {"README.md", "conftest.py", "test_board.py", "design.json", "kit/timing/sequence/core/engine.py"} <= set(
        plan.files
    )
    assert all(text.endswith("\n") and "\r" not in text for text in first.values())
    assert design.digest() in first["README.md"]


@pytest.mark.parametrize("path", EXAMPLES, ids=lambda path: path.stem)
def test_a_target_goes_through_json_unchanged(path):
    design = load_design(path)
    target = target_of(Project(design, load_board(design.board.type)))
    assert from_json(json.loads(json.dumps(to_json(target)))) == target


def test_what_is_carried_is_as_it_is_here():
    root = Path(__file__).parents[2]
    _, files = made("shop_two_step")
    kit = {name.removeprefix("kit/"): text for name, text in files.items() if name.startswith("kit/")}
    assert kit == {name: (root / name).read_text(encoding="utf-8") for name in kit}
    core = (root / "timing" / "sequence" / "core").glob("*.py")
    assert {path.relative_to(root).as_posix() for path in core} <= set(kit)


def test_the_core_imports_nothing_but_itself_and_pythons_own():
    for path in sorted((Path(__file__).parents[2] / "timing" / "sequence" / "core").glob("*.py")):
        for node in ast.walk(ast.parse(path.read_text(encoding="utf-8"))):
            if isinstance(node, ast.ImportFrom):
                within = node.level == 1 and "." not in (node.module or "")
                assert within or (node.level == 0 and node.module.partition(".")[0] in sys.stdlib_module_names), path
            elif isinstance(node, ast.Import):
                assert {alias.name.partition(".")[0] for alias in node.names} <= set(sys.stdlib_module_names), path


@pytest.mark.parametrize(
    ("line", "wanted"),
    [
        ("from timing.design.loading import load_design", "timing.design.loading"),
        ("import wirecue.projects", "wirecue.projects"),
        ("from timing.sequence import simulate", "timing.sequence.simulate"),
    ],
)
def test_what_knows_more_than_the_link_and_the_sequence_is_refused(line, wanted):
    with pytest.raises(UncarriedModuleError, match=f"test_board.py imports {wanted}, which the harness does not carry"):
        carried({"test_board.py": line})


def test_the_press_is_asked_for_on_the_screen(folder):
    board = virtual()
    board.move_contact("trigger", True, 1_500_000)
    board.move_contact("trigger", False, 3_000_000)
    with behind_pty(board) as name:
        code, said = run(folder, f"--port={name}", "--no-host-clock", "-k", "press and not case")
    assert "Now press the real trigger" in said
    assert code == 0, said
