"""The firmware on this machine: the memory that it takes, and boards made of software that run it or its model."""

from __future__ import annotations

import contextlib
from collections.abc import Callable, Iterator, Mapping
from concurrent.futures import ThreadPoolExecutor
from dataclasses import dataclass
from typing import TYPE_CHECKING, Literal

from timing.design.text_file import shown
from timing.errors import WirecueError
from timing.system.folders import cache_folder

if TYPE_CHECKING:
    from bench.avr.pair import MachineBetween, Pair
    from bench.avr.simulator import Simulator
    from bench.feeder_model.hidden import HiddenMachine
    from codegen.plan import Plan
    from codegen.toolchain import AvrTools
    from timing.design.board import Board
    from timing.project import Footprint, Project
    from timing.protocol.target import Target


@dataclass(frozen=True)
class Compiled:
    """What came of compiling a sketch, where it could be."""

    project: Project
    """With the memory that the sketch takes, as measured where it was compiled."""
    hex: bytes | None = None
    """The program as Intel hex; None where it was not compiled here."""
    why_not: str = ""
    """Where a compiler is there and it was not compiled: the reason, in words."""

    def added_to(self, plan: Plan) -> Plan:
        """Return the plan of a build with the program in it, where there is one."""
        from codegen.sketch_hex import hex_name

        return plan if self.hex is None else plan.with_file(hex_name(self.project.design.name), self.hex)


@contextlib.contextmanager
def compiling(project: Project, sketch: Mapping[str, str]) -> Iterator[Callable[[], Compiled]]:
    """Compile `sketch` beside what is done meanwhile; yield what waits for it.

    That raises codegen.toolchain.ToolchainError. Whoever leaves without asking ends the compiler. Compiled files are
    kept in the user's cache folder.
    """
    from codegen.toolchain import find_tools

    tools = find_tools()
    with ThreadPoolExecutor(max_workers=1) as beside:
        compiled = beside.submit(_compiled, project.board, sketch, tools)

        def waited_for() -> Compiled:
            # Put onto the project only now: what was worked out of it meanwhile is kept.
            memory, program, why_not = compiled.result()
            return Compiled(project if memory is None else project.with_footprint(memory), program, why_not)

        try:
            yield waited_for
        finally:
            if tools is not None:
                tools.programs.end()


def _compiled(
    board: Board, sketch: Mapping[str, str], tools: AvrTools | None
) -> tuple[Footprint | None, bytes | None, str]:
    """Return memory and program of a sketch, as far as it can be compiled here, and why it was not."""
    from codegen.sketch_hex import hex_of
    from codegen.toolchain import ToolchainError, compiled_here, makes_programs, measure

    try:
        program = compiled_here(sketch, board, cache_folder(), tools)
        if tools is None or program is None:
            return None, None, ""
        return measure(program, tools), hex_of(program, tools), ""
    except ToolchainError:
        if tools is None or makes_programs(tools, board):
            raise
        return None, None, f"{shown(tools.gcc)} makes no program here"


VirtualKind = Literal["model", "avr"]
"""model: the sequence's model behind a serial link; avr: the sketch, compiled, on a simulated AVR."""
NO_PORT: Mapping[VirtualKind, str] = {
    "model": "none, a virtual board: the model",
    "avr": "none, a virtual board: the firmware in a simulator",
}
"""What a report says in place of a port."""


class NoSimulatorError(WirecueError):
    """There is no simulator here for the microcontroller of this board."""

    def __init__(self, title: str) -> None:
        super().__init__(title)
        self.title = title

    def __str__(self) -> str:
        return f"{self.title} has no simulator here; the virtual board tests the model."


def why_not_simulated(board: Board) -> str:
    """Return why the firmware of a board cannot run in a simulator here; empty where nothing is seen to be missing."""
    from codegen.toolchain import find_tools, host_compiler

    if board.family != "avr":
        return str(NoSimulatorError(board.title))
    if find_tools() is None:
        return "There is no compiler for the board here; on Debian: apt install gcc-avr avr-libc arduino-core-avr"
    if host_compiler() is None:
        return "There is no C compiler here, with which the simulator is made; on Debian: apt install gcc libsimavr-dev"
    return ""


@contextlib.contextmanager
def virtual_board(kind: VirtualKind, project: Project, target: Target, say: Callable[[str], None]) -> Iterator[str]:
    """Start a board of software and yield the address of its serial port; `say` is told what takes long.

    Raises NoSimulatorError; ToolchainError or SimulatorError, which say what is missing, for the kind `avr`.
    """
    started = _modelled(target) if kind == "model" else _simulated(project, target, say)
    with started as address:
        yield address


