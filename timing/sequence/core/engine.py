"""The sequence in continuous time: passes where, and only where, something can change, and the timeline they leave."""

from __future__ import annotations

from collections.abc import Iterable, Mapping
from dataclasses import dataclass, field

from .filters import ContactFilter, SupplyFilter, SupplyLevel
from .scan import Inputs, Scanner, State, contactor_on, start, step, time_fields
from .script import Change, Dial, Script, Switch
from .settings import Settings
from .table import Fault, Output, Phase, Table


@dataclass(frozen=True)
class Edge:
    """One output switches."""

    at_us: int
    output: Output
    on: bool


@dataclass(frozen=True)
class PhaseChange:
    """A phase begins, or the fault shown changes."""

    at_us: int
    phase: Phase
    fault: Fault


@dataclass(frozen=True)
class Timeline:
    """One run of the sequence. Times in microseconds from the start of the script."""

    start_us: int
    end_us: int
    phases: tuple[PhaseChange, ...]
    edges: tuple[Edge, ...]
    """Outputs as commanded. All are off at the start."""
    changes: tuple[Change, ...]
    """Inputs as the script gave them, before any filter."""

    def edges_of(self, output: Output) -> tuple[Edge, ...]:
        """Return the edges of one output."""
        return tuple(edge for edge in self.edges if edge.output is output)

    def on_spans_us(self, output: Output) -> tuple[tuple[int, int], ...]:
        """Return (from, to) for each time that one output is on; what is still on ends with the timeline."""
        return on_spans_us(self.edges_of(output), self.end_us)


def on_spans_us(edges: tuple[Edge, ...], end_us: int) -> tuple[tuple[int, int], ...]:
    """Return (from, to) of each on-time in the edges of one output."""
    spans = []
    since_us: int | None = None
    for edge in edges:
        if edge.on:
            since_us = edge.at_us
        elif since_us is not None:
            spans.append((since_us, edge.at_us))
            since_us = None
    if since_us is not None:
        spans.append((since_us, end_us))
    return tuple(spans)


REST_US = 100_000
"""How much of the rest after the last event a timeline shows."""
LONGEST_TAIL_US = 600_000_000
"""How long after the last change of an input a run may go on, such as a stitch that never ends."""


@dataclass(frozen=True)
class Rig:
    """One design's sequence as it stands on the panel: table, constants, filters, dials, switches."""

    table: Table
    settings: Settings
    filters_us: Mapping[str, tuple[int, int]]
    """Contact by role: its filter time, and the longest gap bridged while closing (see ContactFilter)."""
    times_us: Mapping[str, int]
    """Time by name, as its dial stands at the start or as it is fixed."""
    switches: Mapping[str, bool]
    """Function by time name: whether its switch is on at the start (True where it has none)."""
    four_step: bool
    """Trigger mode at the start."""
    supply_filter_us: int


def due_instants_us(state: State, table: Table, settings: Settings) -> list[int]:
    """Return the instants at which a pass may differ from the one before by itself; some may be past."""
    due = [state.since_us + state.duration_us]
    if settings.arc_end_us is not None and not contactor_on(table, state.phase):
        due.append(state.contactor_on_us + settings.arc_end_us)
    if settings.weld_limit_us is not None:
        due.append(state.weld_since_us + settings.weld_limit_us)
    if settings.arc_limit_us is not None:
        due.append(state.since_us + settings.arc_limit_us)
    return due


