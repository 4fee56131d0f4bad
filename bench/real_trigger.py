"""The last step on a real board: a hand on the real trigger, the real dials, nothing forced but the supply.

The cases before it put contacts and readings in the place of the pins; this one goes through the pins.
"""

from __future__ import annotations

from collections.abc import Callable
from dataclasses import replace

from bench.compare import EDGE_TOLERANCE, CaseResult, Record, Tolerance, compare, observe
from bench.forcing import SUPPLY_CHANNEL
from bench.link import Link
from bench.monitor import BoardMonitor
from timing.protocol.target import ANALOG_CHANNELS, OUTPUT_BIT, RAW_BIT, Target
from timing.sequence.core.engine import Rig, run_script
from timing.sequence.core.script import Change, Script
from timing.sequence.core.table import Output, Phase

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


def watch_press(link: Link, target: Target, ask: Callable[[str], None]) -> CaseResult:
    """Ask for a pull of the real trigger, watch it and compare it with the model. Raises BenchError."""
    link.command("release")
    keep = _supply_keeper(link, target)
    monitor = BoardMonitor(link)
    settings = target.rig.settings
    try:
        keep(monitor)
        phase, fault = monitor.wait_for(Phase.IDLE, settings.settle_us + settings.open_us + KEEP_US)
        if phase is not Phase.IDLE:
            return _failed(f"The board does not come to rest on its own pins: fault {fault.value} ({fault.word}).")
        rig = _rig_on_its_pins(link, target)
        start = monitor.start()
        ask(ASK)
        if not _watch_weld(monitor, keep):
            return _failed("Nothing was pressed, or no weld came of it, in 60 s.")
    finally:
        link.command("release")
    return _held_against_model(monitor, target, rig, start)


def _failed(trouble: str) -> CaseResult:
    return CaseResult(NAME, TITLE, (trouble,))


def _supply_keeper(link: Link, target: Target) -> Callable[[BoardMonitor], None]:
    """Return what holds the supply good again and again: on the bench the feeder plug is pulled."""
    kept_us = [-KEEP_US]

    def keep(monitor: BoardMonitor) -> None:
        if target.supply is not None and monitor.latest_us - kept_us[0] >= KEEP_US:
            kept_us[0] = monitor.latest_us
            link.command("force_analog", SUPPLY_CHANNEL, target.supply.good)

    return keep


def _watch_weld(monitor: BoardMonitor, keep: Callable[[BoardMonitor], None]) -> bool:
    """Poll until a weld has come and gone and all is at rest; False when none comes."""
    give_up_us = monitor.latest_us + PATIENCE_US
    while monitor.poll() < give_up_us:
        keep(monitor)
        welded = any(record.phase is Phase.WELD for record in monitor.records)
        if welded and monitor.records[-1].phase is Phase.IDLE and not monitor.records[-1].sees("trigger"):
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


def _held_against_model(monitor: BoardMonitor, target: Target, rig: Rig, start: Record) -> CaseResult:
    records = [replace(record, at_us=record.at_us - start.at_us) for record in monitor.records]
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
        monitor.latest_us - start.at_us,
        predicted,
        seen,
    )
