"""Builds onto the disk: all of a build or none of it, and nothing of the user's lost."""

from __future__ import annotations

import errno
import json
import multiprocessing
import os
import random
import signal
from collections.abc import Iterator
from contextlib import contextmanager, suppress
from pathlib import Path

import pytest

from codegen import disk, writing
from codegen.journal import staging_folders
from codegen.manifest import KEPT_BUILDS, manifest, read_manifest, seal_of
from codegen.plan import Plan, content_hash
from codegen.writing import BuildFolderError, EditedFilesError, write_plan
from tests.support.foreign import put_environment, put_foreign_files, put_repository, status_of, tree

OLD = Plan({"sketch/a.c": b"old a", "sketch/b.c": b"old b", "gone.svg": b"x", "last/only.txt": b"y", "run.py": b"1"})
NEW = Plan(
    {"sketch/a.c": b"new a", "sketch/b.c": b"old b", "sheet.html": b"y", "bench/deep/t.py": b"z", "run.py": b"2"}
)
LITTLE_OLD = Plan({"sketch/a.c": b"old a", "last/gone.svg": b"x"})
LITTLE_NEW = Plan({"sketch/a.c": b"new a", "bench/sheet.html": b"y"})
STEPS = ("make_file", "make_folder", "move", "drop", "drop_folder")
"""Every way in which a build changes the disk."""


@pytest.fixture(autouse=True)
def _no_waiting_for_the_disk(monkeypatch):
    """What is asked here is the order of steps; flushing each file a thousand times would take minutes."""
    monkeypatch.setattr(os, "fsync", lambda _: None)


def contents(folder: Path) -> dict[str, bytes]:
    files = {path.relative_to(folder).as_posix(): path.read_bytes() for path in folder.rglob("*") if path.is_file()}
    files.pop("manifest.json", None)
    return files


def built(folder: Path, plan: Plan = OLD) -> Path:
    write_plan(plan, folder, {})
    return folder


def assert_whole(folder: Path, plan: Plan) -> None:
    """The folder holds this build and its manifest, and nothing else."""
    assert contents(folder) == dict(plan.files)
    assert (folder / "manifest.json").read_bytes() == manifest(plan, {})
    folders = {path.relative_to(folder).as_posix() for path in folder.rglob("*") if path.is_dir()}
    assert folders == {str(up) for name in plan.files for up in Path(name).parents} - {"."}


def test_a_first_build_makes_the_folder_with_a_manifest(tmp_path):
    written = write_plan(OLD, tmp_path / "out", {"design": "d"})
    assert contents(tmp_path / "out") == dict(OLD.files)
    assert written.new == tuple(sorted(OLD.files))
    record = json.loads((tmp_path / "out" / "manifest.json").read_text())
    assert (record["kind"], record["design"], record["files"]) == ("wirecue build", "d", OLD.hashes())
    assert [item.name for item in tmp_path.iterdir()] == ["out"]


def test_a_second_build_replaces_what_nobody_edited(tmp_path):
    folder = built(tmp_path / "out")
    (folder / "run.py").chmod(0o755)
    written = write_plan(NEW, folder, {})
    assert_whole(folder, NEW)
    assert (written.new, written.changed, written.unchanged, written.removed) == (
        ("bench/deep/t.py", "sheet.html"),
        ("run.py", "sketch/a.c"),
        ("sketch/b.c",),
        ("gone.svg", "last/only.txt"),
    )
    assert (folder / "run.py").stat().st_mode & 0o777 == 0o755


def test_the_same_build_again_changes_nothing(tmp_path):
    folder = built(tmp_path / "out")
    before = {path: path.stat() for path in (folder, *folder.rglob("*"))}
    written = write_plan(OLD, folder, {})
    assert written.changed == written.new == ()
    assert {path: path.stat() for path in (folder, *folder.rglob("*"))} == before


def test_an_edited_file_stops_the_build_and_is_named(tmp_path):
    folder = built(tmp_path / "out")
    (folder / "sketch" / "a.c").write_bytes(b"mine")
    before = tree(folder)
    with pytest.raises(EditedFilesError, match=r"edited since it was built: sketch/a\.c") as caught:
        write_plan(NEW, folder, {})
    assert caught.value.exit_code == 2
    assert tree(folder) == before


