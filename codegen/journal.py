"""Changes to files of a folder that somebody else uses too: all of them or none, whatever stops them.

What is to come is first written whole into a staging folder inside, with a journal. Then each name is changed in
place: what stands there moves into the staging folder, what is to come moves out of it. Nothing is ever replaced by
that, so what appears meanwhile is found, not lost. At the end the journal is renamed to say so.

A run that is stopped leaves its staging folder. `finish_interrupted` undoes it where the journal stands, clears up
after it where it was done, and drops what had not begun. The staging folder's name proves whose it is.
"""

from __future__ import annotations

import hashlib
import json
import re
import secrets
from collections.abc import Iterator, Sequence
from contextlib import suppress
from dataclasses import asdict, dataclass
from pathlib import Path

from codegen import disk
from codegen.plan import PlanError, check_name, folders_of

JOURNAL, DONE = "journal.json", "done.json"
_UNFINISHED = "journal.part"
_OURS = re.compile(r"\.wirecue-([0-9a-f]{16})-([0-9a-f]{8})")
_STAGED = re.compile(r"\d+\.(new|old)")
_LARGEST_JOURNAL = 4_000_000


@dataclass(frozen=True)
class FileChange:
    """What becomes of one name, relative to the folder, with / between folders."""

    name: str
    before: str | None = None
    """Hash of the file that goes; None where there is none, or where it steps aside."""
    after: str | None = None
    """Hash of the file that comes; None where none does."""
    aside: str | None = None
    """The name that what stands there takes, whatever it is: file, link or folder."""


class ChangedMeanwhileError(Exception):
    """Somebody else changed a file, or made one of its name, while the changes were being made; they were undone."""

    def __init__(self, name: str) -> None:
        super().__init__(name)
        self.name = name


class JournalError(Exception):
    """The journal of a stopped run cannot be read."""

    def __init__(self, staging: Path) -> None:
        super().__init__(staging)
        self.staging = staging


def apply(folder: Path, changes: Sequence[FileChange], contents: Sequence[bytes | None]) -> list[str]:
    """Make all changes, in their order, or none; `contents` holds what comes, one for each change.

    Returns names under which something was kept that was changed in the last instant. Raises ChangedMeanwhileError
    or OSError, after undoing what was done.
    """
    staging = folder / _staging_name()
    disk.make_folder(staging)
    try:
        for number, (change, content) in enumerate(zip(changes, contents, strict=True)):
            if content is not None:
                disk.make_file(staging / f"{number}.new", content, _mode_of(folder / change.name))
        folders = sorted(_missing_folders(folder, changes), key=lambda name: name.count("/"))
        _write_journal(staging, changes, folders)
        for number, change in enumerate(changes):
            _make(folder, staging, number, change, folders)
        disk.move(staging / JOURNAL, staging / DONE)
    except BaseException:
        # Where this fails too, the next run does it.
        with suppress(OSError):
            _take_up(folder, staging)
        raise
    with suppress(OSError):
        return _take_up(folder, staging)
    return []


def finish_interrupted(folder: Path) -> None:
    """Undo or finish what a stopped run has left in `folder`. Raises JournalError and OSError."""
    for staging in staging_folders(folder):
        _take_up(folder, staging)


def staging_folders(folder: Path) -> list[Path]:
    """Return the staging folders in `folder`: those whose name proves it."""
    return sorted(path for path in folder.iterdir() if _is_staging_name(path.name) and _is_folder(path))


def blocking(folder: Path, name: str) -> str | None:
    """Return the first part of a name's path that is there, but is no folder of its own: a link, a file."""
    return next(
        (part for part in folders_of(name) if disk.is_there(folder / part) and not _is_folder(folder / part)), None
    )


def free_name(folder: Path, name: str, taken: Sequence[str] = ()) -> str:
    """Return a name for what stood at `name` that nothing has."""
    candidates = (f"{name}.yours{number or ''}" for number in (0, *range(2, 10_000)))
    return next(one for one in candidates if one not in taken and not disk.is_there(folder / one))


def _make(folder: Path, staging: Path, number: int, change: FileChange, folders: Sequence[str]) -> None:
    target = folder / change.name
    if blocking(folder, change.name) is not None:
        raise ChangedMeanwhileError(change.name)
    try:
        if change.aside is not None:
            disk.move(target, folder / change.aside)
        elif change.before is not None:
            old = staging / f"{number}.old"
            disk.move(target, old)
            if disk.hash_of(old) != change.before:
                raise ChangedMeanwhileError(change.name)
        if change.after is not None:
            for part in folders_of(change.name):
                if part in folders and not disk.is_there(folder / part):
                    disk.make_folder(folder / part)
            disk.move(staging / f"{number}.new", target)
    except (FileExistsError, FileNotFoundError):
        raise ChangedMeanwhileError(change.name) from None


