"""What can go wrong while a sketch goes onto a board, each with its exit code and a sentence that says what to do."""

from __future__ import annotations

from collections.abc import Sequence
from pathlib import Path
from typing import TYPE_CHECKING

from bench.errors import device_text, quoted
from bench.usb_ports import UsbPort
from timing.checks.finding import Severity
from timing.design.board import Board
from timing.design.text_file import shown
from timing.errors import WirecueError
from timing.project import Project

if TYPE_CHECKING:
    from wirecue.carried_sketch import CarriedSketch

HALF_A_SKETCH = (
    "The board now carries part of a sketch, and runs it. Leave the feeder plug (P1) out, and flash it again: the "
    "bootloader is whole."
)
"""What is so from the first byte written until the last one is read back."""
_LONGEST_WORDS = 400


class FlashError(WirecueError):
    """The board was not flashed, or not with this design. Exit code 1."""

    exit_code = 1


class FlashRefusedError(WirecueError):
    """Nothing was tried: a file, a tool or a choice is missing. Exit code 2."""


class NotConfirmedError(FlashRefusedError):
    """Nobody has said that the cautions are heeded, so that no port was opened."""

    def __init__(self, *, asked: bool) -> None:
        super().__init__(asked)
        self.asked = asked

    def __str__(self) -> str:
        if self.asked:
            return "Not flashed: the cautions are not heeded. No port was opened."
        return "Not flashed: nobody is there to say that the cautions are heeded; --yes says so."


class DesignNotReadyError(WirecueError):
    """The design breaks a rule, or its sequence can: no board gets it. Exit code 1."""

    exit_code = 1

    def __init__(self, name: str, why: Sequence[str]) -> None:
        super().__init__(name, tuple(why))
        self.name = name
        self.why = tuple(why)

    def __str__(self) -> str:
        lines = "".join(f"\n  {line}" for line in self.why)
        return f"{self.name} must not go onto a board yet; `wirecue check` and `wirecue prove` say more:{lines}"


def require_sound(project: Project) -> None:
    """Raise DesignNotReadyError for a design that breaks a rule, or whose sequence can."""
    errors = [finding.text for finding in project.findings if finding.severity is Severity.ERROR]
    broken = [] if errors else [verdict.rule.sentence for verdict in project.proof.broken]
    if errors or broken:
        raise DesignNotReadyError(project.design.name, [*errors, *broken])


class NoFirmwareError(FlashRefusedError):
    """There is no compiler here, and no build holds the compiled sketch of this very design."""

    def __init__(self, name: str, searched: Sequence[str]) -> None:
        super().__init__(name, tuple(searched))
        self.name = name
        self.searched = tuple(searched)

    def __str__(self) -> str:
        return (
            f"No compiler for the board is here, and no build holds {self.name}.hex of this design.\n"
            "The board maker's IDE brings one: install it, open its boards manager, install the AVR boards. On Debian: "
            "apt install gcc-avr avr-libc arduino-core-avr avrdude\n"
            f"Or run `wirecue build` where there is one, and bring its folder here.\n"
            f"Looked for in: {', '.join(self.searched)}"
        )


class UploaderMissingError(FlashRefusedError):
    """There is no avrdude on this machine."""

    def __init__(self, searched: Sequence[str]) -> None:
        super().__init__(tuple(searched))
        self.searched = tuple(searched)

    def __str__(self) -> str:
        return (
            "avrdude, which carries a sketch to the board, is not here.\n"
            "The board maker's IDE brings it with its AVR boards; on Debian: apt install avrdude\n"
            "Or open the sketch in the IDE and press Upload; `wirecue status` then tells whether it is on the board.\n"
            f"Looked for in: {', '.join(self.searched)}"
        )


class UploaderTooOldError(FlashRefusedError):
    """The avrdude that is here is older than any that is known to do this."""

    def __init__(self, path: Path, version: str, least: str) -> None:
        super().__init__(path, version, least)
        self.path = path
        self.version = version
        self.least = least

    def __str__(self) -> str:
        return (
            f"{shown(self.path)} is version {self.version}; {self.least} or newer is wanted. The board maker's IDE "
            "brings a newer one with its AVR boards; take the old one off the search path."
        )


class NoBoardError(FlashRefusedError):
    """No board is plugged in, and no port was named."""

    def __str__(self) -> str:
        return (
            "No board is plugged in, and no port was named. Pull the feeder plug (P1), plug the board's USB cable in. "
            "Still none? A cable that only charges carries no data: take another one."
        )


