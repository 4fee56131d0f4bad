"""The trials: into a phase, the fault, what the pins do, what is shown, and a fresh press in the end."""

from __future__ import annotations

import random
from collections.abc import Callable, Sequence
from dataclasses import dataclass

from bench.avr.simulator import TIMER_0_CONTROL, ChipEvent, Cue, said
from timing.protocol.target import RAW_BIT
from timing.sequence.core import filters
from timing.sequence.core.engine import Edge, run_script
from timing.sequence.core.script import Change, Dial, Script, Switch
from timing.sequence.core.table import Fault, Output, Phase
from tools.faults.device import BOOT_US, PASS_US, WAYS, DeviceUnderTest, Way, in_order

AT_ONCE_US = 0
ROUND_US = 3_000
"""The converter's round over six channels, three times: a broken dial, a low supply are surely seen by then."""
WATCHDOG_US = 70_000
"""60 ms nominal; the command that hangs the loop takes some milliseconds to come in."""
LAPSE_US = 1_000_000
STARTED_US = 300_000
"""A fault that is put right at CLEARED_US and resets the board has let it start by then."""
ASKED_US = 90_000
CLEARED_US = 100_000
HELD_US = 700_000
"""Trigger and buttons stay as they were for this long after the fault: longer than hold-off."""
PRESSED_US = HELD_US + 150_000
WELDING_US = PRESSED_US + 220_000
OVERFLOW_US = 1_100
"""The simulator's timer begins a count of 1.024 ms anew when it is stopped and started."""
# Registers by their addresses in data memory: the same in the whole family.
CONVERTER_CONTROL = 0x7A
CONVERTING = 0xC7
CONVERSION_US = 300
BROWN_OUT_US = (0, 3_000, 7_000, 8_000, 20_000)


@dataclass(frozen=True)
class Kind:
    """One fault that is tried in every phase."""

    name: str
    happens: Callable[[DeviceUnderTest, int], list[Cue]]
    """The cues of the fault at an instant; some of it may be put right at CLEARED_US after."""
    bound_us: int
    """Outputs must be off this long after."""
    bound: str
    fault: Fault
    asked_us: int = ASKED_US
    """When the board is asked how it stands."""


@dataclass(frozen=True)
class Outcome:
    """What came of one trial. Times in microseconds."""

    fault: str
    where: str
    off_after_us: int | None
    """When the last output that was on went off, counted from the fault; None: none was on."""
    bound_us: int
    bound: str
    rose: bool
    """Something came on between fault and fresh press."""
    phase: Phase
    shown: Fault
    welded: bool
    """The fresh press in the end welded."""


def _sag(device: DeviceUnderTest, at_us: int) -> list[Cue]:
    assert device.target.supply is not None
    low, good = device.target.supply.low, device.target.supply.good
    return [device.counts_at("supply", low, at_us), device.counts_at("supply", good, at_us + CLEARED_US)]


def kinds(device: DeviceUnderTest) -> list[Kind]:
    """Return the faults that are tried in every phase."""
    sense_us = device.target.rig.supply_filter_us
    return [
        Kind("reset", lambda s, at: [s.reset(at)], AT_ONCE_US, "at once", Fault.NONE),
        Kind(
            "brown-out",
            lambda s, at: [s.reset(at + after_us) for after_us in BROWN_OUT_US],
            AT_ONCE_US,
            "at once",
            Fault.NONE,
        ),
        Kind("loop held", lambda s, at: [s.say("BENC:HANG\n", at)], WATCHDOG_US, "watchdog time", Fault.NONE),
        Kind(
            "interlock open",
            lambda s, at: [s.contact("interlock", False, at), s.contact("interlock", True, at + CLEARED_US)],
            filters.PANEL_LONGEST_US + 2 * PASS_US,
            "looks that agree",
            Fault.INTERLOCK,
        ),
        Kind("supply sags", _sag, sense_us + ROUND_US, "supply filter", Fault.SUPPLY),
        *(
            Kind(name, happens, WATCHDOG_US, "watchdog time", Fault.NONE, STARTED_US)
            for name, happens in (
                ("clock stopped", _clock_stopped),
                ("clock at half speed", lambda s, at: _clock_slowed(s, at, 1)),
                ("clock at double speed", lambda s, at: _clock_slowed(s, at, -1)),
                ("converter stopped", _converter_stopped),
            )
        ),
    ]


