"""A build as a value: relative file names and their contents. Nothing here touches a disk."""

from __future__ import annotations

import hashlib
import re
from collections.abc import Mapping
from dataclasses import dataclass
from types import MappingProxyType

# One narrow alphabet for every name that a build may make: fit for every file system, shell and web page.
_PART = re.compile(r"[A-Za-z0-9_][A-Za-z0-9_.-]{0,63}")


class PlanNameError(ValueError):
    """A file name that a build must not make."""

    exit_code = 2

    def __str__(self) -> str:
        return f"{self.args[0]!r} is no file name for a build: relative, of letters, digits, _, . and -, without .."


@dataclass(frozen=True)
class Plan:
    """File contents by relative name, with / between folders."""

    files: Mapping[str, bytes]

    def __post_init__(self) -> None:
        for name in self.files:
            if not all(_PART.fullmatch(part) for part in name.split("/")):
                raise PlanNameError(name)
        # Kept from changes, and in one order, so that equal plans are written and hashed alike.
        object.__setattr__(self, "files", MappingProxyType(dict(sorted(self.files.items()))))

    def hashes(self) -> dict[str, str]:
        """Return the SHA-256 of each file's content, by name."""
        return {name: content_hash(content) for name, content in self.files.items()}

    def digest(self) -> str:
        """Return a SHA-256 that stands for all names and contents."""
        return content_hash("".join(f"{name}\0{digest}\n" for name, digest in self.hashes().items()).encode())


def content_hash(content: bytes) -> str:
    """Return the SHA-256 of `content` in hex."""
    return hashlib.sha256(content).hexdigest()
