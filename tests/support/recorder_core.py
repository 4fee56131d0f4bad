"""The recorder's generated C on this machine: its portable files in a library, a board made of memory around them."""

from __future__ import annotations

import _ctypes
import ctypes
import itertools
import os
import shutil
from dataclasses import dataclass, field
from pathlib import Path

from codegen.recorder_sketch import recorder_files
from tests.support.host_core import shared_library
from timing.design.board import Board
from timing.protocol.recorder import LINE_BIT, RECORDER_PRESSES, SAMPLE_US

_BRIDGE = Path(__file__).with_name("recorder_bridge.c")
_ANSWER_ROOM = 2_000
_copies = itertools.count()


def compiled_recorder(board: Board, version: str, cache: Path) -> Path:
    """Compile the portable files of a board's recorder for this machine; return the library. Raises ToolchainError."""
    sketch = {name: text for name, text in recorder_files(board, version).items() if name.endswith((".c", ".h"))}
    files = sketch | {_BRIDGE.name: _BRIDGE.read_text(encoding="utf-8")}
    return shared_library(files, "recorder", cache)


@dataclass
class CompiledRig:
    """The recorder's C as a rig of tests.support.recorder_rigs: memory of its own, time only when it is let pass."""

    library: Path
    jumper: bool = True
    _calls: ctypes.CDLL = field(init=False)
    _looks: int = field(init=False, default=0)

    def __post_init__(self) -> None:
        copy = self.library.with_name(f"rig-{os.getpid()}-{next(_copies)}.so")
        shutil.copyfile(self.library, copy)
        try:
            self._calls = ctypes.CDLL(str(copy))
        finally:
            copy.unlink()
        self._calls.bridge_ask.argtypes = [ctypes.c_char_p, ctypes.c_void_p, ctypes.c_size_t]
        self._calls.bridge_looks.argtypes = [ctypes.c_uint32]
        self._calls.bridge_move.argtypes = [ctypes.c_uint16, ctypes.c_bool]
        self._calls.bridge_presses.restype = ctypes.c_uint8
        self._calls.bridge_power_up(self.jumper)
        self.wait(992)

    def now_us(self) -> int:
        return self._looks * SAMPLE_US

    def ask(self, line: str) -> str:
        sent = ctypes.create_string_buffer(_ANSWER_ROOM)
        self._calls.bridge_ask(line.encode("latin-1") + b"\n", sent, _ANSWER_ROOM - 1)
        return sent.value.decode("latin-1").removesuffix("\n")

    def wait(self, time_us: int) -> None:
        looks = time_us // SAMPLE_US
        self._calls.bridge_looks(looks)
        self._looks += looks

    def move(self, key: str, on: bool) -> None:
        self._calls.bridge_move(LINE_BIT[key], on)

    def pressed(self) -> set[str]:
        bits = self._calls.bridge_presses()
        return {one.key for one in RECORDER_PRESSES if bits & one.bit}

    def close(self) -> None:
        """Give its memory back; it must not be used afterwards."""
        _ctypes.dlclose(self._calls._handle)