class SeveralPortsError(FlashRefusedError):
    """Several boards are plugged in, and none was named."""

    def __init__(self, present: Sequence[UsbPort]) -> None:
        super().__init__(tuple(present))
        self.present = tuple(present)

    def __str__(self) -> str:
        listed = "\n".join(f"  {one.told}" for one in self.present)
        return (
            f"More than one port is plugged in; name the board's with --port:\n{listed}\n"
            "Not sure which? Unplug the board, ask again, and see which one is gone."
        )


class OtherBoardError(FlashRefusedError):
    """The port says that it belongs to a board of another type than the design's."""

    def __init__(self, port: str, found: str, board: Board) -> None:
        super().__init__(port, found, board)
        self.port = port
        self.found = found
        self.board = board

    def __str__(self) -> str:
        return (
            f"{self.port} says that it is a {self.found}; the design is for a {self.board.title}. Plug that one in, or "
            f'change `type = "{self.board.type}"` under [board] in the design: pins and papers change with it.'
        )


class OtherChipError(FlashError):
    """A bootloader answers, but the chip is not the one that the sketch is made for. Nothing was written."""

    def __init__(self, port: str, found: str, likely: str, board: Board) -> None:
        super().__init__(port, found, likely, board)
        self.port = port
        self.found = found
        self.likely = likely
        self.board = board

    def __str__(self) -> str:
        said = f" ({self.likely})" if self.likely else ""
        return (
            f"Not flashed: the chip on {self.port} has the signature {self.found}{said}; {self.board.mcu} of the "
            f"{self.board.title} has {self.board.signature}. Nothing was written. Another board is plugged in, or the "
            'wrong port named; a board that is to stay wants its `type` in the design. Never force it with "-F".'
        )


class NoBootloaderError(FlashError):
    """No bootloader answers on the port. Nothing was written."""

    def __init__(self, port: str, board: Board, tried: Sequence[str], likely: str = "") -> None:
        super().__init__(port, board, tuple(tried), likely)
        self.port = port
        self.board = board
        self.tried = tuple(tried)
        self.likely = likely
        """The board whose bootloader answers instead; empty where none does."""

    def __str__(self) -> str:
        if self.likely:
            return (
                f"Not flashed: on {self.port} answers the bootloader of another board, likely a {self.likely}; the "
                f"design is for a {self.board.title}. Nothing was written. Plug the right one in."
            )
        return (
            f"Not flashed: no bootloader answers on {self.port} ({'; '.join(self.tried)}). Nothing was written. Is it "
            f"the {self.board.title}, is the cable one that carries data, are its pins for the serial port free? "
            "An LED that blinks fast without end: the watchdog loop of an old bootloader; start again, pull the USB "
            "plug and plug it in when that is asked for: it must be flashed in the second before half a sketch starts. "
            "Still nothing: press the board's reset button as the upload begins; if that "
            "does not help either, its bootloader is lost: burn it anew from the IDE with a programmer."
        )


class PortLostError(FlashError):
    """The port went away, or the board fell silent, while it was written or read back."""

    def __init__(self, port: str, said: str, *, written: bool) -> None:
        super().__init__(port, said, written)
        self.port = port
        self.said = said
        self.written = written

    def __str__(self) -> str:
        head = f"Not flashed: the board on {self.port} fell silent in the middle: power or cable went, or it restarted."
        return f"{head} {HALF_A_SKETCH if self.written else 'Nothing was written. Plug it in and flash it again.'}"


class UploadStoppedError(FlashError):
    """Somebody stopped the upload."""

    def __init__(self, port: str, *, written: bool) -> None:
        super().__init__(port, written)
        self.port = port
        self.written = written

    def __str__(self) -> str:
        return f"Stopped. {HALF_A_SKETCH if self.written else 'Nothing was written.'}"


class VerifyError(FlashError):
    """What was read back is not what was written."""

    def __init__(self, port: str, said: str) -> None:
        super().__init__(port, said)
        self.port = port
        self.said = said

    def __str__(self) -> str:
        return (
            f"Not flashed: what the board on {self.port} read back is not what was sent ({quoted(self.said)}). "
            f"{HALF_A_SKETCH} If it fails again, take another cable and port; then the chip's flash is worn or bad: "
            "another board."
        )


class UploadFailedError(FlashError):
    """The uploader failed for a reason of its own. Keeps what it said."""

    def __init__(self, port: str, said: str, *, written: bool) -> None:
        super().__init__(port, said, written)
        self.port = port
        self.said = said
        self.written = written

    def __str__(self) -> str:
        state = HALF_A_SKETCH if self.written else "Nothing was written."
        said = device_text(self.said, _LONGEST_WORDS)
        return f"Not flashed: avrdude gave up on {self.port}. {state} It said:\n{said}"


