"""Bad files, bad words and bad disks at the command line: told in words, nothing half-written, nothing lost."""

from __future__ import annotations

import ast
import csv
import io
import json
import multiprocessing
import os
import random
import re
import resource
import shutil
import signal
import subprocess
import tomllib
import xml.etree.ElementTree as ET
from collections.abc import Iterator
from contextlib import contextmanager
from html.parser import HTMLParser
from pathlib import Path

import pytest
import tomlkit

from codegen import disk
from codegen.build import build_plan
from codegen.journal import finish_interrupted
from codegen.plan import Plan, content_hash
from codegen.sketch import sketch_files
from codegen.writing import BuildFolderError, write_plan
from tests.conftest import CACHE, EXAMPLES, ROOT, SOAK, VERSION
from tests.support.host_core import compile_core
from tests.support.hostile import HOSTILE_NAMES, HOSTILE_TEXTS, mutated
from tests.support.running import run, shop
from timing.design.loading import load_design
from timing.project import Project
from wirecue.projects import load_board

MUTATED_FILES = 300
BUILT_EVERY = 50
SIMULATED_EVERY = 5
SOAK_FACTOR = 20
PAGE = 4_096
MOST_LINES = 45
"""One screen."""
NO_COMPILER = {"WIRECUE_AVR_CORE": "/nowhere"}


def files_below(folder: Path) -> dict[str, bytes]:
    return {path.relative_to(folder).as_posix(): path.read_bytes() for path in folder.rglob("*") if path.is_file()}


def assert_whole(folder: Path, besides: frozenset[str] | set[str] = frozenset()) -> None:
    """Every file of the manifest is there as it was made, and no other, `besides` left aside."""
    found = {name: content for name, content in files_below(folder).items() if name not in besides}
    manifest = json.loads(found.pop("manifest.json"))
    assert {name: content_hash(content) for name, content in found.items()} == manifest["files"]


@pytest.mark.parametrize("part", range(4))
def test_mutated_design_files_end_in_an_exit_code_and_words(tmp_path, monkeypatch, part):
    monkeypatch.chdir(tmp_path)
    monkeypatch.setenv(*next(iter(NO_COMPILER.items())))
    texts = [path.read_text() for path in EXAMPLES]
    codes = {0: 0, 1: 0, 2: 0}
    files = range(part, MUTATED_FILES * (SOAK_FACTOR if SOAK else 1), 4)
    for seed in files:
        path = tmp_path / "mine.toml"
        path.write_bytes(mutated(texts[seed % len(texts)], seed))
        command = "build" if seed % BUILT_EVERY == 0 else "simulate" if seed % SIMULATED_EVERY == 0 else "check"
        result = run(command, path)
        codes[result.exit_code] += 1
        assert "Traceback" not in result.output, seed
        made = [item for item in tmp_path.iterdir() if item != path]
        if result.exit_code == 2:
            assert result.stderr, seed
            assert len(result.stderr.splitlines()) <= MOST_LINES, seed
        if command == "build" and result.exit_code == 0:
            assert_whole(made[0])
            shutil.rmtree(made[0])
        else:
            assert made == [], seed
    assert sum(codes.values()) == len(files)
    # Mutations that all break the file, or none of them, would show little.
    assert codes[2] > len(files) / 4
    assert codes[0] > len(files) / 20


@pytest.mark.parametrize("name", HOSTILE_NAMES)
def test_hostile_names_are_refused_and_nothing_is_written(tmp_path, monkeypatch, name):
    monkeypatch.chdir(tmp_path)
    document = tomlkit.parse(EXAMPLES[1].read_text())
    document["name"] = name
    path = tmp_path / "mine.toml"
    path.write_text(tomlkit.dumps(document), encoding="utf-8")
    result = run("build", path)
    assert result.exit_code == 2
    assert ": name\n" in result.stderr
    assert sorted(tmp_path.iterdir()) == [path]


