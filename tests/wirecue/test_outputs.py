"""Output options write over an earlier output of the same kind, into pipes and devices, and over nothing else."""

from __future__ import annotations

import json
import os
import re
import subprocess
import sys
import threading
import tomllib
from pathlib import Path

import click
import pytest

from tests.conftest import ROOT, gate_share
from tests.support.running import run, shop
from wirecue import output_files as changed_design
from wirecue import output_files as file_writing
from wirecue.cli import COMMAND_HELP, main
from wirecue.output_files import OutputError, OutputOption, WritingCommand, write_changed, write_file

INPUTS = {"design", "capture", "script_file", "bench", "other", "builds", "build", "drive"}
BESIDES = {
    "build": "a build folder, guarded by its manifest",
    "recorder": "a folder as a build's, guarded the same way",
    "page": "reads only",
}
FAST = (
    ("simulate", "--svg", "a.svg"),
    ("simulate", "--vcd", "a.vcd"),
    ("simulate", "--csv", "a.csv"),
    ("simulate", "--json", "a.json"),
    ("parts", "--csv", "parts.csv"),
    ("sheet", "--build", "sheet.html"),
    ("sheet", "--build", "sheet.pdf"),
    ("sheet", "--dials", "dials.pdf"),
    ("schema", "--output", "schema.json"),
)


def _options() -> list[tuple[str, str]]:
    """Return every output option of every command."""
    found = []
    for name in COMMAND_HELP:
        command = main.get_command(click.Context(main), name)
        options = [param for param in command.params if isinstance(param.type, OutputOption)]
        assert not options or isinstance(command, WritingCommand), name
        found += [(name, param.opts[0]) for param in options]
    return found


OPTIONS = _options()


def test_every_option_that_names_a_file_to_write_is_guarded():
    for name in COMMAND_HELP:
        if name in BESIDES:
            continue
        for param in main.get_command(click.Context(main), name).params:
            takes_text = isinstance(param, click.Option) and not param.is_flag
            if isinstance(param.type, click.Path):
                assert param.name in INPUTS, (name, param.name)
            elif takes_text and re.search(
                r"(?i)\b(write|draw)\b.*\b(file|sheet|plates|JSON|XML|report)\b", param.help or ""
            ):
                assert isinstance(param.type, OutputOption), (name, param.name)
    assert len(OPTIONS) >= 20


def call(name: str, option: str, target: Path | str, design: Path, *further: str):
    """Call a command with one output option, and what else it needs to get as far as that."""
    words: list[str | Path] = [name]
    if name == "trace":
        capture = design.with_name("capture.csv")
        if not capture.exists():
            capture.write_text("0,1\n")
        words.append(capture)
    words += [] if name in ("schema", "survey") else [design]
    words += ["--virtual"] if name == "bench" else []
    return run(*words, option, target, *further)


@pytest.mark.parametrize(("name", "option"), OPTIONS)
def test_no_output_goes_over_the_design_or_any_other_file(tmp_path, name, option):
    design = shop(tmp_path)
    other = tmp_path / "thesis.svg"
    other.write_text("<svg>ten years</svg>\n<!-- wirecue simulate, picture, 0123456789abcdef -->\n")
    (tmp_path / "link.svg").symlink_to("thesis.svg")
    (tmp_path / "folder").mkdir()
    before = {path: path.read_bytes() for path in (design, other)}
    for target in (design, other, tmp_path / "link.svg", tmp_path / "folder", tmp_path / "none" / "x"):
        result = call(name, option, target, design)
        assert result.exit_code == 2, target
        assert str(target) in result.stderr
        assert len(result.stderr.splitlines()) == 3
    assert {path: path.read_bytes() for path in before} == before
    if name not in ("schema", "survey"):
        # What is read is not even written over when told to.
        result = call(name, option, design, design, "--force")
        assert result.exit_code == 2
        assert "what this command reads, its design" in result.stderr
        assert design.read_bytes() == before[design]


@pytest.mark.parametrize(("name", "option", "file"), gate_share(FAST, 2))
def test_an_earlier_output_is_written_over_until_somebody_edits_it(tmp_path, name, option, file):
    design = shop(tmp_path)
    target = tmp_path / file
    assert call(name, option, target, design).exit_code == 0
    first = target.read_bytes()
    target.chmod(0o640)
    assert call(name, option, target, design).exit_code == 0
    assert target.read_bytes() == first
    assert target.stat().st_mode & 0o777 == 0o640
    edited = first[:60] + b"#" + first[60:]
    target.write_bytes(edited)
    result = call(name, option, target, design)
    if "csv" not in option:
        assert result.exit_code == 2
        assert "or was edited since" in result.stderr
        assert target.read_bytes() == edited
    assert call(name, option, target, design, "--force").exit_code == 0
    assert target.read_bytes() == first