@contextlib.contextmanager
def _modelled(target: Target) -> Iterator[str]:
    from bench.virtual.board import VirtualBoard
    from bench.virtual.serving import behind_port
    from wirecue import __version__

    with behind_port(VirtualBoard(target, __version__)) as address:
        yield address


@contextlib.contextmanager
def _simulated(project: Project, target: Target, say: Callable[[str], None]) -> Iterator[str]:
    from bench.avr.simulator import Wiring

    simulator = _simulator(project, say)
    panel = Wiring(project.design, project.board).quiet(_readings(target), bench_link=True)
    with simulator.behind_port(panel) as address:
        yield address


def _simulator(project: Project, say: Callable[[str], None], sketch: Mapping[str, str] | None = None) -> Simulator:
    from bench.avr.simulator import UART_DEFINES, Simulator, build_runner
    from codegen.sketch import sketch_files
    from codegen.toolchain import compile_sketch
    from wirecue import __version__

    board, cache = project.board, cache_folder()
    if board.family != "avr":
        raise NoSimulatorError(board.title)
    say("compiling the sketch and the simulator's runner ...")
    files = sketch_files(project, __version__) if sketch is None else sketch
    program = compile_sketch(files, board, cache, UART_DEFINES[board.native_usb])
    return Simulator(build_runner(cache), program, board)


def _readings(target: Target) -> dict[str, int]:
    """Return what stands at the analog channels of a panel at rest."""
    from bench.forcing import setting_counts

    counts = {name: setting_counts(target, name) for name in target.scales}
    return counts if target.supply is None else counts | {"supply": target.supply.good}


PAIR_BOOTED_US = 700_000
"""True time by which both boards of a pair have started, and the add-on is past its hold-off (derived: 500 ms for the
supply, at most 100 ms for open contacts, and starting)."""
SIMULATED_RECORDER = "nano"
"""The board that is the recorder where nobody says which (choice: the cheapest that its papers name)."""


@contextlib.contextmanager
def simulated_pair(
    project: Project,
    target: Target,
    machine: MachineBetween,
    say: Callable[[str], None],
    *,
    recorder: str = SIMULATED_RECORDER,
    sketch: Mapping[str, str] | None = None,
    bench_link: bool = True,
    board_ppm: int = 0,
    recorder_ppm: int = 0,
) -> Iterator[Pair]:
    """Compile both sketches and start them in one simulator, `machine` between; yield the pair once both have started.

    recorder: type of its board. sketch: the add-on's, where it is not the project's. board_ppm, recorder_ppm: by so
    much each crystal is fast. `behind_ports` of the pair gives it two addresses. Raises NoSimulatorError,
    ToolchainError, SimulatorError.
    """
    from bench.avr.pair import started_pair
    from bench.avr.paired_board import addon_board, recorder_board
    from bench.avr.simulator import UART_DEFINES, Simulator, Wiring
    from codegen.recorder_sketch import recorder_files
    from codegen.toolchain import compile_sketch
    from wirecue import __version__
    from wirecue.projects import load_board

    board = load_board(recorder)
    if board.family != "avr":
        raise NoSimulatorError(board.title)
    simulator = _simulator(project, say, sketch)
    files = recorder_files(board, __version__)
    program = compile_sketch(files, board, cache_folder(), UART_DEFINES[board.native_usb])
    addon = addon_board(
        simulator,
        Wiring(project.design, project.board),
        _readings(target),
        bench_link=bench_link,
        fast_ppm=board_ppm,
    )
    watcher = recorder_board(Simulator(simulator.runner, program, board), board.recorder_pins, fast_ppm=recorder_ppm)
    with started_pair(addon, watcher, machine) as pair:
        pair.run_until(PAIR_BOOTED_US)
        yield pair


@contextlib.contextmanager
def paired_boards(
    kind: VirtualKind, project: Project, target: Target, hidden: HiddenMachine, say: Callable[[str], None]
) -> Iterator[tuple[str, str]]:
    """Start an add-on and a recorder of software with a machine between them; yield the addresses of their ports.

    hidden: the machine. Raises as `virtual_board`.
    """
    if kind == "model":
        from bench.virtual.pair import VirtualPair, virtual_pair
        from wirecue import __version__

        with virtual_pair(VirtualPair(target, hidden, version=__version__)) as addresses:
            yield addresses
        return
    from bench.feeder_model.model import FeederModel

    with (
        simulated_pair(project, target, FeederModel(hidden, target.fitted), say) as pair,
        pair.behind_ports() as addresses,
    ):
        yield addresses
