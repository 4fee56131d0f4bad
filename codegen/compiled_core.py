"""The compiled sequence of one design compared with the Python model, on every combination that its proof walked.

The sketch's own sequence.c is compiled with the C compiler of this machine, in a private temporary folder of which
nothing stays, and run as a program of its own, so that neither a compiler nor a core that hangs or crashes takes us
along.
"""

from __future__ import annotations

import tempfile
from collections.abc import Callable, Iterable, Mapping, Sequence
from dataclasses import dataclass
from pathlib import Path

import numpy as np
from numpy.typing import NDArray

from codegen.rendering import environment, render
from codegen.sequence_c import SequenceCore, sequence_core
from codegen.toolchain import ToolchainError, host_compiler, run_bounded
from timing.design.design import Design
from timing.errors import WirecueError
from timing.proof.exploration import (
    INPUT_FIELDS,
    NOT_ASKED,
    STATE_FIELDS,
    PassFigures,
    Walk,
    figures,
    without_cycle_search,
)
from timing.proof.state_space import NOW_US
from timing.sequence.core.scan import start
from timing.sequence.core.table import Fault, Output, Phase

Rows = NDArray[np.uint32]
Tell = Callable[[str], None]

_CLOCK_MASK = 0xFFFFFFFF
_FAMILIES = {0: "another compiler", 1: "gcc", 2: "clang"}
_NUMBERED: dict[str, type[Phase] | type[Fault]] = {"phase": Phase, "fault": Fault}
_PROGRAM = "compiled-sequence"
_AT = "comparing the compiled sequence with the model"
_COMPILE_TIMEOUT_S = 30.0
_RUN_TIMEOUT_S = 30.0
_PROBE_TIMEOUT_S = 10.0
# Asks of the compiler what the comparison asks, and nothing of ours.
_PROBE = "#include <stdbool.h>\n#include <stdint.h>\n#include <stdio.h>\nint main(void) { return 0; }\n"


@dataclass(frozen=True)
class CoreComparison:
    """What came of comparing; a difference is an error instead."""

    compiler: str | None
    """Family of the compiler: 'gcc', 'clang'; None where nothing was compared."""
    combinations: int
    why_not: str = ""
    """Where nothing was compared: the reason, in words."""

    def as_data(self) -> dict[str, object]:
        """Return it for the manifest: the same on one machine for the same design."""
        if self.compiler is None:
            return {"result": "not compared here"}
        return {"result": "compared, no difference", "compiler": self.compiler, "combinations": self.combinations}


class CoreDiffersError(WirecueError):
    """The compiled core and the model part. Keeps a combination on which they do."""

    exit_code = 1

    def __init__(self, compiler: str, example: str) -> None:
        super().__init__(compiler, example)
        self.compiler, self.example = compiler, example

    def __str__(self) -> str:
        return (
            f"the sequence as compiled with {self.compiler} does not do what the model does; nothing was written.\n"
            "The fault is not in the design: it is in this tool or in the compiler. Please report it with the design "
            f"file and this:\n{self.example}"
        )


@dataclass(frozen=True)
class CoreFields:
    """Columns of rows that go to and come from the C core of one design."""

    states: tuple[str, ...]
    """Fields of scan.State that this design keeps."""
    flags: tuple[str, ...]
    """Those of them that are true or false."""
    inputs: tuple[str, ...]
    """Fields of scan.Inputs that this design sees."""

    def names(self) -> dict[str, tuple[str, ...]]:
        """Return the names that the templates use."""
        return {"state_fields": self.states, "state_flags": self.flags, "input_fields": self.inputs}


def core_fields(core: SequenceCore) -> CoreFields:
    """Return the columns for `core`."""
    flags = (*core.flags, *(f"{button}_was" for button in core.buttons))
    weld = ("weld_since_us",) if core.keeps_weld_start else ()
    arc = ("contactor_on_us",) if core.contactor_phases else ()
    return CoreFields(
        ("phase", "fault", "since_us", "duration_us", *weld, *arc, *flags),
        flags,
        (*core.inputs, *(f"{name}_us" for name in core.times)),
    )


@without_cycle_search()
def compare_core(
    design: Design, sketch: Mapping[str, str], walked: Walk, tell: Tell = lambda _: None
) -> CoreComparison:
    """Run the core of `sketch` on every combination of `walked`, and on power-up.

    sketch: texts by name; sequence.c is compiled as it is. tell: is told how far it is.

    Where no compiler makes programs that run here, nothing is compared and the result says why. Raises
    CoreDiffersError; ToolchainError where a compiler that works turns the core down, or the core crashes or hangs.
    """
    compiler = host_compiler()
    if compiler is None:
        return _not_compared("no C compiler on this machine")
    try:
        with tempfile.TemporaryDirectory(prefix="wirecue-core-") as name:
            folder = Path(name)
            try:
                return _Core(design, sketch, walked, compiler, folder).compare(tell)
            except ToolchainError:
                if _works(compiler, folder):
                    raise
                return _not_compared(f"{compiler.name} makes no program that runs here")
    except OSError as error:
        return _not_compared(f"the temporary folder cannot be used: {(error.strerror or str(error)).lower()}")


def _not_compared(why: str) -> CoreComparison:
    return CoreComparison(None, 0, why)


def _works(compiler: Path, folder: Path) -> bool:
    """Tell whether `compiler` makes a program that runs here at all."""
    (folder / "probe.c").write_text(_PROBE, encoding="utf-8")
    try:
        _compile(compiler, folder, "probe", ["probe.c"], _PROBE_TIMEOUT_S)
        _run([folder / "probe"], _PROBE_TIMEOUT_S, folder)
    except ToolchainError:
        return False
    return True