def test_an_output_of_another_kind_or_command_is_another_file(tmp_path):
    design = shop(tmp_path)
    files = {option: tmp_path / f"a{option}" for option in ("--svg", "--vcd", "--csv", "--json")}
    for option, path in files.items():
        assert call("simulate", option, path, design).exit_code == 0
    before = {path: path.read_bytes() for path in files.values()}
    for option in files:
        for other, path in files.items():
            assert call("simulate", option, path, design).exit_code == (0 if option == other else 2)
    assert call("supply", "--svg", files["--svg"], design).exit_code == 2
    assert {path: path.read_bytes() for path in before} == before


def test_the_mark_harms_no_reader_of_the_file(tmp_path):
    design = shop(tmp_path)
    for name, option, file in FAST:
        assert call(name, option, tmp_path / file, design).exit_code == 0
    assert json.loads((tmp_path / "a.json").read_text())["made_by"].startswith("wirecue simulate, data, ")
    assert (tmp_path / "a.csv").read_text().startswith("time_us,trace,value\n")
    assert (tmp_path / "sheet.pdf").read_bytes().startswith(b"%PDF")
    assert b"%%EOF\n% wirecue sheet, build sheet, " in (tmp_path / "sheet.pdf").read_bytes()[-200:]
    import xml.etree.ElementTree as ET

    assert ET.fromstring((tmp_path / "a.svg").read_text()).tag.endswith("svg")
    trace = run("trace", tmp_path / "a.vcd", design, "--map", "trigger=trigger,gas_valve=gas_valve,contactor=contactor")
    assert trace.exit_code in (0, 1), trace.output


def test_an_empty_file_is_nothing_to_lose(tmp_path):
    (tmp_path / "made by mktemp.svg").touch()
    assert call("simulate", "--svg", tmp_path / "made by mktemp.svg", shop(tmp_path)).exit_code == 0


def test_two_outputs_into_one_file_are_refused(tmp_path, monkeypatch):
    monkeypatch.chdir(tmp_path)
    result = run("simulate", shop(tmp_path), "--svg", "a", "--csv", "./a")
    assert result.exit_code == 2
    assert "two outputs into one file" in result.stderr
    assert not Path("a").exists()
    assert run("simulate", shop(tmp_path), "--svg", "/dev/null", "--csv", "/dev/null").exit_code == 0


def test_devices_and_pipes_are_written_into_and_stay(tmp_path):
    design = shop(tmp_path)
    device = Path("/dev/null").stat()
    assert call("simulate", "--svg", "/dev/null", design).exit_code == 0
    assert (Path("/dev/null").stat().st_mode, Path("/dev/null").stat().st_rdev) == (device.st_mode, device.st_rdev)
    pipe = tmp_path / "pipe"
    os.mkfifo(pipe)
    (tmp_path / "link").symlink_to("pipe")
    for target in (pipe, tmp_path / "link"):
        read: list[bytes] = []
        reader = threading.Thread(target=lambda read=read: read.append(pipe.read_bytes()))
        reader.start()
        assert call("simulate", "--csv", target, design).exit_code == 0
        reader.join(30)
        assert read[0].startswith(b"time_us,trace,value")
    assert pipe.is_fifo()
    assert (tmp_path / "link").is_symlink()


def test_standard_output_by_its_path_is_written_into(tmp_path):
    design = shop(tmp_path)
    command = [sys.executable, "-m", "wirecue", "simulate", str(design), "--csv", "/dev/stdout"]
    piped = subprocess.run(command, capture_output=True, text=True, check=True, cwd=ROOT)
    assert "time_us,trace,value" in piped.stdout


def test_a_link_is_followed_and_stays(tmp_path):
    design = shop(tmp_path)
    (tmp_path / "real").mkdir()
    (tmp_path / "a.svg").symlink_to("real/a.svg")
    for _ in range(2):
        assert call("simulate", "--svg", tmp_path / "a.svg", design).exit_code == 0
        assert (tmp_path / "a.svg").is_symlink()
        assert (tmp_path / "real" / "a.svg").read_text().startswith("<?xml")
    assert sorted(path.name for path in tmp_path.iterdir()) == ["a.svg", "mine.toml", "real"]


def test_write_keeps_mode_owner_links_and_names_of_the_design(tmp_path):
    (tmp_path / "kept").mkdir()
    real = shop(tmp_path / "kept")
    real.chmod(0o604)
    if os.geteuid() == 0:
        os.chown(real, 1234, 4321)
    os.link(real, tmp_path / "second name.toml")
    (tmp_path / "mine.toml").symlink_to("kept/mine.toml")
    before = real.stat()
    text = real.read_text()
    assert run("advise", tmp_path / "mine.toml", "--write").exit_code == 0
    after = real.stat()
    assert real.read_text() != text
    assert (after.st_mode, after.st_uid, after.st_gid) == (before.st_mode, before.st_uid, before.st_gid)
    assert (tmp_path / "second name.toml").read_text() == real.read_text()
    assert (tmp_path / "mine.toml").is_symlink()
    assert sorted(path.name for path in (tmp_path / "kept").iterdir()) == ["mine.toml"]