def hostile_design(tmp_path: Path, title: str) -> Path:
    """The shop example with hostile words wherever a person may write."""
    document = tomlkit.parse((ROOT / "examples" / "shop_two_step.toml").read_text())
    document["title"] = title
    document["notes"] = "\n".join([*HOSTILE_TEXTS, *(f"{text}\\" for text in HOSTILE_TEXTS), "??/", "*??/", "/"])[:2000]
    path = tmp_path / "mine.toml"
    path.write_text(tomlkit.dumps(document), encoding="utf-8")
    return path


class Tags(HTMLParser):
    """Tags, attributes and text of a page."""

    def __init__(self) -> None:
        super().__init__()
        self.seen: list[tuple[str, dict[str, str | None]]] = []
        self.text = ""

    def handle_starttag(self, tag: str, attrs: list[tuple[str, str | None]]) -> None:
        self.seen.append((tag, dict(attrs)))

    def handle_data(self, data: str) -> None:
        self.text += data


def assert_tame_page(text: str, title: str) -> None:
    page = Tags()
    page.feed(text)
    for tag, attributes in page.seen:
        assert tag not in ("script", "iframe", "object", "embed"), tag
        for name, value in attributes.items():
            assert not name.startswith("on"), (tag, name)
            assert not (name in ("href", "src") and (value or "").lower().startswith(("javascript:", "data:text")))
    assert title in page.text


def assert_tame_picture(text: str) -> None:
    for element in ET.fromstring(text).iter():
        tag = str(element.tag).rpartition("}")[2]
        assert tag not in ("script", "foreignObject", "image", "iframe"), tag
        assert not [name for name in element.attrib if name.rpartition("}")[2].startswith("on")]


def assert_tame_cells(text: str) -> None:
    for row in csv.reader(io.StringIO(text)):
        for cell in row:
            assert not re.match(r"[=+\-@\t\r]", cell) or re.fullmatch(r"[+-]?[0-9.]+", cell), cell


LOOK_AT = {
    ".svg": lambda text, _: assert_tame_picture(text),
    ".html": assert_tame_page,
    ".csv": lambda text, _: assert_tame_cells(text),
    ".py": lambda text, _: ast.parse(text),
    ".json": lambda text, _: json.loads(text),
    ".toml": lambda text, _: tomllib.loads(text),
}


@pytest.mark.debian("gcc", "avr-gcc", "arduino-core")
@pytest.mark.parametrize("title", [HOSTILE_TEXTS[0], HOSTILE_TEXTS[2], HOSTILE_TEXTS[5], HOSTILE_TEXTS[15]])
def test_hostile_words_do_no_harm_in_any_output(tmp_path, monkeypatch, title):
    monkeypatch.chdir(tmp_path)
    path = hostile_design(tmp_path, title)
    # The build compiles the sketch with all warnings as errors, where there is a compiler.
    result = run("build", path, "--json")
    assert result.exit_code == 0, result.stderr
    folder = tmp_path / json.loads(result.stdout)["folder"]
    assert json.loads(result.stdout)["memory_measured"]
    assert "shop_two_step.hex" in json.loads((folder / "manifest.json").read_text())["files"]
    assert_whole(folder)
    assert sorted(item.name for item in tmp_path.iterdir()) == sorted(["mine.toml", folder.name])
    kinds = set()
    for name, content in files_below(folder).items():
        suffix = Path(name).suffix
        kinds.add(suffix)
        if suffix in LOOK_AT:
            LOOK_AT[suffix](content.decode(), title)
    assert set(LOOK_AT) <= kinds
    assert (folder / "shop_two_step.toml").read_bytes() == path.read_bytes()
    design = load_design(path)
    compile_core(design, load_board(design.board.type), VERSION, CACHE)


@pytest.fixture(scope="module")
def plans():
    """Two builds of one design that differ in many files."""
    path = ROOT / "examples" / "shop_two_step.toml"
    design = load_design(path)
    board = load_board(design.board.type)
    project, text = Project(design, board), path.read_text()
    return [build_plan(project, sketch_files(project, version), version, text) for version in (VERSION, "0.2.0")]


def test_a_folder_that_cannot_be_written_is_told(tmp_path):
    # Not even root makes folders here.
    result = run("build", shop(tmp_path), "--output", "/sys/kernel/wirecue_build")
    assert result.exit_code == 2
    assert "a folder that can be written" in result.stderr