def _compile(compiler: Path, folder: Path, program: str, sources: Sequence[str], timeout_s: float) -> None:
    # Names without the folder, so that no message shows a place that is gone when it is read.
    _run([compiler, "-std=c99", "-O1", *sources, "-o", program], timeout_s, folder)


def _run(command: Sequence[str | Path], timeout_s: float, folder: Path) -> None:
    done = run_bounded(command, timeout_s, folder)
    if done.code != 0:
        what = f"ended with {done.code}" if done.code > 0 else f"crashed (signal {-done.code})"
        raise ToolchainError(f"{_AT}: {Path(command[0]).name} {what}", done.err)


class _Core:
    """The compiled sequence of one design as a program."""

    def __init__(self, design: Design, sketch: Mapping[str, str], walked: Walk, compiler: Path, folder: Path) -> None:
        self._walked = walked
        self._fields = core_fields(sequence_core(design))
        self._folder = folder
        choices = {name: tuple(int(one) for one in walked.world.choices[name]) for name in self._fields.inputs}
        names = self._fields.names() | {"now_us": NOW_US & _CLOCK_MASK, "choices": choices, "not_asked": NOT_ASKED}
        files = {name: text for name, text in sketch.items() if name == "sequence.c" or name.endswith(".h")}
        files["compare.c"] = render(environment("common/host_core"), "compare.c.j2", names)
        for name, text in files.items():
            (folder / name).write_text(text, encoding="utf-8")
        _compile(compiler, folder, _PROGRAM, ["compare.c", "sequence.c"], _COMPILE_TIMEOUT_S)

    def compare(self, tell: Tell) -> CoreComparison:
        """Run every combination; raise CoreDiffersError for one that parts from the model."""
        done, family = 0, 0
        for block in figures(self._walked):
            family = self._compare_block(block)
            done += block.combinations
            tell(f"{done:,} of {self._walked.total:,}")
        return CoreComparison(_FAMILIES[family], done)

    def _compare_block(self, block: PassFigures) -> int:
        states, inputs = self._fields.states, self._fields.inputs
        before = block.before[:, [STATE_FIELDS.index(name) for name in states]]
        seen = block.inputs[:, [INPUT_FIELDS.index(name) for name in inputs]]
        after = block.after[:, [STATE_FIELDS.index(name) for name in states]]
        wanted = np.column_stack([after, block.outputs])
        family, started, combinations, differs = self._results(np.column_stack([before, seen, wanted]))
        self._check_start(_FAMILIES[family], started)
        if differs[0]:
            row = int(differs[0]) - 1
            met, found = differs[1 : 1 + len(inputs)], differs[1 + len(inputs) :]
            raise CoreDiffersError(_FAMILIES[family], self._parts(before[row], met, wanted[row], found))
        if combinations != self._combinations_seen(seen):
            raise ToolchainError(f"{_AT}: it gave no result for some passes")
        return family

    def _combinations_seen(self, seen: Rows) -> int:
        """Return how many combinations of the inputs that the core sees are to be run."""
        sizes = np.array([len(self._walked.world.choices[name]) for name in self._fields.inputs])
        return int(np.where(seen == NOT_ASKED, sizes, 1).prod(axis=1).sum())

    def _results(self, rows: Rows) -> tuple[int, Rows, int, Rows]:
        """Return compiler family, state at the start, number of combinations run, and the first that differs.

        That is the number of its row from 1, 0 where none differs; its inputs; state and outputs that the core gave.
        """
        here, there = self._folder / "rows", self._folder / "results"
        rows.astype(np.uint32).tofile(here)
        _run([self._folder / _PROGRAM, here, there], _RUN_TIMEOUT_S, self._folder)
        found = np.fromfile(there, np.uint32)
        states, inputs = len(self._fields.states), len(self._fields.inputs)
        if found.size != 1 + states + 1 + 1 + inputs + states + 1:
            raise ToolchainError(f"{_AT}: it gave no result for some passes")
        return int(found[0]), found[1 : 1 + states], int(found[1 + states]), found[2 + states :]

    def _check_start(self, family: str, started: Rows) -> None:
        wanted = start(self._walked.world.rig.settings, NOW_US)
        first = np.array([getattr(wanted, name) & _CLOCK_MASK for name in self._fields.states], np.uint32)
        if (started != first).any():
            difference = _difference(self._fields.states, first, started)
            raise CoreDiffersError(family, f"  at power-up\n{difference}")

    def _parts(self, before: Rows, seen: Rows, wanted: Rows, found: Rows) -> str:
        names = self._fields
        return "\n".join(
            (
                f"  at       {NOW_US & _CLOCK_MASK} us",
                f"  before   {_words(names.states, before)}",
                f"  seen     {_words(names.inputs, seen)}",
                _difference((*names.states, "outputs"), wanted, found),
            )
        )


def _difference(names: tuple[str, ...], wanted: Rows, found: Rows) -> str:
    differ = [place for place in range(len(names)) if wanted[place] != found[place]]
    where = tuple(names[place] for place in differ)
    return f"  model    {_words(where, wanted[differ])}\n  compiled {_words(where, found[differ])}"


def _words(names: tuple[str, ...], values: Iterable[int]) -> str:
    return ", ".join(f"{name} {_word(name, int(value))}" for name, value in zip(names, values, strict=True))


def _word(name: str, value: int) -> str:
    if name in _NUMBERED:
        return next((one.word for one in _NUMBERED[name] if one == value), str(value))
    if name == "outputs":
        return "+".join(output.name.lower() for output in Output if output.value & value) or "none"
    return str(value)