@pytest.mark.parametrize("linked", [False, True])
def test_mode_and_owner_stay_whatever_the_umask(tmp_path, linked):
    path = tmp_path / "a"
    path.write_text("old")
    path.chmod(0o664)
    if os.geteuid() == 0:
        os.chown(path, 1234, 4321)
    if linked:
        os.link(path, tmp_path / "b")
    before = path.stat()
    mask = os.umask(0o077)
    try:
        write_file(path, "new and longer")
        write_file(path, "new")
    finally:
        os.umask(mask)
    after = path.stat()
    assert path.read_text() == "new"
    for fact in ("st_mode", "st_uid", "st_gid", "st_nlink"):
        assert getattr(after, fact) == getattr(before, fact)
    assert not linked or after.st_ino == before.st_ino


@pytest.mark.parametrize("linked", [False, True])
@pytest.mark.parametrize("there", [False, True])
def test_a_write_that_fails_at_any_step_leaves_what_was_there(tmp_path, monkeypatch, linked, there):
    path = tmp_path / "a"
    if there:
        path.write_bytes(b"what was measured")
    if linked and there:
        os.link(path, tmp_path / "b")
    before = {one.name: one.read_bytes() for one in tmp_path.iterdir()}
    failed = 0
    for at in range(4):
        calls = iter(range(100))

        def full(_descriptor: int, calls=calls, at=at) -> None:
            if next(calls) == at:
                raise OSError(28, os.strerror(28))

        monkeypatch.setattr(os, "fsync", full)
        told = ""
        try:
            write_file(path, b"new")
        except OutputError as error:
            told = error.why
        if told:
            failed += 1
            assert told == "no space left on device"
            assert {one.name: one.read_bytes() for one in tmp_path.iterdir()} == before
    assert failed == (2 if linked and there else 1)
    monkeypatch.undo()
    assert path.read_bytes() == b"new"


def test_a_file_with_two_names_that_cannot_be_put_back_is_kept_beside(tmp_path, monkeypatch):
    path = tmp_path / "a"
    path.write_bytes(b"what was measured")
    os.link(path, tmp_path / "b")
    (tmp_path / "a.before").write_bytes(b"somebody's own")

    def broken(*_) -> None:
        raise OSError(5, os.strerror(5))

    monkeypatch.setattr(file_writing, "_overwrite", broken)
    with pytest.raises(OutputError, match=r"as it was it is kept as a\.before2"):
        write_file(path, b"new")
    assert (tmp_path / "a.before2").read_bytes() == b"what was measured"
    assert (tmp_path / "a.before").read_bytes() == b"somebody's own"


def test_a_file_that_may_only_be_read_is_not_written(tmp_path, monkeypatch):
    path = tmp_path / "a"
    path.write_text("old")
    path.chmod(0o444)
    monkeypatch.setattr(os, "access", lambda *_: False)  # root may write everything
    with pytest.raises(OutputError, match="may only be read"):
        write_file(path, "new")
    assert path.read_text() == "old"


def test_a_design_that_is_saved_by_somebody_else_meanwhile_is_not_written_over(tmp_path, monkeypatch):
    design = shop(tmp_path)
    text = design.read_text()
    after = text.replace('title = "', 'title = "My ', 1)
    monkeypatch.setattr(changed_design, "_changed_lines", lambda *_: design.write_text(f"{text}# measured\n") and [])
    with pytest.raises(OutputError, match="changed by somebody else since it was read"):
        write_changed(design, text, after, "advise --write")
    assert design.read_text().endswith("# measured\n")
    tomllib.loads(design.read_text())


def test_names_of_files_are_shown_escaped(tmp_path):
    odd = tmp_path / "a\x1b[31m\nb.svg"
    result = call("simulate", "--svg", odd, shop(tmp_path))
    assert result.exit_code == 0
    assert result.stderr.splitlines()[-1].endswith(r"a\x1b[31m\nb.svg")
    odd.write_text("x")
    result = call("simulate", "--svg", odd, shop(tmp_path))
    assert result.stderr.splitlines()[0].endswith(r"a\x1b[31m\nb.svg")


@pytest.mark.parametrize("text", ["{", "[]", '{"somebody": "else"}', "notes", "[" * 100_000])
def test_answers_of_a_survey_are_not_kept_over_another_file(tmp_path, text):
    kept = tmp_path / "mine.survey.json"
    kept.write_text(text)
    for words in ((), ("--afresh",), ("--force",)):
        result = run("survey", tmp_path / "mine", *words, stdin="\n")
        assert result.exit_code == 2
        assert "not the answers of a survey" in result.stderr
    assert kept.read_text() == text


def test_a_link_to_nowhere_is_no_free_name(tmp_path):
    (tmp_path / "mine.toml").symlink_to("nowhere")
    for command in ("new", "survey"):
        result = run(command, tmp_path / "mine", stdin="\n")
        assert result.exit_code == 2
        assert "is there already" in result.stderr
    assert not (tmp_path / "nowhere").exists()
