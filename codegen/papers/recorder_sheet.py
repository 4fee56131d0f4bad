"""The recorder's sheet: what it is for, parts, circuits, wiring, its own test, and where its leads go."""

from __future__ import annotations

from collections.abc import Sequence

from codegen.drawings.recorder_schematic import recorder_schematic
from codegen.drawings.recorder_uses import USE_INTRODUCTIONS, USE_TITLES, uses_sheet
from codegen.papers.blocks import Block, Caution, Grid, Paper, PaperSection, Paragraph, Picture, Steps
from codegen.recorder_papers import RecorderSource
from timing.checks.finding import Finding
from timing.circuit.lists import parts_list, wire_list
from timing.formatting import ms
from timing.protocol.recorder import PRESS_LAPSE_US, RECORDER, SAMPLE_US
from timing.recorder.circuit_words import lag_words
from timing.recorder.parts import recorder_accessories
from timing.recorder.uses import Use
from timing.safety import BEFORE_OPENING, HIGH_FREQUENCY, ROLLS_AND_WIRE, STANDARDS, WELDING_CIRCUIT

BENCH_LAMPS = "24 V lamps of 5 W to 20 W"
"""What stands in for the loads at the bench."""


def recorder_paper(source: RecorderSource) -> Paper:
    """Return the sheet."""
    design = source.project.design
    sections = (
        PaperSection("purpose", "What it is for", _purpose(source)),
        PaperSection("before", "Before you begin", _before(source)),
        PaperSection("rules", "What the rules say", [_finding(one) for one in source.findings]),
        PaperSection("parts", "Parts", _parts(source)),
        PaperSection("circuits", "Circuits", _circuits(source)),
        PaperSection("wires", "Wires and joints", _wires(source)),
        PaperSection("table-test", "Test it on the table", _table_test(source)),
        PaperSection("disc", "Disc, marks and flag", _disc(source)),
        PaperSection("bench", "At the bench", _use(source, "bench"), new_page=True),
        PaperSection("machine", "At the machine", _use(source, "machine"), new_page=True),
    )
    shown = tuple(section for section in sections if section.blocks)
    foot = f"{design.name}, design {design.digest()}, recorder, wirecue {source.version}"
    return Paper(f"Recorder: {design.name}", design.title, foot, shown)


def _purpose(source: RecorderSource) -> Sequence[Block]:
    board = source.circuits.board
    return [
        Paragraph(
            f"A second board, {board.title}, watches up to eight circuits of the machine through couplers, stamps "
            f"every change with its own clock within {SAMPLE_US} us, and presses trigger and purge by contacts. It "
            "knows nothing of the add-on's program: what both say alike is worth believing."
        ),
        Paragraph(
            f"Its sketch is in `{RECORDER}/`. At the bench `wirecue bench --recorder` compares what the add-on says "
            "with what the recorder saw. At the machine it measures what the design only guesses: how late valve, "
            "relay and contactor are, how fast the wire runs and how far it coasts."
        ),
        Paragraph(f"A press lapses {ms(PRESS_LAPSE_US)} after the laptop falls silent, and needs the jumper JP1."),
    ]


def _before(source: RecorderSource) -> Sequence[Block]:
    everywhere = [one.text for one in source.wiring.netlist.cautions if one.at == "everywhere"]
    return [
        Caution(BEFORE_OPENING), *map(Caution, everywhere), Caution(WELDING_CIRCUIT), Caution(HIGH_FREQUENCY),
        Paragraph(STANDARDS),
    ]  # fmt: skip


def _finding(finding: Finding) -> Block:
    says = f"{finding.text}. Why: {finding.reason}."
    return Paragraph(f"{finding.severity.word}: {says}" + (f" Do: {finding.remedy}." if finding.remedy else ""))


def _parts(source: RecorderSource) -> Sequence[Block]:
    rows = tuple(
        (str(row.quantity), " ".join(row.refs), row.description, "; ".join(row.reasons[:1]))
        for row in (*parts_list(source.wiring.netlist), *recorder_accessories(source.wiring))
    )
    return [
        Grid(("number", "refs", "what to look for", "why"), rows, frozenset({0}), whole=False),
        Paragraph("`parts.csv` has the same for a spreadsheet."),
    ]


