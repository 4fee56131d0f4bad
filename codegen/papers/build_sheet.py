"""The build sheet: everything for the workshop in one file."""

from __future__ import annotations

from collections.abc import Callable, Iterator, Sequence

from codegen.charts.burnback import burnback_svg, in_the_design
from codegen.charts.spot import spot_setting, spot_svg
from codegen.charts.timeline import usual_timeline_svg
from codegen.papers import sheet_board, sheet_supply, sheet_symptoms
from codegen.papers.blocks import Block, Caution, Grid, Paper, PaperSection, Paragraph, Picture, Steps
from codegen.papers.sheet import SheetSource
from timing.checks.finding import Finding, Severity
from timing.circuit.panel_contacts import on_selector
from timing.design.board import OUTPUT_ROLES
from timing.design.features import features_of
from timing.design.feeder import Actuator
from timing.design.suppression import off_delay_of, on_delay_of
from timing.design.times import TimeSetting
from timing.design.units import as_typed, speed_text
from timing.formatting import ms
from timing.safety import ALTERED, BEFORE_OPENING, HIGH_FREQUENCY, STANDARDS


def before_you_begin(sheet: SheetSource) -> Sequence[Block]:
    """What to know before anything is opened or wired."""
    everywhere = [caution.text for caution in sheet.project.netlist.cautions if caution.at == "everywhere"]
    notes = [Paragraph(sheet.design.notes)] if sheet.design.notes.strip() else []
    return [
        *notes,
        Caution(BEFORE_OPENING),
        *map(Caution, everywhere),
        Caution(ALTERED),
        Caution(HIGH_FREQUENCY),
        Paragraph(STANDARDS),
    ]


def settings(sheet: SheetSource) -> Sequence[Block]:
    """Times, trigger, limits and the process they are meant for."""
    design = sheet.design
    rows = [
        (name, ms(setting.setting_us), _range(setting, on_selector(design, f"{name}_switch")))
        for name, setting in features_of(design).times.items()
    ]
    return [
        Grid(("time", "setting", "set by"), tuple(rows), frozenset({1})),
        Grid(("circuit", "figures"), tuple(_facts(sheet))),
    ]


def _range(setting: TimeSetting, selected: bool) -> str:
    how = f"dial, {ms(setting.low_us)} to {ms(setting.high_us)}" if setting.dial else "fixed in the sketch"
    if selected:
        return f"{how}; taken in and out by the weld selector"
    return f"{how}; off switch" if setting.off_switch else how


def _called(name: str | None, kind: str) -> str:
    return kind if name is None else f"{name} ({kind})"


def _facts(sheet: SheetSource) -> Iterator[tuple[str, str]]:
    design, process = sheet.design, sheet.design.process
    found = sheet.project.settings
    wire = f"{_called(process.wire_class, process.wire)}, {as_typed(process.wire_diameter_mm, 'mm')}"
    flow = process.gas_flow_l_min
    gas = "no gas" if flow is None else f"gas {_called(process.gas_mixture, process.gas)}, {as_typed(flow, 'L/min')}"
    distance = as_typed(process.contact_tip_to_work_mm, "mm")
    yield "process", f"{wire}; {gas}; contact-tip-to-work distance {distance}"
    yield "wire feed speed", speed_text(process.wire_feed_speed_mm_s)
    trigger = design.trigger
    sense = f"{trigger.sense} {as_typed(trigger.circuit_voltage_v, 'V')}, filter {ms(trigger.filter_us)}"
    yield "trigger", f"{trigger.mode}; {sense}"
    limits = {"weld": found.weld_limit_us, "arc start": found.arc_limit_us}
    limits |= {"purge": found.purge_limit_us if design.buttons.purge else None}
    limits |= {"inch": found.inch_limit_us if design.buttons.inch else None}
    yield "limits", "; ".join(f"{name} {ms(limit)}" for name, limit in limits.items() if limit is not None) or "none"
    for role in OUTPUT_ROLES:
        actuator: Actuator | None = getattr(design.feeder, role.key)
        if actuator is not None:
            coil = actuator.coil
            source = "the control supply" if coil.fed_from == "control" else "another circuit"
            volts = f"{as_typed(coil.voltage_v, 'V')} {coil.kind} from {source}"
            off_us = off_delay_of(design, actuator).typical_us
            lag = f"on after {ms(on_delay_of(actuator).typical_us)}, off after {ms(off_us)}"
            yield role.meaning, f"{volts}; {as_typed(coil.hold_a, 'A')} held; {lag}; by {actuator.drive}"


