"""Opens a capture, whichever of the two kinds of file it is."""

from __future__ import annotations

import codecs
import io
import re
from pathlib import Path

from bench.capture.capture import Capture, CaptureError, TooManyChangesError
from bench.capture.changes_file import HEAD, read_changes
from bench.capture.csv_file import read_csv
from bench.capture.vcd import read_vcd
from timing.design.text_file import UnreadableFileError, open_file, shown

LARGEST_CAPTURE_BYTES = 500_000_000
"""Half a minute of samples at 1 MHz, written out as a table."""

_HEAD_BYTES = 4096
_KEYWORD = re.compile(rb"^\s*\$(date|version|comment|timescale|scope|var|enddefinitions|dumpvars)\b", re.MULTILINE)
_ALLOWED = (
    "a value change dump (VCD) or a CSV of samples, as analysers' software exports them, or what `wirecue simulate "
    "--csv` wrote, 500 MB at most"
)


def read_capture(path: Path, given_hz: float | None = None) -> Capture:
    """Return the capture in a file; `given_hz` is the sample rate where the user tells it. Raises CaptureError."""
    try:
        with open_file(path, LARGEST_CAPTURE_BYTES) as file:
            return _read(file, shown(path), given_hz)
    except UnreadableFileError as error:
        raise CaptureError(shown(path), error.found, _ALLOWED) from None
    except TooManyChangesError as error:
        raise CaptureError(shown(path), str(error), "channels that are wired to the board") from None
    except OSError as error:
        raise CaptureError(shown(path), (error.strerror or str(error)).lower(), _ALLOWED) from None


def _read(file: io.BufferedReader, source: str, given_hz: float | None) -> Capture:
    head = file.read(_HEAD_BYTES)
    file.seek(0)
    if not head.strip():
        raise CaptureError(source, "an empty file", _ALLOWED)
    if head.startswith(b"PK"):
        raise CaptureError(source, "a packed session of an analyser's own kind", f"{_ALLOWED}: export it")
    if _KEYWORD.search(head):
        return read_vcd(file, source, given_hz)
    if b"\0" in head:
        raise CaptureError(source, "a binary file", _ALLOWED)
    first = head.removeprefix(codecs.BOM_UTF8).partition(b"\n")[0].strip()
    with io.TextIOWrapper(file, encoding="utf-8-sig", errors="replace", newline=None) as text:
        return (read_changes if first == HEAD.encode() else read_csv)(text, source, given_hz)
