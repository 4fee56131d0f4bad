"""Where the bytes come from that go onto a board: a build that is at hand, or the compiler.

A build's file is taken only if the manifest says that it is of this very design, made by this version, and still as it
was written.
"""

from __future__ import annotations

from dataclasses import dataclass
from pathlib import Path

from codegen.manifest import MANIFEST, BuildManifest
from codegen.plan import content_hash
from codegen.sketch_hex import hex_name
from timing.design.text_file import read_file, shown
from timing.errors import WirecueError
from timing.project import Project
from wirecue import __version__
from wirecue.design_sides import build_folders, manifest_at

LARGEST_HEX_BYTES = 2_000_000
"""More than the hex of the largest flash that a board has (derived)."""
_MADE_BY = f"wirecue {__version__}"


@dataclass(frozen=True)
class BuiltFirmware:
    """The compiled sketch that a build left."""

    path: Path
    content: bytes
    made_by: str
    """Program and version that built it."""
    settings_edited: bool
    """True where a number of the sketch beside it was changed since: the compiled one does not have it."""

    @property
    def current(self) -> bool:
        """True where this version made it."""
        return self.made_by == _MADE_BY

    @property
    def notes(self) -> tuple[str, ...]:
        """What a person who uploads it may not expect."""
        edited = (
            "settings.h in that build was edited since: what is uploaded here does not have the edit. Put it into the "
            "design file, or upload that sketch with the IDE."
        )
        older = f"It was made by {self.made_by}; there is no compiler here to make it anew."
        return (*((edited,) if self.settings_edited else ()), *(() if self.current else (older,)))


def built_firmware(project: Project, design: Path, folders: tuple[Path, ...] = ()) -> BuiltFirmware | None:
    """Return the compiled sketch of this very design from a build; None where no build has it whole.

    folders: looked at before the usual ones. What cannot be read is passed over.
    """
    for folder in dict.fromkeys([*folders, *build_folders(design)]):
        try:
            found = _in_folder(project, folder)
        except WirecueError:
            continue
        if found is not None:
            return found
    return None


def _in_folder(project: Project, folder: Path) -> BuiltFirmware | None:
    kept, name = manifest_at(folder / MANIFEST), hex_name(project.design.name)
    if kept.digest != project.design.digest() or name not in kept.files:
        return None
    content = read_file(folder / name, LARGEST_HEX_BYTES)
    if content_hash(content) != kept.files[name]:
        return None
    return BuiltFirmware(folder / name, content, kept.made_by, _settings_edited(project, folder, kept))


def _settings_edited(project: Project, folder: Path, kept: BuildManifest) -> bool:
    name = f"{project.design.name}/settings.h"
    try:
        return content_hash(read_file(folder / name, LARGEST_HEX_BYTES)) != kept.files.get(name)
    except WirecueError:
        return False


def told(firmware: BuiltFirmware) -> str:
    """Return where a build's firmware comes from, for people."""
    by = "" if firmware.current else f", made by {firmware.made_by}"
    return f"{shown(firmware.path)}{by}"