def _clock_stopped(device: DeviceUnderTest, at_us: int) -> list[Cue]:
    wiring, from_us = device.wiring, BOOT_US + at_us
    return [wiring.stuck(TIMER_0_CONTROL, 0, from_us), wiring.freed(TIMER_0_CONTROL, from_us + CLEARED_US)]


def _clock_slowed(device: DeviceUnderTest, at_us: int, halvings: int) -> list[Cue]:
    wiring, from_us = device.wiring, BOOT_US + at_us
    return [wiring.slowed(0, halvings, from_us), wiring.slowed(0, -halvings, from_us + CLEARED_US)]


def _converter_stopped(device: DeviceUnderTest, at_us: int) -> list[Cue]:
    """It says that it converts and never ends; twice, for one conversion may be under way at first."""
    wiring, from_us = device.wiring, BOOT_US + at_us
    never = [wiring.stuck(CONVERTER_CONTROL, CONVERTING, each_us) for each_us in (from_us, from_us + CONVERSION_US)]
    return [*never, wiring.freed(CONVERTER_CONTROL, from_us + CLEARED_US)]


def in_every_phase(device: DeviceUnderTest) -> list[Outcome]:
    """Run each kind of fault in each phase."""
    cases = [(kind, way) for kind in kinds(device) for way in WAYS]
    scripts = [_script(device, _happens(device, kind, way.there_us), way, kind.asked_us) for kind, way in cases]
    runs = device.simulator.run_each(device.boot(), scripts)
    return [_outcome(device, kind, way, events) for (kind, way), events in zip(cases, runs, strict=True)]


def _happens(device: DeviceUnderTest, kind: Kind, at_us: int) -> list[Cue]:
    """Return what happens; the arc goes out with the contactor, at the latest when all must be off."""
    return [*kind.happens(device, at_us), device.contact("arc", False, at_us + kind.bound_us)]


def _script(device: DeviceUnderTest, happens: Sequence[Cue], way: Way, asked_us: int = ASKED_US) -> list[Cue]:
    at_us = way.there_us
    cues = [*device.along(way), *happens, device.say("\nSEQ:STAT?\n", at_us + asked_us)]
    cues += [*device.open_all(at_us + HELD_US), device.contact("trigger", True, at_us + PRESSED_US)]
    return [*in_order(cues), device.end(at_us + WELDING_US)]


def _outcome(device: DeviceUnderTest, kind: Kind, way: Way, events: Sequence[ChipEvent]) -> Outcome:
    edges = device.wiring.edges(events, BOOT_US)
    phase, shown = _state(events)
    return Outcome(
        kind.name,
        way.phase.word,
        off_after_us(edges, way.there_us),
        kind.bound_us,
        kind.bound,
        came_on(edges, way.there_us, way.there_us + PRESSED_US),
        phase,
        shown,
        welds(edges, way.there_us + PRESSED_US),
    )


def _state(events: Sequence[ChipEvent]) -> tuple[Phase, Fault]:
    """Return phase and fault as answered last."""
    phase, fault = said(events).rstrip("\n").rpartition("\n")[2].split(",")
    return Phase(int(phase)), Fault(int(fault))


def off_after_us(edges: Sequence[Edge], at_us: int) -> int | None:
    """Return how long after `at_us` the last of the outputs that were on then went off; None where none was on."""
    standing = {edge.output for edge in edges if edge.at_us < at_us and edge.on}
    standing -= {
        output for output in standing if not [e for e in edges if e.output is output and e.at_us < at_us][-1].on
    }
    offs = [next(edge.at_us for edge in edges if edge.output is output and edge.at_us >= at_us) for output in standing]
    return max(offs) - at_us if offs else None


def came_on(edges: Sequence[Edge], from_us: int, to_us: int) -> bool:
    """Tell whether anything came on between two instants."""
    return any(edge.on and from_us <= edge.at_us < to_us for edge in edges)


def welds(edges: Sequence[Edge], from_us: int) -> bool:
    """Tell whether wire and contactor came on after an instant."""
    return {Output.WIRE, Output.CONTACTOR} <= {edge.output for edge in edges if edge.on and edge.at_us >= from_us}


# ---- Registers turned over once: put right while the program runs ----


@dataclass(frozen=True)
class Flip:
    """What came of one disturbed register, against the same run undisturbed. Times in microseconds."""

    fault: str
    where: str
    right_after_us: int
    """When the last output was as it should be again."""
    bound_us: int
    tolerance_us: int
    worst_us: int
    """How far later edges are from those of the undisturbed run; -1 where they are others."""