def test_force_keeps_a_copy_each_time(tmp_path):
    folder = built(tmp_path / "out")
    for text in (b"mine", b"mine again"):
        (folder / "sketch" / "a.c").write_bytes(text)
        write_plan(NEW, folder, {}, force=True)
    found = contents(folder)
    assert found["sketch/a.c"] == b"new a"
    assert found["sketch/a.c.yours"] == b"mine"
    assert found["sketch/a.c.yours2"] == b"mine again"


def test_an_edited_file_that_the_new_build_no_longer_makes_is_kept_too(tmp_path):
    folder = built(tmp_path / "out")
    (folder / "gone.svg").write_bytes(b"mine")
    with pytest.raises(EditedFilesError, match=r"gone\.svg"):
        write_plan(NEW, folder, {})
    write_plan(NEW, folder, {}, force=True)
    assert contents(folder) == {**NEW.files, "gone.svg.yours": b"mine"}


def test_a_file_of_the_users_where_the_build_wants_one_is_in_the_way(tmp_path):
    folder = built(tmp_path / "out")
    (folder / "sheet.html").write_bytes(b"mine")
    with pytest.raises(EditedFilesError, match=r"sheet\.html"):
        write_plan(NEW, folder, {})
    write_plan(NEW, folder, {}, force=True)
    assert contents(folder) == {**NEW.files, "sheet.html.yours": b"mine"}


@pytest.mark.parametrize("kind", ["link to a file", "dangling link", "link to itself", "pipe", "folder"])
def test_something_else_in_the_place_of_a_file_is_never_written_through(tmp_path, kind):
    folder = built(tmp_path / "out")
    outside = tmp_path / "outside.c"
    outside.write_bytes(b"old a")
    place = folder / "sketch" / "a.c"
    place.unlink()
    make = {
        "link to a file": lambda: place.symlink_to(outside),
        "dangling link": lambda: place.symlink_to(tmp_path / "nowhere"),
        "link to itself": lambda: place.symlink_to(place),
        "pipe": lambda: os.mkfifo(place),
        "folder": lambda: (place / "mine").mkdir(parents=True),
    }
    make[kind]()
    before = tree(tmp_path)
    with pytest.raises(EditedFilesError, match=r"sketch/a\.c"):
        write_plan(NEW, folder, {})
    assert tree(tmp_path) == before
    assert write_plan(NEW, folder, {}, force=True).kept == ("sketch/a.c.yours",)
    after = tree(tmp_path)
    for name, facts in before.items():
        if name.startswith(("out/sketch/a.c", "outside")):
            assert after[name.replace("a.c", "a.c.yours")] == facts
    assert place.read_bytes() == b"new a"
    assert not (tmp_path / "nowhere").exists()


@pytest.mark.parametrize("kind", ["link", "dangling link", "file"])
def test_something_else_in_the_place_of_a_folder_is_never_written_through(tmp_path, kind):
    folder = built(tmp_path / "out")
    (folder / "sketch").rename(tmp_path / "moved")
    place = folder / "sketch"
    if kind == "file":
        place.write_text("mine")
    else:
        place.symlink_to(tmp_path / ("moved" if kind == "link" else "nowhere"))
    before = tree(tmp_path)
    with pytest.raises(EditedFilesError, match=r"edited since it was built: sketch\n"):
        write_plan(NEW, folder, {})
    assert tree(tmp_path) == before
    assert write_plan(NEW, folder, {}, force=True).kept == ("sketch.yours",)
    after = tree(tmp_path)
    assert after["out/sketch.yours"] == before["out/sketch"]
    assert {name: facts for name, facts in after.items() if name.startswith("moved")} == {
        name: facts for name, facts in before.items() if name.startswith("moved")
    }
    assert (folder / "sketch" / "a.c").read_bytes() == b"new a"
    assert not (tmp_path / "nowhere").exists()


def _forged(**changed: object) -> str:
    record = json.loads(manifest(OLD, {})) | changed
    if "seal" not in changed:
        del record["seal"]
        record["seal"] = seal_of(record)
    return json.dumps(record)


