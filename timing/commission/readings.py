"""Before the first power, and first power: what to look at, and readings that a sound build passes."""

from __future__ import annotations

import hashlib
from collections.abc import Iterator
from dataclasses import replace

from timing.commission.step import CommissionStage, CommissionStep, ReadingAsked
from timing.power.budget import common_potential
from timing.project import Project
from timing.safety import DRY_CONTACTS
from timing.sequence.core.table import Phase

INSULATION_OHM = 1e6
"""Least resistance from the 24 VAC or the board's common to screen and box (practice)."""
BETWEEN_WAYS_OHM = 1e3
"""Least resistance between the two ways of the 24 VAC once the reservoir has charged through the meter (practice)."""
READING_SHARE = 0.10
"""How far a reading of the reservoir may lie from the computed one: meter, mains and parts together (choice)."""
RAIL_READING_SHARE = 0.05
"""How far the regulator's output may lie from its nominal one (practice: what a 5 V rail is usually allowed)."""
FLOATS_V = 5.0
"""Below this, across 100 kohm, common counts as floating (choice)."""


def before_power(project: Project) -> Iterator[CommissionStep]:
    """Yield what must be in order before anything is switched on."""
    design, wired = project.design, _wiring(project)
    stage = CommissionStage.BEFORE_POWER

    def looked_at(key: str, title: str, do: str, expect: str, if_not: str) -> CommissionStep:
        return CommissionStep(f"before.{key}", stage, title, (do,), expect, if_not, needed=True, rests_on=wired)

    yield CommissionStep(
        "before.bench",
        stage,
        "The bench test",
        (f"Look at the bench report, or run `wirecue bench {design.name}.toml --port PORT` on the bench.",),
        f"All cases passed, and the board answered `{design.digest()}`.",
        f"Build, flash and bench-test this design first: `wirecue build {design.name}.toml`.",
        needed=True,
    )
    yield looked_at(
        "usb",
        "No USB, no bench link",
        f"Take the bench link (the jumper) out, and whatever is plugged into USB. {_usb(project)}",
        "Nothing hangs on the board but the add-on's own wires.",
        "Unplug it: through USB the board's common is tied to a computer, and that one to ground.",
    )
    yield looked_at(
        "bypass",
        "The bypass plug",
        "Plug the bypass plug in place of the add-on, close everything, and use the feeder as it was. Then pull its "
        "mains plugs again.",
        "The feeder does what it did before anything was changed.",
        "Compare the bypass plug with its drawing, and each wire that was cut with the ladder diagrams.",
    )
    yield looked_at(
        "box",
        "Fuse, strain relief, box",
        f"{_fuse(project)}. Tug at every cable. Close the box.",
        "The fuse is the one that is named, no cable moves, the box is shut.",
        "Fit what is missing: the wires are sized for that fuse, and metal dust bridges an open board.",
    )
    if design.interlock.fitted or design.arc_sensor is not None:
        yield looked_at(
            "contacts",
            "Dry contacts",
            DRY_CONTACTS,
            "Each of these contacts carries the add-on's own circuit and nothing else.",
            "Fit a relay whose contact serves the add-on alone.",
        )
    yield from _ohmmeter(project, wired)


def _usb(project: Project) -> str:
    if project.design.supply.grounded == "no":
        return "Where USB is wanted again with the feeder plug in: through a USB isolator."
    return "It stays so while the feeder plug is in; where USB cannot be done without, through a USB isolator only."


def _fuse(project: Project) -> str:
    text = f"Look at the fuse: T {project.budget.fuse.rating_a:g} A at the tap"
    return text if project.design.supply.grounded == "no" else f"{text}, in the side that is not tied to chassis"


def _wiring(project: Project) -> str:
    """What is soldered and plugged: an ohmmeter's reading holds as long as that."""
    found = project.netlist
    parts = sorted((part.ref, part.kind.value, part.value) for part in found.parts)
    nets = sorted((net.name, *map(str, net.terminals)) for net in found.nets)
    return hashlib.sha256(repr((parts, nets)).encode()).hexdigest()


