"""Builds onto the disk: a folder whole or not at all, and nothing of the user's lost.

The new folder is made complete beside the old one, files that the user added are carried over, and then the two
change places in one step. A build that is killed leaves the old folder or the new one.
"""

from __future__ import annotations

import ctypes
import errno
import json
import os
import shutil
import tempfile
from collections.abc import Iterator, Mapping
from contextlib import contextmanager, suppress
from dataclasses import dataclass
from pathlib import Path
from types import ModuleType
from typing import Any

from codegen.plan import Plan, content_hash

fcntl: ModuleType | None
try:
    import fcntl
except ImportError:  # Not on Windows: there two builds at once are not kept apart.
    fcntl = None

MANIFEST = "manifest.json"
_NO_ROOM = (errno.ENOSPC, errno.EDQUOT, errno.EFBIG)
_EXCHANGE, _CURRENT_FOLDER = 2, -100  # RENAME_EXCHANGE and AT_FDCWD of Linux


class BuildFolderError(Exception):
    """A build cannot be written. Says where, why, and what to do."""

    exit_code = 2

    def __init__(self, folder: Path, found: str, remedy: str) -> None:
        super().__init__(folder, found, remedy)
        self.folder, self.found, self.remedy = folder, found, remedy

    def __str__(self) -> str:
        return f"{self.folder}\n  found    {self.found}\n  do       {self.remedy}"