@pytest.mark.parametrize(
    ("text", "found"),
    [
        ("", "not of a build made here, or damaged"),
        ("{", "not of a build made here, or damaged"),
        ("[]", "not of a build made here, or damaged"),
        ('{"files": 3}', "not of a build made here, or damaged"),
        ('{"name": "a web app", "icons": []}', "not of a build made here, or damaged"),
        ("\x00", "not of a build made here, or damaged"),
        ("[" * 100_000, "not of a build made here, or damaged"),
        ('{"kind": "wirecue build", "x": "' + "y" * 2_000_000 + '"}', "not of a build made here, or damaged"),
        (_forged(schema=2), "another version of this tool: schema 2, here 1"),
        (_forged(schema="x" * 5_000), "another version of this tool"),
        (_forged(seal="0" * 64), "damaged or was edited"),
        (
            _forged(files={**OLD.hashes(), "sketch/a.c": "0" * 64}, seal=json.loads(manifest(OLD, {}))["seal"]),
            "damaged",
        ),
        (_forged(files={"../outside.txt": "0" * 64}), "damaged or was edited"),
        (_forged(files={"/etc/passwd": "0" * 64}), "damaged or was edited"),
        (_forged(files={"sketch/a.c": 7}), "damaged or was edited"),
        (_forged(files=[]), "damaged or was edited"),
        (_forged(files={"manifest.json": "0" * 64}), "damaged or was edited"),
    ],
)
def test_a_folder_whose_manifest_is_not_ours_whole_and_verified_is_left_alone(tmp_path, text, found):
    folder = built(tmp_path / "out")
    (folder / "manifest.json").write_text(text)
    before = tree(tmp_path)
    for force in (False, True):
        with pytest.raises(BuildFolderError, match=found) as caught:
            write_plan(NEW, folder, {}, force=force)
        assert len(str(caught.value)) < 600
        assert "--output names a new or empty folder" in str(caught.value)
    assert tree(tmp_path) == before


@pytest.mark.parametrize("kind", ["link", "pipe", "folder"])
def test_a_manifest_that_is_no_file_is_not_ours(tmp_path, kind):
    folder = built(tmp_path / "out")
    place = folder / "manifest.json"
    place.rename(tmp_path / "elsewhere")
    {"link": lambda: place.symlink_to(tmp_path / "elsewhere"), "pipe": lambda: os.mkfifo(place), "folder": place.mkdir}[
        kind
    ]()
    before = tree(tmp_path)
    with pytest.raises(BuildFolderError, match=r"a manifest\.json that is not of a build made here"):
        write_plan(NEW, folder, {}, force=True)
    assert tree(tmp_path) == before


def test_a_folder_of_other_files_is_left_alone(tmp_path):
    (tmp_path / "out").mkdir()
    (tmp_path / "out" / "thesis.txt").write_text("ten years")
    before = tree(tmp_path)
    with pytest.raises(BuildFolderError, match="a folder with other files in it"):
        write_plan(OLD, tmp_path / "out", {}, force=True)
    with pytest.raises(BuildFolderError, match="a file, not a folder"):
        write_plan(OLD, tmp_path / "out" / "thesis.txt", {})
    with pytest.raises(BuildFolderError, match="a folder that can be written"):
        write_plan(OLD, tmp_path / "out" / "thesis.txt" / "below", {})
    assert tree(tmp_path) == before


@pytest.mark.parametrize("folder", ["/", "/proc", "/dev/null", "/sys/kernel/wirecue_build"])
def test_a_folder_of_the_system_is_one_sentence(folder):
    with pytest.raises(BuildFolderError) as caught:
        write_plan(OLD, Path(folder), {}, force=True)
    assert str(caught.value).startswith(folder)
    assert len(str(caught.value).splitlines()) == 3


def test_an_odd_name_is_shown_escaped(tmp_path):
    odd = tmp_path / "a\x1b[31m\nb"
    odd.mkdir()
    (odd / "x").touch()
    with pytest.raises(BuildFolderError, match="other files") as caught:
        write_plan(OLD, odd, {})
    assert str(caught.value).splitlines()[0].endswith(r"a\x1b[31m\nb")