def _circuits(source: RecorderSource) -> Sequence[Block]:
    heads = ("input", "what", "across", "seen from", "dark", "bridge", "stamped late, steady")
    rows = tuple(
        (
            str(one.input.number), one.kind.value, one.across,
            f"{one.on_v:.1f} V{' peak' if one.circuit.frequency_hz else ''}", ms(one.dark_us) if one.dark_us else "",
            ms(one.bridge_us) if one.bridge_us else "", lag_words(one.steady_lag),
        )
        for one in source.circuits.adapters.values()
    )  # fmt: skip
    svgs = recorder_schematic(source.drawing)
    pictures = [
        Picture(svg, f"Schematic of the recorder, sheet {number} of {len(svgs)}", sheet=True)
        for number, svg in enumerate(svgs, start=1)
    ]
    presses = tuple(
        (key, one.press.presses, f"{one.rating_v:g} V", f"{one.open_v:.0f} V", lag_words(one.lag))
        for key, one in source.circuits.presses.items()
    )
    return [
        Grid(heads, rows, title="Inputs; with ac on is later, and off earlier, by up to the dark time", whole=False),
        Grid(("press", "across", "rated", "sees", "follows its pin"), presses, title="Presses"),
        *pictures,
    ]


def _wires(source: RecorderSource) -> Sequence[Block]:
    rows = tuple(
        (
            str(wire.number),
            wire.from_end,
            wire.to_end,
            wire.net,
            "joint" if wire.on_board else f"wire, {wire.gauge}",
            "",
        )
        for wire in wire_list(source.wiring.netlist)
    )
    return [
        Paragraph("Names that begin with * are star points, where the wires of one net meet. Tick each as it is made."),
        Grid(("no.", "from", "to", "net", "kind", "done"), rows, frozenset({0}), frozenset({5}), whole=False),
    ]


def _table_test(source: RecorderSource) -> Sequence[Block]:
    """Before it goes near a machine: barrier, pins, each input, each press."""
    from_battery = [one for one in source.circuits.adapters.values() if one.kind.from_battery]
    loops = ", ".join(str(one.input.number) for one in from_battery)
    across = [one for one in source.circuits.adapters.values() if not one.kind.from_battery]
    feeds = ", ".join(str(one.input.number) for one in across)
    return [
        Steps(
            (
                "Nothing plugged in, batteries out. Ohmmeter in its highest range, one lead on the board's GND, the "
                "other on each screw of the machine's side in turn: no reading, above 20 Mohm. Between the screws of "
                "one input and those of every other: the same.",
                f"Flash it: open `{RECORDER}/{RECORDER}.ino` in the board maker's IDE, board: "
                f"{source.circuits.board.title}; or `wirecue flash DESIGN --recorder`.",
                "USB in, jumper JP1 out, all leads free. The link answers `*IDN?` with `wirecue,recorder`, and "
                "`INPut:LINes?` with 0: no input on.",
                f"Inputs {feeds}: a 24 V dc supply with 0.1 A as its limit across the leads, one input after the "
                "other. `INPut:LINes?` shows its bit, and no other; leads swapped, an input for a coil on dc shows "
                "none.",
                f"Inputs {loops}: battery in; join the two leads, or move bright paper before the sensor: its bit "
                "comes and goes. Batteries out again: each empties in a day or two.",
                "Jumper out: `OUTPut:PRESs 1` is refused with error -203. Power off, jumper in, power on: the ohmmeter "
                "across each press's leads shows closed while it is pressed, open within a second when the laptop "
                "falls silent.",
            ),
            "box",
        ),
        Paragraph("What does not pass here does not go to the machine."),
    ]


def _use(source: RecorderSource, use: Use) -> Sequence[Block]:
    used = source.uses[use]
    rows = tuple(
        (one.title, "; ".join(f"{lead.pole}: {lead.place}" for lead in one.leads), one.note, "") for one in used
    )
    cautions = [Caution(ROLLS_AND_WIRE)] if use == "machine" else [Paragraph(f"Loads: {BENCH_LAMPS}, one an output.")]
    return [
        Paragraph(USE_INTRODUCTIONS[use]),
        *cautions,
        Grid(("circuit", "leads", "how", "done"), rows, fill=frozenset({3}), title=USE_TITLES[use], whole=False),
        Picture(uses_sheet(source.drawing, use, used), USE_TITLES[use], sheet=True),
    ]


def _disc(source: RecorderSource) -> Sequence[Block]:
    disc = source.disc
    return [
        Paragraph(
            f"`disc.pdf`, printed at 100 %: a disc of {disc.outer_mm:g} mm with {disc.sectors} dark sectors, so many "
            f"counts a turn of the roll; {disc.mm_per_slot(source.roll_mm):.3f} mm of wire a count with a roll of "
            f"{source.roll_mm:g} mm. Measure its check bar first. The length a count is better found by running a "
            "metre of wire."
        ),
        Steps(
            (
                "Machine disconnected. Screw the disc to the drive roll, so that it turns with it and touches nothing.",
                "Sensor on its plastic bracket, 2 to 4 mm from the track; no metal of it touches roll or frame.",
                "Turn the roll by hand, one turn: `INPut:DISC?` counts as many as there are dark sectors.",
            )
        ),
    ]
