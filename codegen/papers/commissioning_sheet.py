"""The commissioning sheet: first power, dry runs, test welds and the record, with room for readings."""

from __future__ import annotations

from collections.abc import Iterator, Sequence

from codegen.papers.blocks import Block, Caution, Fill, Grid, Paper, PaperSection, Paragraph, Steps
from codegen.papers.sheet import SheetSource
from timing.design.features import features_of
from timing.design.units import as_typed
from timing.formatting import ms
from timing.power.budget import PhaseState, common_potential
from timing.process.ranging import TimeAdvice
from timing.protocol.resets import lamp_words
from timing.safety import (
    ALTERED,
    BEFORE_OPENING,
    GAS,
    HIGH_FREQUENCY,
    LIVE_MEASURING,
    NOT_SAFETY,
    ROLLS_AND_WIRE,
    STANDARDS,
    TRIGGER_HELD,
    WELDING_CIRCUIT,
    WHILE_WELDING,
)
from timing.sequence.core.table import Phase

TEST_WELDS = 8


def commissioning_paper(sheet: SheetSource) -> Paper:
    """Return the sheet of a design."""
    design = sheet.design
    sections = (
        PaperSection("before", "Before the first power", _before(sheet)),
        PaperSection("first-power", "First power, welding voltage off", _first_power(sheet)),
        PaperSection("dry-runs", "Dry runs, no arc", _dry_runs(sheet)),
        PaperSection("test-welds", "Test welds: burnback", _test_welds(sheet)),
        PaperSection("times", "The other times", _times(sheet)),
        PaperSection("hand-over", "Safety circuits, and the record", _hand_over()),
    )
    foot = f"{design.name}, design {design.digest()}, commissioning sheet, wirecue {sheet.version}"
    return Paper(f"Commissioning: {design.name}", design.title, foot, sections)


def _before(sheet: SheetSource) -> Sequence[Block]:
    steps = (
        f"The bench test passed, and the board answered `{sheet.design.digest()}`.",
        f"The bench link is out, and nothing is plugged into USB. {_usb(sheet)}",
        "With the bypass plug in place of the add-on the feeder works as it did before.",
        f"{_fuse(sheet)}; strain relief on every cable; box closed.",
        *_ohmmeter(sheet),
    )
    return [
        Caution(BEFORE_OPENING),
        Caution(NOT_SAFETY),
        Caution(ALTERED),
        Caution(HIGH_FREQUENCY),
        Caution(next(one.text for one in sheet.project.netlist.cautions if one.at == "COMMON")),
        Steps(steps, "box"),
    ]


def _usb(sheet: SheetSource) -> str:
    if sheet.design.supply.grounded == "no":
        return "Where USB is wanted again with the feeder plug in: through a USB isolator."
    return "It stays so while the feeder plug is in; where USB cannot be done without, through a USB isolator only."


def _fuse(sheet: SheetSource) -> str:
    text = f"Fuse T {sheet.project.supply.budget.fuse.rating_a:g} A at the tap"
    return text if sheet.design.supply.grounded == "no" else f"{text}, in the side that is not tied to chassis"


def _ohmmeter(sheet: SheetSource) -> Iterator[str]:
    """Readings that a sound build passes whatever the 24 VAC is tied to: the feeder plug is out for them."""
    usual, *apart = (mate.free for mate in sheet.project.netlist.mates)
    socket = sheet.project.netlist.mates[0].fixed
    out = f"Ohmmeter; mains plugs of feeder and power source pulled, reservoir empty, {usual} out of {socket}"
    if_grounded = (
        ""
        if sheet.design.supply.grounded == "no" or sheet.project.budget.isolation.parts_common
        else f" Not with {usual} in: on a grounded 24 VAC a sound build reads a diode there."
    )
    yield f"{out}: from the board's GND to SCREEN of {usual} and to the box, above 1 Mohm.{if_grounded}"
    yield (
        f"The same, from 24VAC-A and from 24VAC-B of {usual} to its SCREEN: above 1 Mohm. From one to the other: above "
        "1 kohm once the reading has settled, since the reservoir charges through the meter. The winding, about "
        f"{sheet.project.supply.budget.winding.source_ohm:.1f} ohm, is out of the way like this."
    )
    if apart:
        yield f"Everything behind {apart[0]} was fitted, measured and signed for by a licensed electrician."


