"""The compilers: the AVR one compiles a sketch with the board maker's core and tells how much memory it takes.

This machine's own is found here too, for what is compared with the model. Neither can keep a build waiting for ever.
No build tool stands between: what the compiler is told can be read here, and our own files are compiled with
warnings as errors.
"""

from __future__ import annotations

import contextlib
import hashlib
import os
import shutil
import subprocess
import tempfile
import threading
from collections.abc import Callable, Iterable, Mapping, Sequence
from concurrent.futures import ThreadPoolExecutor
from dataclasses import dataclass, field
from pathlib import Path
from typing import IO

from codegen.tool_places import find_core, find_tool, searched_places
from timing.design.board import Board
from timing.errors import WirecueError
from timing.project import Footprint
from timing.system.processes import apart, end_with_children

STRICT = ("-Wall", "-Wextra", "-Werror", "-Wconversion")
"""For our own files, on top of what the core's own build process asks for."""

# As in the core's own platform.txt, so that sizes are those of its build process.
_COMMON = ("-Os", "-ffunction-sections", "-fdata-sections", "-flto")
_C = ("-std=gnu11", "-fno-fat-lto-objects")
_CPP = ("-std=gnu++11", "-fpermissive", "-fno-exceptions", "-fno-threadsafe-statics")
# One file of the core needs a constant that this compiler does not define.
_CORE_ONLY = ("-w", "-DDECIMAL_DIG=17")
_USB_PRODUCT = ("-DUSB_VID=0x2341", "-DUSB_PID=0x8036", '-DUSB_MANUFACTURER="Unknown"', '-DUSB_PRODUCT="wirecue"')

_PROGRAM = "sketch.elf"
_CORE = "core.a"

_COMPILER_TIMEOUT_S = 120.0
_MOST_SAID = 200_000
_HOST_COMPILERS = ("cc", "gcc", "clang")


class ToolchainError(WirecueError):
    """The compiler is missing, turned the sketch down, or did not come to an end. Keeps what it said."""

    def __init__(self, what: str, said: str = "") -> None:
        super().__init__(what, said)
        self.what, self.said = what, said

    def __str__(self) -> str:
        return f"{self.what}\n{self.said}".rstrip()


@dataclass(frozen=True)
class Ran:
    """What became of a program."""

    code: int
    """Its exit code; negative: the number of the signal that ended it."""
    out: str
    err: str


class Programs:
    """Programs that are run for one purpose, from one thread or several, and that end with it."""

    def __init__(self) -> None:
        self._lock = threading.Lock()
        self._running: set[subprocess.Popen[bytes]] = set()
        self._over = False

    def run(self, command: Sequence[str | Path], timeout_s: float, folder: Path | None = None) -> Ran:
        """Run `command` without input, in `folder` if named, for `timeout_s` seconds at most; nothing of it runs on.

        Raises ToolchainError where it cannot be started, does not come to an end, or `end` was called before.
        """
        name = Path(command[0]).name
        late = threading.Event()
        # Through files: a child of the program that lives on would hold a pipe open, and us with it.
        with tempfile.TemporaryFile() as out, tempfile.TemporaryFile() as err:
            process = self._started(name, command, folder, out, err)
            # A watch of its own: `wait` with a time limit looks now and then, and comes late to each small program.
            watch = threading.Timer(timeout_s, _end_late, (process, late))
            watch.daemon = True
            watch.start()
            try:
                code = process.wait()
            finally:
                watch.cancel()
                end_with_children(process)
                process.wait()
                with self._lock:
                    self._running.discard(process)
            if late.is_set():
                raise ToolchainError(f"{name} did not come to an end within {timeout_s:g} s")
            return Ran(code, _said(out), _said(err))

    def end(self) -> None:
        """End what runs; nothing more is started."""
        with self._lock:
            self._over = True
            for process in self._running:
                end_with_children(process)

    def _started(
        self, name: str, command: Sequence[str | Path], folder: Path | None, out: IO[bytes], err: IO[bytes]
    ) -> subprocess.Popen[bytes]:
        with self._lock:
            if self._over:
                raise ToolchainError(f"{name} was not started: what it was for is over")
            try:
                process = subprocess.Popen(
                    command,
                    cwd=folder,
                    stdin=subprocess.DEVNULL,
                    stdout=out,
                    stderr=err,
                    **apart(),
                )
            except OSError as error:
                raise ToolchainError(f"{name} cannot be started: {(error.strerror or str(error)).lower()}") from None
            self._running.add(process)
            return process


