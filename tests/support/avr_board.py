"""A board with a real bootloader: its chip in the simulator, its flash in a file, its port behind a pseudo terminal.

Opening the port resets it, as the capacitor on a real board does; the flash outlives the process, as it outlives a
power cut. Bootloaders are those of Debian's package of the boards' core: as that has them built, or built here from its
source where Debian's does not fit the chip (it takes 532 of 512 bytes).
"""

from __future__ import annotations

import subprocess
import threading
from collections.abc import Iterator, Sequence
from contextlib import contextmanager
from dataclasses import dataclass, field
from pathlib import Path

from bench.avr.simulator import ChipEvent, Cue, build_runner, read_event
from codegen.toolchain import built_once, digest_of
from tests.conftest import CACHE

BOOTLOADERS = Path("/usr/share/arduino/hardware/arduino/avr/bootloaders")
_IMAGE_TAIL = 4
"""Bytes behind the flash, as bench/avr/port.h has it."""
_SMALLER = ("-mrelax", "-fno-tree-scev-cprop", "-fno-move-loop-invariants")
"""With these this compiler's new bootloader takes 502 bytes."""


@dataclass(frozen=True)
class Chip:
    """A chip, and what is burnt into it."""

    mcu: str
    flash_bytes: int
    boot_address: int
    bootloader: bytes
    """From the boot address on."""
    clock_hz: int = 16_000_000

    def blank(self) -> bytes:
        """Return the flash as it is sold: the bootloader alone."""
        return self.with_sketch(b"")

    def with_sketch(self, program: bytes) -> bytes:
        """Return the flash with a program at its beginning."""
        flash = bytearray(b"\xff" * (self.flash_bytes + _IMAGE_TAIL))
        flash[: len(program)] = program
        flash[self.boot_address : self.boot_address + len(self.bootloader)] = self.bootloader
        return bytes(flash)


def new_loader(mcu: str = "atmega328p", boot_address: int = 0x7E00, flash_bytes: int = 0x8000) -> Chip:
    """Return a chip with the new bootloader, built from Debian's source."""
    source = BOOTLOADERS / "optiboot" / "optiboot.c"
    options = (
        *("-g", "-Wall", "-Os", "-fno-inline-small-functions", "-fno-split-wide-types", "-mshort-calls", *_SMALLER),
        *(f"-mmcu={mcu}", "-DF_CPU=16000000L", "-DLED_START_FLASHES=3", "-DBAUD_RATE=115200"),
        *(f"-Wl,--section-start=.text={boot_address:#x}", f"-Wl,--section-start=.version={flash_bytes - 2:#x}"),
        *("-Wl,--relax", "-Wl,--gc-sections", "-nostartfiles", "-nostdlib"),
    )

    def build(folder: Path) -> None:
        program, raw = folder / "loader.elf", folder / "loader.bin"
        _run("avr-gcc", *options, str(source), "-o", str(program))
        sections = ("-j", ".text", "-j", ".version", "--set-section-flags", ".version=alloc,load")
        _run("avr-objcopy", *sections, "--gap-fill", "0xff", "-O", "binary", str(program), str(raw))

    made = built_once(CACHE, f"loader-{mcu}-{digest_of([*options, source.read_text('latin-1')])}", build)
    return _chip(mcu, flash_bytes, boot_address, (made / "loader.bin").read_bytes())


def old_loader() -> Chip:
    """Return a chip with the old bootloader, as Debian has it."""
    return _chip("atmega328p", 0x8000, 0x7800, _of_debian("atmega/ATmegaBOOT_168_atmega328.hex"))


def mega_loader() -> Chip:
    """Return the largest chip with its bootloader, as Debian has it."""
    return _chip("atmega2560", 0x40000, 0x3E000, _of_debian("stk500v2/stk500boot_v2_mega2560.hex"))


def _chip(mcu: str, flash_bytes: int, boot_address: int, loader: bytes) -> Chip:
    assert len(loader) <= flash_bytes - boot_address, f"{len(loader)} bytes do not fit"
    return Chip(mcu, flash_bytes, boot_address, loader)


def _of_debian(name: str) -> bytes:
    source = BOOTLOADERS / name

    def build(folder: Path) -> None:
        _run("avr-objcopy", "-I", "ihex", "-O", "binary", "--gap-fill", "0xff", str(source), str(folder / "loader.bin"))

    made = built_once(CACHE, f"loader-{digest_of([name, source.read_text('latin-1')])}", build)
    return (made / "loader.bin").read_bytes()


def _run(*command: str) -> None:
    subprocess.run(command, check=True, capture_output=True)


@dataclass
class KeptBoard:
    """A board on the desk, plugged in or not. What it does is kept in `events`."""

    chip: Chip
    image: Path
    """Its flash."""
    panel: Sequence[Cue] = ()
    """What stands at its pins."""
    uart: str = "0"
    events: list[ChipEvent] = field(default_factory=list)
    _process: subprocess.Popen[str] | None = None

    def command(self) -> list[str]:
        """Return the runner's command line."""
        chip = self.chip
        simulated = [str(build_runner(CACHE)), str(self.image), chip.mcu, str(chip.clock_hz), self.uart]
        return [*simulated, "--board", f"{chip.boot_address:x}"]

    def run(self, cues: Sequence[Cue]) -> list[ChipEvent]:
        """Give it power and carry out cues, the last of which must be `end`; nobody has its port open."""
        lines = "".join(f"{cue}\n" for cue in (*self.panel, *cues))
        done = subprocess.run(self.command(), input=lines, capture_output=True, encoding="utf-8", check=True)
        return [read_event(line) for line in done.stdout.splitlines()]

    @contextmanager
    def plugged_in(self) -> Iterator[str]:
        """Give it power and a port; yield the port's name."""
        process = subprocess.Popen(
            self.command(),
            stdin=subprocess.PIPE,
            stdout=subprocess.PIPE,
            encoding="utf-8",
            bufsize=1,
        )
        assert process.stdin is not None
        assert process.stdout is not None
        self._process = process
        process.stdin.write("".join(f"{cue}\n" for cue in (*self.panel, Cue(0, "serve"))))
        process.stdin.flush()
        before = []
        for line in process.stdout:
            if line.startswith("/dev/"):
                break
            before.append(read_event(line))
        else:
            raise AssertionError("the board has no port")
        self.events = before
        listening = threading.Thread(target=self._listen, daemon=True)
        listening.start()
        try:
            yield line.strip()
        finally:
            process.kill()
            process.wait()
            listening.join()
            process.stdin.close()
            process.stdout.close()
            self._process = None

    def order(self, what: str) -> None:
        """Ask something of it while it is plugged in, as bench/avr/port.h lists it."""
        assert self._process is not None
        assert self._process.stdin is not None
        self._process.stdin.write(f"{what}\n")
        self._process.stdin.flush()

    def resets(self) -> list[int]:
        """Return the cycles of its resets so far."""
        return [event.cycle for event in self.events if event.kind == "reset"]

    def _listen(self) -> None:
        assert self._process is not None
        assert self._process.stdout is not None
        for line in self._process.stdout:
            self.events.append(read_event(line))


def kept_board(chip: Chip, folder: Path, panel: Sequence[Cue] = ()) -> KeptBoard:
    """Return a new board, its flash in `folder`."""
    image = folder / f"flash-{chip.mcu}-{chip.boot_address:x}.bin"
    image.write_bytes(chip.blank())
    return KeptBoard(chip, image, panel)