def _first_power(sheet: SheetSource) -> Sequence[Block]:
    rows = tuple((what, expected, "") for what, expected in _readings(sheet))
    return [
        Caution(LIVE_MEASURING),
        Caution(TRIGGER_HELD),
        Steps(
            (
                "The feeder has a mains transformer of its own: the power source stays off, at its own switch.",
                "The 24 VAC comes from the power source, which must be on: first, cold, unplug the contactor's coil or "
                "control pair at the contactor, so that no welding voltage comes on. Where that cannot be done, gun "
                "and wire are live whenever the trigger is held.",
                "In both cases: pressure arm up, work clamp off, gun clear of everything.",
            ),
            "bullet",
        ),
        Grid(("reading", "expected", "read"), rows, fill=frozenset({2})),
        Steps(
            (
                "The status lamp lights steadily after half a second: hold-off is over, nothing is faulty. "
                + lamp_words(),
                "Nothing clicks at switching on, at switching off, or when the machine is switched off and on again at "
                "once, all of it at its own switch.",
                "Switched off, and what was unplugged is plugged in again.",
            ),
            "box",
        ),
    ]


def _readings(sheet: SheetSource) -> Iterator[tuple[str, str]]:
    found, supply = sheet.project.supply.budget, sheet.design.supply
    yield "24 VAC at the tap, idle", f"about {found.winding.open_v:.0f} V"
    yield "board's GND (COMMON) to chassis, VDC and VAC, meter on its battery", _common(sheet)
    yield "reservoir, idle", _volts(found.phases, Phase.IDLE)
    yield "reservoir, trigger held, pressure arm up", _volts(found.phases, Phase.WELD)
    yield "regulator's output, at the board's supply input", f"{found.regulator.output_v:g} V"
    if supply.sense is not None:
        yield "lowest that the reservoir may go", f"above {supply.sense.low_v:g} V"


def _common(sheet: SheetSource) -> str:
    apart = sheet.project.supply.budget.isolation
    if apart.parts_common:
        return f"under 5 V on both with 100 kohm across the meter: {apart.parted_by} parts it"
    lowest_v = common_potential(sheet.project.supply.budget).lowest_v
    live = f"unsteady, down to {lowest_v:.0f} V dc: live, and to be tied to nothing"
    floats = "under 5 V on both with 100 kohm across the meter: it floats"
    return {
        "no": f'{floats}; more: it is grounded, switch off and state supply.grounded = "yes"',
        "yes": live,
        "unknown": f"{floats}; {live}. Write down which, and state it as supply.grounded",
    }[sheet.design.supply.grounded]


def _volts(phases: Sequence[PhaseState], phase: Phase) -> str:
    state = next((found.state for found in phases if found.load.phase is phase), None)
    return f"{float(state.dc_mean_v):.0f} V, 10 % either way" if state is not None and state.settled else "not known"


def _dry_runs(sheet: SheetSource) -> Sequence[Block]:
    return [
        Caution(ROLLS_AND_WIRE),
        *([Caution(GAS)] if sheet.design.feeder.gas_valve is not None else []),
        Caution(
            "Pressure arm up where the wire need not run, work clamp off, gun clear of everything: while the contactor "
            "is in, the wire is live. One hand on the gun's handle or on a button, the other off the machine."
        ),
        Grid(("do", "must happen", "seen"), tuple((do, must, "") for do, must in _runs(sheet)), fill=frozenset({2})),
    ]


