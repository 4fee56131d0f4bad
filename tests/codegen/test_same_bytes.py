"""The same design gives the same bytes: whatever order sets have, and wherever it is built."""

from __future__ import annotations

import json
import os
import subprocess
import sys

import pytest

from codegen.plan import content_hash
from tests.conftest import EXAMPLES, ROOT, gate_share

# Each process has another order of sets, another place to be in and another time zone; two of them another locale.
SURROUNDINGS = (
    {"PYTHONHASHSEED": "0", "LC_ALL": "C", "PYTHONUTF8": "0", "PYTHONCOERCECLOCALE": "0", "TZ": "UTC"},
    {"PYTHONHASHSEED": "1", "LC_ALL": "C.UTF-8", "TZ": "Asia/Kathmandu"},
    {"PYTHONHASHSEED": "2", "LC_ALL": "C.UTF-8", "TZ": "America/St_Johns", "SOURCE_DATE_EPOCH": "1"},
    {"PYTHONHASHSEED": "3", "LC_ALL": "C", "PYTHONUTF8": "0", "PYTHONCOERCECLOCALE": "0", "NO_COLOR": "1"},
    {"PYTHONHASHSEED": "4", "LC_ALL": "C.UTF-8", "HOME": "/nowhere", "USER": "somebody"},
)
BUILD = """
import json, sys
from pathlib import Path
from codegen import build
from codegen.papers.blocks import paper_pdfs
from codegen.plan import content_hash
from codegen.sketch import sketch_files
from codegen.manifest import manifest
from timing.design.loading import parse_design, read_design_text
from timing.project import Project
from timing.proof.prove import as_data
from wirecue.projects import load_board
# The sheets of all designs are set at one start of the typesetter, behind the builds.
sheets = []
build.paper_pdf = lambda paper: sheets.append(paper) or b"set below"
made, names, proofs = {}, [], []
for path in map(Path, sys.argv[1:]):
    text = read_design_text(path)
    design = parse_design(text)
    project = Project(design, load_board(design.board.type))
    plan = build.build_plan(project, sketch_files(project, "0.1.0"), "0.1.0", text)
    names += [f"{path.stem}/{name}" for name, content in plan.files.items() if content == b"set below"]
    made |= {f"{path.stem}/{name}": digest for name, digest in plan.hashes().items()}
    # The manifest holds these hashes and what was proved, which takes a while: the proof of one design will do.
    proofs = proofs or [as_data(design, project.proof)]
    made[f"{path.stem}/manifest.json"] = content_hash(manifest(plan, proofs[0]))
made |= dict(zip(names, map(content_hash, paper_pdfs(sheets)), strict=True))
json.dump(made, sys.stdout)
"""


def made_in(surrounding: dict[str, str], folder: str) -> dict[str, str]:
    """Return the hash of every file of every example, made in a process of its own."""
    child = subprocess.run(
        [sys.executable, "-c", BUILD, *map(str, EXAMPLES)],
        env={**os.environ, "PYTHONPATH": str(ROOT), **surrounding},
        cwd=folder,
        capture_output=True,
        text=True,
        check=False,
    )
    assert child.returncode == 0, child.stderr
    return json.loads(child.stdout)


@pytest.fixture(scope="module")
def builds(tmp_path_factory):
    """Every example made in each of the surroundings."""
    return [made_in(one, str(tmp_path_factory.mktemp("somewhere"))) for one in gate_share(SURROUNDINGS, 2)]


def test_other_hash_seeds_and_locales_give_the_same_bytes(builds):
    first, *others = builds
    for other in others:
        assert {name for name in first.keys() | other.keys() if first.get(name) != other.get(name)} == set()


def test_everything_was_compared(builds):
    kinds = {name.rpartition(".")[2] for name in builds[0]}
    assert {"c", "h", "ino", "py", "svg", "html", "pdf", "csv", "toml", "json"} <= kinds
    assert {name.partition("/")[0] for name in builds[0]} == {path.stem for path in EXAMPLES}
    assert {f"{path.stem}/sheet.pdf" for path in EXAMPLES} <= builds[0].keys()
    assert content_hash(b"set below") not in builds[0].values()
