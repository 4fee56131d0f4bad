"""Compiles a sketch for the RP2040 against the stand-ins in this folder, and runs it in a simulator from npm."""

from __future__ import annotations

import shutil
import subprocess
from collections.abc import Iterable, Mapping, Sequence
from dataclasses import dataclass
from pathlib import Path

from codegen.toolchain import STRICT, built_once, digest_of
from tests.conftest import CACHE

HERE = Path(__file__).parent
LONGEST_RUN_S = 120

_CHIP = ("-mcpu=cortex-m0plus", "-mthumb")
_COMMON = (*_CHIP, "-Os", "-ffunction-sections", "-fdata-sections", "-DARDUINO_ARCH_RP2040", f"-I{HERE}", *STRICT)
# Dialects of the core for this chip.
_C = ("-std=gnu17",)
_CPP = ("-std=gnu++17", "-fno-exceptions", "-fno-rtti", "-fno-threadsafe-statics")


@dataclass(frozen=True)
class Event:
    """One thing that the chip did."""

    at_us: int
    kind: str
    """pin, uart, reset or end."""
    words: tuple[str, ...]


def compile_program(files: Mapping[str, str], defines: Sequence[str] = ()) -> Path:
    """Return the program of a sketch as bytes for flash. Raises CalledProcessError with the compiler's words."""
    ours = [path.read_text() for path in sorted(HERE.rglob("*")) if path.suffix in (".h", ".cpp", ".ld")]
    content = [part for item in sorted(files.items()) for part in item]

    def build(folder: Path) -> None:
        for name, text in files.items():
            (folder / name).write_text(text)
        sources = [folder / name for name in sorted(files) if Path(name).suffix in (".c", ".cpp", ".ino")]
        options = [f"-D{define}" for define in defines]
        objects = [compile_one(source, folder, options) for source in [*sources, HERE / "shim.cpp"]]
        linking = [*_CHIP, "-nostartfiles", "-Wl,--gc-sections,--fatal-warnings", "-T", str(HERE / "program.ld")]
        run("arm-none-eabi-g++", *linking, *objects, "-o", str(folder / "program.elf"))
        run("arm-none-eabi-objcopy", "-O", "binary", str(folder / "program.elf"), str(folder / "program.bin"))

    return built_once(CACHE, f"rp2040-{digest_of([*content, *defines, *ours])}", build) / "program.bin"


def compile_one(source: Path, folder: Path, options: Iterable[str] = ()) -> str:
    """Compile one file; return the object's path."""
    made = str(folder / f"{source.name}.o")
    plain = source.suffix == ".c"
    language = _C if plain else (*_CPP, "-x", "c++", *(("-include", "Arduino.h") if source.suffix == ".ino" else ()))
    compiler = "arm-none-eabi-gcc" if plain else "arm-none-eabi-g++"
    run(compiler, *_COMMON, *language, *options, "-c", str(source), "-o", made)
    return made


def run(*command: str) -> str:
    """Run a tool; return what it printed. Raises AssertionError with what it said where it fails."""
    done = subprocess.run(command, capture_output=True, text=True, check=False)
    assert done.returncode == 0, done.stderr
    return done.stdout


def simulator() -> Path:
    """Return the folder of the simulator's package, installed once, as the lock file pins it."""
    lock = (HERE / "package-lock.json").read_text()

    def build(folder: Path) -> None:
        for name in ("package.json", "package-lock.json"):
            shutil.copy(HERE / name, folder / name)
        run("npm", "ci", "--prefix", str(folder), "--ignore-scripts", "--no-audit", "--no-fund")

    return built_once(CACHE, f"npm-{digest_of([lock])}", build)


def simulate(program: Path, cues: Iterable[tuple[int, str]]) -> list[Event]:
    """Run a program through `cues`, (microseconds, what) in order, the last of which must be 'end'."""
    text = "".join(f"{at_us} {what}\n" for at_us, what in cues)
    command = ["node", str(HERE / "run.cjs"), str(simulator()), str(program)]
    done = subprocess.run(command, input=text, capture_output=True, text=True, check=False, timeout=LONGEST_RUN_S)
    assert done.returncode == 0, done.stderr
    rows = [line.split() for line in done.stdout.splitlines()]
    return [Event(int(row[0]), row[1], tuple(row[2:])) for row in rows]
