"""The commissioning sheet: first power, dry runs, test welds and the record, with room for readings."""

from __future__ import annotations

from collections.abc import Iterator, Sequence

from codegen.papers.blocks import Block, Caution, Fill, Paper, Paragraph, Section, Steps, Table
from codegen.papers.safety import (
    BEFORE_OPENING,
    LIVE_MEASURING,
    NOT_SAFETY,
    STANDARDS,
    WELDING,
    WELDING_CIRCUIT,
)
from codegen.papers.sheet_subject import SheetSubject
from timing.checks.subject import ms
from timing.process.advice import TimeAdvice
from timing.sequence.of_design import time_settings
from timing.sequence.table import Phase
from timing.supply.budget import PhaseState

TEST_WELDS = 8


def commissioning_paper(subject: SheetSubject) -> Paper:
    """Return the sheet of a design."""
    design = subject.design
    sections = (
        Section("before", "Before the first power", _before(subject)),
        Section("first-power", "First power, power source off", _first_power(subject)),
        Section("dry-runs", "Dry runs, no arc", _dry_runs(subject)),
        Section("test-welds", "Test welds: burnback", _test_welds(subject)),
        Section("times", "The other times", _times(subject)),
        Section("hand-over", "Safety circuits, and the record", _hand_over()),
    )
    foot = f"{design.name}, design {design.digest()}, commissioning sheet, wirecue {subject.version}"
    return Paper(f"Commissioning: {design.name}", design.title, foot, sections)


def _before(subject: SheetSubject) -> Sequence[Block]:
    fuse_a = subject.supply.budget.fuse.rating_a
    return [
        Caution(BEFORE_OPENING),
        Caution(NOT_SAFETY),
        Steps(
            (
                f"The bench test passed, and the board answered `{subject.design.digest()}`.",
                "The bench link is out, and nothing is plugged into USB.",
                "With the bypass plug in place of the add-on the feeder works as it did before.",
                f"Fuse T {fuse_a:g} A at the tap; strain relief on every cable; box closed.",
                "Ohmmeter, plug pulled: board common to chassis and to work above 1 Mohm.",
                "Ohmmeter, plug pulled: neither side of the 24 VAC shorted to the other.",
            ),
            "box",
        ),
    ]


def _first_power(subject: SheetSubject) -> Sequence[Block]:
    rows = tuple((what, expected, "") for what, expected in _readings(subject))
    return [
        Caution(LIVE_MEASURING),
        Table(("reading", "expected", "read"), rows, fill=frozenset({2})),
        Steps(
            (
                "The status lamp lights steadily after half a second: hold-off is over, nothing is faulty.",
                "Nothing clicks at switching on, at switching off, or when the mains is pulled and put back at once.",
            ),
            "box",
        ),
    ]


def _readings(subject: SheetSubject) -> Iterator[tuple[str, str]]:
    found, supply = subject.supply.budget, subject.design.supply
    yield "24 VAC at the tap, idle", f"about {found.winding.open_v:.0f} V"
    yield "reservoir, idle", _volts(found.phases, Phase.IDLE)
    yield "reservoir, trigger held, pressure arm up", _volts(found.phases, Phase.WELD)
    yield "regulator's output, at the board's supply input", f"{found.regulator.output_v:g} V"
    if supply.sense is not None:
        yield "lowest that the reservoir may go", f"above {supply.sense.low_v:g} V"


def _volts(phases: Sequence[PhaseState], phase: Phase) -> str:
    state = next((found.state for found in phases if found.load.phase is phase), None)
    return f"{float(state.dc_mean_v):.0f} V, 10 % either way" if state is not None and state.settled else "not known"


def _dry_runs(subject: SheetSubject) -> Sequence[Block]:
    return [
        Caution("The wire moves and may be live: gun away from people and work, work clamp off, safety glasses on."),
        Table(("do", "must happen", "seen"), tuple((do, must, "") for do, must in _runs(subject)), fill=frozenset({2})),
    ]