def _take_up(folder: Path, staging: Path) -> list[str]:
    """Bring a staging folder to its end. Returns what had to be kept under another name."""
    kept: list[str] = []
    if disk.is_there(staging / DONE):
        changes, _ = _read_journal(staging, DONE)
        kept = _drop_old(folder, staging, changes)
        for change in changes:
            if change.before is not None and change.after is None:
                _drop_empty(folder, change.name)
        disk.drop(staging / DONE)
    elif disk.is_there(staging / JOURNAL):
        _undo(folder, staging)
        disk.drop(staging / JOURNAL)
    for path in sorted(staging.iterdir()):
        if path.name == _UNFINISHED or _STAGED.fullmatch(path.name):
            disk.drop(path)
    disk.drop_folder(staging)
    return kept


def _undo(folder: Path, staging: Path) -> None:
    changes, folders = _read_journal(staging, JOURNAL)
    numbered = list(reversed(list(enumerate(changes))))
    for number, change in numbered:
        target, new, old = folder / change.name, staging / f"{number}.new", staging / f"{number}.old"
        if blocking(folder, change.name) is None:
            if change.after is not None and not disk.is_there(new) and disk.hash_of(target) == change.after:
                disk.move(target, new)
            _move_back(old, target)
    _drop_old(folder, staging, changes)
    for name in reversed(folders):
        if blocking(folder, name) is None:
            disk.drop_folder(folder / name)
    for _, change in numbered:
        if change.aside is not None and blocking(folder, change.name) is None:
            _move_back(folder / change.aside, folder / change.name)


def _move_back(stood: Path, target: Path) -> None:
    # What somebody has put there since stays.
    if disk.is_there(stood) and not disk.is_there(target):
        disk.move(stood, target)


def _drop_old(folder: Path, staging: Path, changes: Sequence[FileChange]) -> list[str]:
    """Remove what was replaced; what is not as it was built, since an editor still had it open, is kept."""
    kept = []
    for number, change in enumerate(changes):
        old = staging / f"{number}.old"
        if disk.is_there(old) and disk.hash_of(old) != change.before:
            name = free_name(folder, change.name)
            disk.move(old, folder / name)
            kept.append(name)
        disk.drop(old)
    return kept


def _drop_empty(folder: Path, name: str) -> None:
    """Remove the folders that a removed file leaves empty."""
    for part in reversed(list(folders_of(name))):
        if blocking(folder, part) is not None or not disk.drop_folder(folder / part):
            return


def _mode_of(path: Path) -> int | None:
    return path.lstat().st_mode & 0o7777 if disk.is_file(path) else None


def _missing_folders(folder: Path, changes: Sequence[FileChange]) -> set[str]:
    """Return the folders that the new files need; one that is in the way now will have stepped aside."""
    aside = {change.name for change in changes if change.aside is not None}
    needed = {part for change in changes if change.after is not None for part in folders_of(change.name)}
    return {part for part in needed if not disk.is_there(folder / part) or {part, *folders_of(part)} & aside}


def _is_folder(path: Path) -> bool:
    return path.is_dir() and not path.is_symlink()


def _staging_name() -> str:
    token = secrets.token_hex(8)
    return f".wirecue-{token}-{_mark(token)}"


def _is_staging_name(name: str) -> bool:
    match = _OURS.fullmatch(name)
    return match is not None and _mark(match[1]) == match[2]


def _mark(token: str) -> str:
    return hashlib.sha256(f"wirecue staging folder {token}".encode()).hexdigest()[:8]


def _write_journal(staging: Path, changes: Sequence[FileChange], folders: Sequence[str]) -> None:
    record = {"changes": [asdict(change) for change in changes], "folders": list(folders)}
    disk.make_file(staging / _UNFINISHED, json.dumps(record, indent=1).encode())
    disk.move(staging / _UNFINISHED, staging / JOURNAL)


def _read_journal(staging: Path, name: str) -> tuple[list[FileChange], list[str]]:
    try:
        record = json.loads(disk.read(staging / name, _LARGEST_JOURNAL) or b"")
        changes = [FileChange(**entry) for entry in record["changes"]]
        folders = [str(folder) for folder in record["folders"]]
        for path in (*_names(changes), *folders):
            check_name(path)
    except (PlanError, ValueError, KeyError, TypeError, RecursionError):
        raise JournalError(staging) from None
    return changes, folders


def _names(changes: Sequence[FileChange]) -> Iterator[str]:
    for change in changes:
        yield change.name
        if change.aside is not None:
            yield change.aside