def _ohmmeter(project: Project, wired: str) -> Iterator[CommissionStep]:
    """Readings that a sound build passes whatever the 24 VAC is tied to: the feeder plug is out for them."""
    usual, *apart = (mate.free for mate in project.netlist.mates)
    socket = project.netlist.mates[0].fixed
    out = f"Mains plugs of feeder and power source pulled, reservoir empty (measure), {usual} out of {socket}."
    if_grounded = (
        ""
        if project.design.supply.grounded == "no" or project.budget.isolation.parts_common
        else f" Not with {usual} in: on a grounded 24 VAC a sound build reads a diode there."
    )

    def ohms(key: str, title: str, where: str, least_ohm: float, below: str, then: str = "") -> CommissionStep:
        asked = ReadingAsked("resistance", "ohm", _ohm_unit(least_ohm), least_ohm, below=below)
        return CommissionStep(
            f"before.{key}",
            CommissionStage.BEFORE_POWER,
            title,
            (out, f"Ohmmeter {where}.{then}"),
            f"{asked.band}.",
            below,
            asked,
            needed=True,
            rests_on=wired,
        )

    leak = "Find the wire, strand or part that touches: nothing is powered before this is above 1 Mohm."
    yield ohms(
        "common",
        "Board's common to the screen",
        f"from the board's GND to SCREEN of {usual}, and to the box; the lower of the two",
        INSULATION_OHM,
        leak,
        if_grounded,
    )
    yield ohms(
        "ways",
        "24 VAC to the screen",
        f"from 24VAC-A and from 24VAC-B of {usual} to its SCREEN; the lower of the two",
        INSULATION_OHM,
        leak,
    )
    yield ohms(
        "short",
        "From one way of the 24 VAC to the other",
        f"from 24VAC-A to 24VAC-B of {usual}, once the reading has settled",
        BETWEEN_WAYS_OHM,
        "A short or a part the wrong way round behind the fuse: varistor, bridge, reservoir. Look before the fuse "
        "blows.",
        " The reservoir charges through the meter, so that it rises at first; the winding, about "
        f"{project.budget.winding.source_ohm:.1f} ohm, is out of the way like this.",
    )
    if apart:
        yield CommissionStep(
            "before.signed",
            CommissionStage.BEFORE_POWER,
            f"What lies behind {apart[0]}",
            (f"Ask the licensed electrician who worked behind {apart[0]}.",),
            f"Everything behind {apart[0]} was fitted, measured and signed for by a licensed electrician.",
            "It stays unplugged until that is so: above extra-low voltage, touching it can kill.",
            needed=True,
            rests_on=wired,
        )


def _ohm_unit(least_ohm: float) -> str:
    return "Mohm" if least_ohm >= 1e6 else "kohm"


def first_power(project: Project) -> Iterator[CommissionStep]:
    """Yield the readings of the first power, with no welding voltage."""
    stage, wired = CommissionStage.FIRST_POWER, _wiring(project)
    yield CommissionStep(
        "power.dead",
        stage,
        "No welding voltage",
        (
            "Pressure arm up, work clamp off, gun clear of everything.",
            "A feeder with a mains transformer of its own: the power source stays off, at its own switch.",
            "A feeder whose 24 VAC comes from the power source, which must be on then: first, cold, unplug the "
            "contactor's coil or control pair at the contactor. Where that cannot be done, gun and wire are live "
            "whenever the trigger is held.",
        ),
        "No welding voltage can come on.",
        "Go no further: find out how the contactor is held off.",
        needed=True,
    )
    yield CommissionStep(
        "power.lamp",
        stage,
        "The status lamp",
        ("Plug the add-on in, and switch on at the machine's own switch. Touch nothing.",),
        "After half a second the lamp lights steadily: hold-off is over, nothing is faulty. Nothing clicks.",
        "Switch off. A dark lamp: fuse, bridge, regulator. Blinks or winks: count them; the plate beside the lamp says "
        "what they mean.",
        needed=True,
        rests_on=wired,
    )
    for step in _volts(project):
        asked = step.ask
        band = (asked.low, asked.high) if isinstance(asked, ReadingAsked) else ()
        yield replace(step, rests_on=f"{wired}{band}")
    yield CommissionStep(
        "power.clicks",
        stage,
        "Switching off and on",
        ("Switch the machine off, on, off and at once on again, all of it at its own switch.",),
        "Nothing clicks, neither at switching on nor at switching off.",
        "An output moves while the board starts: look at the resistor to off at that output, and at its level.",
        needed=True,
        rests_on=wired,
    )
    yield CommissionStep(
        "power.back",
        stage,
        "What was unplugged",
        ("Switch off. Plug in again what was unplugged for this.",),
        "The contactor's coil or control pair is as it was.",
        "Find its place on the photograph that was taken before.",
    )


