"""The files that the page reads, writes and hands out: designs in one folder, and a build to download."""

from __future__ import annotations

import hashlib
import io
import zipfile
from collections.abc import Callable
from dataclasses import dataclass
from pathlib import Path

from codegen.build import about, build_plan
from codegen.compiled_core import compare_core
from codegen.manifest import MANIFEST, manifest
from codegen.plan import Plan
from codegen.sketch import sketch_files
from timing.checks.finding import Severity
from timing.design.loading import read_design_text
from timing.errors import WirecueError
from timing.project import Project
from wirecue import __version__
from wirecue.design_names import new_design_path
from wirecue.firmware import compiling
from wirecue.logbooks import enter_changes
from wirecue.output_files import write_file

LISTED_AT_MOST = 200
DEEPEST_FOLDER = 3
"""Folders below folders that are searched for design files."""


class OutsideError(WirecueError):
    """A file outside the folder was asked for."""

    def __init__(self, name: str, folder: Path) -> None:
        super().__init__(name, folder)
        self.name = name
        self.folder = folder

    def __str__(self) -> str:
        return (
            f"{self.name}\n  found    a file outside {self.folder}\n"
            "  allowed  the page reads and writes below the folder it was started in\n"
            "  hint     start it in the design's own folder"
        )


class ChangedOnDiskError(WirecueError):
    """The file was changed by somebody else since it was read."""

    def __init__(self, name: str) -> None:
        super().__init__(name)
        self.name = name

    def __str__(self) -> str:
        return f"{self.name} was changed on the disk since it was opened here. Saving would undo that change."


@dataclass
class Folder:
    """Design files below `root`, by their names relative to it, with / between folders."""

    root: Path

    def __post_init__(self) -> None:
        self.root = self.root.resolve()
        self._read: dict[str, str] = {}

    def name_of(self, path: Path) -> str:
        """Return the name of a path. Raises OutsideError."""
        whole = (self.root / path).resolve()
        if not whole.is_relative_to(self.root):
            raise OutsideError(str(path), self.root)
        return whole.relative_to(self.root).as_posix()

    def names(self) -> list[str]:
        """Return the names of the design files there are, those in the folder itself first."""
        found: list[str] = []
        for pattern in ("*/" * depth + "*.toml" for depth in range(DEEPEST_FOLDER)):
            for path in sorted(self.root.glob(pattern)):
                hidden = any(part.startswith(".") for part in path.relative_to(self.root).parts)
                if not hidden and path.is_file() and path.resolve() == path:
                    found.append(path.relative_to(self.root).as_posix())
        return [name for name in found if Path(name).name != "pyproject.toml"][:LISTED_AT_MOST]

    def free_name(self, stem: str) -> str:
        """Return the name of a file that is not there yet."""
        names = (f"{stem}{number or ''}.toml" for number in (0, *range(2, 1000)))
        return next(name for name in names if not (self.root / name).exists())

    def read(self, name: str) -> str:
        """Return the text of a design file. Raises OutsideError and DesignFileError."""
        text = read_design_text(self._path(name))
        self._read[name] = _digest(text)
        return text

    def write(self, name: str, text: str, *, force: bool = False) -> None:
        """Write a design file, whole or not at all; what changes in it goes into its logbook, where it has one.

        Raises OutsideError; ChangedOnDiskError when the file is not as it was read or written last here, unless
        `force`; OutputError when the disk refuses.
        """
        path = self._path(name)
        before = _text_of(path) if path.exists() else ""
        if not force and path.exists() and self._read.get(name) != _digest(before):
            raise ChangedOnDiskError(name)
        write_file(path, text)
        self._read[name] = _digest(text)
        enter_changes(path, before, text, "page")

    def make(self, typed: str, text: Callable[[str], str]) -> str:
        """Write a new design file in the folder itself; return its name.

        typed: the design's name, with or without its ending; text: makes the file's text of the name. Raises
        DesignFileError for what can be no name, TakenNameError where a file is there, OutputError.
        """
        path = new_design_path(self.root, typed)
        self.write(path.name, text(path.stem))
        return path.name

    def _path(self, name: str) -> Path:
        return self.root / self.name_of(Path(name))


def _text_of(path: Path) -> str:
    # As it is read: without the mark that some editors put before it.
    return path.read_bytes().decode("utf-8-sig", errors="replace")


def _digest(text: str) -> str:
    return hashlib.sha256(text.encode()).hexdigest()


# The earliest date that a zip file can hold: same design, same bytes.
_NO_DATE = (1980, 1, 1, 0, 0, 0)


class BrokenRulesError(WirecueError):
    """The design breaks rules and is not built. Keeps a sentence for each."""

    exit_code = 1

    def __init__(self, broken: list[str]) -> None:
        super().__init__(broken)
        self.broken = broken

    def __str__(self) -> str:
        return f"This design must not be built yet: {'; '.join(self.broken)}."


def built_zip(project: Project, text: str) -> bytes:
    """Return the whole build of a design as a zip file; `text` is its design file.

    The same design gives the same bytes. Raises BrokenRulesError; CoreDiffersError and ToolchainError as
    `codegen.compiled_core.compare_core` does.
    """
    errors = [finding.text for finding in project.findings if finding.severity is Severity.ERROR]
    if errors:
        raise BrokenRulesError(errors)
    proof = project.proof
    if not proof.holds:
        raise BrokenRulesError([verdict.rule.sentence for verdict in proof.broken])
    sketch = sketch_files(project, __version__)
    with compiling(project, sketch) as waited_for:
        plan = build_plan(project, sketch, __version__, text)
        compared = compare_core(project.design, sketch, proof.walked)
        plan = waited_for().added_to(plan)
    return zipped(plan, f"{project.design.name}_build", manifest(plan, about(project, __version__, text, compared)))


def zipped(plan: Plan, folder: str, manifest: bytes) -> bytes:
    """Return the files of a plan and its manifest, below one folder, as a zip file."""
    files = {**plan.files, MANIFEST: manifest}
    packed = io.BytesIO()
    with zipfile.ZipFile(packed, "w", zipfile.ZIP_DEFLATED) as archive:
        for name, content in sorted(files.items()):
            entry = zipfile.ZipInfo(f"{folder}/{name}", _NO_DATE)
            entry.compress_type = zipfile.ZIP_DEFLATED
            entry.external_attr = 0o644 << 16
            archive.writestr(entry, content)
    return packed.getvalue()
