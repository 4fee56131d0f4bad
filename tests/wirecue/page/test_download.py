"""The build as a zip file: the same as the folder that `wirecue build` writes, byte for byte the same each time."""

from __future__ import annotations

import io
import json
import zipfile

import pytest

from codegen.build import about, build_plan
from codegen.compiled_core import compare_core
from codegen.manifest import manifest
from codegen.sketch import sketch_files
from codegen.writing import write_plan
from tests.conftest import ROOT
from wirecue import __version__
from wirecue.firmware import compiling
from wirecue.page.document import Document
from wirecue.page.files import BrokenRulesError, built_zip, zipped
from wirecue.page.panels.build import inside_of

TEXT = (ROOT / "examples" / "shop_two_step.toml").read_text()


def test_the_zip_holds_what_the_folder_holds(tmp_path):
    project = Document(TEXT).project
    packed = built_zip(project, TEXT)
    sketch = sketch_files(project, __version__)
    plan = build_plan(project, sketch, __version__, TEXT)
    with compiling(project, sketch) as waited_for:
        plan = waited_for().added_to(plan)
    compared = compare_core(project.design, sketch, project.proof.walked)
    stated = about(project, __version__, TEXT, compared)
    write_plan(plan, tmp_path / "shop_two_step_build", stated)
    assert zipped(plan, "shop_two_step_build", manifest(plan, stated)) == packed
    zipfile.ZipFile(io.BytesIO(packed)).extractall(tmp_path / "unpacked")

    def contents(folder):
        return {path.relative_to(folder): path.read_bytes() for path in folder.rglob("*") if path.is_file()}

    assert contents(tmp_path / "unpacked" / "shop_two_step_build") == contents(tmp_path / "shop_two_step_build")
    made = {str(path) for path in contents(tmp_path / "unpacked" / "shop_two_step_build")}
    for place, _ in inside_of("shop_two_step"):
        assert place in made or any(name.startswith(place) for name in made if place.endswith("/"))
    record = json.loads((tmp_path / "unpacked" / "shop_two_step_build" / "manifest.json").read_text())
    assert record["digest"] == project.design.digest()


def test_a_design_that_breaks_a_rule_is_not_built():
    document = Document(TEXT)
    document.set_values({"trigger.filter": "5 ms"})
    with pytest.raises(BrokenRulesError, match="must not be built yet: the filter is 5 ms"):
        built_zip(document.project, document.text)