def test_building_where_one_stands_keeps_the_folder_itself(tmp_path, monkeypatch):
    (tmp_path / "here").mkdir()
    monkeypatch.chdir(tmp_path / "here")
    folder = (tmp_path / "here").stat().st_ino
    for plan in (OLD, NEW):
        write_plan(plan, Path(), {})
        assert (tmp_path / "here").stat().st_ino == folder
        assert_whole(Path.cwd(), plan)


def test_a_link_to_a_build_folder_is_followed_and_stays(tmp_path):
    (tmp_path / "link").symlink_to("out")
    built(tmp_path / "out")
    write_plan(NEW, tmp_path / "link", {})
    assert (tmp_path / "link").is_symlink()
    assert_whole(tmp_path / "out", NEW)


@contextmanager
def fault(monkeypatch, at: int, instead) -> Iterator[list[str]]:
    """Call `instead` in place of the step number `at`, counted from 0; yields what was called."""
    called: list[str] = []
    with monkeypatch.context() as patched:
        for name in STEPS:
            real = getattr(disk, name)

            def step(*arguments, name=name, real=real):
                called.append(name)
                if len(called) > at:
                    instead(len(called) - 1 - at, name, *arguments)
                return real(*arguments)

            patched.setattr(disk, name, step)
        yield called


class KilledError(BaseException):
    """Stands for the end of the process: from here on no step does anything."""


