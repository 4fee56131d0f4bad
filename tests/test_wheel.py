"""The wheel, installed into a clean environment, does the main job there."""

from __future__ import annotations

import importlib.metadata
import os
import re
import subprocess
import sys
import urllib.request
import zipfile
from collections.abc import Iterator
from contextlib import contextmanager
from http.cookiejar import CookieJar
from pathlib import Path

import pytest
from packaging.requirements import Requirement

from tests.conftest import ROOT


def environment() -> dict[str, str]:
    """That of a user without make, git and compilers, who knows nothing of this checkout."""
    return {name: value for name, value in os.environ.items() if not name.startswith("PYTHON")} | {"PATH": "/nowhere"}


def run(*command: str | Path, cwd: Path) -> str:
    done = subprocess.run(
        [str(part) for part in command], cwd=cwd, env=environment(), capture_output=True, text=True, check=False
    )
    assert done.returncode == 0, done.stdout + done.stderr
    return done.stdout


@pytest.fixture(scope="module")
def wheel(tmp_path_factory: pytest.TempPathFactory) -> Path:
    """Made from the source archive, as by those who pack it for a system: so that one holds all it needs, too."""
    folder = tmp_path_factory.mktemp("wheel")
    run(sys.executable, "-m", "build", "--no-isolation", "--outdir", folder, ROOT, cwd=folder)
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


def declared(name: str, extras: frozenset[str] = frozenset()) -> set[str]:
    """Return the distributions that an installed one asks for, and those that these ask for, by name."""
    found: set[str] = set()
    for text in importlib.metadata.requires(name) or []:
        asked = Requirement(text)
        if asked.marker is None or any(asked.marker.evaluate({"extra": extra}) for extra in extras | {""}):
            found |= {asked.name} | declared(asked.name, frozenset(asked.extras))
    return found


def provide(names: set[str], packages: Path) -> None:
    """Link what those distributions installed here into another environment: nothing else can be imported there."""
    for name in names:
        found = importlib.metadata.distribution(name)
        for top in {file.parts[0] for file in found.files or []} - {"..", "__pycache__"}:
            if not (packages / top).exists():
                (packages / top).symlink_to(Path(str(found.locate_file(top))))


def test_it_does_the_job_in_a_clean_environment(wheel, tmp_path):
    """Clean but for what the wheel asks for; linked here in place of downloaded, so that the test needs no network."""
    place = tmp_path / "environment"
    run(sys.executable, "-m", "venv", "--without-pip", place, cwd=tmp_path)
    scripts = place / "bin"
    pip = (
        "-m",
        "pip",
        "--python",
        scripts / "python",
        "install",
        "--quiet",
        "--disable-pip-version-check",
        "--no-deps",
        "--no-index",
    )
    run(sys.executable, *pip, wheel, cwd=tmp_path)
    packages = next((place / "lib").glob("python3*/site-packages"))
    provide(declared("wirecue", frozenset({"page"})), packages)
    wirecue = scripts / "wirecue"
    run(wirecue, "new", "my_feeder", "--like", "spot_stitch", cwd=tmp_path)
    run(wirecue, "check", "my_feeder.toml", cwd=tmp_path)
    run(wirecue, "build", "my_feeder.toml", cwd=tmp_path)
    assert (tmp_path / "my_feeder_build" / "my_feeder" / "my_feeder.ino").is_file()
    shown = run(wirecue, "bench", "my_feeder.toml", "--virtual", "--yes", "--case", "weld", cwd=tmp_path)
    assert "pass" in shown
    assert "extension left" in run(wirecue, "simulate", "my_feeder.toml", cwd=tmp_path)
    assert "(to do)" in run(wirecue, "commission", "my_feeder.toml", "--steps", cwd=tmp_path)
    with served(wirecue, tmp_path) as link:
        browser = urllib.request.build_opener(urllib.request.HTTPCookieProcessor(CookieJar()))
        browser.open(link, timeout=60).close()
        with browser.open(link.partition("/open")[0], timeout=60) as page:
            assert "wirecue" in page.read().decode()


@contextmanager
def served(wirecue: Path, folder: Path) -> Iterator[str]:
    """Start the page; yield the link that opens it."""
    command = [str(wirecue), "page", "my_feeder.toml", "--no-browser"]
    with subprocess.Popen(command, cwd=folder, env=environment(), stdout=subprocess.PIPE, encoding="utf-8") as process:
        try:
            assert process.stdout is not None
            yield next(found[0] for line in process.stdout if (found := re.search(r"http://\S+", line)))
        finally:
            process.terminate()


def test_what_the_wheel_does_not_ask_for_is_not_there(wheel, tmp_path):
    """The clean environment is clean: without what is asked for, nothing runs."""
    place = tmp_path / "environment"
    run(sys.executable, "-m", "venv", "--without-pip", place, cwd=tmp_path)
    packages = next((place / "lib").glob("python3*/site-packages"))
    zipfile.ZipFile(wheel).extractall(packages)
    provide(declared("wirecue") - {"tomlkit"}, packages)
    code = "import click, wirecue.cli, importlib.util as u; print(u.find_spec('tomlkit'), u.find_spec('pytest'))"
    assert run(place / "bin" / "python", "-c", code, cwd=tmp_path) == "None None\n"