def _runs(sheet: SheetSource) -> Iterator[tuple[str, str]]:
    design = sheet.design
    times = features_of(design).times
    gas = design.feeder.gas_valve is not None
    if design.buttons.purge and gas:
        flow = "" if design.process.gas_flow_l_min is None else as_typed(design.process.gas_flow_l_min, "L/min")
        yield (
            "flow meter on the nozzle, hold the purge button, never the trigger",
            f"gas alone, {flow} at the nozzle; it stops with the button",
        )
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
        f"the contactor lets go {_later(sheet)} than the wire",
    )
    if gas:
        yield "listen after that", f"gas goes on for {ms(times['postflow'].setting_us)}, then closes"
    if design.interlock.fitted:
        yield (
            "hold the trigger; a helper, or the other hand, opens the interlock contact at its own device",
            "everything off at once; nothing starts again by itself",
        )
    yield (
        "hold the trigger, switch the machine off at its own switch, and on again still holding",
        "nothing comes on until let go and pressed afresh",
    )


def _later(sheet: SheetSource) -> str:
    return f"{ms(sheet.design.times.burnback.setting_us)} later"


def _test_welds(sheet: SheetSource) -> Sequence[Block]:
    design = sheet.design
    advised = None if sheet.advice is None else sheet.advice.burnback.time
    first = tuple(_suggested(advised)) if advised is not None else ()
    rows = tuple(
        (str(number + 1), first[number] if number < len(first) else "", "", "", "") for number in range(TEST_WELDS)
    )
    distance = as_typed(design.process.contact_tip_to_work_mm, "mm")
    spot = design.spot
    long = "Weld for two or three seconds, let go, hold still until everything has stopped."
    if spot is not None and spot.time.off_switch:
        long = f"Spot switched off. {long}"
    elif spot is not None:
        long = "Hold the trigger until the spot has ended by itself; hold still until everything has stopped."
    return [
        Caution(WHILE_WELDING),
        Caution(WELDING_CIRCUIT),
        Steps(
            (
                f"Scrap of the thickness you weld. Rest the gun on a block, {distance} from contact tip to work.",
                long,
                "Power source off. Measure the extension left, contact tip to wire end, with a steel rule to half a "
                "millimetre.",
                "Write down how it ended: free, frozen in the puddle, or fused to the contact tip.",
                f'Put the readings in: `wirecue fit {design.name}.toml --weld "90 ms: 9 mm" --weld ...`. It finds '
                "coast and drop-out of your machine, says which weld to make next, and with `--write` corrects the "
                "design. Then build again.",
            )
        ),
        Grid(
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


def _times(sheet: SheetSource) -> Sequence[Block]:
    advised = {} if sheet.advice is None else {time.name: ms(time.setting_us) for time in sheet.advice.times}
    rows = tuple(
        (name, ms(setting.setting_us), advised.get(name, ""), "", "")
        for name, setting in features_of(sheet.design).times.items()
    )
    return [
        Paragraph("Change one dial at a time, and prove each on scrap."),
        Grid(("time", "set in the design", "computed start", "found good", "remarks"), rows, fill=frozenset({3, 4})),
    ]


def _hand_over() -> Sequence[Block]:
    return [
        Steps(
            (
                "Emergency stop tested: it stops the machine by itself, whatever the add-on does.",
                "Interlocks and thermal cut-out are wired as they were found. What the add-on listens to is dry "
                "(potential-free) contacts of its own.",
                "The machine is marked as altered; everybody who uses it knows what is new, and where the bypass plug "
                "is.",
                "Bypass plug, this sheet, the build sheet and the design file are kept with the machine.",
            ),
            "box",
        ),
        Paragraph(STANDARDS),
        Fill("Machine, and where it stands"),
        Fill("Commissioned by, on"),
        Fill("Inspected and tested again (IEC 60974-4) by, on"),
    ]