def dead(_since: int, name: str, *arguments) -> None:
    if name == "make_file" and _since == 0:
        # The process dies while it writes.
        arguments[0].write_bytes(arguments[1][: len(arguments[1]) // 2])
    raise KilledError


def full(since: int, *_) -> None:
    if since == 0:
        raise OSError(errno.ENOSPC, os.strerror(errno.ENOSPC))


def interrupted(since: int, *_) -> None:
    if since == 0:
        raise KeyboardInterrupt


USERS = {"notes.txt": b"27.4 V", "last/mine.txt": b"x", "sketch/mine.h": b"y"}


def _start(folder: Path, first: bool, plan: Plan = OLD) -> dict[str, bytes]:
    """Make what there is before: a build with files of the user's in it, or nothing. Returns all that must stay."""
    if first:
        return {}
    built(folder, plan)
    for name, content in USERS.items():
        (folder / name).write_bytes(content)
    return USERS


@pytest.mark.parametrize("first", [True, False], ids=["first build", "second build"])
@pytest.mark.parametrize("failing", [full, interrupted])
def test_a_step_that_fails_leaves_everything_as_it_was(tmp_path, monkeypatch, first, failing):
    at = 0
    while True:
        folder = tmp_path / str(at) / "out"
        users = _start(folder, first)
        before = tree(tmp_path / str(at))
        raised: list[BaseException] = []
        with fault(monkeypatch, at, failing) as called:
            try:
                write_plan(NEW, folder, {})
            except (BuildFolderError, KeyboardInterrupt) as error:
                raised.append(error)
        # Where only the clearing up failed, the build is there, and the next one clears up.
        left = staging_folders(folder) if folder.exists() else []
        if raised and not left:
            assert tree(tmp_path / str(at)) == before
            assert failing is interrupted or "no space left on device" in str(raised[0])
        else:
            found = {name: content for name, content in contents(folder).items() if not name.startswith(".wirecue-")}
            assert found == {**NEW.files, **users}
            assert not any((staging / "journal.json").exists() for staging in left)
        write_plan(NEW, folder, {})
        assert contents(folder) == {**NEW.files, **users}
        assert not staging_folders(folder)
        if len(called) <= at:
            break
        at += 1
    assert at > 15, "every step was tried"


def _kill(monkeypatch, plan: Plan, folder: Path, at: int) -> bool:
    """Build and die at a step. Returns whether that step was reached."""
    with fault(monkeypatch, at, dead):
        try:
            write_plan(plan, folder, {})
        except KilledError:
            return True
    return False


@pytest.mark.parametrize("system", ["renames in one step", "does not"])
@pytest.mark.parametrize("first", [True, False], ids=["first build", "second build"])
def test_a_build_killed_at_any_step_and_its_recovery_killed_too_end_in_old_or_new(tmp_path, monkeypatch, first, system):
    if system == "does not":
        monkeypatch.setattr(disk, "_renameat2", lambda: None)
    at = 0
    ends = set()
    while True:
        again = 0
        while True:
            root = tmp_path / f"{at}-{again}"
            folder = root / "out"
            users = _start(folder, first, LITTLE_OLD)
            reached = _kill(monkeypatch, LITTLE_NEW, folder, at)
            for name, content in users.items():
                assert (folder / name).read_bytes() == content
            twice = reached and folder.exists() and _kill_recovery(monkeypatch, folder, again)
            if folder.exists():
                writing.finish_interrupted(folder)
                found = contents(folder)
                assert found in ({**LITTLE_OLD.files, **users} if not first else {}, {**LITTLE_NEW.files, **users})
                ends.add("bench/sheet.html" in found)
            write_plan(LITTLE_NEW, folder, {})
            assert contents(folder) == {**LITTLE_NEW.files, **users}
            assert [path.name for path in root.iterdir()] == ["out"]
            assert not staging_folders(folder)
            if not twice:
                break
            again += 1
        if not reached:
            break
        at += 1
    assert ends == {True, False}
    assert at > 15, "every step was tried"


def _kill_recovery(monkeypatch, folder: Path, at: int) -> bool:
    with fault(monkeypatch, at, dead):
        try:
            writing.finish_interrupted(folder)
        except KilledError:
            return True
    return False


@pytest.mark.parametrize("edited", ["sketch/a.c", "sheet.html", "bench", "gone.svg"])
def test_what_the_user_does_after_a_build_was_killed_stays(tmp_path, monkeypatch, edited):
    for at in range(100):
        folder = tmp_path / str(at)
        built(folder)
        reached = _kill(monkeypatch, NEW, folder, at)
        (folder / edited).unlink(missing_ok=True) if edited != "bench" else disk.drop_folder(folder / "bench")
        if not (folder / edited).exists():
            (folder / edited).write_bytes(b"made after the kill")
            try:
                write_plan(NEW, folder, {})
            except EditedFilesError:
                write_plan(NEW, folder, {}, force=True)
            assert b"made after the kill" in contents(folder).values()
        write_plan(NEW, folder, {}, force=True)
        assert dict(NEW.files).items() <= contents(folder).items()
        if not reached:
            break


@pytest.mark.parametrize("name", ["sketch/a.c", "sheet.html", "bench", "gone.svg", "manifest.json", "new.txt"])
def test_what_appears_while_a_build_runs_is_kept(tmp_path, monkeypatch, name):
    """Somebody saves a file in an instant between two steps, in each in turn."""
    for at in range(100):
        folder = tmp_path / str(at)
        built(folder)

        def save(since: int, *_, folder=folder) -> None:
            if since == 0:
                place = folder / name
                if not place.is_dir():
                    place.unlink(missing_ok=True)
                    place.write_bytes(b"saved just now")

        told = ""
        with fault(monkeypatch, at, save) as called:
            try:
                write_plan(NEW, folder, {})
            except BuildFolderError as error:
                told = str(error)
        if len(called) <= at:
            assert not told
            break
        assert not told or "changed by somebody else while the build was written" in told
        everything = [path.read_bytes() for path in folder.rglob("*") if path.is_file()]
        assert b"saved just now" in everything or (folder / name).is_dir()
        if told:
            expected = {key: content for key, content in OLD.files.items() if key != name}
            assert {key: content for key, content in contents(folder).items() if key != name} == expected


def test_an_editor_that_writes_into_a_replaced_file_at_the_last_moment_loses_nothing(tmp_path, monkeypatch):
    folder = built(tmp_path / "out")
    real = disk.move
    with (folder / "sketch" / "a.c").open("r+b") as editor:

        def moved(source: Path, target: Path) -> None:
            real(source, target)
            if target.name == "done.json":
                editor.write(b"late edit")
                editor.flush()

        monkeypatch.setattr(disk, "move", moved)
        written = write_plan(NEW, folder, {})
    assert written.kept == ("sketch/a.c.yours",)
    assert (folder / "sketch" / "a.c.yours").read_bytes() == b"late edit"
    assert (folder / "sketch" / "a.c").read_bytes() == b"new a"


def test_a_staging_folder_goes_only_by_its_mark(tmp_path, monkeypatch):
    folder = built(tmp_path / "out")
    _kill(monkeypatch, NEW, folder, 4)
    (ours,) = staging_folders(folder)
    (ours / "somebody's.txt").write_text("x")
    false = folder / f"{ours.name[:-1]}{'0' if ours.name[-1] != '0' else '1'}"
    false.mkdir()
    (false / "0.new").write_text("x")
    write_plan(NEW, folder, {})
    assert (ours / "somebody's.txt").read_text() == "x"
    assert (false / "0.new").read_text() == "x"


@pytest.mark.parametrize("journal", ["", "{}", "[]", '{"changes": [{"name": "../x"}], "folders": []}', "[" * 100_000])
def test_a_journal_that_cannot_be_read_is_told_and_nothing_is_touched(tmp_path, monkeypatch, journal):
    folder = built(tmp_path / "out")
    _kill(monkeypatch, NEW, folder, 10)
    (staging,) = staging_folders(folder)
    (staging / "journal.json").write_text(journal)
    before = tree(folder)
    with pytest.raises(BuildFolderError, match="a build was stopped here, and its journal cannot be read"):
        write_plan(NEW, folder, {}, force=True)
    assert tree(folder) == before


def _build_and_die(plan: Plan, folder: Path, step: int) -> None:
    """Build, and be killed at the `step`-th call that changes the disk."""
    counter = iter(range(10_000))

    def deadly(function):
        def wrapped(*arguments):
            if next(counter) == step:
                os.kill(os.getpid(), signal.SIGKILL)
            return function(*arguments)

        return wrapped

    for name in STEPS:
        setattr(disk, name, deadly(getattr(disk, name)))
    write_plan(plan, folder, {})


@pytest.mark.debian("git")
@pytest.mark.filterwarnings("ignore:.*fork.*:DeprecationWarning")
def test_repository_environment_and_foreign_files_are_the_same_after_five_builds_three_of_them_killed(tmp_path):
    home = tmp_path / "home"
    home.mkdir()
    folder = built(home / "out")
    for place in (folder, folder / "sketch", home):
        assert put_foreign_files(place) >= 30
    put_environment(folder / "env")
    put_environment(home / "env")
    (folder / "library").mkdir()
    (folder / "library" / "l.c").write_text("int l;")
    for place in (folder / "library", folder, home):
        put_repository(place)
    ours = {f"out/{name}" for name in {*OLD.files, *NEW.files, "manifest.json"}}
    ours |= {f"out/{up}" for plan in (OLD, NEW) for name in plan.files for up in Path(name).parents} - {"out/sketch"}
    before = tree(home, frozenset(ours))
    context = multiprocessing.get_context("fork")
    rng = random.Random(10)
    kills = 0
    for number, plan in enumerate((NEW, OLD, NEW, OLD, NEW)):
        if number in (0, 2, 3):
            child = context.Process(target=_build_and_die, args=(plan, folder, rng.randrange(12, 28)))
            child.start()
            child.join()
            kills += child.exitcode == -signal.SIGKILL
            stopped = frozenset(f"out/{path.name}" for path in staging_folders(folder))
        else:
            write_plan(plan, folder, {})
            stopped = frozenset()
        now = tree(home, frozenset(ours))
        assert {name: facts for name, facts in now.items() if not stopped & {name, name.rpartition("/")[0]}} == before
    assert kills == 3
    assert dict(NEW.files).items() <= contents(folder).items()
    assert status_of(folder / "library") == ""
    changed = {line[3:] for line in status_of(folder).splitlines()}
    assert changed <= {*OLD.files, *NEW.files, "manifest.json", "bench/"}
    status_of(home)


@pytest.mark.filterwarnings("ignore:.*fork.*:DeprecationWarning")
def test_two_builds_into_one_folder_do_not_mix_and_two_side_by_side_do_not_wait(tmp_path):
    context = multiprocessing.get_context("fork")
    holding, done = context.Event(), context.Event()
    built(tmp_path / "out")

    def hold() -> None:
        with writing._alone_in(tmp_path / "out"):
            holding.set()
            done.wait(30)

    other = context.Process(target=hold)
    other.start()
    assert holding.wait(30)
    with pytest.raises(BuildFolderError, match="another build is writing it"):
        write_plan(NEW, tmp_path / "out", {})
    assert_whole(built(tmp_path / "beside", NEW), NEW)
    done.set()
    other.join()
    write_plan(NEW, tmp_path / "out", {})
    assert_whole(tmp_path / "out", NEW)


def design(number: int) -> dict[str, str]:
    """What the manifest says of the build of one of some designs."""
    return {"design": "d", "digest": f"{number:016x}", "design_file": f"# {number}\n"}


def kept(folder: Path) -> list[str]:
    """The designs whose builds are kept, the latest first, each one's manifest whole and listed with its hash."""
    made = read_manifest((folder / "manifest.json").read_bytes())
    found = []
    for name, known in made.earlier.items():
        content = (folder / name).read_bytes()
        assert content_hash(content) == known
        found.append(read_manifest(content).design_file)
    assert sorted(made.earlier) == sorted(f"earlier/{path.name}" for path in folder.glob("earlier/*"))
    return found


def test_the_manifests_of_the_last_builds_are_kept_and_no_more(tmp_path):
    folder = tmp_path / "out"
    for number in range(9):
        write_plan(OLD if number % 2 else NEW, folder, design(number))
        assert kept(folder) == [f"# {before}\n" for before in range(number)][::-1][:KEPT_BUILDS]
    assert kept(folder)[-1] == "# 3\n"


def test_the_same_design_built_again_is_kept_once_and_not_beside_itself(tmp_path):
    folder = tmp_path / "out"
    for number, before in ((1, []), (1, []), (2, [1]), (1, [2]), (3, [1, 2]), (3, [1, 2]), (2, [3, 1])):
        write_plan(NEW, folder, design(number))
        assert kept(folder) == [f"# {one}\n" for one in before]


def test_a_first_build_is_the_same_wherever_it_is_made(tmp_path):
    for place in ("a", "b"):
        write_plan(NEW, tmp_path / place, design(1))
        assert contents(tmp_path / place) == dict(NEW.files)
    assert (tmp_path / "a" / "manifest.json").read_bytes() == (tmp_path / "b" / "manifest.json").read_bytes()


def test_what_the_user_changed_of_the_kept_manifests_is_the_users(tmp_path):
    folder = tmp_path / "out"
    for number in range(4):
        write_plan(NEW, folder, design(number))
    edited, gone, mine = (folder / "earlier" / f"{name}.json" for name in (f"{0:016x}", f"{1:016x}", "mine"))
    edited.write_text("mine")
    gone.unlink()
    mine.write_text("mine too")
    write_plan(OLD, folder, design(4))
    assert list(read_manifest((folder / "manifest.json").read_bytes()).earlier) == [
        f"earlier/{number:016x}.json" for number in (3, 2)
    ]
    assert not gone.exists()
    assert (edited.read_text(), mine.read_text()) == ("mine", "mine too")
    # Only what would come into its place is in the way.
    write_plan(NEW, folder, design(0))
    with pytest.raises(EditedFilesError, match=r"earlier/0000000000000000\.json"):
        write_plan(NEW, folder, design(5))
    assert write_plan(NEW, folder, design(5), force=True).kept == ("earlier/0000000000000000.json.yours",)


def test_a_build_that_is_killed_keeps_the_manifests_of_one_build_or_of_the_other(tmp_path, monkeypatch):
    monkeypatch.setattr(writing, "KEPT_BUILDS", 1)
    at, ends = 0, set()
    while True:
        folder = tmp_path / str(at) / "out"
        for number in range(2):
            write_plan(LITTLE_OLD, folder, design(number))
        with fault(monkeypatch, at, dead) as called, suppress(KilledError):
            write_plan(LITTLE_NEW, folder, design(2))
        writing.finish_interrupted(folder)
        ends.add(tuple(kept(folder)))
        if len(called) <= at:
            break
        at += 1
    assert at > 10, "every step was tried"
    assert ends == {("# 0\n",), ("# 1\n",)}
