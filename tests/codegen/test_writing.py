"""Builds onto the disk: whole or not at all, nothing of the user's lost."""

from __future__ import annotations

import errno
import json
import multiprocessing
import os
import signal
from pathlib import Path

import pytest

from codegen import writing
from codegen.plan import Plan
from codegen.writing import BuildFolderError, EditedFilesError, write_plan

OLD = Plan({"sketch/a.c": b"old a", "sketch/b.c": b"old b", "gone.svg": b"x"})
NEW = Plan({"sketch/a.c": b"new a", "sketch/b.c": b"old b", "sheet.html": b"y"})


def contents(folder: Path) -> dict[str, bytes]:
    files = {path.relative_to(folder).as_posix(): path.read_bytes() for path in folder.rglob("*") if path.is_file()}
    files.pop("manifest.json", None)
    return files


def test_a_first_build_makes_the_folder_with_a_manifest(tmp_path):
    written = write_plan(OLD, tmp_path / "out", {"design": "d"})
    assert contents(tmp_path / "out") == dict(OLD.files)
    assert written.new == ("gone.svg", "sketch/a.c", "sketch/b.c")
    manifest = json.loads((tmp_path / "out" / "manifest.json").read_text())
    assert manifest["design"] == "d"
    assert manifest["files"] == OLD.hashes()
    assert [item.name for item in tmp_path.iterdir()] == ["out"]


def test_a_second_build_replaces_what_nobody_edited(tmp_path):
    write_plan(OLD, tmp_path / "out", {})
    written = write_plan(NEW, tmp_path / "out", {})
    assert contents(tmp_path / "out") == dict(NEW.files)
    assert (written.new, written.changed, written.unchanged, written.removed) == (
        ("sheet.html",),
        ("sketch/a.c",),
        ("sketch/b.c",),
        ("gone.svg",),
    )


def test_the_same_build_again_changes_nothing(tmp_path):
    write_plan(OLD, tmp_path / "out", {})
    before = {path: path.stat() for path in (tmp_path / "out").rglob("*")}
    written = write_plan(OLD, tmp_path / "out", {})
    assert written.changed == written.new == ()
    assert {path: path.stat() for path in (tmp_path / "out").rglob("*")} == before


def test_an_edited_file_stops_the_build_and_is_named(tmp_path):
    write_plan(OLD, tmp_path / "out", {})
    (tmp_path / "out" / "sketch" / "a.c").write_bytes(b"mine")
    before = contents(tmp_path / "out")
    with pytest.raises(EditedFilesError, match=r"edited since it was built: sketch/a\.c") as caught:
        write_plan(NEW, tmp_path / "out", {})
    assert caught.value.exit_code == 2
    assert contents(tmp_path / "out") == before


def test_force_keeps_a_copy_each_time(tmp_path):
    write_plan(OLD, tmp_path / "out", {})
    for text in (b"mine", b"mine again"):
        (tmp_path / "out" / "sketch" / "a.c").write_bytes(text)
        write_plan(NEW, tmp_path / "out", {}, force=True)
    found = contents(tmp_path / "out")
    assert found["sketch/a.c"] == b"new a"
    assert found["sketch/a.c.yours"] == b"mine"
    assert found["sketch/a.c.yours2"] == b"mine again"


def test_files_that_the_user_added_stay(tmp_path):
    write_plan(OLD, tmp_path / "out", {})
    (tmp_path / "out" / "notes.txt").write_text("measured 27.4 V open")
    write_plan(NEW, tmp_path / "out", {})
    assert contents(tmp_path / "out") == {**NEW.files, "notes.txt": b"measured 27.4 V open"}


def test_an_edited_file_that_the_new_build_no_longer_makes_is_kept_too(tmp_path):
    write_plan(OLD, tmp_path / "out", {})
    (tmp_path / "out" / "gone.svg").write_bytes(b"mine")
    with pytest.raises(EditedFilesError, match=r"gone\.svg"):
        write_plan(NEW, tmp_path / "out", {})
    write_plan(NEW, tmp_path / "out", {}, force=True)
    assert contents(tmp_path / "out")["gone.svg.yours"] == b"mine"


def test_a_manifest_reaches_nothing_outside_the_folder(tmp_path):
    write_plan(OLD, tmp_path / "out", {})
    outside = tmp_path / "outside.txt"
    outside.write_bytes(b"old a")
    manifest = json.loads((tmp_path / "out" / "manifest.json").read_text())
    manifest["files"]["../outside.txt"] = manifest["files"]["sketch/a.c"]
    (tmp_path / "out" / "manifest.json").write_text(json.dumps(manifest))
    write_plan(NEW, tmp_path / "out", {}, force=True)
    assert outside.read_bytes() == b"old a"


