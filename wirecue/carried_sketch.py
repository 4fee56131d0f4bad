"""What can be carried onto a board: the sketch of a design, or the recorder's, with all that the ways ask of it."""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass
from functools import cached_property
from typing import Protocol

from codegen.recorder_sketch import recorder_digest, recorder_files
from codegen.sketch import sketch_files
from codegen.sketch_hex import hex_of
from codegen.toolchain import compiled_here, find_tools
from timing.design.board import Board
from timing.project import Project
from timing.protocol.recorder import RECORDER
from timing.system.folders import cache_folder
from wirecue import __version__
from wirecue.firmware import compiling
from wirecue.flash_errors import require_sound

USUAL_RECORDER_FLASH_BYTES = 8_192
"""What a recorder takes at the most, for how long it is written (derived: a test holds its sketch to it)."""


class CarriedSketch(Protocol):
    """One sketch for one board."""

    @property
    def name(self) -> str:
        """What it calls itself; its folder's name, and its file's."""

    @property
    def digest(self) -> str:
        """What it answers behind its name."""

    @property
    def board(self) -> Board:
        """What it is made for."""

    @property
    def flash_bytes(self) -> int:
        """About what it takes of the flash."""

    @property
    def made_by(self) -> str:
        """The command that makes its folder."""

    @property
    def folder(self) -> str:
        """Where that puts the sketch."""

    @property
    def flashed_by(self) -> str:
        """The command that carries it."""

    def compiled(self) -> bytes | None:
        """Return it as Intel hex; None where no compiler is. Raises ToolchainError, DesignNotReadyError."""


@dataclass(frozen=True)
class DesignSketch:
    """The sketch of a design."""

    project: Project

    @property
    def name(self) -> str:
        """The design's name."""
        return self.project.design.name

    @property
    def digest(self) -> str:
        """The design's digest."""
        return self.project.design.digest()

    @property
    def board(self) -> Board:
        """The design's board."""
        return self.project.board

    @property
    def flash_bytes(self) -> int:
        """As estimated, or measured."""
        return self.project.footprint.flash_bytes

    @property
    def made_by(self) -> str:
        """The build."""
        return f"wirecue build {self.name}.toml"

    @property
    def folder(self) -> str:
        """Below the build."""
        return f"{self.name}_build/{self.name}"

    @property
    def flashed_by(self) -> str:
        """As it is usually typed."""
        return f"wirecue flash {self.name}.toml"

    def compiled(self) -> bytes | None:
        """Compile it, and refuse a design that does not fit its board once it is measured."""
        with compiling(self.project, sketch_files(self.project, __version__)) as waited_for:
            made = waited_for()
        require_sound(made.project)
        return made.hex


@dataclass(frozen=True)
class RecorderSketch:
    """The recorder's sketch for a board."""

    board: Board
    design: str
    """The design that it is to witness; the sketch does not know it, the command that makes its folder does."""

    @property
    def name(self) -> str:
        """The recorder's."""
        return RECORDER

    @cached_property
    def digest(self) -> str:
        """The sketch's own."""
        return recorder_digest(self.board, __version__)

    @property
    def flash_bytes(self) -> int:
        """At the most."""
        return USUAL_RECORDER_FLASH_BYTES

    @property
    def made_by(self) -> str:
        """The command of its folder."""
        return f"wirecue recorder {self.design}.toml"

    @property
    def folder(self) -> str:
        """Below that folder."""
        return f"{self.design}_recorder/{self.name}"

    @property
    def flashed_by(self) -> str:
        """As it is usually typed."""
        return f"wirecue flash {self.design}.toml --recorder"

    def files(self) -> Mapping[str, str]:
        """Return the sketch."""
        return recorder_files(self.board, __version__)

    def compiled(self) -> bytes | None:
        """Compile it where a compiler is."""
        tools = find_tools()
        program = compiled_here(self.files(), self.board, cache_folder(), tools)
        return None if tools is None or program is None else hex_of(program, tools)
