"""Designs to compare, wherever they lie: a design file, a build's folder, a manifest, or what a board answers.

What a board carries is known by its digest alone; the settings behind it lie in the manifest of the build that it was
flashed with, as long as one is kept.
"""

from __future__ import annotations

from collections.abc import Iterator
from dataclasses import dataclass
from pathlib import Path

from codegen.manifest import LARGEST_MANIFEST_BYTES, MANIFEST, BuildManifest, ManifestError, read_manifest
from timing.design.loading import decoded, read_design_text
from timing.design.text_file import UnreadableFileError, read_file, shown
from timing.errors import WirecueError
from timing.logbook.entry import EntryKind
from timing.project import Project
from wirecue.logbooks import logbook_path, read_logbook
from wirecue.projects import parse_project


@dataclass(frozen=True)
class DesignSide:
    """One of two designs that are compared."""

    label: str
    """What it is and where it lies, for people."""
    text: str
    """Of the design file."""
    project: Project
    made_by: str = ""
    """Program and version that built it; empty for a design file."""

    @property
    def digest(self) -> str:
        """Digest of the design."""
        return self.project.design.digest()


def side_at(path: Path) -> DesignSide:
    """Return the design at a path. Raises UnreadableFileError, DesignFileError."""
    if path.is_dir():
        if not (path / MANIFEST).exists():
            raise UnreadableFileError(path, f"a folder without {MANIFEST}", "a folder that `wirecue build` made")
        return side_of_build(path / MANIFEST)
    return side_of_build(path) if path.suffix == ".json" else _side_of_file(path)


def _side_of_file(path: Path) -> DesignSide:
    text = read_design_text(path)
    return DesignSide(shown(path), text, parse_project(text, str(path)))


def side_of_build(path: Path) -> DesignSide:
    """Return the design that a manifest keeps. Raises UnreadableFileError, DesignFileError."""
    kept = manifest_at(path)
    text = kept.design_file
    if not text:
        found = f"the manifest of a build by {kept.made_by or 'another version'}, which did not keep the design file"
        raise UnreadableFileError(path, found, f"a build made since, or {kept.design or 'NAME'}.toml of that folder")
    return DesignSide(f"build in {shown(path)}", text, parse_project(text, f"{path}, design_file"), kept.made_by)


def manifest_at(path: Path) -> BuildManifest:
    """Return the manifest at a path. Raises UnreadableFileError."""
    content = read_file(path, LARGEST_MANIFEST_BYTES)
    decoded(content, path)
    try:
        return read_manifest(content)
    except ManifestError as error:
        raise UnreadableFileError(path, error.found, "a build's manifest, as `wirecue build` wrote it") from None


def kept_build(design: Path, digest: str, folders: tuple[Path, ...]) -> Path | None:
    """Return the manifest of a build of that digest: in `folders`, in those that the logbook names, in the usual one.

    What cannot be read is passed over.
    """
    for folder in dict.fromkeys([*folders, *build_folders(design)]):
        for path in (folder / MANIFEST, *_earlier(folder)):
            try:
                if manifest_at(path).digest == digest:
                    return path
            except WirecueError:
                continue
    return None


def _earlier(folder: Path) -> Iterator[Path]:
    try:
        names = manifest_at(folder / MANIFEST).earlier
    except WirecueError:
        return
    yield from (folder / name for name in names)


def build_folders(design: Path) -> Iterator[Path]:
    """Yield the folders in which builds of a design are likely to lie, the latest entered first."""
    try:
        builds = read_logbook(logbook_path(design)).of(EntryKind.BUILD)
    except WirecueError:
        builds = ()
    for entry in reversed(builds):
        folder = entry.values.get("folder")
        if isinstance(folder, str):
            yield design.parent / folder
    yield Path(f"{design.stem}_build")
    yield design.parent / f"{design.stem}_build"


def told_of(design: Path, digest: str) -> tuple[str, ...]:
    """Return what the logbook of a design says of a digest: when it was built, flashed and tested, in words."""
    from timing.logbook.words import head_of, when

    try:
        entries = read_logbook(logbook_path(design)).entries
    except WirecueError:
        return ()
    return tuple(f"{head_of(one)} {when(one)}" for one in entries if one.values.get("digest") == digest)
