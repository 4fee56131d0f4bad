"""The way of a sketch onto a board through its bootloader: which one, with which file, by which line of avrdude."""

from __future__ import annotations

import tempfile
from collections.abc import Callable
from dataclasses import dataclass
from pathlib import Path

from bench.bootloader import answers, plugged_in_again, sent_to_bootloader, wait_for_port
from bench.port import locked, require_present
from codegen.sketch_hex import hex_name
from codegen.tool_places import searched_places
from timing.design.board import Board, Bootloader
from wirecue.avrdude import Uploader, find_uploader, upload
from wirecue.carried_sketch import CarriedSketch
from wirecue.firmware_source import BuiltFirmware, told
from wirecue.flash_errors import NoBootloaderError, NoFirmwareError, NoSuchBootloaderError
from wirecue.projects import board_names, load_board

REPLUG_S = 20.0
"""How long it is waited for a board to be plugged in again (choice)."""
_BYTES_A_S = 3_000
"""How quick bootloaders take a sketch and give it back (measured: in the simulator, the slower of them)."""


@dataclass(frozen=True)
class BootloaderWay:
    """Through a bootloader, over the serial port."""

    sketch: CarriedSketch
    port: str
    uploader: Uploader
    loaders: tuple[Bootloader, ...]
    """Asked in this order; the first that answers takes the sketch."""
    firmware: BuiltFirmware | None
    """What a build left; None: it is compiled first."""

    @property
    def file(self) -> Path | None:
        """The file that is uploaded; None where it is compiled first."""
        return None if self.firmware is None else self.firmware.path

    @property
    def commands(self) -> tuple[str, ...]:
        """The uploader's command line for each bootloader, as it would be typed."""
        file = self.file or Path(hex_name(self.sketch.name))
        lines = (self.uploader.command(self.port, loader, self.sketch.board, file) for loader in self.loaders)
        return tuple(" ".join(map(_as_typed, line)) for line in lines)

    @property
    def steps(self) -> tuple[str, ...]:
        """What will be run, in words, in order."""
        board = self.sketch.board
        if self.firmware is not None:
            source = f"Take {told(self.firmware)}"
        else:
            source = f"Check and compile the sketch of {self.sketch.name} for the {board.title}"
        loaders = " or ".join(f"{loader.name} ({loader.baud} baud)" for loader in self.loaders)
        how = "Send the board to its bootloader" if board.native_usb else f"Ask which bootloader answers: {loaders}"
        version = ".".join(map(str, self.uploader.version))
        return source, f"{how}, on {self.port}", f"Write it with avrdude {version} and read it back"

    @property
    def notes(self) -> tuple[str, ...]:
        """What a person may not expect."""
        return () if self.firmware is None else self.firmware.notes

    @property
    def lasts_s(self) -> float:
        """About how long writing and reading back takes, in seconds."""
        return round(self.sketch.flash_bytes / _BYTES_A_S, 1)

    def carry(self, tell: Callable[[str], None]) -> tuple[Bootloader | None, str]:
        """Write the sketch and read it back; return the bootloader that took it, and the port to ask it on.

        Raises FlashError, BenchError, ToolchainError, DesignNotReadyError.
        """
        content = self._content(tell)
        require_present(self.port)
        with tempfile.TemporaryDirectory(prefix="wirecue-flash-") as folder:
            file = Path(folder) / hex_name(self.sketch.name)
            file.write_bytes(content)
            with locked(self.port):
                loader, port = self._answering(tell)
                tell(f"the {loader.name} bootloader answers on {port}")
                command = self.uploader.command(port, loader, self.sketch.board, file)
                upload(command, port, self.sketch.board, tell, _boards_with_chip)
        if self.sketch.board.native_usb:
            wait_for_port(self.port)
        return loader, self.port

    def _content(self, tell: Callable[[str], None]) -> bytes:
        """Return the program as Intel hex."""
        if self.firmware is not None:
            return self.firmware.content
        tell("compiling the sketch")
        compiled = self.sketch.compiled()
        if compiled is None:
            raise NoFirmwareError(self.sketch.name, searched_places())
        return compiled

    def _answering(self, tell: Callable[[str], None]) -> tuple[Bootloader, str]:
        """Return the bootloader that answers, and where. Raises NoBootloaderError, BenchError."""
        board = self.sketch.board
        found = self._asked(tell) or self._asked(tell)
        other = "" if found is not None or board.native_usb else self._other_board(tell)
        if found is None and not other and any(loader.watchdog_loops for loader in self.loaders):
            tell(f"no answer; pull the board's USB plug and plug it in again, within {REPLUG_S:g} s")
            found = self._asked(tell) if plugged_in_again(self.port, REPLUG_S) else None
        if found is None:
            tried = [f"{loader.name}, {loader.baud} baud" for loader in self.loaders]
            raise NoBootloaderError(self.port, board, tried, other)
        return found

    def _asked(self, tell: Callable[[str], None]) -> tuple[Bootloader, str] | None:
        """Ask each bootloader once; return the one that answers, and where."""
        board = self.sketch.board
        for loader in self.loaders:
            tell(f"asking the {loader.name} bootloader, {loader.baud} baud")
            if board.native_usb:
                port = sent_to_bootloader(self.port, board.usb_ids)
                if port is not None:
                    return loader, port
            elif answers(self.port, loader):
                return loader, self.port
        return None

    def _other_board(self, tell: Callable[[str], None]) -> str:
        """Return the titles of other boards whose bootloader answers instead; empty where none does."""
        own = {(loader.protocol, loader.baud) for loader in self.sketch.board.bootloaders}
        others: dict[tuple[str, int], tuple[Bootloader, list[str]]] = {}
        for board in _boards():
            for loader in () if board.native_usb else board.bootloaders:
                if (key := (loader.protocol, loader.baud)) not in own:
                    others.setdefault(key, (loader, []))[1].append(board.title)
        tell("no answer; asking whether it is another board")
        return next((" or ".join(titles) for loader, titles in others.values() if answers(self.port, loader)), "")


def bootloader_way(
    sketch: CarriedSketch, port: str, named: str | None, last: str, firmware: BuiltFirmware | None
) -> BootloaderWay:
    """Return the way through a board's bootloader.

    named: the only bootloader to try; None: each, that named `last` first. firmware: what is at hand compiled; None: it
    is compiled first. Raises NoSuchBootloaderError, UploaderMissingError, UploaderTooOldError.
    """
    return BootloaderWay(sketch, port, find_uploader(), _loaders(sketch.board, named, last), firmware)


def _loaders(board: Board, named: str | None, last: str) -> tuple[Bootloader, ...]:
    if named is None:
        # An old one that is asked at another speed starts the sketch, which may be half of one and end in its loop of
        # resets; to a new one it does nothing. So the old one is asked first, unless it is known.
        return tuple(sorted(board.bootloaders, key=lambda loader: (loader.name != last, not loader.watchdog_loops)))
    wanted = tuple(loader for loader in board.bootloaders if loader.name == named)
    if not wanted:
        raise NoSuchBootloaderError(named, board)
    return wanted


def _boards() -> list[Board]:
    return [load_board(name) for name in board_names()]


def _boards_with_chip(signature: str) -> str:
    """Return the titles of the boards whose chip has that signature, for people; empty where none has."""
    return " or ".join(board.title for board in _boards() if board.signature == signature)


def _as_typed(word: str) -> str:
    return f'"{word}"' if " " in word else word