@pytest.mark.parametrize("manifest", ["", "{", "[]", '{"files": 3}', "\x00"])
def test_with_a_damaged_manifest_every_file_counts_as_the_users(tmp_path, manifest):
    write_plan(OLD, tmp_path / "out", {})
    (tmp_path / "out" / "manifest.json").write_text(manifest)
    with pytest.raises(EditedFilesError):
        write_plan(NEW, tmp_path / "out", {})
    write_plan(NEW, tmp_path / "out", {}, force=True)
    assert contents(tmp_path / "out")["sketch/a.c.yours"] == b"old a"


def test_a_folder_of_other_files_is_left_alone(tmp_path):
    (tmp_path / "out").mkdir()
    (tmp_path / "out" / "thesis.txt").write_text("ten years")
    with pytest.raises(BuildFolderError, match="a folder with other files in it"):
        write_plan(OLD, tmp_path / "out", {}, force=True)
    assert contents(tmp_path / "out") == {"thesis.txt": b"ten years"}
    with pytest.raises(BuildFolderError, match="a file, not a folder"):
        write_plan(OLD, tmp_path / "out" / "thesis.txt", {})


def test_every_write_that_fails_leaves_the_old_folder(tmp_path, monkeypatch):
    """The disk fills up at each file in turn."""
    write_plan(OLD, tmp_path / "out", {})
    before = contents(tmp_path / "out")
    real = Path.write_bytes
    for fails_at in range(4):
        calls = iter(range(100))

        def full(path: Path, data: bytes, fails_at=fails_at, calls=calls) -> int:
            if next(calls) == fails_at:
                raise OSError(errno.ENOSPC, os.strerror(errno.ENOSPC))
            return real(path, data)

        monkeypatch.setattr(Path, "write_bytes", full)
        with pytest.raises(BuildFolderError, match="no space left on device"):
            write_plan(NEW, tmp_path / "out", {})
        monkeypatch.undo()
        assert contents(tmp_path / "out") == before
        assert [item.name for item in tmp_path.iterdir()] == ["out"]


def _build_and_die(folder: Path, step: int, exchange: bool) -> None:
    """Build, and be killed at the `step`-th call that changes the disk."""
    counter = iter(range(1000))
    if not exchange:
        writing._exchange = lambda *_: False

    def deadly(function):
        def wrapped(*arguments, **named):
            if next(counter) == step:
                os.kill(os.getpid(), signal.SIGKILL)
            return function(*arguments, **named)

        return wrapped

    for owner, name in ((Path, "write_bytes"), (Path, "rename"), (Path, "mkdir"), (writing.shutil, "rmtree")):
        setattr(owner, name, deadly(getattr(owner, name)))
    write_plan(NEW, folder, {})


@pytest.mark.filterwarnings("ignore:.*fork.*:DeprecationWarning")
@pytest.mark.parametrize("exchange", [True, False])
def test_a_build_killed_anywhere_leaves_old_or_new_and_the_next_one_works(tmp_path, exchange):
    context = multiprocessing.get_context("fork")
    ends = set()
    for step in range(20):
        folder = tmp_path / f"{step}" / "out"
        write_plan(OLD, folder, {})
        process = context.Process(target=_build_and_die, args=(folder, step, exchange))
        process.start()
        process.join()
        ends.add(process.exitcode)
        if folder.exists():
            assert contents(folder) in (dict(OLD.files), dict(NEW.files))
        write_plan(NEW, folder, {})
        assert contents(folder) == dict(NEW.files)
        assert [item.name for item in folder.parent.iterdir()] == ["out"]
    assert ends == {-signal.SIGKILL, 0}, "the steps reach from the first change to the end"


@pytest.mark.filterwarnings("ignore:.*fork.*:DeprecationWarning")
def test_two_builds_at_once_do_not_mix(tmp_path):
    context = multiprocessing.get_context("fork")
    holding, done = context.Event(), context.Event()

    def hold() -> None:
        with writing._alone_in(tmp_path, tmp_path / "out"):
            holding.set()
            done.wait(30)

    other = context.Process(target=hold)
    other.start()
    assert holding.wait(30)
    with pytest.raises(BuildFolderError, match="another build is writing beside it"):
        write_plan(OLD, tmp_path / "out", {})
    done.set()
    other.join()
    write_plan(OLD, tmp_path / "out", {})
    assert contents(tmp_path / "out") == dict(OLD.files)
