"""Sections of the build sheet on dials, flashing, bench test and record."""

from __future__ import annotations

from collections.abc import Collection, Sequence

from codegen.papers.blocks import Block, Caution, Fill, Grid, Paragraph, Steps
from codegen.papers.control_plate import ControlPlate, control_plates
from codegen.papers.dial_plate import SHAFT_HOLES_MM, SHAFT_MM, SWITCH_MM, DialPlate, dial_plates, plate_height_mm
from codegen.papers.plate_parts import PLATE_WIDTH_MM, SWITCH_HOLES_MM, hole_sizes
from codegen.papers.sheet import BenchCase, SheetSource
from timing.circuit.dial import PanelDial
from timing.design.board import BROWN_OUT, Board, BrownOutFuse
from timing.formatting import ms, signed_ms
from timing.protocol.resets import RESET_ROWS, Reset, lamp_words
from timing.protocol.target import CAUTIONS
from timing.sequence.faults import EXPLANATIONS, faults_of

TENTHS = 10


def panel(sheet: SheetSource) -> Sequence[Block]:
    """The time at each tenth of each dial's turn, and where to drill."""
    plates = dial_plates(sheet.project)
    drilling = [*map(_dial_drilling, plates), *map(_control_drilling, control_plates(sheet.project))]
    return [
        Paragraph("Print `dials.pdf` at 100 %, measure its check bar, cut the plates out and glue them on."),
        *(_dial_tables(sheet.project.dials.values()) if plates else ()),
        Grid(
            ("plate", "size", "centre", "hole", "switch's centre", "switch's hole"), tuple(drilling),
            title="Drilling, in mm from the plate's upper left corner; holes for the usual parts, measure yours",
        ),
    ]  # fmt: skip


def _dial_tables(dials: Collection[PanelDial]) -> list[Block]:
    head = ("turned", *(dial.name for dial in dials))
    rows = tuple((f"{10 * tenth} %", *(_time_at(dial, tenth) for dial in dials)) for tenth in range(TENTHS + 1))
    counts = tuple(
        (f"{10 * tenth} %", *(str(dial.counts_at(_angle_deg(dial, tenth))) for dial in dials))
        for tenth in range(TENTHS + 1)
    )
    return [
        Paragraph(
            "From the anticlockwise stop, with nominal parts; potentiometers stray by 20 %, so the ends are sure and "
            "the middle is not exact."
        ),
        Grid(head, rows, frozenset(range(1, len(head))), title="Time at each tenth of the turn"),
        Grid(head, counts, frozenset(range(1, len(head))), title="Reading of the board's converter there"),
    ]


def _angle_deg(dial: PanelDial, tenth: int) -> float:
    return dial.setting.rotation_deg * tenth / TENTHS


def _time_at(dial: PanelDial, tenth: int) -> str:
    return ms(dial.time_at_us(_angle_deg(dial, tenth)))


def _dial_drilling(plate: DialPlate) -> tuple[str, ...]:
    size = f"{PLATE_WIDTH_MM:g} x {plate_height_mm(plate):g}"
    switch = (_place(SWITCH_MM), hole_sizes(SWITCH_HOLES_MM)) if plate.switch else ("none", "")
    return plate.title, size, _place(SHAFT_MM), hole_sizes(SHAFT_HOLES_MM), *switch


def _control_drilling(plate: ControlPlate) -> tuple[str, ...]:
    size = f"{plate.width_mm:g} x {plate.height_mm:g}"
    return plate.control.title, size, _place(plate.centre_mm), hole_sizes(plate.holes_mm), "none", ""


def _place(centre_mm: tuple[float, float]) -> str:
    return f"{centre_mm[0]:g}, {centre_mm[1]:g}"


def flashing(sheet: SheetSource) -> Sequence[Block]:
    """How the sketch gets onto the board."""
    design, board = sheet.design, sheet.board
    upload = "Upload."
    if board.native_usb:
        upload += " The board has USB of its own: its port goes away and comes back, sometimes under another name."
    if board.opens_port_resets:
        upload += " The board resets whenever its port is opened; that is as it should be."
    steps = (
        f"`wirecue flash {design.name}.toml` does the next three at once, and asks the board what it carries. By hand:",
        f"Open the folder `{design.name}` by its file `{design.name}.ino` in the board maker's own IDE (it opens "
        "`.ino` folders).",
        f"Choose the board: {board.title} (`{board.fqbn}`), and its port.",
        upload,
        "Fit the bench link (the jumper), and reset the board.",
        f"Run `wirecue bench {design.name}.toml --port PORT`, or the folder `bench` with pytest. It first asks the "
        f"board for its design: it must answer `{design.digest()}`.",
        "When all cases pass: take the bench link out, reset, and see the status lamp steady before you go on. "
        + lamp_words(),
    )
    note = [Caution(board.watchdog_note.strip())] if board.watchdog_note else []
    return [*(Caution(text) for text in CAUTIONS), *note, Steps(steps)]


def brown_out(sheet: SheetSource) -> Sequence[Block]:
    """At which voltage the chip resets itself, and how to see it."""
    return brown_out_of(sheet.board)


