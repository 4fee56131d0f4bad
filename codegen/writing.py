"""Puts a plan on the disk: each file whole or not at all, and nothing that somebody edited is lost.

Every file is written beside its place under a temporary name, flushed to the disk, and moved into place, so that a
kill at any point leaves the old file or the new one. The manifest, which says what this tool wrote, is moved twice:
first with old and new digests of every file that is about to change, and last with the new ones alone. A file whose
content is none of its digests was edited since.
"""

from __future__ import annotations

import contextlib
import errno
import hashlib
import json
import os
import tempfile
from collections.abc import Iterator, Mapping
from dataclasses import dataclass
from pathlib import Path
from typing import Any

from codegen.plan import Plan

MANIFEST = "manifest.json"
MOST_COPIES = 1000
_TEMPORARY = ".wirecue-"


class WritingError(Exception):
    """A plan could not be written."""

    exit_code = 2


class EditedFilesError(WritingError):
    """Files in the way were edited since they were built, or were never built here. Keeps their names."""

    def __init__(self, folder: Path, names: tuple[str, ...]) -> None:
        super().__init__(folder, names)
        self.folder, self.names = folder, names

    def __str__(self) -> str:
        return "\n".join(
            [
                f"{self.folder} has files that were edited since they were built, or that were not built here:",
                *(f"  {name}" for name in self.names),
                "Nothing was written. Build into another folder, or use --force: it keeps a copy of each beside it.",
            ]
        )


class BusyFolderError(WritingError):
    """Another build is writing into the same folder."""

    def __init__(self, folder: Path) -> None:
        super().__init__(folder)
        self.folder = folder

    def __str__(self) -> str:
        return f"another build is writing into {self.folder}: wait for it, then build again"


class DiskError(WritingError):
    """The system refused: no permission, no space, a file where a folder should be. Keeps place and reason."""

    def __init__(self, path: Path, reason: str) -> None:
        super().__init__(path, reason)
        self.path, self.reason = path, reason

    def __str__(self) -> str:
        return f"{self.path}: {self.reason}; each file is as it was or as it should be, none is half written"


@dataclass(frozen=True)
class Written:
    """What writing a plan did, by the names of files."""

    new: tuple[str, ...]
    changed: tuple[str, ...]
    unchanged: tuple[str, ...]
    removed: tuple[str, ...]
    """Files of an earlier build that this one no longer has."""
    kept: tuple[str, ...]
    """Copies of files that were edited."""


def write_plan(plan: Plan, folder: Path, facts: Mapping[str, Any], *, force: bool = False) -> Written:
    """Write `plan` into `folder`, and a manifest with `facts` and the digest of each file.

    Files of an earlier build that are no longer wanted are removed, unless they were edited. Raises EditedFilesError,
    before anything is written, where a file in the way is not as it was built; with `force` it is copied beside itself
    first, as FILE.yours. Raises BusyFolderError and DiskError.
    """
    with _telling(folder):
        folder.mkdir(parents=True, exist_ok=True)
        with _alone(folder):
            return _write(plan, folder, dict(facts), force)


def _write(plan: Plan, folder: Path, facts: dict[str, Any], force: bool) -> Written:
    known = _known_digests(folder)
    wanted = {name: _digest(content) for name, content in plan.files.items()}
    present = {name: _digest(path.read_bytes()) for name in {*wanted, *known} if (path := folder / name).is_file()}
    new = tuple(name for name in wanted if name not in present)
    changed = tuple(name for name in wanted if name in present and present[name] != wanted[name])
    edited = tuple(name for name in changed if present[name] not in known.get(name, ()))
    removed = tuple(name for name in known if name not in wanted and present.get(name) in known[name])
    if edited and not force:
        raise EditedFilesError(folder, edited)
    kept = tuple(_keep_copy(folder, name) for name in edited)
    # First old digests beside new ones, so that a build that is cut short still knows its own files.
    transient = {name: (*known.get(name, ()), digest) for name, digest in wanted.items()}
    _replace(folder / MANIFEST, _manifest(facts, known | transient))
    for name in (*new, *changed):
        _replace(folder / name, plan.files[name])
    for name in removed:
        (folder / name).unlink()
    _replace(folder / MANIFEST, _manifest(facts, {name: (digest,) for name, digest in wanted.items()}))
    unchanged = tuple(name for name in wanted if name not in new and name not in changed)
    return Written(new, changed, unchanged, removed, kept)


def _manifest(facts: dict[str, Any], digests: Mapping[str, tuple[str, ...]]) -> bytes:
    files = {name: sorted(set(of_name)) for name, of_name in sorted(digests.items())}
    shown = {name: of_name[0] if len(of_name) == 1 else of_name for name, of_name in files.items()}
    return (json.dumps(facts | {"files_sha256": shown}, indent=2, ensure_ascii=False) + "\n").encode()


def _known_digests(folder: Path) -> dict[str, tuple[str, ...]]:
    try:
        manifest = json.loads((folder / MANIFEST).read_text(encoding="utf-8"))
        recorded = {
            name: (value,) if isinstance(value, str) else tuple(value)
            for name, value in manifest["files_sha256"].items()
        }
        # Whoever wrote the manifest: nothing outside the folder is ever touched by its word.
        Plan(dict.fromkeys(recorded, b""))
    except (FileNotFoundError, ValueError, KeyError, TypeError, AttributeError):
        # No manifest, or none that can be trusted: whatever stands there was not built here.
        return {}
    return recorded


def _keep_copy(folder: Path, name: str) -> str:
    copies = (f"{name}.yours{suffix}" for suffix in ("", *(f"-{number}" for number in range(2, MOST_COPIES))))
    for copy in copies:
        if not (folder / copy).exists():
            _replace(folder / copy, (folder / name).read_bytes())
            return copy
    raise DiskError(folder / name, "there are too many copies of it already")


def _replace(path: Path, content: bytes) -> None:
    """Put `content` at `path` in one move."""
    path.parent.mkdir(parents=True, exist_ok=True)
    handle, temporary = tempfile.mkstemp(prefix=_TEMPORARY, dir=path.parent)
    try:
        with os.fdopen(handle, "wb") as file:
            file.write(content)
            file.flush()
            os.fsync(file.fileno())
        Path(temporary).chmod(0o644)
        Path(temporary).replace(path)
    except BaseException:
        Path(temporary).unlink(missing_ok=True)
        raise


@contextlib.contextmanager
def _alone(folder: Path) -> Iterator[None]:
    """Hold the folder for this build; the lock goes with the process, however that ends."""
    try:
        import fcntl
    except ImportError:  # not on this system: the moves are still whole, each by itself
        yield
        return
    handle = os.open(folder, os.O_RDONLY)
    try:
        try:
            fcntl.flock(handle, fcntl.LOCK_EX | fcntl.LOCK_NB)
        except BlockingIOError:
            raise BusyFolderError(folder) from None
        for leftover in folder.rglob(f"{_TEMPORARY}*"):
            leftover.unlink(missing_ok=True)
        yield
    finally:
        os.close(handle)


@contextlib.contextmanager
def _telling(folder: Path) -> Iterator[None]:
    try:
        yield
    except OSError as error:
        place = Path(os.fsdecode(error.filename)) if isinstance(error.filename, str | bytes) else folder
        reason = "no space left on the disk" if error.errno == errno.ENOSPC else (error.strerror or str(error)).lower()
        raise DiskError(place, reason) from None


def _digest(content: bytes) -> str:
    return hashlib.sha256(content).hexdigest()