class SilentBoardError(FlashError):
    """The upload was read back whole, but the sketch does not answer."""

    def __init__(self, port: str, why: str) -> None:
        super().__init__(port, why)
        self.port = port
        self.why = why

    def __str__(self) -> str:
        return (
            f"Written and read back, but the board on {self.port} does not say what it carries. {self.why}\n"
            "Pull the USB plug, plug it in, and ask it: `wirecue status`. An LED that blinks fast without end is the "
            "watchdog loop of an old bootloader. `wirecue symptom` under 'the board does not answer' has the rest."
        )


class OtherDigestError(FlashError):
    """The board answers, and carries something else than what was sent."""

    def __init__(self, port: str, found: str, wanted: str) -> None:
        super().__init__(port, found, wanted)
        self.port = port
        self.found = found
        self.wanted = wanted

    def __str__(self) -> str:
        return (
            f"The board on {self.port} answers that it carries {self.found}, not {self.wanted}. Two boards on this "
            "computer? Unplug the other one and flash again. The same answer again: the file that was sent is of "
            "another design; build again, then flash."
        )


class NoSuchBootloaderError(FlashRefusedError):
    """A bootloader was named that boards of this type are not sold with."""

    def __init__(self, name: str, board: Board) -> None:
        super().__init__(name, board)
        self.name = name
        self.board = board

    def __str__(self) -> str:
        there = ", ".join(loader.name for loader in self.board.bootloaders) or "none: it is a drive"
        return f"no bootloader {self.name!r} for the {self.board.title}; there is {there}"


class DriveMissingError(FlashRefusedError):
    """The board does not show itself as a drive, or the folder that was named is no such drive."""

    def __init__(self, board: Board, named: Path | None = None) -> None:
        super().__init__(board, named)
        self.board = board
        self.named = named

    def __str__(self) -> str:
        head = (
            f"No drive {self.board.upload_drive} is here."
            if self.named is None
            else f"{shown(self.named)} is not the drive {self.board.upload_drive} of a board: nothing is copied there."
        )
        return (
            f"{head} Unplug the {self.board.title}, hold its BOOTSEL button down, plug it in, let go: it shows itself "
            "as a drive. Where it shows up in a place of its own, name that with --drive."
        )


class SeveralDrivesError(FlashRefusedError):
    """Two boards show themselves as drives."""

    def __init__(self, found: Sequence[Path]) -> None:
        super().__init__(tuple(found))
        self.found = tuple(found)

    def __str__(self) -> str:
        return f"More than one board is there as a drive; name one with --drive: {', '.join(map(shown, self.found))}"


class NoUf2Error(FlashRefusedError):
    """No UF2 file of the sketch is in its folder."""

    def __init__(self, sketch: CarriedSketch) -> None:
        super().__init__(sketch)
        self.sketch = sketch

    def __str__(self) -> str:
        sketch = self.sketch
        return (
            f"There is no .uf2 file of {sketch.name} to copy. The IDE makes one:\n"
            f"  1. {sketch.made_by}\n"
            f"  2. open {sketch.folder}/{sketch.name}.ino in the board maker's own IDE\n"
            f"  3. in its boards manager install the boards of the RP2040; choose the board {sketch.board.fqbn}\n"
            "  4. Sketch, Export Compiled Binary: it puts the .uf2 below the sketch's folder\n"
            f"  5. {sketch.flashed_by}\n"
            "Or press Upload in the IDE, and ask the board with `wirecue status` what it carries."
        )


class OtherUf2Error(FlashRefusedError):
    """The UF2 file is of another design, or of an earlier state of this one."""

    def __init__(self, file: Path, name: str, digest: str) -> None:
        super().__init__(file, name, digest)
        self.file = file
        self.name = name
        self.digest = digest

    def __str__(self) -> str:
        return (
            f"{shown(self.file)} is not of {self.name} with digest {self.digest}: the design was changed since, or the "
            "file is another one's. Build, export the compiled binary in the IDE again, then flash."
        )


class CopyFailedError(FlashError):
    """The drive did not take the file."""

    def __init__(self, drive: Path, why: str) -> None:
        super().__init__(drive, why)
        self.drive = drive
        self.why = why

    def __str__(self) -> str:
        return (
            f"Not flashed: {shown(self.drive)} did not take the file: {self.why}. Unplug the board, plug it in with "
            "BOOTSEL held down, and flash it again; its own loader cannot be lost."
        )