def run_bounded(command: Sequence[str | Path], timeout_s: float, folder: Path | None = None) -> Ran:
    """Run one program, as `Programs.run` does."""
    return Programs().run(command, timeout_s, folder)


def _end_late(process: subprocess.Popen[bytes], late: threading.Event) -> None:
    late.set()
    end_with_children(process)


def _said(stream: IO[bytes]) -> str:
    stream.seek(0)
    return stream.read(_MOST_SAID).decode("utf-8", "replace")


@dataclass(frozen=True)
class AvrTools:
    """Compiler and core."""

    gcc: Path
    core: Path
    """Folder with cores/ and variants/."""
    programs: Programs = field(default_factory=Programs)
    """What runs the tools, and ends them."""

    def tool(self, name: str) -> str:
        """Return the path of a tool beside the compiler, such as 'avr-size'."""
        return str(self.gcc.with_name(name + self.gcc.suffix))

    def run(self, command: Sequence[str]) -> str:
        """Return what the tool that `command` names printed. Raises ToolchainError with its words."""
        done = self.programs.run(command, _COMPILER_TIMEOUT_S)
        if done.code != 0:
            raise ToolchainError(f"{Path(command[0]).name} turned it down", done.err)
        return done.out


_PROBE = "int main(void) { return 0; }\n"


def makes_programs(tools: AvrTools, board: Board) -> bool:
    """Tell whether the compiler makes programs for a board at all, whatever becomes of a sketch.

    One that was copied from another system, or half installed, does not even start.
    """
    with tempfile.TemporaryDirectory(prefix="wirecue-probe-") as name:
        source = Path(name) / "probe.c"
        source.write_text(_PROBE, encoding="utf-8")
        try:
            tools.run([str(tools.gcc), f"-mmcu={board.mcu}", str(source), "-o", str(source.with_suffix(".elf"))])
        except ToolchainError:
            return False
    return True


def find_tools() -> AvrTools | None:
    """Return the AVR compiler and the board maker's core, or None where either is missing."""
    gcc, core = find_tool("avr-gcc"), find_core()
    return AvrTools(gcc, core) if gcc is not None and core is not None else None


def compiled_here(files: Mapping[str, str], board: Board, cache: Path, tools: AvrTools | None) -> Path | None:
    """Return the sketch's program, as `compile_sketch` does; None where there is no compiler for the board."""
    if tools is None or board.family != "avr":
        return None
    return compile_sketch(files, board, cache, tools=tools)


def measure(elf: Path, tools: AvrTools | None = None) -> Footprint:
    """Return flash and RAM of a compiled sketch. Raises ToolchainError."""
    tools = tools or _tools()
    report = tools.run([tools.tool("avr-size"), "-A", str(elf)])
    sizes = {
        words[0]: int(words[1])
        for line in report.splitlines()
        if len(words := line.split()) == 3 and words[0][0] == "."
    }
    flash = sum(sizes.get(section, 0) for section in (".text", ".data"))
    ram = sum(sizes.get(section, 0) for section in (".data", ".bss", ".noinit"))
    return Footprint(flash, ram, measured=True)