FLIPPED_IN = (Phase.IDLE, Phase.WELD, Phase.BURNBACK, Phase.PURGE)


def _flips(device: DeviceUnderTest) -> dict[str, tuple[tuple[int, int], ...]]:
    """Return the registers to turn over together, (address, mask), by what that is."""
    wiring = device.wiring

    def of_pins(roles: Sequence[str], register: int) -> tuple[tuple[int, int], ...]:
        # PINx, DDRx and PORTx of port B lie at 0x23 to 0x25, the other ports' follow.
        places = [wiring.port(role) for role in roles]
        return tuple((0x23 + 3 * (ord(port) - ord("B")) + register, 1 << bit) for port, bit in places)

    outputs, contacts = ("gas_valve", "wire_drive", "contactor"), ("trigger", "purge", "inch", "interlock", "arc")
    return {
        "output register flipped": of_pins(outputs, 2),
        "output direction flipped": of_pins(outputs, 1),
        "pull-up flipped": of_pins(contacts, 2),
        "clock register flipped": ((TIMER_0_CONTROL, 3),),
        "converter register flipped": ((CONVERTER_CONTROL, 0x80),),
    }


def flipped(device: DeviceUnderTest) -> list[Flip]:
    """Turn each kind of register over in some phases: nothing on, all on, some on."""
    ways = [way for way in WAYS if way.phase in FLIPPED_IN]
    cases = [(fault, flips, way) for fault, flips in _flips(device).items() for way in ways]
    scripts = [_script(device, [], way) for way in ways]
    for _, flips, way in cases:
        at_us = BOOT_US + way.there_us
        scripts.append(_script(device, [device.wiring.flipped(*flip, at_us) for flip in flips], way))
    runs = [device.wiring.edges(events, BOOT_US) for events in device.simulator.run_each(device.boot(), scripts)]
    calm = dict(zip((way.phase for way in ways), runs, strict=False))
    return [
        _flip(fault, way, calm[way.phase], edges)
        for (fault, _, way), edges in zip(cases, runs[len(ways) :], strict=True)
    ]


def _flip(fault: str, way: Way, calm: Sequence[Edge], edges: Sequence[Edge]) -> Flip:
    bound_us = 2 * PASS_US

    def apart(edge: Edge) -> bool:
        return way.there_us <= edge.at_us <= way.there_us + bound_us

    excursion = [edge.at_us for edge in edges if apart(edge)]
    wanted = _ordered([edge for edge in calm if not apart(edge)])
    got = _ordered([edge for edge in edges if not apart(edge)])
    same = [(edge.output, edge.on) for edge in wanted] == [(edge.output, edge.on) for edge in got]
    worst_us = max((abs(a.at_us - b.at_us) for a, b in zip(wanted, got, strict=False)), default=0)
    right_us = max(excursion, default=way.there_us) - way.there_us
    tolerance_us = OVERFLOW_US if fault.startswith("clock") else 250
    return Flip(fault, way.phase.word, right_us, bound_us, tolerance_us, worst_us if same else -1)


# ---- What ends by the table: compared with the model, edge by edge ----


@dataclass(frozen=True)
class Course:
    """A trial whose outputs follow the table: how far the firmware's edges are from the model's."""

    fault: str
    where: str
    same: bool
    """The same edges in the same order."""
    worst_us: int
    tolerance_us: int
    phase: Phase
    shown: Fault
    welded: bool


@dataclass(frozen=True)
class Story:
    """One such trial: what is done, and when the fresh press comes."""

    fault: str
    where: str
    changes: tuple[Change, ...]
    asked_us: int
    pressed_us: int
    cues: tuple[Cue, ...] = ()
    """What the model knows nothing of, such as traffic."""
    tolerance_us: int = 250


def run_stories(device: DeviceUnderTest, stories: Sequence[Story]) -> list[Course]:
    """Run each story on firmware and model."""
    runs = device.simulator.run_each(device.boot(), [_told(device, story) for story in stories])
    return [_course(device, story, events) for story, events in zip(stories, runs, strict=True)]


def _told(device: DeviceUnderTest, story: Story) -> list[Cue]:
    cues = [_cue(device, change, story) for change in _all_changes(story)]
    cues += [*story.cues, device.say("\nSEQ:STAT?\n", story.asked_us)]
    return [*in_order(cues), device.end(story.pressed_us + 400_000)]


