"""The manifest of a build: what was made from which design, sealed, so that a damaged or an edited one is known.

It carries the design file whole: from a manifest alone it can be told, a year later, what a board was flashed with.
"""

from __future__ import annotations

import hashlib
import json
import re
from collections.abc import Mapping
from dataclasses import dataclass
from typing import Any

from codegen.plan import Plan, PlanError, check_name

MANIFEST = "manifest.json"
EARLIER = "earlier"
"""Folder for the manifests of the builds before, each named by the digest of its design."""
KEPT_BUILDS = 5
"""Earlier builds whose manifests are kept (choice: those of a commissioning, and the one that ran for a year)."""
LARGEST_MANIFEST_BYTES = 1_000_000
KIND, SCHEMA = "wirecue build", 1
_DIGEST = re.compile(r"[0-9a-f]{16}")
_HASH = re.compile(r"[0-9a-f]{64}")


class ManifestError(Exception):
    """A file that is no manifest of a build that can be gone by. Keeps what was found, and what else may be done."""

    def __init__(self, found: str, way_out: str = "or move what you need out of this one and delete it") -> None:
        super().__init__(found, way_out)
        self.found, self.way_out = found, way_out


@dataclass(frozen=True)
class BuildManifest:
    """The manifest of one build, its seal verified."""

    record: Mapping[str, Any]
    content: bytes
    """As it was written."""

    @property
    def files(self) -> dict[str, str]:
        """Hashes of the files that were made, by name."""
        return dict(self.record["files"])

    @property
    def earlier(self) -> dict[str, str]:
        """Hashes of the earlier builds' manifests that are kept with it, by name, the latest first."""
        return dict(self.record.get("earlier", {}))

    @property
    def digest(self) -> str:
        """Digest of the design; empty where none is stated."""
        return self._text("digest")

    @property
    def design(self) -> str:
        """Name of the design."""
        return self._text("design")

    @property
    def made_by(self) -> str:
        """Program and version."""
        return self._text("made_by")

    @property
    def makes(self) -> str:
        """What was made, where it is no build of a design, such as a recorder."""
        return self._text("makes")

    @property
    def design_file(self) -> str:
        """Text of the design file; empty in a manifest of a version that did not keep it."""
        return self._text("design_file")

    def _text(self, key: str) -> str:
        value = self.record.get(key, "")
        return value if isinstance(value, str) else ""


def manifest(plan: Plan, about: Mapping[str, Any], earlier: Mapping[str, bytes] | None = None) -> bytes:
    """Return the manifest of a build: `about`, and the hashes by which edited files are told from built ones.

    earlier: what is kept of the builds before, by name.
    """
    kept = {name: hashlib.sha256(content).hexdigest() for name, content in (earlier or {}).items()}
    content = {"kind": KIND, "schema": SCHEMA, **about, "plan": plan.digest, "files": plan.hashes()}
    content |= {"earlier": kept} if kept else {}
    return (json.dumps({**content, "seal": seal_of(content)}, indent=2) + "\n").encode()


def read_manifest(content: bytes) -> BuildManifest:
    """Return the manifest in a file's content. Raises ManifestError."""
    try:
        record = json.loads(content)
    except (ValueError, RecursionError):
        record = None
    if not isinstance(record, dict) or record.get("kind") != KIND:
        raise ManifestError(f"a {MANIFEST} that is not of a build made here, or damaged")
    if record.get("schema") != SCHEMA:
        found = f"the build of another version of this tool: schema {record.get('schema')!r:.20}, here {SCHEMA}"
        raise ManifestError(found, "or build with that version")
    seal = record.pop("seal", None)
    if seal != seal_of(record) or not _names_files(record.get("files")) or not _names_files(record.get("earlier", {})):
        raise ManifestError(f"a {MANIFEST} that is damaged or was edited")
    return BuildManifest(record, content)


def kept_name(digest: str) -> str | None:
    """Return the name under which the manifest of a build of that design is kept; None for what is no digest."""
    return f"{EARLIER}/{digest}.json" if _DIGEST.fullmatch(digest) else None


def seal_of(content: Mapping[str, Any]) -> str:
    """Return the hash of a manifest's content, by which a damaged or edited one is known."""
    return hashlib.sha256(json.dumps(content, sort_keys=True).encode()).hexdigest()


def _names_files(files: object) -> bool:
    if not isinstance(files, dict) or MANIFEST in files:
        return False
    try:
        for name, digest in files.items():
            check_name(name)
            if _HASH.fullmatch(digest) is None:
                return False
    except (PlanError, TypeError):
        return False
    return True
