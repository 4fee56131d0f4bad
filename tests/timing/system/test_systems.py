"""The alternatives of other systems, as far as they can be played here; the Windows trial plays them on another."""

from __future__ import annotations

import os
from pathlib import Path

import pytest

from codegen import disk
from codegen.plan import Plan
from codegen.writing import BuildFolderError, write_plan
from timing.system import locking
from timing.system.file_names import is_device_name, refused_name
from timing.system.folders import cache_folder
from timing.system.listening import listening_alone
from timing.system.locking import taken_folder
from wirecue.output_files import OutputError, write_file


@pytest.fixture
def windows(monkeypatch):
    monkeypatch.setattr("sys.platform", "win32")


@pytest.mark.parametrize("name", ["aux", "NUL.svg", "com1.toml", "con .txt", "LPT9.a.b"])
def test_device_names_are_known_in_any_capitals_and_with_any_ending(name):
    assert is_device_name(name)
    assert not is_device_name(f"x{name}")


@pytest.mark.usefixtures("windows")
@pytest.mark.parametrize(
    ("name", "why"), [("nul.svg", "device"), ("weld.", "a dot"), ("weld ", "a space"), ("a:b.svg", "does not take")]
)
def test_on_windows_a_name_that_is_no_file_is_refused_before_anything_is_written(tmp_path, name, why):
    with pytest.raises(OutputError, match=why):
        write_file(tmp_path / name, "text")
    assert list(tmp_path.iterdir()) == []


def test_elsewhere_such_a_name_is_a_file_like_any(tmp_path):
    assert refused_name("nul.svg") is None
    write_file(tmp_path / "nul.svg", "text")
    assert (tmp_path / "nul.svg").read_text() == "text"


def test_a_folder_that_cannot_be_opened_is_locked_by_a_file_of_this_users(tmp_path, monkeypatch):
    monkeypatch.setattr(locking, "_FOLDERS_OPEN", False)
    monkeypatch.setattr("tempfile.tempdir", str(tmp_path))
    folder = tmp_path / "build"
    folder.mkdir()
    held = taken_folder(folder)
    with pytest.raises(BlockingIOError):
        taken_folder(folder)
    with pytest.raises(BuildFolderError, match="another build is writing it"):
        write_plan(Plan({"a": b"a"}), folder, {})
    held.release()
    write_plan(Plan({"a": b"a"}), folder, {})
    assert (folder / "a").read_bytes() == b"a"


class HeldOpenError(PermissionError):
    """What Windows says of a file that somebody else has open."""

    winerror = 32

    def __init__(self, path: Path) -> None:
        super().__init__(13, "The process cannot access the file", str(path))


def test_a_file_that_is_looked_at_for_a_moment_is_waited_for(tmp_path, monkeypatch):
    waits: list[float] = []
    (tmp_path / "a").touch()
    real = os.replace
    monkeypatch.setattr("time.sleep", waits.append)

    def held_twice(path, target):
        if len(waits) < 2:
            raise HeldOpenError(path)
        real(path, target)

    monkeypatch.setattr(Path, "replace", held_twice)
    disk.replace(tmp_path / "a", tmp_path / "b")
    assert (tmp_path / "b").is_file()
    assert waits == [0.05, 0.1]


def test_a_file_that_an_ide_keeps_open_is_named_and_the_build_is_as_it_was(tmp_path, monkeypatch):
    folder = tmp_path / "build"
    write_plan(Plan({"a.ino": b"first"}), folder, {})
    monkeypatch.setattr("time.sleep", lambda _: None)
    monkeypatch.setattr(disk, "_renameat2", lambda: None)
    real = Path.rename

    def held(path, target):
        if path == folder / "a.ino":
            raise HeldOpenError(path)
        return real(path, target)

    monkeypatch.setattr(Path, "rename", held)
    with pytest.raises(BuildFolderError, match=r"\(a\.ino\)\n  do       close it in the IDE"):
        write_plan(Plan({"a.ino": b"second"}), folder, {})
    assert (folder / "a.ino").read_bytes() == b"first"
    assert {path.name for path in folder.iterdir()} == {"a.ino", "manifest.json"}


@pytest.mark.parametrize(
    ("system", "place"),
    [("linux", ".cache"), ("darwin", "Library/Caches"), ("win32", "AppData/Local")],
)
def test_what_can_be_made_again_lies_where_each_system_has_it(tmp_path, monkeypatch, system, place):
    monkeypatch.setattr("sys.platform", system)
    monkeypatch.setenv("HOME", str(tmp_path))
    monkeypatch.delenv("LOCALAPPDATA", raising=False)
    monkeypatch.delenv("XDG_CACHE_HOME", raising=False)
    assert cache_folder() == tmp_path / place / "wirecue"


def test_a_port_that_is_listened_on_is_nobody_elses():
    with listening_alone(0) as first, pytest.raises(OSError, match="in use"):
        listening_alone(first.getsockname()[1])