def sequence(sheet: SheetSource) -> Sequence[Block]:
    """The timeline of an ordinary weld."""
    drawn = usual_timeline_svg(sheet.project)
    return [
        Paragraph("An ordinary weld: what the board commands, and what gas, wire and arc really do."),
        Picture(drawn, "Timeline: commanded above actual, from trigger to the end of postflow"),
    ]


def burnback(sheet: SheetSource) -> Sequence[Block] | None:
    """The burnback picture, and the settings to start from."""
    advice = sheet.advice
    if advice is None:
        return None
    design, curve = sheet.design, advice.burnback.curve
    own = in_the_design(design)
    drawn = burnback_svg(design.title or design.name, curve, own)
    settings = features_of(sheet.design).times
    brake, time, worth = advice.burnback.brake, advice.burnback.time, advice.burnback.worth
    reasons = brake.sentences if brake is not None else () if time is None else time.reasons
    rows = [
        (
            time.name,
            ms(settings[time.name].setting_us) if time.name in settings else "",
            ms(time.setting_us),
            f"{ms(time.low_us)} to {ms(time.high_us)}",
        )
        for time in advice.times
    ]
    return [
        Picture(drawn, "Extension left, over the burnback setting, with the band of nine welds in ten"),
        *_spot(sheet),
        Grid(("time", "set in this design", "computed start", "range that serves"), tuple(rows), frozenset({1, 2})),
        Steps(reasons, "bullet"),
        *(() if worth is None else (Paragraph("Worth measuring next:"), Steps(worth.sentences, "bullet"))),
        Paragraph(" ".join(advice.notes)),
        *map(Paragraph, advice.footing),
        Paragraph(advice.closing),
    ]


def _spot(sheet: SheetSource) -> Iterator[Block]:
    """Yield the picture of a spot without a hole; nothing where the design has none."""
    dial = None if sheet.advice is None else sheet.advice.spot
    if dial is not None and dial.main.fused is not None:
        design = sheet.design
        drawn = spot_svg(design.title or design.name, dial.main.fused, spot_setting(design))
        yield Picture(drawn, "Diameter fused at the joint, over the spot time, with the band of nine spots in ten")


def findings(sheet: SheetSource) -> Sequence[Block] | None:
    """What the checks still say; infos are left to the screen."""
    told = {finding.rule for finding in sheet.project.supply.findings}
    worth = [found for found in sheet.project.findings if found.severity > Severity.INFO and found.rule not in told]
    return [_finding_table(worth)] if worth else None


def _finding_table(found: Sequence[Finding]) -> Grid:
    rows = tuple((one.severity.word, one.text, one.reason, one.remedy) for one in found)
    return Grid(("", "found", "why it matters", "what to do"), rows)


Content = Callable[[SheetSource], Sequence[Block] | None]
"""A section's blocks; None where its data is not there."""

SECTIONS: tuple[tuple[str, str, Content, bool], ...] = (
    ("cautions", "Before you begin", before_you_begin, False),
    ("settings", "Settings", settings, False),
    ("sequence", "The sequence", sequence, False),
    ("burnback", "Burnback and the other times", burnback, False),
    ("findings", "What the checks say", findings, False),
    ("budget", "The 24 VAC supply", sheet_supply.supply_budget, False),
    ("drawings", "Schematic and wiring", sheet_supply.drawings, False),
    ("feeder", "The feeder: what to cut, and where it goes", sheet_supply.feeder, False),
    ("parts", "Parts", sheet_supply.parts, False),
    ("wires", "Wires", sheet_supply.wires, True),
    ("pins", "Pins of the board", sheet_supply.pins, False),
    ("dials", "The panel: dials and drilling", sheet_board.panel, False),
    ("lamp", "What the lamp says", sheet_board.lamp, False),
    ("symptoms", "What you see, and what to do", sheet_symptoms.symptoms, False),
    ("flashing", "Flash and test the board", sheet_board.flashing, False),
    ("brown-out", "Brown-out level of the chip", sheet_board.brown_out, False),
    ("bench", "Bench results", sheet_board.bench, False),
    ("record", "For the record", sheet_board.record, False),
)
"""Key, heading, content, and whether it starts a page; in the order of the work."""


def build_paper(sheet: SheetSource) -> Paper:
    """Return the build sheet."""
    design = sheet.design
    sections = [
        PaperSection(key, title, blocks, new_page)
        for key, title, content, new_page in SECTIONS
        if (blocks := content(sheet)) is not None
    ]
    foot = f"{design.name}, design {design.digest()}, {sheet.board.title}, wirecue {sheet.version}"
    return Paper(f"Build sheet: {design.name}", design.title, foot, sections)
