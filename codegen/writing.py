"""Builds onto the disk, into a folder that the user works in too: nothing of the user's is lost.

A folder is a build's own only by its manifest: ours, whole, and verified by its seal. Only the files that a manifest
names are touched, each in place, all of them or none; whatever else is there stays as it is.
"""

from __future__ import annotations

import errno
import os
from collections.abc import Iterator, Mapping
from contextlib import contextmanager, suppress
from dataclasses import dataclass
from pathlib import Path
from typing import Any

from codegen import disk
from codegen.journal import (
    ChangedMeanwhileError,
    FileChange,
    JournalError,
    apply,
    blocking,
    finish_interrupted,
    free_name,
)
from codegen.manifest import (
    KEPT_BUILDS,
    LARGEST_MANIFEST_BYTES,
    MANIFEST,
    BuildManifest,
    ManifestError,
    kept_name,
    manifest,
    read_manifest,
)
from codegen.plan import Plan, content_hash
from timing.design.text_file import shown
from timing.errors import WirecueError
from timing.system.locking import LockPlaceError, taken_folder

_NAMED_AT_MOST = 6
_NO_ROOM = (errno.ENOSPC, errno.EDQUOT, errno.EFBIG)
_ANOTHER = "--output names a new or empty folder for the build"


class BuildFolderError(WirecueError):
    """A build cannot be written. Says where, why, and what to do."""

    def __init__(self, folder: Path, found: str, remedy: str) -> None:
        super().__init__(folder, found, remedy)
        self.folder, self.found, self.remedy = folder, found, remedy

    def __str__(self) -> str:
        return f"{shown(self.folder)}\n  found    {self.found}\n  do       {self.remedy}"


class EditedFilesError(BuildFolderError):
    """Files of the build were edited since they were made. Keeps their names."""

    def __init__(self, folder: Path, names: list[str]) -> None:
        more = f" and {len(names) - _NAMED_AT_MOST} more" if len(names) > _NAMED_AT_MOST else ""
        super().__init__(
            folder,
            f"edited since it was built: {', '.join(names[:_NAMED_AT_MOST])}{more}",
            "nothing was written; --force builds anyway and keeps a copy of each as NAME.yours",
        )
        self.names = names


@dataclass(frozen=True)
class Written:
    """What writing a plan did to the folder. Names relative to it."""

    new: tuple[str, ...]
    changed: tuple[str, ...]
    unchanged: tuple[str, ...]
    removed: tuple[str, ...]
    kept: tuple[str, ...]
    """What the user had edited, or put in the place of a file, under its new name."""


def write_plan(plan: Plan, folder: Path, about: Mapping[str, Any], *, force: bool = False) -> Written:
    """Write `plan` and its manifest into `folder`; `about` goes into the manifest beside the files' hashes.

    Raises EditedFilesError when files were edited since the last build, unless `force`; BuildFolderError when the
    folder is not a build's own, another build is writing it, or the disk refuses. Then all is as it was.
    """
    try:
        folder = Path(os.path.realpath(folder))
        if disk.is_there(folder) and not folder.is_dir():
            raise BuildFolderError(folder, "a file, not a folder", "--output names another place")
        made = _made_folders(folder)
        with _alone_in(folder):
            try:
                return _write(plan, folder, about, force)
            except BaseException:
                # Only under the lock: without it they may be another build's by now.
                _drop_folders(made)
                raise
    except OSError as error:
        raise _refused(folder, error) from None


def _made_folders(folder: Path) -> list[Path]:
    """Make `folder` and what leads to it; return what was not there, the innermost first."""
    made: list[Path] = []
    try:
        for path in reversed([path for path in (folder, *folder.parents) if not path.exists()]):
            with suppress(FileExistsError):
                disk.make_folder(path)
                made.insert(0, path)
    except BaseException:
        _drop_folders(made)
        raise
    return made


def _drop_folders(made: list[Path]) -> None:
    for path in made:
        disk.drop_folder(path)


def _refused(folder: Path, error: OSError) -> BuildFolderError:
    found = (error.strerror or str(error)).lower()
    if getattr(error, "winerror", None) in disk.HELD_OPEN:
        name = "" if error.filename is None else f" ({shown(Path(error.filename).name)})"
        return BuildFolderError(folder, f"{found}{name}", "close it in the IDE or editor that has it open; build again")
    remedy = "make room there, or name another place" if error.errno in _NO_ROOM else "a folder that can be written"
    return BuildFolderError(folder, found, remedy)


def _write(plan: Plan, folder: Path, about: Mapping[str, Any], force: bool) -> Written:
    try:
        finish_interrupted(folder)
    except JournalError as error:
        found = f"a build was stopped here, and its journal cannot be read: {error.staging.name}"
        raise BuildFolderError(folder, found, f"keep what is your own in it, delete it; or {_ANOTHER}") from None
    before = _build_before(folder)
    if before is not None and before.makes != about.get("makes", ""):
        found = f"the folder of a {before.makes or 'build'}, made by {before.made_by or 'another version'}"
        raise BuildFolderError(folder, found, _ANOTHER)
    earlier = _kept_builds(folder, before, about)
    sealed = manifest(plan, about, earlier)
    plan = Plan({**plan.files, **earlier})
    seen = _Seen.of(folder, {} if before is None else _made_by(folder, before), plan)
    if seen.in_the_way and not force:
        raise EditedFilesError(folder, seen.in_the_way)

    changes = [*seen.changes(plan), *_manifest_change(folder, sealed)]
    contents = {**plan.files, MANIFEST: sealed}
    kept = [change.aside for change in changes if change.aside is not None]
    if changes:
        try:
            kept += apply(folder, changes, [None if one.after is None else contents[one.name] for one in changes])
        except ChangedMeanwhileError as error:
            found = f"changed by somebody else while the build was written: {error.name}"
            raise BuildFolderError(folder, found, "nothing was written; build again when it is at rest") from None
    return seen.written(plan, kept)


