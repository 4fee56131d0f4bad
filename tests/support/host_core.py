"""The host core: the generated C on the machine that runs the tests, compiled by its compiler and called in bulk.

The very files of the sketch, less what drives pins, go into a shared library. `Core` steps the sequence on arrays of
states and inputs; `MemoryBoard` runs filters, dials, link and trace around it, pass by pass, like the sketch's loop.
"""

from __future__ import annotations

import _ctypes
import ctypes
import itertools
import os
import shutil
from collections.abc import Mapping, Sequence
from dataclasses import dataclass, replace
from pathlib import Path
from typing import Any

import numpy as np
import numpy.typing as npt

from codegen.compiled_core import core_fields
from codegen.link_names import LINK_TEMPLATES
from codegen.rendering import environment
from codegen.sequence_c import sequence_core
from codegen.sketch import sketch_files
from codegen.sketch_facts import sketch_facts
from codegen.toolchain import STRICT, ToolchainError, built_once, digest_of, host_compiler, run_bounded
from timing.design.board import Board
from timing.design.design import Design
from timing.project import Project
from timing.sequence.core.scan import Inputs, State

Words = npt.NDArray[np.uint32]
Bytes = npt.NDArray[np.uint8]

_U8 = np.ctypeslib.ndpointer(np.uint8, flags="C_CONTIGUOUS")
_U16 = np.ctypeslib.ndpointer(np.uint16, flags="C_CONTIGUOUS")
_U32 = np.ctypeslib.ndpointer(np.uint32, flags="C_CONTIGUOUS")
_CLOCK_MASK = 0xFFFFFFFF
_BRIDGE = Path(__file__).with_name("bridge.c.j2")
_LIBRARY = "core.so"
_TIMEOUT_S = 120.0
_ANSWER_ROOM = 512
_copies = itertools.count()

PASS, QUESTION = 254, 255
"""What MemoryBoard.play may be told to do, beside letting a channel, by its place, take a reading."""


@dataclass(frozen=True)
class Core:
    """The compiled sequence of one design."""

    library: Path
    state_fields: tuple[str, ...]
    """Columns of a state array: fields of scan.State that this design keeps."""
    input_fields: tuple[str, ...]
    """Columns of an input array: fields of scan.Inputs that this design sees."""
    calls: ctypes.CDLL

    def step(self, states: Words, inputs: Words, now_us: Words) -> Bytes:
        """Run one pass on each row. Shapes (n, states), (n, inputs), (n,); `states` is changed in place.

        Returns the outputs bytes, shape (n,).
        """
        outputs = np.empty(len(states), np.uint8)
        self.calls.bridge_step(len(states), states, inputs, now_us, outputs)
        return outputs

    def run(self, state: Words, inputs: Words, now_us: Words) -> Bytes:
        """Run the rows of `inputs` one after the other on one `state` (changed in place); return the outputs."""
        outputs = np.empty(len(inputs), np.uint8)
        self.calls.bridge_run(len(inputs), state, inputs, now_us, outputs)
        return outputs

    def pack_states(self, states: Sequence[State]) -> Words:
        """Return states of the Python model as rows."""
        return _packed(states, self.state_fields)

    def pack_inputs(self, inputs: Sequence[Inputs]) -> Words:
        """Return inputs of the Python model as rows."""
        return _packed(inputs, self.input_fields)

    def unpack_state(self, row: Words, like: State) -> State:
        """Return `like` with the fields that this design keeps taken from `row`."""
        flags = {name for name in self.state_fields if isinstance(getattr(like, name), bool)}
        values = dict(zip(self.state_fields, (int(value) for value in row), strict=True))
        taken: dict[str, Any] = {name: bool(value) if name in flags else value for name, value in values.items()}
        return replace(like, **taken)

    def filter(self, raw: Bytes, now_us: Words, filter_us: int, bridge_us: int) -> Bytes:
        """Read a fresh contact filter row by row; return the contact as it counts."""
        closed = np.empty(len(raw), np.uint8)
        self.calls.bridge_filter(len(raw), raw, now_us, filter_us, bridge_us, closed)
        return closed

    def panel(self, contacts: npt.NDArray[np.uint16], now_us: Words) -> npt.NDArray[np.uint16]:
        """Look at the contacts of the panel pass by pass, the first as at the start; return them as they count."""
        counting = np.empty(len(contacts), np.uint16)
        self.calls.bridge_panel(len(contacts), contacts, now_us, counting)
        return counting

    def dial(self, dial: int, counts: npt.NDArray[np.uint16]) -> tuple[Words, Bytes]:
        """Read one dial (by its place among the design's dials) row by row; return times and faults."""
        time_us, fault = np.empty(len(counts), np.uint32), np.empty(len(counts), np.uint8)
        self.calls.bridge_dial(dial, len(counts), counts, time_us, fault)
        return time_us, fault

    def supply(self, counts: npt.NDArray[np.uint16], now_us: Words) -> tuple[Bytes, Bytes]:
        """Read a fresh supply sense row by row; return whether the supply counts as low, and as good."""
        low, good = np.empty(len(counts), np.uint8), np.empty(len(counts), np.uint8)
        self.calls.bridge_supply(len(counts), counts, now_us, low, good)
        return low, good

    def board(self, *, bench_link: bool, now_us: int = 0) -> MemoryBoard:
        """Return a board that has just been powered up, with memory of its own."""
        copy = self.library.with_name(f"board-{os.getpid()}-{next(_copies)}.so")
        shutil.copyfile(self.library, copy)
        try:
            return MemoryBoard(_open(copy), bench_link, now_us)
        finally:
            copy.unlink()