def _all_changes(story: Story) -> tuple[Change, ...]:
    return (*story.changes, Change(story.pressed_us, "trigger", 1))


def _cue(device: DeviceUnderTest, change: Change, story: Story) -> Cue:
    if change.what == "dial_fault":
        rail = device.target.full_scale_counts if "shorted" in story.fault else 0
        return device.counts_at("burnback", rail if change.value else device.counts()["burnback"], change.at_us)
    return device.wiring.change(change, {}, BOOT_US)


def _course(device: DeviceUnderTest, story: Story, events: Sequence[ChipEvent]) -> Course:
    rig = device.target.rig
    dials = [
        Change(0, Dial(name), scale.time_us(device.counts()[name])) for name, scale in device.target.scales.items()
    ]
    model = run_script(rig, Script((*dials, *_all_changes(story)), story.pressed_us + 400_000))
    wanted, got = _ordered(model.edges), _ordered(device.wiring.edges(events, BOOT_US))
    same = [(edge.output, edge.on) for edge in wanted] == [(edge.output, edge.on) for edge in got]
    worst_us = max((abs(a.at_us - b.at_us) for a, b in zip(wanted, got, strict=False)), default=0)
    phase, shown = _state(events)
    edges = device.wiring.edges(events, BOOT_US)
    return Course(
        story.fault,
        story.where,
        same,
        worst_us,
        story.tolerance_us,
        phase,
        shown,
        welds(edges, story.pressed_us) and not came_on(edges, story.asked_us, story.pressed_us),
    )


def _ordered(edges: Sequence[Edge]) -> list[Edge]:
    return sorted(edges, key=lambda edge: (edge.output.value, edge.at_us))


def dial_stories() -> list[Story]:
    """A dial's wire broken or shorted in every phase; repaired later."""
    return [
        Story(
            f"dial {word}",
            way.phase.word,
            (
                *way.changes,
                Change(way.there_us, "dial_fault", 1),
                # The arc goes out with the contactor: at once, or at the end of the burnback that is under way.
                Change(way.there_us + (1_000_000 if way.phase is Phase.WELD else 55_000), "arc", 0),
                *(Change(way.there_us + 1_000_000, what, 0) for what in ("trigger", "purge", "inch")),
                Change(way.there_us + 1_650_000, "dial_fault", 0),
            ),
            way.there_us + 1_560_000,
            way.there_us + 2_400_000,
            tolerance_us=ROUND_US,
        )
        for word, ways in (("broken", WAYS), ("shorted", WAYS[1:4]))
        for way in ways
    ]


def arc_stories() -> list[Story]:
    """The arc sensor closes with the contactor off, and stays closed for a second."""
    return [
        Story(
            "arc stays",
            way.phase.word,
            (
                *way.changes,
                Change(way.there_us, "arc", 1),
                *(Change(way.there_us + 100_000, what, 0) for what in ("trigger", "purge", "inch")),
                Change(way.there_us + 1_000_000, "arc", 0),
            ),
            way.there_us + 950_000,
            way.there_us + 1_800_000,
        )
        for way in WAYS
        if way.phase not in (Phase.WELD, Phase.BURNBACK)
    ]


def limit_stories() -> list[Story]:
    """What nobody ends: trigger, purge and inch held, an arc that never strikes."""

    def held(fault: str, where: str, role: str, spot: int, arc: int) -> Story:
        changes = [Change(0, Switch("spot"), spot), Change(10_000, role, 1)]
        # 2 s of weld limit and 100 ms of burnback later the contactor is off, and so is the arc.
        changes += [Change(200_000, "arc", 1), Change(2_280_000, "arc", 0)] * arc
        return Story(fault, where, (*changes, Change(3_500_000, role, 0)), 3_400_000, 3_800_000)

    return [
        held("trigger stuck", "weld", "trigger", 0, 1),
        held("arc never strikes", "weld", "trigger", 0, 0),
        held("purge button stuck", "purge", "purge", 0, 0),
        held("inch button stuck", "inch", "inch", 0, 0),
    ]


