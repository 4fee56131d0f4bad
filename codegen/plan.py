"""A build is a value: relative file names and what goes into them. Nothing is written here."""

from __future__ import annotations

import hashlib
import re
from collections.abc import Iterator, Mapping
from dataclasses import dataclass
from types import MappingProxyType

from timing.errors import WirecueError
from timing.system.file_names import is_device_name

# Each part of a name is taken by every system as it is. Two dots, absolute paths, drives and device names do not fit.
_PART = re.compile(r"[A-Za-z0-9_][A-Za-z0-9_.-]{0,99}")


class PlanError(WirecueError):
    """A file name that a build must not have. Keeps the name and the reason."""

    def __init__(self, name: str, why: str) -> None:
        super().__init__(name, why)
        self.name, self.why = name, why

    def __str__(self) -> str:
        return f"a build cannot have a file {self.name!r}: {self.why}"


@dataclass(frozen=True)
class Plan:
    """What a build consists of: content by relative name, with / between folders; sorted by name.

    Raises PlanError for a name that is absolute, leaves the folder, is there twice (capitals do not tell names
    apart), or is both a file and a folder.
    """

    files: Mapping[str, bytes]

    def __post_init__(self) -> None:
        seen: dict[str, str] = {}
        for name in self.files:
            check_name(name)
            if (other := seen.get(name.lower())) is not None:
                raise PlanError(name, f"{other!r} is there already")
            seen[name.lower()] = name
        for lowered, name in seen.items():
            for folder in folders_of(lowered):
                if folder in seen:
                    raise PlanError(seen[folder], f"it is also the folder of {name!r}")
        object.__setattr__(self, "files", MappingProxyType(dict(sorted(self.files.items()))))

    def with_file(self, name: str, content: bytes) -> Plan:
        """Return the plan with one more file. Raises PlanError for a name that is there or cannot be."""
        if name in self.files:
            raise PlanError(name, "it is there already")
        return Plan({**self.files, name: content})

    def hashes(self) -> dict[str, str]:
        """Return 64 hex digits for the content of each file, by name."""
        return {name: content_hash(content) for name, content in self.files.items()}

    @property
    def digest(self) -> str:
        """64 hex digits that stand for names and contents."""
        total = hashlib.sha256()
        for name, content in self.files.items():
            total.update(f"{name}\0{len(content)}\0".encode())
            total.update(content)
        return total.hexdigest()


def content_hash(content: bytes) -> str:
    """Return the SHA-256 of `content` in hex."""
    return hashlib.sha256(content).hexdigest()


def check_name(name: str) -> None:
    """Refuse a name that leads out of the folder, or that not every system takes. Raises PlanError."""
    if name.startswith(("/", "\\")) or re.match(r"[A-Za-z]:", name):
        raise PlanError(name, "only names below the build's own folder")
    for part in name.split("/"):
        if part in ("..", "."):
            raise PlanError(name, "it leaves the build's own folder")
        if _PART.fullmatch(part) is None or part.endswith("."):
            raise PlanError(name, "letters, digits, _, - and . only, in each of its parts")
        if is_device_name(part):
            raise PlanError(name, "this is a device on some systems")


def folders_of(name: str) -> Iterator[str]:
    """Yield the folders on the way to a name, the outermost first: a, a/b for a/b/c."""
    parts = name.split("/")
    for count in range(1, len(parts)):
        yield "/".join(parts[:count])
