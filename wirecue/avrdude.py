"""avrdude, which carries a sketch through a board's bootloader: found, asked for its version, run, and understood.

Its words differ from version to version: what is gone by are words that versions 6.3 to 8 share; tried here is 7.1.
"""

from __future__ import annotations

import re
import subprocess
import threading
from collections.abc import Callable, Iterator
from dataclasses import dataclass
from pathlib import Path
from typing import IO

from bench.errors import device_text
from codegen.tool_places import avrdude_settings, find_tool, searched_places
from codegen.toolchain import run_bounded
from timing.design.board import Board, Bootloader
from wirecue.flash_errors import (
    FlashError,
    OtherChipError,
    PortLostError,
    UploaderMissingError,
    UploaderTooOldError,
    UploadFailedError,
    UploadStoppedError,
    VerifyError,
)

LEAST_VERSION = (6, 3)
"""That of the board maker's older IDE (published: its boards index); older ones were never tried by anybody here."""
_VERSION = re.compile(r"version (\d+)\.(\d+)")
_ANSWERS_WITHIN_S = 20.0
LONGEST_UPLOAD_S = 180.0
"""The largest sketch through the slowest bootloader takes half of it (derived: 250 kB at 57600 baud, and back)."""
_STAGES = {"Writing |": "writing", "Reading |": "reading back"}
_SIGNATURE = re.compile(r"[Dd]evice signature = 0x([0-9a-fA-F]{6})")
_MOST_SAID = 20_000
_BAR = 50
"""Marks of a whole bar of progress."""


@dataclass(frozen=True)
class Uploader:
    """The avrdude of this machine."""

    path: Path
    settings: Path | None
    """Its list of chips, where it does not find that by itself."""
    version: tuple[int, int]

    def command(self, port: str, loader: Bootloader, board: Board, file: Path) -> tuple[str, ...]:
        """Return the command line that writes a file and reads it back. Nothing is erased, no fuse is touched."""
        settings = () if self.settings is None else ("-C", str(self.settings))
        speaks = ("-c", loader.protocol, "-p", board.mcu, "-P", port, "-b", str(loader.baud))
        return (str(self.path), *settings, *speaks, "-D", "-U", f"flash:w:{file}:i")


def find_uploader() -> Uploader:
    """Return the avrdude of this machine. Raises UploaderMissingError, UploaderTooOldError, ToolchainError."""
    path = find_tool("avrdude")
    if path is None:
        raise UploaderMissingError(searched_places())
    # Asked for its usage, every version states itself.
    said = run_bounded((path, "-?"), _ANSWERS_WITHIN_S)
    found = _VERSION.search(said.err + said.out)
    version = (int(found[1]), int(found[2])) if found else (0, 0)
    if version < LEAST_VERSION:
        told = f"{version[0]}.{version[1]}" if found else "unknown"
        raise UploaderTooOldError(path, told, ".".join(map(str, LEAST_VERSION)))
    return Uploader(path, avrdude_settings(path), version)


def upload(
    command: tuple[str, ...], port: str, board: Board, tell: Callable[[str], None], other_board: Callable[[str], str]
) -> None:
    """Run an upload; `tell` hears how far it is. Raises FlashError, which says whether anything was written.

    other_board: names the boards with a signature, for the words of an error.
    """
    run = _Run(command)
    try:
        for line in run.progress():
            tell(line)
    except KeyboardInterrupt:
        run.end()
        raise UploadStoppedError(port, written=run.written) from None
    code = run.wait()
    if code != 0:
        raise _reason(run, port, board, other_board)


class _Run:
    """One run of it, its words read as they come."""

    def __init__(self, command: tuple[str, ...]) -> None:
        self.said = ""
        self.written = False
        """True once it has begun to write."""
        self._process = subprocess.Popen(
            command, stdin=subprocess.DEVNULL, stdout=subprocess.DEVNULL, stderr=subprocess.PIPE
        )
        self._watch = threading.Timer(LONGEST_UPLOAD_S, self._process.kill)
        self._watch.daemon = True
        self._watch.start()

    def progress(self) -> Iterator[str]:
        """Yield a line for each stage, and for each fifth of it."""
        told = ""
        assert self._process.stderr is not None
        for piece in _pieces(self._process.stderr):
            self.said = (self.said + piece)[-_MOST_SAID:]
            stage, share = self._stage()
            self.written = self.written or stage == "writing"
            line = f"{stage} {share} %" if stage else ""
            if line and line != told:
                told = line
                yield line

    def _stage(self) -> tuple[str, int]:
        """Return what it does now and how much of that is done, in steps of 20 percent."""
        at, mark = max((self.said.rfind(mark), mark) for mark in _STAGES)
        if at < 0:
            return "", 0
        bar = self.said[at + len(mark) :].partition("|")[0]
        return _STAGES[mark], min(bar.count("#") * 100 // _BAR, 100) // 20 * 20

    def wait(self) -> int:
        """Return its exit code."""
        code = self._process.wait()
        self._watch.cancel()
        return code

    def end(self) -> None:
        """End it now."""
        self._process.kill()
        self.wait()


def _pieces(stream: IO[bytes]) -> Iterator[str]:
    while piece := stream.read1(256) if hasattr(stream, "read1") else stream.read(256):
        yield piece.decode("utf-8", "replace")


def _reason(run: _Run, port: str, board: Board, other_board: Callable[[str], str]) -> FlashError:
    """Return what a failure means, told by the words that it left."""
    said = run.said.lower()
    signature = _SIGNATURE.search(run.said)
    if "expected signature" in said and signature is not None:
        found = signature[1].upper()
        return OtherChipError(port, found, other_board(found), board)
    complaints = [line.strip() for line in run.said.splitlines() if line.startswith("avrdude") and "done" not in line]
    if "verification" in said and ("mismatch" in said or "verification error" in said):
        mismatch = next(line for line in complaints if "verif" in line.lower())
        return VerifyError(port, mismatch)
    if any(words in said for words in ("not responding", "not in sync", "out of sync", "timeout", "read error")):
        return PortLostError(port, complaints[-1] if complaints else "", written=run.written)
    return UploadFailedError(port, device_text("; ".join(complaints[-3:])), written=run.written)
