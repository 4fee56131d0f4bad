"""The recorder's sketch onto a second board: planned and run as a design's is, and asked who it is afterwards."""

from __future__ import annotations

import time
from collections.abc import Callable
from dataclasses import dataclass
from pathlib import Path

from bench.errors import BenchError
from bench.link import PATIENCE_S, connected
from bench.message import Identity
from bench.usb_ports import UsbPort, usb_ports
from codegen.tool_places import searched_places
from codegen.toolchain import find_tools
from timing.design.board import Bootloader
from wirecue.bootloader_way import BootloaderWay, bootloader_way
from wirecue.carried_sketch import RecorderSketch
from wirecue.drive_way import DriveWay, drive_way
from wirecue.flash_errors import NoFirmwareError, OtherDigestError, SilentBoardError
from wirecue.flashing import PlannedWay, chosen_port

RECORDER_FLASH_CAUTIONS = (
    "The board that is meant is the second one, the recorder's. What it carries now is written over: the add-on's own "
    "board is unplugged from this computer, or its port is not the one that was named.",
    "Its outputs press buttons of the machine: their plug is pulled. While it is written its pins float or half a "
    "sketch runs, and only the resistors hold them off.",
    "Its inputs may stay wired: they are isolated. Nobody welds.",
)
"""What a person must have read before a recorder is flashed."""


@dataclass(frozen=True)
class RecorderFlashPlan(PlannedWay):
    """What will be done to which board. Nothing of it has been done."""

    sketch: RecorderSketch
    way: BootloaderWay | DriveWay
    patience_s: float = PATIENCE_S
    """How long the sketch may take until it answers."""

    @property
    def cautions(self) -> tuple[str, ...]:
        """What a person must have read, and agreed to."""
        return RECORDER_FLASH_CAUTIONS

    @property
    def steps(self) -> tuple[str, ...]:
        """What will be run, in words, in order."""
        return (*self.way.steps, f"Ask the board who it is: it must answer {_carries(self.sketch)}")


@dataclass(frozen=True)
class RecorderFlashResult:
    """A recorder that was flashed, and said so itself."""

    port: str
    bootloader: Bootloader | None
    """The one that took it; None for a board that shows itself as a drive."""
    identity: Identity
    presses: int
    """Its outputs as it reads them back, a bit each; 0: nothing is pressed."""
    has_jumper: bool
    took_s: float

    @property
    def told(self) -> dict[str, int | bool]:
        """How the board is, for scripts."""
        return {"presses": self.presses, "press_jumper": self.has_jumper}

    @property
    def sentences(self) -> tuple[str, ...]:
        """What became of it, for people."""
        pressing = "Nothing is pressed" if self.presses == 0 else "NOT ALL of its outputs read back as off"
        fitted = (
            "The press jumper is fitted: it can press, once its plug is in."
            if self.has_jumper
            else (
                "The press jumper is not fitted: it only watches. Is it to press? Fit it, then plug the board in again."
            )
        )
        return (
            f"Flashed, and answered, in {self.took_s:.1f} s: the board carries {self.identity.carries}.",
            f"{pressing}; its lamp is lit, and flickers when an input changes.",
            fitted,
        )


def plan_recorder_flash(
    sketch: RecorderSketch,
    port: str | None = None,
    *,
    bootloader: str | None = None,
    drive: Path | None = None,
    folders: tuple[Path, ...] = (),
    patience_s: float | None = None,
    ports: Callable[[], tuple[UsbPort, ...]] = usb_ports,
) -> RecorderFlashPlan:
    """Return what flashing a recorder would do; nothing is opened.

    port, bootloader, drive: as wirecue.flashing.plan_flash takes them. folders: where the IDE may have put its file.
    Raises FlashRefusedError for what is missing here.
    """
    if sketch.board.upload_drive:
        way: BootloaderWay | DriveWay = drive_way(sketch, port or "", drive, folders, ports)
    else:
        chosen = chosen_port(port, sketch.board, ports())
        if find_tools() is None:
            raise NoFirmwareError(sketch.name, searched_places())
        way = bootloader_way(sketch, chosen, bootloader, "", None)
    return RecorderFlashPlan(sketch, way, patience_s or PATIENCE_S)


def run_recorder_flash(plan: RecorderFlashPlan, tell: Callable[[str], None]) -> RecorderFlashResult:
    """Flash the board of a plan whose cautions are heeded; `tell` hears a line for each step.

    Raises FlashError, whose exit code is 1, BenchError, ToolchainError.
    """
    began_s = time.monotonic()
    loader, port = plan.way.carry(tell)
    tell("waiting for the recorder to answer")
    try:
        with connected(port, plan.patience_s, follows_host=False) as (link, identity):
            if (identity.design, identity.digest) != (plan.sketch.name, plan.sketch.digest):
                raise OtherDigestError(port, identity.carries, _carries(plan.sketch))
            presses = link.query("pressed").number("presses")
            has_jumper = bool(link.query("press_jumper").number("fitted"))
    except BenchError as error:
        raise SilentBoardError(port, str(error)) from None
    return RecorderFlashResult(port, loader, identity, presses, has_jumper, time.monotonic() - began_s)


def _carries(sketch: RecorderSketch) -> str:
    return f"{sketch.name} with digest {sketch.digest}"