def _runs(subject: SheetSubject) -> Iterator[tuple[str, str]]:
    design = subject.design
    times = time_settings(design)
    gas = design.feeder.gas_valve is not None
    if design.buttons.purge and gas:
        flow = design.process.gas_flow_l_min
        yield "hold the purge button", f"gas alone, {flow:g} L/min at the nozzle; it stops with the button"
    if design.buttons.inch:
        yield "hold the inch button", "wire alone, contactor still; it stops with the button"
    if gas and design.trigger.mode != "four-step":
        yield "short pull of the trigger (two-step), within the preflow time", "gas only; neither wire nor contactor"
    spot = times.get("spot")
    if design.trigger.mode != "two-step":
        yield "press and let go; press again", "starts with the first press, ends with the second"
    if design.arc_sensor is not None and design.limits.arc_start_us is not None:
        after = f"after {ms(design.limits.arc_start_us)}, since no arc is seen"
        yield "hold the trigger", f"wire stops by itself {after}; the lamp blinks the fault's number"
    elif spot is not None:
        yield "hold the trigger, spot switched on", f"wire stops by itself after {ms(spot.setting_us)}"
    yield (
        "end the run, watching contactor and drive rolls",
        f"the contactor lets go {_later(subject)} than the wire",
    )
    if gas:
        yield "listen after that", f"gas goes on for {ms(times['postflow'].setting_us)}, then closes"
    if design.interlock.fitted:
        yield (
            "open the interlock contact while holding the trigger",
            "everything off at once; nothing starts again by itself",
        )
    yield (
        "pull the mains while holding the trigger, put it back still holding",
        "nothing comes on until let go and pressed afresh",
    )


def _later(subject: SheetSubject) -> str:
    return f"{ms(subject.design.times.burnback.setting_us)} later"


def _test_welds(subject: SheetSubject) -> Sequence[Block]:
    design = subject.design
    advised = None if subject.advice is None else subject.advice.burnback.time
    first = tuple(_suggested(advised)) if advised is not None else ()
    rows = tuple(
        (str(number + 1), first[number] if number < len(first) else "", "", "", "") for number in range(TEST_WELDS)
    )
    distance = design.process.contact_tip_to_work_mm
    spot = design.spot
    long = "Weld for two or three seconds, let go, hold still until everything has stopped."
    if spot is not None and spot.time.off_switch:
        long = f"Spot switched off. {long}"
    elif spot is not None:
        long = "Hold the trigger until the spot has ended by itself; hold still until everything has stopped."
    return [
        Caution(WELDING),
        Caution(WELDING_CIRCUIT),
        Steps(
            (
                f"Scrap of the thickness you weld. Rest the gun on a block, {distance:g} mm from contact tip to work.",
                long,
                "Power source off. Measure the extension left, contact tip to wire end, with a steel rule to half a "
                "millimetre.",
                "Write down how it ended: free, frozen in the puddle, or fused to the contact tip.",
                f'Put the readings in: `wirecue fit {design.name}.toml --weld "90 ms: 9 mm" --weld ...`. It finds '
                "coast and drop-out of your machine, says which weld to make next, and with `--write` corrects the "
                "design. Then build again.",
            )
        ),
        Table(
            ("weld", "burnback set, start with", "set", "extension left, mm", "how it ended"),
            rows,
            frozenset({0}),
            frozenset({2, 3, 4}),
        ),
    ]


def _suggested(advised: TimeAdvice) -> Iterator[str]:
    """Settings for the first welds: the computed one, then to either side of it within the range that serves."""
    yield ms(advised.setting_us)
    yield ms((advised.setting_us + advised.low_us) // 2)
    yield ms(min(2 * advised.setting_us, advised.high_us))


def _times(subject: SheetSubject) -> Sequence[Block]:
    advised = {} if subject.advice is None else {time.name: ms(time.setting_us) for time in subject.advice.times}
    rows = tuple(
        (name, ms(setting.setting_us), advised.get(name, ""), "", "")
        for name, setting in time_settings(subject.design).items()
    )
    return [
        Paragraph("Change one dial at a time, and prove each on scrap."),
        Table(("time", "set in the design", "computed start", "found good", "remarks"), rows, fill=frozenset({3, 4})),
    ]


def _hand_over() -> Sequence[Block]:
    return [
        Steps(
            (
                "Emergency stop tested: it stops the machine by itself, whatever the add-on does.",
                "Interlocks and thermal cut-out are wired as they were found.",
                "Bypass plug, this sheet, the build sheet and the design file are kept with the machine.",
            ),
            "box",
        ),
        Paragraph(STANDARDS),
        Fill("Machine, and where it stands"),
        Fill("Commissioned by, on"),
    ]