class MemoryBoard:
    """A board whose pins and port are memory; it runs the sketch's passes when it is told to."""

    def __init__(self, calls: ctypes.CDLL, bench_link: bool, now_us: int) -> None:
        self._calls = calls
        self._calls.bridge_power_up(bench_link, now_us & _CLOCK_MASK)

    def run_pass(self, contacts: int, now_us: int) -> int:
        """Run one pass with the contacts as the pins show them (levels.RAW_BIT); return the outputs byte."""
        return int(self._calls.bridge_pass(contacts, now_us & _CLOCK_MASK))

    def reading(self, reading: int, counts: int, now_us: int) -> None:
        """Let the converter finish a reading of one channel, by its place among the design's channels."""
        self._calls.bridge_reading(reading, counts, now_us & _CLOCK_MASK)

    def ask(self, text: str, contacts: int = 0, now_us: int = 0, passes: int = 2_000, pass_us: int = 50) -> str:
        """Send `text`, run `passes` passes from `now_us` on, and return what came back."""
        sent = ctypes.create_string_buffer(4_096)
        coming = ctypes.create_string_buffer(text.encode("latin-1"))
        self._calls.bridge_serial(coming, sent, len(sent) - 1)
        self._calls.bridge_passes(passes, contacts, now_us & _CLOCK_MASK, pass_us)
        self._calls.bridge_serial(b"", None, 0)
        return sent.value.decode("latin-1")

    def stream(
        self, text: str, passes_a_character: int, now_us: int, passes: int, contacts: int = 0, pass_us: int = 50
    ) -> str:
        """Let `text` come in at the port's own pace, through its receive buffer; return what came back.

        Run `passes` passes from `now_us` on. What the board does not take in time is lost, as on a wire.
        """
        sent = ctypes.create_string_buffer(1 << 16)
        coming = text.encode("latin-1")
        self._calls.bridge_stream(coming, len(coming), passes_a_character, sent, len(sent) - 1)
        self._calls.bridge_passes(passes, contacts, now_us & _CLOCK_MASK, pass_us)
        self._calls.bridge_serial(b"", None, 0)
        return sent.value.decode("latin-1")

    def play(self, deeds: Sequence[tuple[int, int, int]], questions: Sequence[str]) -> tuple[list[int], list[str]]:
        """Play a whole run in one call; return the outputs byte of each pass, and what each question got.

        deeds: what is done, its value, the instant. A channel's place: its reading from now on. PASS: one round of
        readings and a pass, the value being the contacts. QUESTION: the next of `questions`, with so many passes.
        """
        rows = np.array([(what, value, now_us & _CLOCK_MASK) for what, value, now_us in deeds], np.uint32)
        outputs = np.empty(len(rows), np.uint8)
        sent = ctypes.create_string_buffer((len(questions) + 1) * _ANSWER_ROOM)
        asked = "\0".join([*questions, ""]).encode("latin-1")
        self._calls.bridge_play(len(rows), rows, asked, outputs, sent, len(sent))
        passes = sum(what == PASS for what, _, _ in deeds)
        return outputs[:passes].tolist(), sent.raw.decode("latin-1").split("\0")[: len(questions)]

    def flood(self, text: str) -> None:
        """Let `text` come in through the receive buffer before the board has another pass."""
        coming = text.encode("latin-1")
        self._calls.bridge_flood(coming, len(coming))

    def close(self) -> None:
        """Give the board's memory back; it must not be used afterwards. For those who make thousands of boards."""
        _ctypes.dlclose(self._calls._handle)

    def started_by(self, cause: int) -> None:
        """Let the board have started for this reason (resets.Reset), as at its start; else it was power-up."""
        self._calls.bridge_started_by(cause)

    @property
    def lamp(self) -> bool:
        """True while the lamp is lit."""
        return bool(self._calls.bridge_lamp())

    @property
    def hung(self) -> bool:
        """True once the loop was told to hang."""
        return bool(self._calls.bridge_hung())


