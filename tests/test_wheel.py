"""The wheel, installed into a clean environment, does the main job there."""

from __future__ import annotations

import os
import subprocess
import sys
import zipfile
from pathlib import Path

import pytest

from tests.conftest import ROOT


def run(*command: str | Path, cwd: Path) -> str:
    environment = {name: value for name, value in os.environ.items() if not name.startswith("PYTHON")}
    done = subprocess.run(
        [str(part) for part in command], cwd=cwd, env=environment, capture_output=True, text=True, check=False
    )
    assert done.returncode == 0, done.stdout + done.stderr
    return done.stdout


@pytest.fixture(scope="module")
def wheel(tmp_path_factory: pytest.TempPathFactory) -> Path:
    folder = tmp_path_factory.mktemp("wheel")
    run(sys.executable, "-m", "build", "--wheel", "--no-isolation", "--outdir", folder, ROOT, cwd=folder)
    (made,) = folder.glob("*.whl")
    return made


def test_the_wheel_carries_templates_examples_and_types(wheel):
    names = set(zipfile.ZipFile(wheel).namelist())
    for package in ("timing", "codegen", "bench", "wirecue"):
        assert f"{package}/py.typed" in names
    for path in (ROOT / "board_templates").rglob("*"):
        if path.is_file() and path.suffix in (".j2", ".toml"):
            assert path.relative_to(ROOT).as_posix() in names
    for path in (ROOT / "examples").glob("*.toml"):
        assert f"wirecue/examples/{path.name}" in names
    assert not [name for name in names if name.startswith(("tests/", "tools/", "benchmarks/"))]


def test_it_builds_and_benches_a_design_in_a_clean_environment(wheel, tmp_path):
    environment = tmp_path / "environment"
    run(sys.executable, "-m", "venv", environment, cwd=tmp_path)
    scripts = environment / "bin"
    run(scripts / "python", "-m", "pip", "install", "--quiet", "--disable-pip-version-check", wheel, cwd=tmp_path)
    wirecue = scripts / "wirecue"
    run(wirecue, "new", "my_feeder", "--like", "spot_stitch", cwd=tmp_path)
    run(wirecue, "check", "my_feeder.toml", cwd=tmp_path)
    run(wirecue, "build", "my_feeder.toml", cwd=tmp_path)
    assert (tmp_path / "my_feeder_build" / "my_feeder" / "my_feeder.ino").is_file()
    shown = run(wirecue, "bench", "my_feeder.toml", "--virtual", "--yes", "--case", "weld", cwd=tmp_path)
    assert "pass" in shown
