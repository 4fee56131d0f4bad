"""Whatever stands behind the port: one sentence, exit code 2, in bounded time and memory; harness included."""

from __future__ import annotations

import json
import os
import re
import subprocess
import sys
from pathlib import Path

import pytest

from codegen.harness import harness_files
from tests.conftest import ROOT, gate_share
from tests.support.bad_boards import BOARDS, clock_at_double_speed, clock_at_half_speed, served, sound
from timing.design.loading import load_design
from timing.project import Project
from wirecue.projects import load_board

SHOP = ROOT / "examples" / "shop_two_step.toml"
MOST_KB = 60_000
"""What a run may take on top of what it starts with."""


class Runs:
    """Runs of both programs, one after the other."""

    def __init__(self, folder: Path) -> None:
        self.folder = folder
        environment = {name: value for name, value in os.environ.items() if not name.startswith(("PYTEST", "COV"))}
        environment |= {"PYTEST_DISABLE_PLUGIN_AUTOLOAD": "1", "PYTHONDONTWRITEBYTECODE": "1", "PYTHONPATH": str(ROOT)}
        command = [sys.executable, str(ROOT / "tests" / "support" / "forked.py"), str(folder), str(SHOP)]
        self._server = subprocess.Popen(
            command, stdin=subprocess.PIPE, stdout=subprocess.PIPE, text=True, env=environment
        )
        self._least_kb = self._answer()["rss_kb"]

    def run(self, program: str, *arguments: str) -> tuple[int, str, int]:
        """Run a program; return exit code, what it said, and the memory that it took in kB."""
        said = self.folder / "said.txt"
        order = {"program": program, "arguments": arguments, "out": str(said)}
        self._server.stdin.write(json.dumps(order) + "\n")
        self._server.stdin.flush()
        answer = self._answer()
        return answer["code"], said.read_text(encoding="utf-8"), answer["rss_kb"] - self._least_kb

    def close(self) -> None:
        self._server.stdin.close()
        self._server.wait()
        self._server.stdout.close()

    def _answer(self) -> dict[str, int]:
        return json.loads(self._server.stdout.readline())


@pytest.fixture(scope="session")
def runs(tmp_path_factory):
    folder = tmp_path_factory.mktemp("harness")
    design = load_design(SHOP)
    for name, text in harness_files(Project(design, load_board(design.board.type)), "0.1").items():
        path = folder / name
        path.parent.mkdir(parents=True, exist_ok=True)
        path.write_text(text, encoding="utf-8")
    runs = Runs(folder)
    yield runs
    runs.close()


ARGUMENTS = {
    "wirecue": lambda port, case: ("bench", str(SHOP), f"--port={port}", "--yes", "--no-press", f"--case={case}"),
    "harness": lambda port, case: (f"test_board.py::test_case[{case}]", f"--port={port}", "--yes", "--no-press"),
}
SOON, LATE = "--patience=0.4", "--patience=5"
"""How long an answer may take: soon over where none comes, long enough for a busy computer where one does."""
QUICK = "tap"
LONGER = {clock_at_double_speed: "weld", clock_at_half_speed: "weld"}
"""The case to run where the quickest one is over before anything can be said."""


# The harness carries the bench as it is: what it adds shows with some of the boards.
RUNS = [(board, "wirecue") for board in BOARDS] + [(board, "harness") for board in gate_share(BOARDS, 3)]


@pytest.mark.parametrize(
    ("script", "sentence", "program"),
    [(*board, program) for board, program in RUNS],
    ids=lambda value: getattr(value, "__name__", ""),
)
def test_a_bad_board_ends_the_run_with_one_sentence(runs, shop, tmp_path, script, sentence, program):
    with served(script, shop, tmp_path / "port") as path:
        patience = SOON if "No answer" in sentence else LATE
        code, said, took_kb = runs.run(program, *ARGUMENTS[program](str(path), LONGER.get(script, QUICK)), patience)
    assert code == 2, said
    assert re.fullmatch(sentence, last_sentence(said).replace(str(path), "PORT")), said
    assert "Traceback" not in said
    assert "INTERNALERROR" not in said
    assert not re.search(r"^E  |Error:", said, re.MULTILINE), said
    assert re.fullmatch(r"[\n -~]*", said), said
    assert took_kb < MOST_KB


def last_sentence(said: str) -> str:
    """Return what the command says last, or the harness gives as the reason to end."""
    found = re.findall(r"^!* ?_pytest\.outcomes\.Exit: (.*?)(?: !+)?$", said, re.MULTILINE)
    assert len(found) < 2, said
    return found[0] if found else said.rstrip().rpartition("\n")[2]


@pytest.mark.parametrize("program", ARGUMENTS)
def test_a_sound_board_passes_the_same_way(runs, shop, tmp_path, program):
    with served(sound, shop, tmp_path / "port") as path:
        code, said, took_kb = runs.run(program, *ARGUMENTS[program](str(path), QUICK), LATE)
    assert code == 0, said
    assert took_kb < MOST_KB
