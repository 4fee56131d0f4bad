"""A run of the sequence that somebody holds the trigger of."""

from __future__ import annotations

import heapq
from dataclasses import dataclass, field

from timing.design.design import Design
from timing.design.features import features_of
from timing.design.front_panel import controls_of
from timing.sequence.core.engine import Engine, PhaseChange, Timeline
from timing.sequence.core.script import Change, Switch, What
from timing.sequence.core.table import Fault, Output, Phase
from timing.sequence.simulate import ARC_STARTS_US, rig_of

BEFORE_US = 100_000
"""Shown before the first press."""
SHORTEST_WINDOW_US = 2_000_000


@dataclass
class LiveRun:
    """The engine behind a hand. `now_us` is given by whoever holds the clock, and never runs back.

    With an arc sensor the arc strikes and dies by itself, after the contactor.
    """

    design: Design
    engine: Engine = field(init=False)
    changes: list[Change] = field(default_factory=list)
    _due: list[tuple[int, int]] = field(default_factory=list)
    """Instants at which the arc's contact changes, and to what."""
    _seen_edges: int = 0

    def __post_init__(self) -> None:
        self.engine = Engine(rig_of(self.design))
        self.engine.settle()
        self.engine.phases.append(PhaseChange(0, Phase.IDLE, Fault.NONE))

    def move(self, what: What, closed: bool, now_us: int) -> None:
        """Close or open the trigger, a button or a switch of the panel, now."""
        self.advance(now_us)
        self._apply(Change(max(now_us, self.engine.now_us), what, int(closed)))

    def advance(self, now_us: int) -> None:
        """Run up to now."""
        while True:
            arc_us = self._due[0][0] if self._due else None
            own_us = self.engine.next_due_us()
            next_us = min((at_us for at_us in (arc_us, own_us) if at_us is not None), default=None)
            if next_us is None or next_us > now_us:
                break
            if next_us == arc_us:
                self._apply(Change(next_us, "arc", heapq.heappop(self._due)[1]))
            else:
                self.engine.run_until(next_us)
                self._follow_contactor()
        self.engine.run_until(max(now_us, self.engine.now_us))

    @property
    def phase(self) -> Phase:
        """The phase now."""
        return Phase(self.engine.state.phase)

    @property
    def resting(self) -> bool:
        """True where nothing is on and nothing is held."""
        held = any(self._held(contact) for contact in ("trigger", "purge", "inch"))
        return self.phase is Phase.IDLE and not held and not self._due

    def on_outputs(self) -> list[Output]:
        """Return the outputs that are on now."""
        latest = {edge.output: edge.on for edge in self.engine.edges}
        return [output for output in Output if latest.get(output)]

    def timeline(self, window_us: int) -> Timeline:
        """Return what happened until now, on an axis as long as `window_us` at least.

        The present phase ends now, so that its length is told. What is on stays on to the end of the axis: an arc
        that was cut off here would leave a wire end that there is not.
        """
        now_us = self.engine.now_us
        phases = (*self.engine.phases, PhaseChange(now_us, Phase.IDLE, Fault.NONE))
        return Timeline(0, max(window_us, now_us), phases, tuple(self.engine.edges), tuple(self.changes))

    def _held(self, contact: str) -> bool:
        latest = next((change for change in reversed(self.changes) if change.what == contact), None)
        return latest is not None and bool(latest.value)

    def _apply(self, change: Change) -> None:
        self.engine.apply(change)
        self.changes.append(change)
        self._follow_contactor()

    def _follow_contactor(self) -> None:
        edges, self._seen_edges = self.engine.edges[self._seen_edges :], len(self.engine.edges)
        if self.design.arc_sensor is None:
            return
        for edge in edges:
            if edge.output is Output.CONTACTOR:
                at_us = edge.at_us + ARC_STARTS_US - self.design.arc_sensor.filter_us if edge.on else edge.at_us
                heapq.heappush(self._due, (max(at_us, self.engine.now_us), int(edge.on)))


def panel_switches(design: Design) -> dict[What, tuple[str, bool]]:
    """Return the switches on the panel: what moves in the run, with its words and how it stands to begin with.

    Two of them may be one selector (see `selector_moves`).
    """
    switches: dict[What, tuple[str, bool]] = (
        {"four_step": ("four-step", False)} if design.trigger.mode == "switch" else {}
    )
    for name, setting in features_of(design).times.items():
        if setting.off_switch:
            switches[Switch(name)] = (f"{name} on", True)
    return switches


def selector_moves(design: Design) -> dict[str, dict[What, bool]]:
    """Return what each position of the selector closes and opens, from the top down; empty where there is none."""
    selectors = [control for control in controls_of(design) if control.key == "selector"]
    return {
        position.label: {Switch(role.removesuffix("_switch")): role in position.closes for role in selector.roles}
        for selector in selectors
        for position in selector.positions
    }


def window_us(now_us: int) -> int:
    """Return how long an axis to show for a run that has come to `now_us`: it grows in steps, a third at a time."""
    window = SHORTEST_WINDOW_US
    while window < now_us + now_us // 12:
        window += window // 3
    return window
