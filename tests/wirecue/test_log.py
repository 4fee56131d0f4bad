"""`wirecue log`: what was done is shown and added to, and what stands in the file stays."""

from __future__ import annotations

import json
import os
import sys
from subprocess import Popen

import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from bench.virtual.board import VirtualBoard
from bench.virtual.serving import behind_pty
from tests.conftest import ROOT, VERSION
from tests.support.running import run, shop
from timing.project import Project
from timing.protocol.target_of_design import target_of
from wirecue.commands.build import enter_build
from wirecue.page.files import Folder
from wirecue.projects import load_project


@pytest.fixture
def design(tmp_path):
    """The shop's design in a folder of its own."""
    return shop(tmp_path)


def book(design):
    return design.with_suffix(".log")


def test_looking_begins_no_logbook(design):
    result = run("log", design)
    assert result.exit_code == 0
    assert "nothing entered yet; " in result.stdout
    assert not book(design).exists()


def test_what_is_entered_is_shown_newest_last_and_by_kind(design):
    result = run(
        "log", design, "--note", "new liner", "--setting", "burnback dial to mark 6", "--plates", "burnback, purge"
    )
    assert result.exit_code == 0, result.output
    assert result.stderr.splitlines()[0] == f"entered in {book(design)}"
    run("log", design, "--note", "tip changed")
    shown = run("log", design).stdout.splitlines()
    assert [line[18:] for line in shown] == [
        "plates made    burnback 20 ms to 300 ms, purge push button (hold)",
        "set            burnback dial to mark 6",
        "note           new liner",
        "note           tip changed",
    ]
    notes = json.loads(run("log", design, "--kind", "note", "--json").stdout)
    assert [entry["values"]["text"] for entry in notes["entries"]] == ["new liner", "tip changed"]
    assert "no entry of that kind among the 4" in run("log", design, "--kind", "weld").stdout


def test_nothing_that_stands_in_the_file_is_changed_and_a_bad_line_is_told(design):
    run("log", design, "--note", "one")
    with book(design).open("a") as file:
        file.write("\x1b[2Jmy own scribble\n")
    before = book(design).read_bytes()
    assert run("log", design, "--note", "two").exit_code == 0
    assert book(design).read_bytes().startswith(before)
    result = run("log", design)
    assert result.exit_code == 0
    assert "one" in result.stdout
    assert "two" in result.stdout
    assert f"{book(design)}, line 3, is no entry and is kept as it is" in result.stderr
    assert r"\x1b[2Jmy own scribble" in result.stderr
    assert json.loads(run("log", design, "--json").stdout)["unread"][0]["line"] == 3


@pytest.mark.parametrize(
    ("arguments", "says"),
    [
        (("--note", " "), "1 to 2000 say something"),
        (("--note", "x" * 2001), "2001 characters"),
        (
            ("--plates", "spot"),
            "'spot' has no plate in this design; there are all, preflow, burnback, postflow, purge, inch, lamp",
        ),
        (("--port", "/dev/ttyACM0"), "--port goes with --flash"),
        (("--kind", "note", "--note", "x"), "--kind shows entries"),
        (("--flash", "--port", "/dev/no_such_port"), "There is no port"),
    ],
)
def test_what_cannot_be_entered_is_refused_and_nothing_is(design, arguments, says):
    result = run("log", design, *arguments)
    assert result.exit_code == 2
    assert says in result.stderr
    assert not book(design).exists()


def test_a_name_mistyped_begins_nothing(design):
    result = run("log", design.with_name("mien.toml"), "--note", "x")
    assert result.exit_code == 2
    assert "no such file" in result.stderr
    assert not list(design.parent.glob("*.log"))


def test_a_file_that_is_no_logbook_is_refused(design):
    book(design).write_text("Dear diary\n")
    for arguments in ((), ("--note", "x")):
        result = run("log", design, *arguments)
        assert result.exit_code == 2
        assert "a file that begins 'Dear diary'" in result.stderr
    assert book(design).read_text() == "Dear diary\n"


def test_a_flash_is_of_the_latest_build_else_of_the_design_as_it_stands(design):
    as_it_stands = load_project(design).design.digest()
    result = run("log", design, "--flash")
    assert f"flashed        digest {as_it_stands}" in result.stdout
    assert "no build is in the logbook" in result.stderr
    with book(design).open("a") as file:
        file.write('2026-03-01T10:22:05+01:00 build { digest = "0123456789abcdef", version = "0.1.0", folder = "x" }\n')
    result = run("log", design, "--flash")
    assert "flashed        digest 0123456789abcdef, version 0.1.0" in result.stdout
    assert f"the design has changed since that build: as it stands its digest is {as_it_stands}" in result.stderr


