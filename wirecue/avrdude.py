"""avrdude, which carries a sketch through a board's bootloader: found, asked for its version, run, and understood.

Its words differ from version to version: what is gone by are words that versions 6.3 to 8 share; tried here is 7.1.
"""

from __future__ import annotations

import contextlib
import os
import queue
import re
import subprocess
import threading
import time
from collections.abc import Callable, Iterator
from dataclasses import dataclass
from pathlib import Path

from bench.errors import device_text
from codegen.tool_places import avrdude_settings, find_tool, searched_places
from codegen.toolchain import run_bounded
from timing.design.board import Board, Bootloader
from timing.system.processes import apart, end_with_children
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
QUIET_S = 8.0
"""Nothing going on for so long means that the board is gone; it would ask it again for minutes (choice: a mark of its
bars takes 2 s at the most, a fiftieth of the largest sketch at 57600 baud)."""
_LOOKS_EVERY_S = 1.0
"""How often it is looked whether the port is still there (choice)."""
_STAGES = (("Writing |", "writing"), ("Reading |", "reading back"))
_COMPLAINS = re.compile(r"not in sync|not responding|error|attempt \d")
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
    run = _Run(command, port)
    try:
        for line in run.progress():
            tell(line)
    except KeyboardInterrupt:
        run.end()
        run.wait()
        raise UploadStoppedError(port, written=run.written) from None
    code = run.wait()
    if code != 0:
        raise _reason(run, port, board, other_board)


class _Run:
    """One run of it, its words read as they come."""

    def __init__(self, command: tuple[str, ...], port: str) -> None:
        self.said = ""
        self.written = False
        """True once it has begun to write."""
        self.fell_silent = False
        """True where it was ended because nothing went on, or the port was gone."""
        # Where ports are files, a cable that is pulled takes the file away.
        self._file = Path(port) if Path(port).exists() else None
        self._process: subprocess.Popen[bytes] = subprocess.Popen(
            command,
            stdin=subprocess.DEVNULL,
            stdout=subprocess.DEVNULL,
            stderr=subprocess.PIPE,
            **apart(),
        )
        self._pieces: queue.SimpleQueue[bytes] = queue.SimpleQueue()
        self._reader = threading.Thread(target=self._read, name="avrdude", daemon=True)
        self._reader.start()

    def progress(self) -> Iterator[str]:
        """Yield a line for each stage, and for each fifth of it, until it ends, or is ended because nothing goes on."""
        told, steps, since_s = "", 0, time.monotonic()
        while True:
            with contextlib.suppress(queue.Empty):
                piece = self._pieces.get(timeout=_LOOKS_EVERY_S)
                if not piece:
                    return
                self.said = (self.said + piece.decode("utf-8", "replace"))[-_MOST_SAID:]
            stage, share = self._stage()
            self.written = self.written or stage == _STAGES[0][1]
            if (now := self._steps()) > steps:
                steps, since_s = now, time.monotonic()
            elif time.monotonic() - since_s >= QUIET_S or not self._is_there():
                self.fell_silent = True
                self.end()
                return
            line = f"{stage} {share} %"
            if stage and line != told:
                told = line
                yield line

    def _is_there(self) -> bool:
        return self._file is None or self._file.exists()

    def _stage(self) -> tuple[str, int]:
        """Return what it does now and how much of that is done, in steps of 20 percent."""
        at, mark, word = max((self.said.rfind(mark), mark, word) for mark, word in _STAGES)
        if at < 0:
            return "", 0
        bar = self.said[at + len(mark) :].partition("|")[0]
        return word, min(bar.count("#") * 100 // _BAR, 100) // 20 * 20

    def _steps(self) -> int:
        """Return how far it has come, in marks of its bars and in lines, its complaints left out."""
        lines = [line for line in self.said.splitlines() if not _COMPLAINS.search(line)]
        return self.said.count("#") + len(lines)

    def _read(self) -> None:
        stream = self._process.stderr
        assert stream is not None
        while piece := os.read(stream.fileno(), 256):
            self._pieces.put(piece)
        self._pieces.put(b"")

    def wait(self) -> int:
        """Return its exit code."""
        code = self._process.wait()
        self._reader.join()
        assert self._process.stderr is not None
        self._process.stderr.close()
        return code

    def end(self) -> None:
        """End it now."""
        end_with_children(self._process)
        self._process.wait()


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
    lost = ("not responding", "not in sync", "out of sync", "timeout", "read error")
    if run.fell_silent or any(words in said for words in lost):
        return PortLostError(port, complaints[-1] if complaints else "", written=run.written)
    return UploadFailedError(port, device_text("; ".join(complaints[-3:])), written=run.written)