@dataclass
class Engine:
    """A run in progress. `now_us` only moves forward."""

    rig: Rig
    now_us: int = 0
    scan: Scanner = step
    state: State = field(init=False)
    phases: list[PhaseChange] = field(default_factory=list)
    edges: list[Edge] = field(default_factory=list)
    _raw: dict[str, bool] = field(init=False)
    _filters: dict[str, ContactFilter] = field(init=False)
    _times_us: dict[str, int] = field(init=False)
    _switches: dict[str, bool] = field(init=False)
    _supply: SupplyLevel = SupplyLevel.GOOD
    _supply_filter: SupplyFilter = field(init=False)
    _outputs: int = 0

    def __post_init__(self) -> None:
        self._raw = dict.fromkeys(("trigger", "purge", "inch", "arc"), False) | {
            "interlock": True,
            "four_step": self.rig.four_step,
            "dial_fault": False,
        }
        self._times_us = dict(self.rig.times_us)
        self._switches = dict(self.rig.switches)
        self._restart()

    def settle(self) -> None:
        """Take the board as switched on long ago, with everything open: idle."""
        self.state = State(
            phase=Phase.IDLE,
            since_us=self.now_us,
            contactor_on_us=self.now_us - (self.rig.settings.arc_end_us or 0),
            arc_seen_open=self.rig.settings.arc_sensor,
            trigger_was=False,
            purge_was=False,
            inch_was=False,
            all_well=True,
            settled=True,
            seen_open=True,
        )

    def power_up(self, found: Iterable[Change] = ()) -> None:
        """Take the board as switched on this instant: in hold-off, its first pass done.

        found: what stood otherwise than at rest when it was switched on.
        """
        for change in found:
            self._move(change)
        self._pass()

    def apply(self, change: Change) -> None:
        """Run up to the instant of `change`, then let it happen."""
        self.run_until(change.at_us)
        # A contact that opens was closed up to this very instant.
        self._read_filters()
        self._move(change)
        self._pass()

    def _move(self, change: Change) -> None:
        match change.what:
            case Dial(name):
                self._times_us[name] = change.value
            case Switch(name):
                self._switches[name] = bool(change.value)
            case "reset":
                self._restart()
            case "supply":
                self._supply = SupplyLevel(change.value)
            case contact if contact in self._raw:
                self._raw[contact] = bool(change.value)
            case _:
                raise ValueError(f"{change.what!r} is no input of the sequence")

    def run_until(self, end_us: int) -> None:
        """Run everything that is due up to and including `end_us`."""
        while (due_us := self.next_due_us()) is not None and due_us <= end_us:
            self.now_us = due_us
            self._pass()
        self.now_us = max(self.now_us, end_us)

    def next_due_us(self) -> int | None:
        """Return the next instant after now at which something may change by itself, or None."""
        due = due_instants_us(self.state, self.rig.table, self.rig.settings)
        if (low_us := self._supply_filter.deadline_us()) is not None:
            due.append(low_us)
        due += [
            deadline_us
            for role, contact in self._filters.items()
            if (deadline_us := contact.deadline_us(self._raw[role])) is not None
        ]
        return min((instant_us for instant_us in due if instant_us > self.now_us), default=None)

    def _restart(self) -> None:
        self.state = start(self.rig.settings, self.now_us)
        self._filters = {role: ContactFilter(*times_us) for role, times_us in self.rig.filters_us.items()}
        self._supply_filter = SupplyFilter(self.rig.supply_filter_us)

    def _read_filters(self) -> dict[str, bool]:
        return {role: contact.read(self._raw[role], self.now_us) for role, contact in self._filters.items()}

    def _inputs(self) -> Inputs:
        seen = self._read_filters()
        self._supply_filter.read(self._supply, self.now_us)
        on, times_us = self._switches, self._times_us
        return Inputs(
            trigger=seen.get("trigger", False),
            purge=seen.get("purge", False),
            inch=seen.get("inch", False),
            arc=seen.get("arc", False),
            interlock_open=not self._raw["interlock"],
            supply_low=self._supply_filter.low,
            supply_poor=self._supply_filter.poor,
            dial_fault=self._raw["dial_fault"],
            four_step=self._raw["four_step"],
            spot="spot" in times_us and on["spot"],
            stitch="pause" in times_us and on["pause"],
            **time_fields(times_us, on),
        )

    def _pass(self) -> None:
        outputs = self.scan(self.rig.table, self.rig.settings, self.state, self._inputs(), self.now_us)
        self.edges += [
            Edge(self.now_us, output, bool(outputs & output.value))
            for output in Output
            if (outputs ^ self._outputs) & output.value
        ]
        self._outputs = outputs
        latest = PhaseChange(self.now_us, Phase(self.state.phase), Fault(self.state.fault))
        if not self.phases or (self.phases[-1].phase, self.phases[-1].fault) != (latest.phase, latest.fault):
            self.phases.append(latest)


def run_script(
    rig: Rig, script: Script, *, settled: bool = True, fault: Fault = Fault.NONE, scan: Scanner = step
) -> Timeline:
    """Run `script` on `rig` and return what happened.

    settled: True starts in idle; False starts at power-up, in hold-off.
    fault: what is still shown from before.
    scan: what reads the phase table.
    """
    engine = Engine(rig, scan=scan)
    if settled:
        engine.settle()
    engine.state.fault = fault
    engine.phases.append(PhaseChange(0, Phase(engine.state.phase), fault))
    if not settled:
        engine.power_up(change for change in script.changes if change.at_us <= 0)
    for change in script.changes:
        engine.apply(change)
    if script.end_us is not None:
        engine.run_until(script.end_us)
        end_us = script.end_us
    else:
        limit_us = engine.now_us + LONGEST_TAIL_US
        while (due_us := engine.next_due_us()) is not None and due_us <= limit_us:
            engine.run_until(due_us)
        last_us = max((edge.at_us for edge in engine.edges), default=0)
        last_us = max(last_us, engine.phases[-1].at_us, *(change.at_us for change in script.changes), 0)
        end_us = last_us + REST_US
    return Timeline(0, end_us, tuple(engine.phases), tuple(engine.edges), script.changes)