def test_the_same_build_again_is_no_further_entry(design):
    project = load_project(design)
    run("log", design, "--note", "begun")
    for folder in ("a", "a", "b", "a"):
        enter_build(design, design.parent / folder, project)
    assert [line[33:] for line in run("log", design, "--kind", "build").stdout.splitlines()] == [
        f"digest {project.design.digest()}, folder {folder}, version {VERSION}" for folder in ("a", "b", "a")
    ]


def test_a_board_is_asked_what_was_flashed(design):
    project: Project = load_project(design)
    with behind_pty(VirtualBoard(target_of(project), "1.2.3")) as port:
        result = run("log", design, "--flash", "--port", port)
    assert result.exit_code == 0, result.output
    assert f"digest {project.design.digest()}, version 1.2.3" in result.stdout


def test_two_processes_that_write_at_once_are_both_in_it(design):
    command = [sys.executable, "-m", "wirecue", "log", str(design), "--note"]
    environment = os.environ | {"PYTHONPATH": str(ROOT)}
    both = [Popen([*command, name], env=environment) for name in ("one", "two")]
    assert [process.wait() for process in both] == [0, 0]
    notes = json.loads(run("log", design, "--json").stdout)
    assert sorted(entry["values"]["text"] for entry in notes["entries"]) == ["one", "two"]
    assert not notes["unread"]


def test_a_design_that_a_command_writes_is_entered_key_by_key_where_there_is_a_logbook(design):
    before = design.read_text()
    for begun in (False, True):
        design.write_text(before)
        if begun:
            run("log", design, "--note", "begun")
        assert run("parts", design, "--write").exit_code == 0
        assert book(design).exists() is begun
    shown = run("log", design, "--kind", "setting").stdout
    assert "supply.fuse: 400 mA, by parts --write" in shown
    assert len(shown.splitlines()) == len(design.read_text().splitlines()) - len(before.splitlines())


def test_what_happened_stays_so_where_the_logbook_cannot_take_it(design):
    book(design).mkdir()
    result = run("parts", design, "--write")
    assert result.exit_code == 0
    assert "not entered in the logbook:" in result.stderr
    assert 'fuse = "400 mA"' in design.read_text()


def test_what_the_page_saves_is_entered_too(design):
    run("log", design, "--note", "begun")
    folder = Folder(design.parent)
    folder.write(design.name, folder.read(design.name).replace('setting = "130 ms"', 'setting = "140 ms"'))
    assert "times.burnback.setting: 130 ms -> 140 ms, by page" in run("log", design).stdout
    design.write_text("= no design")
    text = (ROOT / "examples" / "shop_two_step.toml").read_text()
    folder.write(design.name, text, force=True)
    assert "the whole design file, over something else, by page" in run("log", design).stdout


@pytest.mark.parametrize("arguments", [(), ("--note", "x")])
def test_a_place_where_nothing_may_be_written_or_read_is_told(design, monkeypatch, arguments):
    run("log", design, "--note", "begun")

    def refused(*_):
        raise PermissionError(13, "Permission denied")

    monkeypatch.setattr("timing.design.text_file.os.open" if not arguments else "wirecue.logbooks.os.open", refused)
    result = run("log", design, *arguments)
    assert result.exit_code == 2
    assert result.stderr.startswith(f"{book(design)}\n  found    permission denied\n")


@settings(max_examples=50)
@given(st.binary(max_size=200))
def test_whatever_stands_in_it_is_told_in_words_and_kept(tmp_path_factory, content):
    design = shop(tmp_path_factory.mktemp("hostile"))
    written = b"# wirecue logbook: mine.\n2026-03-01T10:22:05+01:00 note { text = '" + content
    book(design).write_bytes(written)
    for arguments in ((), ("--json",), ("--flash",)):
        result = run("log", design, *arguments)
        assert result.exit_code in (0, 2)
        assert "\x1b" not in result.output
    assert book(design).read_bytes().startswith(written)


def test_plates_that_are_entered_ask_for_the_mark_in_the_design_until_it_is_there(tmp_path):
    path = shop(tmp_path)
    assert "put `made = true` under [panel]" in run("log", path, "--plates", "all").stderr
    path.write_text(path.read_text() + "\n[panel]\nmade = true\n")
    assert "made = true" not in run("log", path, "--plates", "all").stderr
