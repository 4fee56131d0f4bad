"""A design onto its board: a plan that says what will be run and what to heed, and the run, which tells how far it is.

Terminal and page alike make a plan, show it and its cautions, ask, and then run it.
"""

from __future__ import annotations

import time
from collections.abc import Callable, Mapping
from dataclasses import dataclass, replace
from pathlib import Path

from bench.errors import BenchError
from bench.link import PATIENCE_S, connected
from bench.message import Identity
from bench.status import Status, ask_status, carries
from bench.usb_ports import UsbPort, usb_ports
from codegen.tool_places import searched_places
from codegen.toolchain import find_tools
from timing.design.board import Board, Bootloader
from timing.design.text_file import shown
from timing.logbook.entry import EntryKind, EntryValue
from timing.project import Project
from timing.protocol.target import OUTPUTS_MASK
from timing.protocol.target_of_design import target_of
from wirecue.bootloader_way import BootloaderWay, bootloader_way
from wirecue.carried_sketch import DesignSketch
from wirecue.design_sides import build_folders
from wirecue.drive_way import DriveWay, drive_way
from wirecue.firmware_source import BuiltFirmware, built_firmware
from wirecue.flash_errors import (
    NoBoardError,
    NoFirmwareError,
    OtherBoardError,
    OtherDigestError,
    SeveralPortsError,
    SilentBoardError,
    require_sound,
)
from wirecue.logbooks import enter, latest_entry
from wirecue.projects import board_names, load_board

FLASH_CAUTIONS = (
    "The feeder plug of the add-on (P1) is pulled; USB alone feeds the board (or goes through a USB isolator). COMMON "
    "is not isolated from the feeder's 24 VAC: with P1 in, a grounded computer can short the winding through it.",
    "The board restarts, and while it is written its pins float or half a sketch runs: only the resistors hold the "
    "outputs off. No load is connected that must not move.",
    "Nobody welds, and the board is not in a feeder that is switched on.",
    "What the board carries now is written over; `wirecue status` tells what that is.",
)
"""What a person must have read before a board is flashed."""
AFTERWARDS = (
    "Nothing was switched: the board starts in hold-off with its outputs off, and stays so until trigger and buttons "
    "are seen open.",
    "Test it on the bench before it goes near the feeder. P1 stays pulled as long as USB is plugged in, unless that "
    "goes through an isolator.",
)
"""What a person must know of a board that was just flashed."""


class PlannedWay:
    """What a plan says of its way."""

    way: BootloaderWay | DriveWay

    @property
    def port(self) -> str:
        """The board's port; empty where that comes up only after a copy onto its drive."""
        return self.way.port

    @property
    def commands(self) -> tuple[str, ...]:
        """The command lines, as they would be typed: one for each bootloader that may be there."""
        return self.way.commands

    @property
    def notes(self) -> tuple[str, ...]:
        """What a person may not expect."""
        return self.way.notes

    @property
    def lasts_s(self) -> float:
        """About how long writing takes, in seconds, reading back included."""
        return self.way.lasts_s


@dataclass(frozen=True)
class FlashPlan(PlannedWay):
    """What will be done to which board. Nothing of it has been done."""

    design: Path
    project: Project
    way: BootloaderWay | DriveWay
    patience_s: float = PATIENCE_S
    """How long the sketch may take until it answers."""

    @property
    def cautions(self) -> tuple[str, ...]:
        """What a person must have read, and agreed to."""
        return FLASH_CAUTIONS

    @property
    def steps(self) -> tuple[str, ...]:
        """What will be run, in words, in order."""
        carried = f"{self.project.design.name} with digest {self.project.design.digest()}"
        return (*self.way.steps, f"Ask the board what it carries: it must answer {carried}")


@dataclass(frozen=True)
class FlashResult:
    """A board that was flashed, and said so itself."""

    port: str
    """Where the sketch answers."""
    bootloader: Bootloader | None
    """The one that took it; None for a board that shows itself as a drive."""
    identity: Identity
    status: Status
    outputs: int
    """The outputs as the board reads them back, a bit each; 0: all off."""
    took_s: float

    @property
    def told(self) -> dict[str, int | str]:
        """How the board is, for scripts."""
        return {"outputs": self.outputs, "phase": self.status.phase.word}

    @property
    def sentences(self) -> tuple[str, ...]:
        """What became of it, for people."""
        loops = (
            "Its bootloader is the old one: after a watchdog reset it loops until the power is cut, outputs off, LED "
            "blinking fast. Burn the new one before the board goes into the feeder (see docs/flashing.md); until then, "
            "switch a feeder off and on again that is dead after a fault.",
        )
        off = "Its outputs read back as off" if self.outputs == 0 else "NOT ALL of its outputs read back as off"
        return (
            f"Flashed, and answered, in {self.took_s:.1f} s: the board carries {self.identity.carries}.",
            f"{off}; it is in {self.status.phase.word}.",
            *(loops if self.bootloader is not None and self.bootloader.watchdog_loops else ()),
            *AFTERWARDS,
        )