def compile_core(
    design: Design, board: Board, version: str, cache: Path, edited: Mapping[str, str] | None = None
) -> Core:
    """Compile the portable files of `design`'s sketch for this machine, below `cache`; the same ones only once.

    edited: texts in the place of the sketch's own, by file name. Raises ToolchainError where there is no C compiler, or
    with its words.
    """
    fields = core_fields(sequence_core(design))
    library = shared_library({**host_core_files(design, board, version), **(edited or {})}, "core", cache)
    return Core(library, fields.states, fields.inputs, _open(library))


def host_core_files(design: Design, board: Board, version: str) -> dict[str, str]:
    """Return the portable files of `design`'s sketch, by name, and bridge.c: a board made of memory around them."""
    project = Project(design, board)
    facts = sketch_facts(project, version)
    files = {name: text for name, text in sketch_files(project, version).items() if name.endswith((".c", ".h"))}
    bridge = environment("common/host_core", "common/sketch", LINK_TEMPLATES)
    names = facts.names() | core_fields(facts.core).names() | {"question": QUESTION}
    template = bridge.from_string(_BRIDGE.read_text(encoding="utf-8"))
    return files | {"bridge.c": template.render(names)}


def shared_library(files: Mapping[str, str], what: str, cache: Path) -> Path:
    """Compile C files for this machine, once below `cache`; return the library. Raises ToolchainError.

    what: that is compiled, for its folder and for people: 'core', 'recorder'.
    """
    compiler = host_compiler()
    if compiler is None:
        raise ToolchainError("no C compiler here; on Debian: gcc")

    def build(folder: Path) -> None:
        for name, text in files.items():
            (folder / name).write_text(text, encoding="utf-8")
        sources = [str(folder / name) for name in sorted(files) if name.endswith(".c")]
        options = ["-std=c99", "-O2", "-shared", "-fPIC", *STRICT, "-Wpedantic"]
        done = run_bounded([compiler, *options, *sources, "-o", folder / _LIBRARY], _TIMEOUT_S)
        if done.code != 0:
            raise ToolchainError(f"the C compiler turned the {what} down", done.err)

    content = [part for item in sorted(files.items()) for part in item]
    return built_once(cache, f"host-{what}-{digest_of(content)}", build) / _LIBRARY


def _open(library: Path) -> ctypes.CDLL:
    calls = ctypes.CDLL(str(library))
    size = ctypes.c_size_t
    signatures: dict[str, tuple[list[Any], Any]] = {
        "bridge_step": ([size, _U32, _U32, _U32, _U8], None),
        "bridge_run": ([size, _U32, _U32, _U32, _U8], None),
        "bridge_filter": ([size, _U8, _U32, ctypes.c_uint32, ctypes.c_uint32, _U8], None),
        "bridge_panel": ([size, _U16, _U32, _U16], None),
        "bridge_dial": ([ctypes.c_uint8, size, _U16, _U32, _U8], None),
        "bridge_supply": ([size, _U16, _U32, _U8, _U8], None),
        "bridge_power_up": ([ctypes.c_bool, ctypes.c_uint32], None),
        "bridge_serial": ([ctypes.c_char_p, ctypes.c_void_p, size], None),
        "bridge_flood": ([ctypes.c_char_p, size], None),
        "bridge_stream": ([ctypes.c_char_p, size, size, ctypes.c_void_p, size], None),
        "bridge_reading": ([ctypes.c_uint8, ctypes.c_uint16, ctypes.c_uint32], None),
        "bridge_pass": ([ctypes.c_uint16, ctypes.c_uint32], ctypes.c_uint8),
        "bridge_passes": ([size, ctypes.c_uint16, ctypes.c_uint32, ctypes.c_uint32], None),
        "bridge_play": ([size, _U32, ctypes.c_char_p, _U8, ctypes.c_void_p, size], None),
        "bridge_started_by": ([ctypes.c_uint8], None),
        "bridge_lamp": ([], ctypes.c_bool),
        "bridge_hung": ([], ctypes.c_bool),
    }
    for name, (takes, gives) in signatures.items():
        # A design without dials, supply sense or panel contacts has no such call.
        if hasattr(calls, name):
            call = getattr(calls, name)
            call.argtypes, call.restype = takes, gives
    return calls


def _packed(items: Sequence[State] | Sequence[Inputs], names: tuple[str, ...]) -> Words:
    rows = [[int(getattr(item, name)) & _CLOCK_MASK for name in names] for item in items]
    return np.array(rows, np.uint32).reshape(len(items), len(names))
