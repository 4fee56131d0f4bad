"""The recipe for a phase, its time and its condition, followed as it stands in DEVELOPERS.md."""

from __future__ import annotations

import json
import os
import re
import subprocess
import sys
import textwrap

import pytest

from tests.conftest import ROOT
from tools.mutations.trial import copy_of_sources

pytestmark = pytest.mark.debian("gcc")

STEP = re.compile(
    r"in `(?P<file>[^`]+)`, (?P<where>after|before|in place of) `(?P<anchor>.+)`:\n\n(?P<code>(?: {8}.*\n)+)"
)
PROGRAM = """
import json, sys
from codegen.compiled_core import compare_core
from codegen.sketch import sketch_files
from timing.design.loading import parse_design
from timing.project import Project
from timing.proof.prove import prove
from timing.sequence.script_text import parse_script
from timing.sequence.simulate import simulate
from wirecue.projects import load_board

design = parse_design(sys.stdin.read())
timeline = simulate(design, parse_script("100 ms press; +2 s release"))
proof = prove(design)
sketch = sketch_files(Project(design, load_board(design.board.type)), "0.1")
compared = compare_core(design, sketch, proof.walked)
print(json.dumps({
    "phases": [[change.at_us, change.phase.word] for change in timeline.phases],
    "broken": [verdict.rule.name for verdict in proof.broken],
    "compiler": compared.compiler,
    "c": sketch["sequence.c"],
}))
"""
FIXED = 'rest = "3 s"'
DIALLED = 'rest = { from = "1 s", to = "10 s", setting = "3 s" }'


@pytest.fixture(scope="module")
def tree(tmp_path_factory):
    """A copy of the sources with the recipe followed in it."""
    tree = copy_of_sources(tmp_path_factory.mktemp("recipe") / "tree")
    text = (ROOT / "DEVELOPERS.md").read_text(encoding="utf-8")
    recipe = text[text.index("**a phase, exit or condition.**") : text.index("**a number that an owner may change.**")]
    steps = list(STEP.finditer(recipe))
    assert [int(number) for number in re.findall(r"^(\d+)\. ", recipe, re.MULTILINE)] == list(range(1, len(steps) + 1))
    for step in steps:
        follow(tree / step["file"], step["where"], step["anchor"], textwrap.dedent(step["code"]))
    return tree


def follow(path, where, anchor, code):
    lines = path.read_text(encoding="utf-8").splitlines()
    found = [index for index, line in enumerate(lines) if line.strip() == anchor]
    assert len(found) == 1, f"{anchor!r} stands {len(found)} times in {path.name}"
    index = found[0]
    indent = lines[index][: len(lines[index]) - len(anchor)]
    first, last = {"after": (index + 1, index + 1), "before": (index, index), "in place of": (index, index + 1)}[where]
    lines[first:last] = textwrap.indent(code, indent).splitlines()
    path.write_text("\n".join(lines) + "\n", encoding="utf-8")


def run(tree, rest):
    text = (ROOT / "examples" / "shop_two_step.toml").read_text(encoding="utf-8")
    text = re.sub(r"^(\[times\])$", rf"\1\n{rest}", text, count=1, flags=re.MULTILINE)
    done = subprocess.run(
        [sys.executable, "-c", PROGRAM], input=text, cwd=tree, env=os.environ | {"PYTHONPATH": str(tree)},
        capture_output=True, text=True, check=False, timeout=300,
    )  # fmt: skip
    assert done.returncode == 0, done.stderr[-2000:]
    return json.loads(done.stdout)


@pytest.mark.parametrize(
    ("rest", "c"), [(FIXED, "state->duration_us = REST_US;"), (DIALLED, "state->duration_us = inputs->rest_us;")]
)
def test_model_c_and_proof_know_the_new_phase(tree, rest, c):
    found = run(tree, rest)
    instants = {word: at_us for at_us, word in found["phases"]}
    words = [word for _, word in found["phases"]]
    assert words == ["idle", "preflow", "weld", "burnback", "postflow", "rest", "idle"]
    assert instants["idle"] - instants["rest"] == 3_000_000
    assert found["broken"] == []
    assert found["compiler"] is not None
    assert "PHASE_REST" in found["c"]
    assert "state->tired = true;" in found["c"]
    assert "state->tired = false;" in found["c"]
    assert c in found["c"]
    assert "state->tired) {" in found["c"]