def plan_flash(
    design: Path,
    project: Project,
    port: str | None = None,
    *,
    bootloader: str | None = None,
    drive: Path | None = None,
    folders: tuple[Path, ...] = (),
    patience_s: float | None = None,
    ports: Callable[[], tuple[UsbPort, ...]] = usb_ports,
) -> FlashPlan:
    """Return what flashing a design would do; nothing is opened.

    port: None where the only one that is plugged in is meant. bootloader: name of the only one to try; None: all that
    such boards have, the one that answered last time first. drive: where a board shows itself that is a drive; None:
    it is looked for. folders: of builds, looked at before the usual ones. Raises FlashRefusedError
    for what is missing here, DesignNotReadyError.
    """
    require_sound(project)
    sketch = DesignSketch(project)
    if project.board.upload_drive:
        builds = (*folders, *build_folders(design))
        way: BootloaderWay | DriveWay = drive_way(sketch, port or "", drive, builds, ports)
    else:
        chosen = chosen_port(port, project.board, ports())
        firmware = _at_hand(project, design, folders)
        way = bootloader_way(sketch, chosen, bootloader, _last_loader(design), firmware)
    return FlashPlan(design, project, way, patience_s or PATIENCE_S)


def run_flash(plan: FlashPlan, tell: Callable[[str], None]) -> FlashResult:
    """Flash the board of a plan whose cautions are heeded; `tell` hears a line for each step.

    It is entered in the design's logbook, where there is one, as soon as it was read back whole. Raises FlashError,
    whose exit code is 1, BenchError, ToolchainError, DesignNotReadyError.
    """
    began_s = time.monotonic()
    loader, port = plan.way.carry(tell)
    tell("waiting for the sketch to answer")
    target = target_of(plan.project)
    try:
        with connected(port, plan.patience_s, follows_host=False) as (link, identity):
            status = ask_status(link, identity, target)
            outputs = link.query("outputs").number("outputs") & OUTPUTS_MASK
    except BenchError as error:
        _enter(plan, port, loader, {"answer": "none"})
        raise SilentBoardError(port, str(error)) from None
    _enter(plan, port, loader, {"digest": identity.digest, "version": identity.version})
    if not carries(identity, target) or identity.edited:
        wanted = replace(identity, design=target.design, digest=target.digest, edited=False)
        raise OtherDigestError(port, identity.carries, wanted.carries)
    return FlashResult(port, loader, identity, status, outputs, time.monotonic() - began_s)


def _at_hand(project: Project, design: Path, folders: tuple[Path, ...]) -> BuiltFirmware | None:
    """Return what a build left, where it may be taken; None: it is compiled first. Raises NoFirmwareError."""
    firmware = built_firmware(project, design, folders)
    if find_tools() is not None:
        return firmware if firmware is not None and firmware.current else None
    if firmware is None:
        raise NoFirmwareError(project.design.name, searched_places())
    return firmware


def chosen_port(named: str | None, board: Board, present: tuple[UsbPort, ...]) -> str:
    """Return the port to use. Raises what says that there is none, more than one, or one of another board."""
    if named is None:
        if not present:
            raise NoBoardError
        own = [one for one in present if one.usb_id in board.usb_ids]
        choice = own if len(own) == 1 else present
        if len(choice) > 1:
            raise SeveralPortsError(present)
        named = choice[0].name
    usb_id = next((one.usb_id for one in present if one.name == named), "")
    others = [other.title for other in map(load_board, board_names()) if usb_id in other.usb_ids]
    if others and usb_id not in board.usb_ids:
        raise OtherBoardError(named, " or ".join(others), board)
    return named


def _last_loader(design: Path) -> str:
    latest = latest_entry(design, EntryKind.FLASH)
    return "" if latest is None else str(latest.values.get("bootloader", ""))


def _enter(plan: FlashPlan, port: str, loader: Bootloader | None, answer: Mapping[str, EntryValue]) -> None:
    through: dict[str, EntryValue] = {} if loader is None else {"bootloader": loader.name}
    values = {"design": plan.project.design.name, **answer, **through, "port": shown(port)}
    enter(plan.design, (EntryKind.FLASH, values))