def compile_sketch(
    files: Mapping[str, str],
    board: Board,
    cache: Path,
    defines: Sequence[str] = (),
    *,
    tools: AvrTools | None = None,
) -> Path:
    """Compile and link a sketch; return the program as ELF, in a folder of its own below `cache`.

    files: the sketch's files by name. defines: such as "LINK_PORT=Serial1". tools: those of this machine, if not named.
    The same files are compiled once. Raises ToolchainError with the compiler's words.
    """
    tools = tools or _tools()
    options = [f"-D{define}" for define in defines]
    content = [part for item in sorted(files.items()) for part in item]
    archive = _core_archive(tools, board, cache)

    def build(folder: Path) -> None:
        for name, text in files.items():
            (folder / name).write_text(text, encoding="utf-8")
        sources = [folder / name for name in sorted(files) if Path(name).suffix in (".c", ".cpp", ".ino")]
        extra = [*STRICT, *options, *_includes(tools, board)]
        objects = [str(_compile(tools, board, source, folder, extra)) for source in sources]
        linking = ["-w", "-Os", "-flto", "-fuse-linker-plugin", "-Wl,--gc-sections", f"-mmcu={board.mcu}"]
        tools.run([str(tools.gcc), *linking, "-o", str(folder / _PROGRAM), *objects, str(archive), "-lm"])

    return built_once(cache, f"{board.type}-{digest_of([*content, *options])}", build) / _PROGRAM


def built_once(cache: Path, name: str, build: Callable[[Path], None]) -> Path:
    """Return the folder `name` below `cache`, which `build` fills if it is not there.

    It appears only when it is complete, so that two builds at once, or one that is cut short, do no harm.
    """
    folder = cache / name
    if folder.is_dir():
        return folder
    cache.mkdir(parents=True, exist_ok=True)
    making = Path(tempfile.mkdtemp(prefix=f"{name}-", dir=cache))
    try:
        build(making)
        # Fails where another build was first; that one is as good.
        with contextlib.suppress(OSError):
            making.rename(folder)
    finally:
        shutil.rmtree(making, ignore_errors=True)
    return folder


def digest_of(parts: Iterable[str]) -> str:
    """Return 16 hex digits that stand for these texts."""
    return hashlib.sha256("\0".join(parts).encode()).hexdigest()[:16]


def _tools() -> AvrTools:
    tools = find_tools()
    if tools is None:
        raise ToolchainError(
            "no AVR compiler with the boards' core here; the board maker's IDE brings both (its AVR boards installed), "
            "Debian in gcc-avr, avr-libc, arduino-core-avr\n"
            f"looked for in: {', '.join(searched_places())}"
        )
    return tools


def _core_archive(tools: AvrTools, board: Board, cache: Path) -> Path:
    core = tools.core / "cores" / "arduino"

    def build(folder: Path) -> None:
        sources = [source for source in sorted(core.iterdir()) if source.suffix in (".c", ".cpp", ".S")]
        extra = [*_CORE_ONLY, *_includes(tools, board)]
        with ThreadPoolExecutor(os.cpu_count()) as pool:
            objects = pool.map(lambda source: str(_compile(tools, board, source, folder, extra)), sources)
        tools.run([tools.tool("avr-gcc-ar"), "rcs", str(folder / _CORE), *objects])

    key = digest_of([str(tools.gcc), str(core), board.mcu, board.variant, str(board.clock_hz), *_CORE_ONLY])
    return built_once(cache, f"core-{board.type}-{key}", build) / _CORE


def _includes(tools: AvrTools, board: Board) -> list[str]:
    return [f"-I{tools.core / 'cores' / 'arduino'}", f"-I{tools.core / 'variants' / board.variant}"]


def _compile(tools: AvrTools, board: Board, source: Path, folder: Path, extra: Iterable[str]) -> Path:
    made = folder / f"{source.name}.o"
    chip = [f"-mmcu={board.mcu}", f"-DF_CPU={board.clock_hz}L", "-DARDUINO=10819", "-DARDUINO_ARCH_AVR"]
    usb = _USB_PRODUCT if board.native_usb else ()
    if source.suffix == ".ino":
        language = [*_CPP, "-x", "c++", "-include", "Arduino.h"]
    elif source.suffix == ".cpp":
        language = list(_CPP)
    elif source.suffix == ".S":
        language = ["-x", "assembler-with-cpp"]
    else:
        language = list(_C)
    tools.run([str(tools.gcc), "-c", *_COMMON, *chip, *usb, *language, *extra, str(source), "-o", str(made)])
    return made


def host_compiler() -> Path | None:
    """Return the C compiler for this machine itself, or None where there is none."""
    found = next(filter(None, map(shutil.which, _HOST_COMPILERS)), None)
    return None if found is None else Path(found)