def _volts(project: Project) -> Iterator[CommissionStep]:
    found, supply = project.budget, project.design.supply

    def read(
        key: str, title: str, do: str, asked: ReadingAsked, expect: str = "", needed: bool = True
    ) -> CommissionStep:
        means = " ".join(filter(None, (_headed("Lower", asked.below), _headed("Higher", asked.above))))
        return CommissionStep(
            f"power.{key}",
            CommissionStage.FIRST_POWER,
            title,
            (do,),
            expect or f"{asked.band}.",
            means or "Write it down.",
            asked,
            needed=needed,
        )

    open_v, stray = found.winding.open_v, supply.line_tolerance_percent / 100.0
    yield read(
        "tap",
        "24 VAC at the tap, idle",
        "Meter on V ac, across the tap; nothing held.",
        ReadingAsked(
            "voltage",
            "V",
            "V",
            open_v * (1 - stray),
            open_v * (1 + stray),
            "A low mains, a winding under load, or another winding than the one that was surveyed: measure it again "
            "with the add-on unplugged.",
            "A high mains, or another winding than the one that was surveyed: measure it with the add-on unplugged, "
            "and correct supply.measured_open before you go on.",
        ),
        f"About {open_v:.0f} V, as far as the mains stray.",
    )
    yield from _to_chassis(project)
    yield read(
        "idle",
        "Reservoir, idle",
        "Meter on V dc, across the reservoir capacitor; nothing held.",
        _reservoir(project, Phase.IDLE, "Rectifier, series resistor or fuse: compare with the 24 VAC just read."),
    )
    yield read(
        "held",
        "Reservoir, trigger held",
        "Meter on V dc, across the reservoir capacitor. Pressure arm up, work clamp off: hold the trigger, read, let "
        "go.",
        _reservoir(
            project,
            Phase.WELD,
            "The winding gives less than was surveyed, or the coils take more: measure both, and run `wirecue supply` "
            "again.",
        ),
        needed=False,
    )
    output_v = found.regulator.output_v
    yield read(
        "rail",
        "Regulator's output",
        "Meter on V dc, at the board's supply input; nothing held.",
        ReadingAsked(
            "voltage",
            "V",
            "V",
            output_v * (1 - RAIL_READING_SHARE),
            output_v * (1 + RAIL_READING_SHARE),
            "The regulator is set wrong, overloaded, or starved: read its input too.",
            "Switch off at once: this harms the board. Set or change the regulator with the board unplugged.",
        ),
    )
    if supply.sense is not None:
        yield read(
            "lowest",
            "The lowest that the reservoir goes",
            "Meter on V dc, its lowest-value memory on, across the reservoir capacitor. Pull and let go a few times.",
            ReadingAsked(
                "voltage",
                "V",
                "V",
                supply.sense.low_v,
                below="Below this the add-on switches everything off: a larger reservoir, or less load. "
                "`wirecue supply` says which.",
            ),
            f"{supply.sense.low_v:.3g} V or more: below it the add-on switches everything off.",
            needed=False,
        )


def _headed(word: str, text: str) -> str:
    return f"{word}: {text[0].lower()}{text[1:]}" if text else ""


def _reservoir(project: Project, phase: Phase, below: str) -> ReadingAsked:
    state = next((found.state for found in project.budget.phases if found.load.phase is phase), None)
    mean_v = float(state.dc_mean_v) if state is not None and state.settled else None
    return ReadingAsked(
        "voltage",
        "V",
        "V",
        None if mean_v is None else mean_v * (1 - READING_SHARE),
        None if mean_v is None else mean_v * (1 + READING_SHARE),
        below,
        "A high mains, or less load than was surveyed: compare with the 24 VAC just read.",
    )


def _to_chassis(project: Project) -> Iterator[CommissionStep]:
    found, grounded = project.budget, project.design.supply.grounded
    for kind in ("dc", "ac"):
        asked = ReadingAsked("voltage", "V", "V", signed=kind == "dc")
        floats = f"Under {FLOATS_V:g} V: it floats."
        live = f"Unsteady, down to {common_potential(found).lowest_v:.0f} V dc: live, and to be tied to nothing."
        if found.isolation.parts_common or grounded == "no":
            asked = ReadingAsked(
                "voltage",
                "V",
                "V",
                -FLOATS_V if kind == "dc" else None,
                FLOATS_V,
                "Common is not apart from chassis: switch off, and find what ties them.",
                _more_than_floats(project),
                signed=kind == "dc",
            )
            parted = found.isolation.parted_by
            expect = f"Under {FLOATS_V:g} V: " + (
                f"{parted} parts it." if found.isolation.parts_common else "it floats."
            )
        elif grounded == "yes":
            expect = live
        else:
            expect = f"{floats} {live} Write down which, and state it as supply.grounded."
        yield CommissionStep(
            f"power.{kind}",
            CommissionStage.FIRST_POWER,
            f"Board's GND (COMMON) to chassis, {kind}",
            (f"Meter on V {kind}, run from its battery, 100 kohm across it: from the board's GND to chassis.",),
            expect,
            asked.above or "Tie common to nothing, whatever it reads.",
            asked,
            needed=True,
        )


def _more_than_floats(project: Project) -> str:
    if project.budget.isolation.parts_common:
        return "Common is not apart from chassis: switch off, and find what ties them."
    return 'It is grounded: switch off, state supply.grounded = "yes", and run `wirecue check` again.'