class EditedFilesError(BuildFolderError):
    """Files of the build were edited since they were made. Keeps their names."""

    def __init__(self, folder: Path, names: list[str]) -> None:
        super().__init__(
            folder,
            f"edited since it was built: {', '.join(names)}",
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
    """Copies of edited files."""


def write_plan(plan: Plan, folder: Path, about: Mapping[str, Any], *, force: bool = False) -> Written:
    """Write `plan` and its manifest as `folder`; `about` goes into the manifest beside the files' hashes.

    Raises EditedFilesError when files were edited since the last build, unless `force`; BuildFolderError when the
    folder is no build folder, another build is writing it, or the disk refuses.
    """
    folder = folder.resolve()
    try:
        with _alone_in(folder.parent, folder):
            return _write(plan, folder, about, force)
    except OSError as error:
        remedy = "make room there, or name another place" if error.errno in _NO_ROOM else "a folder that can be written"
        raise BuildFolderError(folder, (error.strerror or str(error)).lower(), remedy) from None


def manifest(plan: Plan, about: Mapping[str, Any]) -> bytes:
    """Return the manifest of a build: `about`, and the hashes by which edited files are told from built ones."""
    return (json.dumps({**about, "plan": plan.digest, "files": plan.hashes()}, indent=2) + "\n").encode()


def _write(plan: Plan, folder: Path, about: Mapping[str, Any], force: bool) -> Written:
    _finish_interrupted(folder)
    made = _made_before(folder)
    there = {name: (folder / name).read_bytes() for name in _files_of(folder)}
    edited = [name for name, digest in made.items() if name in there and content_hash(there[name]) != digest]
    foreign = [name for name in plan.files if name in there and name not in made and there[name] != plan.files[name]]
    in_the_way = sorted({*(name for name in edited if there[name] != plan.files.get(name)), *foreign})
    if in_the_way and not force:
        raise EditedFilesError(folder, in_the_way)

    copies = {_free_name(name, there): there[name] for name in in_the_way}
    users = {name: content for name, content in there.items() if name not in made and name not in plan.files}
    users.pop(MANIFEST, None)
    content = {**users, **copies, **plan.files, MANIFEST: manifest(plan, about)}
    if content != there:
        _swap_in(content, folder, there)

    names = set(plan.files)
    return Written(
        new=tuple(sorted(names - set(there))),
        changed=tuple(sorted(name for name in names & set(there) if there[name] != plan.files[name])),
        unchanged=tuple(sorted(name for name in names & set(there) if there[name] == plan.files[name])),
        removed=tuple(sorted(set(made) & set(there) - names)),
        kept=tuple(sorted(copies)),
    )


def _made_before(folder: Path) -> dict[str, str]:
    """Return the hashes of the files that the last build made. Raises BuildFolderError for a folder of others."""
    if not folder.exists():
        return {}
    if not folder.is_dir():
        raise BuildFolderError(folder, "a file, not a folder", "--output names another place")
    try:
        files = json.loads((folder / MANIFEST).read_text(encoding="utf-8"))["files"]
        return {str(name): str(digest) for name, digest in files.items()}
    except FileNotFoundError:
        if any(folder.iterdir()):
            raise BuildFolderError(
                folder, "a folder with other files in it", "--output names a new or empty folder for the build"
            ) from None
        return {}
    except (ValueError, KeyError, AttributeError, TypeError):
        # The manifest itself was damaged: then every file counts as the user's own.
        return {}


def _files_of(folder: Path) -> list[str]:
    if not folder.is_dir():
        return []
    return sorted(path.relative_to(folder).as_posix() for path in folder.rglob("*") if path.is_file())


def _free_name(name: str, there: Mapping[str, bytes]) -> str:
    candidates = [f"{name}.yours", *(f"{name}.yours{number}" for number in range(2, 1000))]
    return next(candidate for candidate in candidates if candidate not in there)


def _swap_in(content: Mapping[str, bytes], folder: Path, there: Mapping[str, bytes]) -> None:
    folder.parent.mkdir(parents=True, exist_ok=True)
    staged = Path(tempfile.mkdtemp(prefix=f".{folder.name}.new.", dir=folder.parent))
    try:
        staged.chmod(folder.stat().st_mode if folder.is_dir() else 0o777 & ~_umask())
        for name, data in content.items():
            path = staged / name
            path.parent.mkdir(parents=True, exist_ok=True)
            path.write_bytes(data)
            if there.get(name) == data:
                shutil.copystat(folder / name, path)
        _change_places(staged, folder)
    finally:
        # After the exchange this is the old folder; after a failure, the unfinished one.
        shutil.rmtree(staged, ignore_errors=True)


def _change_places(staged: Path, folder: Path) -> None:
    if not folder.exists():
        staged.rename(folder)
    elif not _exchange(staged, folder):
        # Two steps where the system cannot exchange in one; `_finish_interrupted` puts a kill between them right.
        aside = _aside(folder)
        folder.rename(aside)
        staged.rename(folder)
        shutil.rmtree(aside, ignore_errors=True)


def _exchange(one: Path, other: Path) -> bool:
    """Let two folders change places in one step, on Linux; False where that cannot be done."""
    renameat2 = getattr(ctypes.CDLL(None, use_errno=True), "renameat2", None) if os.name == "posix" else None
    if renameat2 is None:
        return False
    result = renameat2(_CURRENT_FOLDER, os.fsencode(one), _CURRENT_FOLDER, os.fsencode(other), _EXCHANGE)
    return bool(result == 0)


def _aside(folder: Path) -> Path:
    return folder.with_name(f".{folder.name}.old")


def _finish_interrupted(folder: Path) -> None:
    """Clear up after a build that was killed: bring back what stood aside, drop what was not finished."""
    aside = _aside(folder)
    if aside.is_dir():
        if folder.exists():
            shutil.rmtree(aside, ignore_errors=True)
        else:
            aside.rename(folder)
    if folder.parent.is_dir():
        for unfinished in folder.parent.glob(f".{folder.name}.new.*"):
            shutil.rmtree(unfinished, ignore_errors=True)


def _umask() -> int:
    mask = os.umask(0)
    os.umask(mask)
    return mask


@contextmanager
def _alone_in(parent: Path, folder: Path) -> Iterator[None]:
    """Hold a lock on the parent folder, so that two builds do not write at once."""
    parent.mkdir(parents=True, exist_ok=True)
    if fcntl is None:
        yield
        return
    descriptor = os.open(parent, os.O_RDONLY)
    try:
        try:
            fcntl.flock(descriptor, fcntl.LOCK_EX | fcntl.LOCK_NB)
        except BlockingIOError:
            raise BuildFolderError(
                folder, "another build is writing beside it", "wait for it, then build again"
            ) from None
        yield
    finally:
        with suppress(OSError):
            os.close(descriptor)
