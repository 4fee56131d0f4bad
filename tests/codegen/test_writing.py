"""Writing a plan: whole files, nothing lost that somebody edited, whatever happens on the way."""

from __future__ import annotations

import errno
import json
import os
import re
import subprocess
import sys
from pathlib import Path

import pytest

from codegen import writing
from codegen.plan import Plan
from codegen.writing import MANIFEST, BusyFolderError, DiskError, EditedFilesError, write_plan

OLD = Plan({"sketch/sketch.ino": b"old", "same.txt": b"same", "gone.txt": b"gone"})
NEW = Plan({"sketch/sketch.ino": b"new", "same.txt": b"same", "more/deep.txt": b"deep"})
FACTS = {"design": "x"}


def tree(folder: Path) -> dict[str, bytes]:
    return {str(path.relative_to(folder)): path.read_bytes() for path in folder.rglob("*") if path.is_file()}


def test_a_plan_is_written_with_a_manifest_of_digests(tmp_path):
    written = write_plan(OLD, tmp_path / "build", FACTS)
    assert written.new == tuple(OLD.files)
    manifest = json.loads((tmp_path / "build" / MANIFEST).read_text())
    assert manifest["design"] == "x"
    # SHA-256 of "same", from `printf same | sha256sum`.
    assert manifest["files_sha256"]["same.txt"] == "0967115f2813a3541eaef77de9d9d5773f1c0c04314b0bbfe4ff3b3b1c55b5d5"


def test_building_again_changes_what_differs_and_removes_what_is_no_longer_made(tmp_path):
    write_plan(OLD, tmp_path, FACTS)
    written = write_plan(NEW, tmp_path, FACTS)
    assert written.changed == ("sketch/sketch.ino",)
    assert written.new == ("more/deep.txt",)
    assert written.unchanged == ("same.txt",)
    assert written.removed == ("gone.txt",)
    assert set(tree(tmp_path)) == {*NEW.files, MANIFEST}


def test_the_same_plan_twice_writes_the_same_bytes(tmp_path):
    for name in ("one", "two"):
        write_plan(NEW, tmp_path / name, FACTS)
    assert tree(tmp_path / "one") == tree(tmp_path / "two")


def test_an_edited_file_stops_the_build_before_anything_is_written(tmp_path):
    write_plan(OLD, tmp_path, FACTS)
    (tmp_path / "sketch/sketch.ino").write_bytes(b"mine")
    before = tree(tmp_path)
    with pytest.raises(EditedFilesError, match=re.escape("sketch/sketch.ino")):
        write_plan(NEW, tmp_path, FACTS)
    assert tree(tmp_path) == before


def test_force_keeps_a_copy_of_every_edit(tmp_path):
    write_plan(OLD, tmp_path, FACTS)
    for count, edit in enumerate((b"mine", b"mine again")):
        (tmp_path / "sketch/sketch.ino").write_bytes(edit)
        written = write_plan(NEW, tmp_path, FACTS, force=True)
        assert written.kept == ("sketch/sketch.ino.yours" + ("" if count == 0 else "-2"),)
        assert (tmp_path / written.kept[0]).read_bytes() == edit
    assert (tmp_path / "sketch/sketch.ino").read_bytes() == b"new"


def test_a_file_that_was_never_built_here_counts_as_edited(tmp_path):
    (tmp_path / "same.txt").write_bytes(b"somebody's")
    with pytest.raises(EditedFilesError):
        write_plan(OLD, tmp_path, FACTS)


def test_an_edited_file_that_is_no_longer_made_is_left_alone(tmp_path):
    write_plan(OLD, tmp_path, FACTS)
    (tmp_path / "gone.txt").write_bytes(b"mine")
    assert write_plan(NEW, tmp_path, FACTS).removed == ()
    assert (tmp_path / "gone.txt").read_bytes() == b"mine"


@pytest.mark.parametrize("content", ["", "[]", '{"files_sha256": 3}', '{"files_sha256": {"../x": "y"}}', "\xff"])
def test_a_manifest_that_cannot_be_trusted_vouches_for_nothing(tmp_path, content):
    outside = tmp_path / "x"
    outside.write_bytes(b"outside")
    write_plan(OLD, tmp_path / "build", FACTS)
    (tmp_path / "build" / MANIFEST).write_text(content, encoding="latin-1")
    with pytest.raises(EditedFilesError):
        write_plan(NEW, tmp_path / "build", FACTS)
    assert outside.read_bytes() == b"outside"


def test_a_build_cut_short_at_any_step_leaves_whole_files_and_can_be_finished(tmp_path, monkeypatch):
    replace = writing._replace
    for steps in range(10):
        folder = tmp_path / str(steps)
        write_plan(OLD, folder, FACTS)
        left = steps

        def cut_short(path, content):
            nonlocal left
            if left == 0:
                raise KeyboardInterrupt
            left -= 1
            replace(path, content)

        monkeypatch.setattr(writing, "_replace", cut_short)
        try:
            write_plan(NEW, folder, FACTS)
        except KeyboardInterrupt:
            pass
        else:
            break
        for name, content in tree(folder).items():
            if name != MANIFEST:
                assert content in (OLD.files.get(name), NEW.files.get(name))
        monkeypatch.setattr(writing, "_replace", replace)
        write_plan(NEW, folder, FACTS)
        assert {name: content for name, content in tree(folder).items() if name != MANIFEST} == dict(NEW.files)
    assert steps == 4


@pytest.mark.parametrize("step", ["write", "fsync", "replace"])
def test_a_full_disk_says_so_and_leaves_no_half_written_file(tmp_path, monkeypatch, step):
    write_plan(OLD, tmp_path, FACTS)
    before = tree(tmp_path)

    def full(*_args, **_kwargs):
        raise OSError(errno.ENOSPC, "No space left on device")

    targets = {"write": (os, "fdopen"), "fsync": (os, "fsync"), "replace": (Path, "replace")}
    monkeypatch.setattr(*targets[step], full)
    with pytest.raises(DiskError, match="no space left on the disk"):
        write_plan(NEW, tmp_path, FACTS)
    assert tree(tmp_path) == before


def test_a_file_where_the_folder_should_be_is_one_sentence(tmp_path):
    (tmp_path / "build").write_text("a file")
    with pytest.raises(DiskError, match=r"file exists|not a directory"):
        write_plan(OLD, tmp_path / "build", FACTS)


def test_a_second_build_into_the_same_folder_is_turned_away(tmp_path):
    hold = (
        "import fcntl, os, sys; folder = os.open(sys.argv[1], os.O_RDONLY); "
        "fcntl.flock(folder, fcntl.LOCK_EX); print('held', flush=True); input()"
    )
    with subprocess.Popen(
        [sys.executable, "-c", hold, str(tmp_path)], stdin=subprocess.PIPE, stdout=subprocess.PIPE, text=True
    ) as other:
        assert other.stdout is not None
        other.stdout.readline()
        with pytest.raises(BusyFolderError, match="another build"):
            write_plan(OLD, tmp_path, FACTS)
        other.communicate("\n")
    write_plan(OLD, tmp_path, FACTS)


def test_what_a_killed_build_left_lying_about_is_cleared_away(tmp_path):
    write_plan(OLD, tmp_path, FACTS)
    (tmp_path / "sketch" / ".wirecue-abc").write_bytes(b"half")
    write_plan(NEW, tmp_path, FACTS)
    assert not list(tmp_path.rglob(".wirecue-*"))