@dataclass(frozen=True)
class _Seen:
    """What stands in a folder where files were made, or are to be."""

    folder: Path
    made: Mapping[str, str]
    """Hashes of the files that the last build made, by name."""
    standing: Mapping[str, str | None]
    """Hashes of what is there; None for a link, a pipe, a folder where a file was."""
    in_the_way: list[str]
    """What the user edited, or put in the place of a file or of its folder."""

    @classmethod
    def of(cls, folder: Path, made: Mapping[str, str], plan: Plan) -> _Seen:
        wanted = plan.hashes()
        standing: dict[str, str | None] = {}
        in_the_way = set()
        for name in {*made, *wanted}:
            block = blocking(folder, name)
            if block is not None:
                in_the_way |= {block} if name in wanted else set()
            elif disk.is_there(folder / name):
                standing[name] = disk.hash_of(folder / name)
                if standing[name] is None or standing[name] not in (made.get(name), wanted.get(name)):
                    in_the_way.add(name)
        return cls(folder, made, standing, sorted(in_the_way))

    def changes(self, plan: Plan) -> Iterator[FileChange]:
        """Yield what has to become of each name; a folder's place is cleared before what comes into it."""
        wanted = plan.hashes()
        taken: list[str] = []
        for name in self.in_the_way:
            taken.append(free_name(self.folder, name, (*taken, *plan.files)))
            yield FileChange(name, after=wanted.get(name), aside=taken[-1])
        for name in sorted({*wanted, *self.standing} - set(self.in_the_way)):
            before, after = self.standing.get(name), wanted.get(name)
            if before != after:
                yield FileChange(name, before, after)

    def written(self, plan: Plan, kept: list[str]) -> Written:
        wanted, there = plan.hashes(), set(self.standing)
        return Written(
            new=tuple(sorted(set(wanted) - there)),
            changed=tuple(sorted(name for name in set(wanted) & there if self.standing[name] != wanted[name])),
            unchanged=tuple(sorted(name for name in set(wanted) & there if self.standing[name] == wanted[name])),
            removed=tuple(sorted(there - set(wanted))),
            kept=tuple(sorted(kept)),
        )


def _manifest_change(folder: Path, sealed: bytes) -> Iterator[FileChange]:
    """Yield the change of the manifest, which comes last, so that no manifest speaks of files that are not there."""
    before, after = disk.hash_of(folder / MANIFEST), content_hash(sealed)
    if before != after:
        yield FileChange(MANIFEST, before, after)


def _build_before(folder: Path) -> BuildManifest | None:
    """Return the manifest of the build that stands in a folder, if one does. Raises BuildFolderError for others."""
    if not disk.is_there(folder / MANIFEST):
        if any(folder.iterdir()):
            raise BuildFolderError(folder, "a folder with other files in it", _ANOTHER)
        return None
    try:
        return read_manifest(disk.read(folder / MANIFEST, LARGEST_MANIFEST_BYTES) or b"")
    except ManifestError as error:
        found = f"{error.found}; so the files are taken for yours"
        raise BuildFolderError(folder, found, f"{_ANOTHER}; {error.way_out}") from None


def _made_by(folder: Path, before: BuildManifest) -> dict[str, str]:
    """Return the hashes of the files that a build made, and of what it kept of those before and is still as it was."""
    kept = {name: known for name, known in before.earlier.items() if _hash_below(folder, name) == known}
    return before.files | kept


def _hash_below(folder: Path, name: str) -> str | None:
    return disk.hash_of(folder / name) if blocking(folder, name) is None else None


def _kept_builds(folder: Path, before: BuildManifest | None, about: Mapping[str, Any]) -> dict[str, bytes]:
    """Return what is kept of the builds before, by name, the latest first; what the user changed of it is the user's.

    The build of a design takes the place of an earlier one of the same design.
    """
    if before is None:
        return {}
    kept = {}
    name = kept_name(before.digest)
    if name is not None and before.digest != about.get("digest"):
        kept[name] = before.content
    for name, known in before.earlier.items():
        content = disk.read(folder / name, LARGEST_MANIFEST_BYTES) if blocking(folder, name) is None else None
        if name != kept_name(str(about.get("digest"))) and content is not None and content_hash(content) == known:
            kept.setdefault(name, content)
    return dict(list(kept.items())[:KEPT_BUILDS])


@contextmanager
def _alone_in(folder: Path) -> Iterator[None]:
    """Hold a lock on the build folder, so that two builds do not write it at once."""
    try:
        held = taken_folder(folder)
    except BlockingIOError:
        raise BuildFolderError(folder, "another build is writing it", "wait for it, then build again") from None
    except LockPlaceError as error:
        found = f"it cannot be locked against a second build: {error.place} {error.why}"
        raise BuildFolderError(folder, found, "remove that, or name another folder for temporary files") from None
    try:
        if not held.is_still_there():
            raise BuildFolderError(folder, "another build gave it up just now", "build again")
        yield
    finally:
        held.release()