@contextmanager
def full_disk(folder: Path, size: int) -> Iterator[None]:
    """Let a folder's disk be full soon: a small one where it may be mounted, else a limit on the size of files."""
    command = ["mount", "-t", "tmpfs", "-o", f"size={size}", "none", str(folder)]
    mounted = os.geteuid() == 0 and subprocess.run(command, capture_output=True, check=False).returncode == 0
    limits = resource.getrlimit(resource.RLIMIT_FSIZE)
    if not mounted:
        resource.setrlimit(resource.RLIMIT_FSIZE, (PAGE, limits[1]))
    try:
        yield
    finally:
        resource.setrlimit(resource.RLIMIT_FSIZE, limits)
        if mounted:
            subprocess.run(["umount", str(folder)], check=True)


def test_a_full_disk_is_told_and_leaves_what_was_there(tmp_path, plans):
    small = Plan({name: content for name, content in plans[0].files.items() if len(content) < 2_000})
    disk = tmp_path / "disk"
    disk.mkdir()
    pages = sum(-(-len(content) // PAGE) + 1 for content in small.files.values())
    with full_disk(disk, pages * PAGE + 60_000):
        write_plan(small, disk / "out", {})
        before = files_below(disk)
        with pytest.raises(BuildFolderError, match=r"no space left on device|file too large"):
            write_plan(plans[1], disk / "out", {})
        assert files_below(disk) == before
        assert_whole(disk / "out")


def _write_and_die(plan: Plan, folder: Path, step: int) -> None:
    """Write a build and be killed at one of the calls that change the disk."""
    left = iter(range(step, -1, -1))

    def deadly(function):
        def wrapped(*arguments, **named):
            if next(left) == 0:
                os.kill(os.getpid(), signal.SIGKILL)
            return function(*arguments, **named)

        return wrapped

    for name in ("make_file", "make_folder", "move", "drop", "drop_folder"):
        setattr(disk, name, deadly(getattr(disk, name)))
    write_plan(plan, folder, {})


@pytest.mark.filterwarnings("ignore:.*fork.*:DeprecationWarning")
def test_a_build_killed_anywhere_leaves_the_one_before_and_all_that_the_user_had(tmp_path, plans):
    context = multiprocessing.get_context("fork")
    folder = tmp_path / "out"
    write_plan(plans[0], folder, {})
    (folder / "measured.txt").write_text("27.4 V")
    before = files_below(folder)
    rng = random.Random(3)
    for step in rng.sample(range(80), 12):
        child = context.Process(target=_write_and_die, args=(plans[1], folder, step))
        child.start()
        child.join()
        assert child.exitcode == -signal.SIGKILL
        assert (folder / "measured.txt").read_text() == "27.4 V"
        finish_interrupted(folder)
        if files_below(folder) != before:
            # All was in place: only the clearing up was cut short.
            assert_whole(folder, {"measured.txt"})
            write_plan(plans[0], folder, {})
        assert files_below(folder) == before
    write_plan(plans[1], folder, {})
    assert (folder / "measured.txt").read_text() == "27.4 V"
    assert [item.name for item in tmp_path.iterdir()] == ["out"]


def _write_when_told(plan: Plan, folder: Path, start) -> None:
    start.wait(30)
    try:
        write_plan(plan, folder, {})
    except BuildFolderError as error:
        os._exit(0 if "another build" in str(error) else 3)
    os._exit(0)


@pytest.mark.filterwarnings("ignore:.*fork.*:DeprecationWarning")
def test_two_builds_into_one_folder_at_once_leave_one_of_them_whole(tmp_path, plans):
    context = multiprocessing.get_context("fork")
    folder = tmp_path / "out"
    for _ in range(6):
        start = context.Barrier(2)
        builds = [context.Process(target=_write_when_told, args=(plan, folder, start)) for plan in plans]
        for build in builds:
            build.start()
        for build in builds:
            build.join()
        assert [build.exitcode for build in builds] == [0, 0]
        assert_whole(folder)
        found = files_below(folder)
        del found["manifest.json"]
        assert found in [dict(plan.files) for plan in plans]
        assert [item.name for item in tmp_path.iterdir()] == ["out"]