def brown_out_of(board: Board) -> Sequence[Block]:
    """Return what the sheet says of one board's brown-out level."""
    fuse = BROWN_OUT.get(board.mcu)
    if fuse is not None:
        return _fuse_blocks(board, fuse)
    if board.family == "rp2040":
        # RP2040 data sheet, 2.12.3, seen quoted.
        return [
            Paragraph(
                "The chip watches its core supply by itself, from power-up on, and starts anew when that falls too "
                f"low: there is no fuse and nothing to set. It does not tell this from power-up: both are told as "
                f"'{Reset.POWER_UP.word}'."
            )
        ]
    return [
        Paragraph(
            f"The brown-out level of the {board.mcu} is not known here. Its data sheet says which levels it has; take "
            "the one next above the voltage that it needs at its clock."
        )
    ]


def _fuse_blocks(board: Board, fuse: BrownOutFuse) -> Sequence[Block]:
    read = f"`avrdude -c PROGRAMMER -p {board.mcu} -U efuse:r:-:h`"
    write = f"`avrdude -c PROGRAMMER -p {board.mcu} -U efuse:w:0x{fuse.wanted_efuse:02X}:m`"
    rows = (
        ("as it should be", f"{fuse.wanted_v:g} V", _digits(fuse, fuse.wanted_efuse)),
        ("as boards usually come", f"{fuse.usual_v:g} V", _digits(fuse, fuse.usual_efuse)),
        ("switched off", "none", _digits(fuse, fuse.usual_efuse | 0b111)),
    )
    return [
        Paragraph(
            f"Below its brown-out level the chip holds itself in reset, and the resistors hold every output off. "
            f"Between {fuse.usual_v:g} V, where boards usually have it, and what the chip needs at "
            f"{board.clock_hz / 1e6:g} MHz it may run astray instead. {fuse.why} A reset by it is told as "
            f"'{Reset.BROWN_OUT.word}'; look for {RESET_ROWS[Reset.BROWN_OUT].remedy}."
        ),
        Grid(("extended fuse", "level, typical", "last digit"), rows),
        Steps(
            (
                "Board on the bench, feeder plug (P1) pulled, nothing on its outputs. An ISP programmer goes on the "
                "six-pin header, pin 1 to pin 1; USB out where the programmer feeds the board.",
                f"Read, which changes nothing: {read}. Of the answer, such as 0x{fuse.usual_efuse:02x}, only the last "
                "digit counts.",
                "A programmer is needed: through the bootloader, by the cable that sketches go through, fuses read as "
                "0 or not at all. That is no answer.",
                f"Where it differs, write this one byte, and read it again: {write}. Leave the other two fuses alone: "
                "a wrong one can stop the clock or lock the programmer out. The sketch stays.",
                "No programmer: leave it, and go by the supply sense and its thresholds; or have it done.",
            )
        ),
        Fill("Last digit read, level"),
    ]


def _digits(fuse: BrownOutFuse, efuse: int) -> str:
    return " or ".join(fuse.last_digits(efuse))


def lamp(sheet: SheetSource) -> Sequence[Block]:
    """What the status lamp says, and what to do about each fault that this design can show."""
    faults = faults_of(sheet.project.table)
    return [
        Paragraph(
            "Steady: ready. Once a second: hold-off, or the trigger is still to be let go. Twice a second: the "
            "sequence runs. Eight times a second: the bench forces a state. A fault blinks its number, rests, and "
            "begins anew; it is shown until the next press that starts something."
        ),
        Paragraph(lamp_words()),
        Grid(
            ("blinks", "fault", "what it means", "what to do"),
            tuple(
                (str(int(fault)), fault.word, EXPLANATIONS[fault].means, EXPLANATIONS[fault].remedy) for fault in faults
            ),
        ),
    ]


def bench(sheet: SheetSource) -> Sequence[Block] | None:
    """The results of the bench test, where there are any."""
    run = sheet.bench
    if run is None:
        return None
    other = run.digest != sheet.design.digest()
    passed = sum(case.passed for case in run.cases)
    return [
        *([Caution(f"This run tested design {run.digest}, not the one of this sheet.")] if other else []),
        Paragraph(
            f"{'Passed' if run.passed else 'FAILED'}: {passed} of {len(run.cases)} cases, on {run.board}, firmware "
            f"{run.firmware}, at {run.port}."
        ),
        Grid(
            ("case", "what it tries", "verdict", "earliest, ms", "latest, ms"),
            tuple(map(_case, run.cases)),
            frozenset({3, 4}),
        ),
    ]


def _case(case: BenchCase) -> tuple[str, ...]:
    verdict = "passed" if case.passed else "; ".join(case.troubles)
    return case.name, case.title, verdict, signed_ms(case.earliest_us), signed_ms(case.latest_us)


def record(sheet: SheetSource) -> Sequence[Block]:
    """What to write down and keep."""
    design = sheet.design
    return [
        Paragraph(
            f"Keep this sheet, `{design.name}.toml` and the bench report together, near the machine. Design "
            f"`{design.digest()}`, made with wirecue {sheet.version}; the board says the same digest when asked."
        ),
        Fill("Machine, and where it stands"),
        Fill("Built by, on"),
        Fill("Bench-tested by, on"),
        Fill("Commissioned by, on", "See the commissioning sheet."),
    ]
