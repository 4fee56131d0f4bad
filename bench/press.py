"""The last step on a real board: a hand on the real trigger, the real dials, nothing forced but the supply.

The cases before it put contacts and readings in the place of the pins; this one goes through the pins.
"""

from __future__ import annotations

from collections.abc import Callable
from dataclasses import dataclass, field, replace

from bench.clock import UnwrappedClock
from bench.compare import compare
from bench.link import Link
from bench.message import message
from bench.panel import SUPPLY_CHANNEL
from bench.results import CaseResult
from bench.tolerance import EDGE_TOLERANCE, Tolerance
from bench.trace import Record, observe, record_of
from timing.protocol.levels import ANALOG_CHANNELS, OUTPUT_BIT, RAW_BIT
from timing.protocol.target import Target
from timing.sequence.engine import Rig, run_script
from timing.sequence.script import Change, Script
from timing.sequence.table import Fault, Output, Phase

NAME = "press"
TITLE = "the real trigger, pressed by hand"
PATIENCE_US = 60_000_000
"""How long a hand may take, on the board's clock."""
KEEP_US = 400_000
"""Well below the lapse of forced states: the supply's reading is forced anew this often."""
DIAL_SLACK_COUNTS = 2
"""Readings of a real dial waver by this much (practice)."""
ASK = (
    "Now press the real trigger, hold it until the lamps of wire and contactor have come on, and let it go.\n"
    "In four-step work press and let go twice. (60 s at the most)"
)
_SEEN = ("trigger", "purge", "inch", "arc")


@dataclass
class _Watch:
    link: Link
    target: Target
    clock: UnwrappedClock = field(init=False)
    records: list[Record] = field(default_factory=list)
    kept_us: int = 0

    def __post_init__(self) -> None:
        self.clock = UnwrappedClock(self.link.query("clock").number("time_us"))
        self.keep()

    def keep(self) -> None:
        """Hold the supply good: on the bench the 24 V plug is pulled."""
        self.kept_us = self.clock.now_us
        if self.target.supply is not None:
            self.link.command("force_analog", SUPPLY_CHANNEL, self.target.supply.good)

    def poll(self) -> int:
        answer, clock = self.link.ask(message("trace"), message("clock"))
        if answer.number("records"):
            self.records.append(record_of(answer, self.clock.instant(answer.number("time_us"))))
        now_us = self.clock.advance(clock.number("time_us"))
        if now_us - self.kept_us >= KEEP_US:
            self.keep()
        return now_us

    def wait_for_phase(self, phase: Phase, patience_us: int) -> bool:
        give_up_us = self.clock.now_us + patience_us
        while Phase(self.link.query("state").number("phase")) is not phase:
            if self.poll() > give_up_us:
                return False
        return True


def watch_press(link: Link, target: Target, ask: Callable[[str], None]) -> CaseResult:
    """Ask for a pull of the real trigger, watch it and hold it against the model. Raises BenchError."""
    link.command("release")
    watch = _Watch(link, target)
    settings = target.rig.settings
    try:
        if not watch.wait_for_phase(Phase.IDLE, 2 * (settings.settle_us + settings.open_us) + KEEP_US):
            fault = Fault(link.query("state").number("fault"))
            return _failed(f"The board does not come to rest on its own pins: fault {fault.value} ({fault.word}).")
        rig = _rig_on_its_pins(link, target)
        link.command("trace_clear")
        watch.records.clear()
        fault = Fault(link.query("state").number("fault"))
        start = Record(watch.poll(), 0, Phase.IDLE, fault)
        ask(ASK)
        if not _watch_weld(watch):
            return _failed("Nothing was pressed, or no weld came of it, in 60 s.")
    finally:
        link.command("release")
    return _held_against_model(watch, rig, start)


def _failed(trouble: str) -> CaseResult:
    return CaseResult(NAME, TITLE, (trouble,))


def _watch_weld(watch: _Watch) -> bool:
    """Poll until a weld has come and gone and all is at rest."""
    give_up_us = watch.clock.now_us + PATIENCE_US
    while watch.poll() < give_up_us:
        welded = any(record.phase is Phase.WELD for record in watch.records)
        if welded and watch.records[-1].phase is Phase.IDLE and not watch.records[-1].sees("trigger"):
            return True
    return False


def _rig_on_its_pins(link: Link, target: Target) -> Rig:
    """Return the sequence with dials and switches as the board reads them from its own pins now."""
    contacts = link.query("contacts").number("contacts")
    times_us = dict(target.rig.times_us)
    for name in target.scales:
        times_us[name] = link.query("time", ANALOG_CHANNELS.index(name)).number("time_us")
    switches = {
        name: bool(contacts & RAW_BIT[f"{name}_switch"]) if f"{name}_switch" in target.fitted else on
        for name, on in target.rig.switches.items()
    }
    four_step = bool(contacts & RAW_BIT["four_step"]) if "four_step" in target.fitted else target.rig.four_step
    # What the trace tells of contacts has been through the filters already.
    unfiltered = dict.fromkeys(target.rig.filters_us, (0, 0))
    return replace(target.rig, times_us=times_us, switches=switches, four_step=four_step, filters_us=unfiltered)


def _held_against_model(watch: _Watch, rig: Rig, start: Record) -> CaseResult:
    target = watch.target
    records = [replace(record, at_us=record.at_us - start.at_us) for record in watch.records]
    changes: list[Change] = []
    before = replace(start, at_us=0)
    for record in records:
        changes += [
            Change(record.at_us, contact, int(record.sees(contact)))
            for contact in _SEEN
            if contact in target.fitted and record.sees(contact) != before.sees(contact)
        ]
        before = record
    predicted = run_script(rig, Script(tuple(changes)), fault=start.fault)
    outputs = [Output(bit) for role, bit in OUTPUT_BIT.items() if role in target.fitted]
    seen = observe(replace(start, at_us=0), records, outputs)
    dial_slack_us = DIAL_SLACK_COUNTS * max((scale.step_q4_us >> 4 for scale in target.scales.values()), default=0)
    tolerance = Tolerance(EDGE_TOLERANCE.early_us + dial_slack_us, EDGE_TOLERANCE.late_us + dial_slack_us)
    comparison = compare(predicted, [], seen, tolerance)
    return CaseResult(
        NAME,
        TITLE,
        tuple(map(str, comparison.differences)),
        comparison.compared,
        comparison.earliest_us,
        comparison.latest_us,
        watch.clock.now_us - start.at_us,
        predicted,
        seen,
    )