def traffic_stories(device: DeviceUnderTest, garbage_bytes: int) -> list[Story]:
    """Garbage at the port's full pace, and lines that never end, through idle and a weld."""
    rng = random.Random(1)
    lasts_us = garbage_bytes * 10 * 1_000_000 // 115_200
    weld_us = max(lasts_us - 1_300_000, 100_000)
    weld = (Change(weld_us, Switch("spot"), 0), Change(weld_us, "trigger", 1), Change(weld_us + 300_000, "arc", 1))
    weld = (*weld, Change(weld_us + 500_000, "trigger", 0), Change(weld_us + 600_000, "arc", 0))

    def told(fault: str, pieces: Sequence[bytes]) -> Story:
        gap_us = len(pieces[0]) * 10 * 1_000_000 // 115_200
        cues = tuple(device.wiring.serial(piece, BOOT_US + index * gap_us) for index, piece in enumerate(pieces))
        after_us = max(lasts_us, weld_us + 1_300_000) + 100_000
        return Story(fault, "idle to postflow", weld, after_us, after_us + 50_000, cues)

    # No letters and no star: what no command can grow from, so that nothing is forced over the link.
    alphabet = bytes(set(range(256)) - set(b"*" + bytes(range(65, 91)) + bytes(range(97, 123))))
    count = garbage_bytes // 1_000
    return [
        told("serial garbage", [bytes(rng.choices(alphabet, k=1_000)) for _ in range(count)]),
        told("overlong lines", [b"X" * 1_000 for _ in range(count)]),
    ]


def clock_course(device: DeviceUnderTest) -> Course:
    """Both clocks wrap in the middle of a weld."""
    way = next(way for way in WAYS if way.phase is Phase.WELD)
    changes = (*way.changes, Change(600_000, "trigger", 0), Change(700_000, "arc", 0))
    story = Story("both clocks wrap", "weld", changes, 1_500_000, 1_700_000)
    wraps_us = BOOT_US + way.there_us
    boot = [*device.wiring.quiet(device.counts()), *device.clock_cues((1 << 32) - wraps_us + 1_000, 1_000)]
    events = device.simulator.run([*in_order(boot), *_told(device, story)])
    return _course(device, story, events)


# ---- Power-up, and the cable ----


def power_up(device: DeviceUnderTest) -> list[Outcome]:
    """Trigger or a button is closed while the board powers up."""
    outcomes = []
    for role in ("trigger", "purge", "inch"):
        cues = [*device.wiring.quiet(device.counts()), device.wiring.contact(role, True, 0)]
        cues += [device.say("\nSEQ:STAT?\n", ASKED_US), *device.open_all(HELD_US)]
        cues += [device.contact("trigger", True, PRESSED_US), device.end(WELDING_US)]
        edges = device.wiring.edges(events := device.simulator.run(cues), BOOT_US)
        phase, shown = _state(events)
        on = came_on(edges, -BOOT_US, PRESSED_US)
        outcomes.append(
            Outcome(f"{role} closed", "power-up", None, PASS_US, "never on", on, phase, shown, welds(edges, PRESSED_US))
        )
    return outcomes


def unplugged(device: DeviceUnderTest) -> Outcome:
    """A forced weld, and then no word over the cable: the trigger counts as released when forced states lapse."""
    closed = RAW_BIT["trigger"] | RAW_BIT["interlock"] | RAW_BIT["pause_switch"]
    pressed_us, arc_us = 2_500_000, 250_000
    cues = [device.say(f"BENC:CONT {closed}\n", 0), device.say(f"BENC:CONT {closed | RAW_BIT['arc']}\n", arc_us)]
    cues.append(device.contact("trigger", True, pressed_us))
    cues += [device.say("\nSEQ:STAT?\n", pressed_us - 50_000), device.end(pressed_us + 400_000)]
    events = device.simulator.run_each(device.boot(), [in_order(cues)])[0]
    edges = device.wiring.edges(events, BOOT_US)
    wire_off_us = next((edge.at_us for edge in edges if edge.output is Output.WIRE and not edge.on), None)
    filter_us = device.target.rig.filters_us["trigger"][0]
    # The line takes some milliseconds to come in, and the lapse counts from its end.
    bound_us = LAPSE_US + filter_us + 5_000
    phase, shown = _state(events)
    rose = came_on(edges, arc_us + LAPSE_US, pressed_us)
    return Outcome(
        "cable unplugged",
        "forced weld",
        None if wire_off_us is None else wire_off_us - arc_us,
        bound_us,
        "lapse and filter",
        rose,
        phase,
        shown,
        welds(edges, pressed_us),
    )
