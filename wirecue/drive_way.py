"""The way of a sketch onto a board that shows itself as a drive: a UF2 file, made in the IDE, is copied there."""

from __future__ import annotations

import os
import string
import sys
from collections.abc import Callable, Iterator
from dataclasses import dataclass
from pathlib import Path

from bench.usb_ports import UsbPort, ports_that_come, usb_ports
from codegen.uf2 import Uf2Error, program_in
from timing.design.board import Board, Bootloader
from timing.design.text_file import UnreadableFileError, read_file, shown
from timing.errors import WirecueError
from wirecue.carried_sketch import CarriedSketch
from wirecue.flash_errors import (
    CopyFailedError,
    DriveMissingError,
    NoUf2Error,
    OtherUf2Error,
    SeveralDrivesError,
    SilentBoardError,
)

_FACTS = "INFO_UF2.TXT"
"""The file by which such a drive is known (published: the UF2 specification)."""
_LARGEST_FACTS_BYTES = 4_096
LARGEST_UF2_BYTES = 8_000_000
"""Twice the largest flash of such boards, as the format takes twice the bytes (derived)."""
_BYTES_A_S = 100_000
"""How quick such a drive takes a file (practice)."""
PORT_COMES_S = 15.0
"""Longest wait for the sketch's port after the copy (practice: drive gone, program started, port set up)."""


@dataclass(frozen=True)
class DriveWay:
    """By a copy onto the board's drive."""

    sketch: CarriedSketch
    port: str
    """Where the sketch is to answer; empty: the port that comes up after the copy."""
    drive: Path
    file: Path
    """The UF2 file."""
    ports: Callable[[], tuple[UsbPort, ...]] = usb_ports

    @property
    def commands(self) -> tuple[str, ...]:
        """What would be typed instead."""
        copy = "copy" if sys.platform == "win32" else "cp"
        return (f"{copy} {shown(self.file)} {shown(self.drive)}",)

    @property
    def steps(self) -> tuple[str, ...]:
        """What will be run, in words, in order."""
        return f"Copy {shown(self.file)} onto the drive {shown(self.drive)}", "Wait until the board starts the sketch"

    @property
    def notes(self) -> tuple[str, ...]:
        """What a person may not expect."""
        return ("The board starts the sketch by itself when the copy is whole; the drive vanishes with that.",)

    @property
    def lasts_s(self) -> float:
        """About how long the copy takes, in seconds."""
        return round(self.file.stat().st_size / _BYTES_A_S, 1) if self.file.exists() else 0.0

    def carry(self, tell: Callable[[str], None]) -> tuple[Bootloader | None, str]:
        """Copy the file; return no bootloader, and the port to ask it on. Raises FlashError, UnreadableFileError."""
        content = _checked(self.file, self.sketch)
        before = {one.name for one in self.ports()}
        tell(f"copying {len(content)} bytes onto {shown(self.drive)}")
        _copy(content, self.drive / self.file.name)
        tell("copied; waiting for the sketch's port")
        if self.port:
            return None, self.port
        come = ports_that_come(before, PORT_COMES_S, self.ports)
        if not come:
            raise SilentBoardError("its port", f"No port came up within {PORT_COMES_S:g} s after the copy.")
        return None, come[0].name


def drive_way(
    sketch: CarriedSketch,
    port: str,
    drive: Path | None,
    folders: tuple[Path, ...],
    ports: Callable[[], tuple[UsbPort, ...]] = usb_ports,
) -> DriveWay:
    """Return the way onto a board's drive. Raises FlashRefusedError: no drive, several, no file, one of another sketch.

    drive: where it is mounted; None: it is looked for. folders: where the sketch's own folder may lie.
    """
    return DriveWay(sketch, port, _drive(sketch.board, drive), _uf2(sketch, folders), ports)


def _drive(board: Board, named: Path | None) -> Path:
    if named is not None:
        if not _is_drive(named, board):
            raise DriveMissingError(board, named)
        return named
    found = [place for place in _mounted() if _is_drive(place, board)]
    if not found:
        raise DriveMissingError(board)
    if len(found) > 1:
        raise SeveralDrivesError(found)
    return found[0]


def _is_drive(place: Path, board: Board) -> bool:
    try:
        facts = read_file(place / _FACTS, _LARGEST_FACTS_BYTES)
    except WirecueError:
        return False
    return board.upload_drive.encode() in facts


def _mounted() -> Iterator[Path]:
    """Yield the places where removable drives lie."""
    if sys.platform == "win32":
        yield from (Path(f"{letter}:\\") for letter in string.ascii_uppercase[2:])
        return
    bases = ("/Volumes",) if sys.platform == "darwin" else ("/media", "/run/media", "/mnt")
    for base in map(Path, bases):
        for place in _folders(base):
            yield place
            # Per user, on most desktops.
            yield from _folders(place)


def _folders(place: Path) -> list[Path]:
    try:
        return sorted(one for one in place.iterdir() if one.is_dir())
    except OSError:
        return []


def _uf2(sketch: CarriedSketch, folders: tuple[Path, ...]) -> Path:
    """Return the UF2 file of this sketch in its folder, as the IDE exports it; raises as `drive_way`."""
    name, other = sketch.name, None
    for folder in dict.fromkeys(folders):
        for file in sorted(folder.glob(f"{name}/**/*.uf2")) if folder.is_dir() else ():
            try:
                _checked(file, sketch)
            except (OtherUf2Error, UnreadableFileError) as error:
                other = other or error
                continue
            return file
    if other is not None:
        raise other
    raise NoUf2Error(sketch)


def _checked(file: Path, sketch: CarriedSketch) -> bytes:
    """Return what is in a UF2 file of this sketch. Raises OtherUf2Error, UnreadableFileError."""
    content = read_file(file, LARGEST_UF2_BYTES)
    try:
        program = program_in(content)
    except Uf2Error as error:
        raise UnreadableFileError(file, str(error), "a UF2 file for the board's chip, as the IDE exports it") from None
    # A sketch carries the digest as the text that it answers.
    if sketch.digest.encode() not in program:
        raise OtherUf2Error(file, sketch.name, sketch.digest)
    return content


def _copy(content: bytes, to: Path) -> None:
    try:
        with to.open("wb") as file:
            file.write(content)
            file.flush()
            os.fsync(file.fileno())
    except OSError as error:
        # The board goes as soon as the last block is there, which may be before the system is done with its drive.
        if to.parent.exists():
            raise CopyFailedError(to.parent, (error.strerror or str(error)).lower()) from None
