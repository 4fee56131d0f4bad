"""One pass under observation: what stood before it, what it saw, what stands after it."""

from __future__ import annotations

from dataclasses import dataclass
from operator import attrgetter
from typing import NamedTuple, cast

from timing.sequence.passes import CONDITIONS, Inputs, Pass, State
from timing.sequence.settings import Settings
from timing.sequence.table import Condition, Output, Phase, Table

GAS, WIRE, CONTACTOR = Output.GAS.value, Output.WIRE.value, Output.CONTACTOR.value
WELDING = GAS | WIRE | CONTACTOR


@dataclass(frozen=True)
class Model:
    """A phase table with the constants it runs on."""

    table: Table
    settings: Settings


class Seen(NamedTuple):
    """The inputs that a rule may speak of. Every combination of them is walked, whether a pass asks or not."""

    trigger: bool
    purge: bool
    inch: bool
    fault: bool
    """Interlock open or supply low."""
    unwell: bool
    """Such a fault, or in hold-off a dial broken or shorted."""
    arc: bool
    """In a weld: the arc is sensed."""
    dial: bool
    """In the phases that a weld may follow on: a dial is broken or shorted."""

    @property
    def all_open(self) -> bool:
        """Tell whether trigger and buttons are open."""
        return not (self.trigger or self.purge or self.inch)


class Over(NamedTuple):
    """Which timers have run out."""

    time: bool
    """The phase's own, counted from its start."""
    weld_limit: bool
    arc_limit: bool


class Step(NamedTuple):
    """One pass, done."""

    model: Model
    seen: Seen
    before: State
    over: Over
    """Timers as the pass found them."""
    path: tuple[int, ...]
    """Phases in order: where the pass began, and each phase entered."""
    ran_out: tuple[bool, ...]
    """For each phase that was left: whether its time was over then."""
    after: State
    over_after: Over
    outputs_before: int
    outputs: int
    """Outputs byte that stands after the pass."""

    @property
    def impossible(self) -> bool:
        """Tell whether the pass began in a phase that the table does not have."""
        return self.before.phase not in self.model.table

    @property
    def immediate(self) -> bool:
        """Tell whether a fault stands that must switch everything off in this very pass."""
        return self.seen.fault or self.impossible

    def entered(self, phase: Phase) -> list[int]:
        """Return the phases from which `phase` was entered in this pass."""
        return [came for came, to in zip(self.path, self.path[1:], strict=False) if to == phase]


_TIME_OVER, _WELD_LIMIT_OVER, _ARC_LIMIT_OVER = (
    CONDITIONS[timer] for timer in (Condition.TIME_OVER, Condition.WELD_LIMIT_OVER, Condition.ARC_LIMIT_OVER)
)
_values = attrgetter(*State.__dataclass_fields__)


class _WatchedPass(Pass):
    """A pass that remembers its way."""

    def __post_init__(self) -> None:
        super().__post_init__()
        self.path = [int(self.state.phase)]
        self.ran_out: list[bool] = []

    def hop(self) -> bool:
        ran_out = _TIME_OVER(self)
        moved = super().hop()
        if moved:
            self.path.append(int(self.state.phase))
            self.ran_out.append(ran_out)
        return moved

    def timers(self) -> Over:
        """Tell which timers have run out as things stand."""
        return Over(_TIME_OVER(self), _WELD_LIMIT_OVER(self), _ARC_LIMIT_OVER(self))


_BEFORE_A_WELD = frozenset({Phase.PREFLOW, Phase.BURNBACK, Phase.POSTFLOW, Phase.PAUSE})


def watch(model: Model, before: State, inputs: Inputs, now_us: int) -> Step:
    """Run one pass at `now_us` from a copy of `before` and return all about it. `before` must not change later."""
    state = State(*_values(before))
    one = _WatchedPass(model.table, model.settings, state, inputs, now_us)
    over = one.timers()
    outputs = one.run()
    fault = inputs.interlock_open or inputs.supply_low
    unwell = fault or (Phase.HOLD_OFF in one.path and inputs.dial_fault)
    return Step(
        model=model,
        seen=Seen(
            trigger=inputs.trigger,
            purge=inputs.purge,
            inch=inputs.inch,
            fault=fault,
            unwell=unwell,
            arc=Phase.WELD in one.path and inputs.arc,
            dial=not _BEFORE_A_WELD.isdisjoint(one.path) and inputs.dial_fault,
        ),
        before=before,
        over=over,
        path=tuple(one.path),
        ran_out=tuple(one.ran_out),
        after=state,
        over_after=one.timers(),
        outputs_before=outputs_of(model, before),
        outputs=outputs,
    )


def outputs_of(model: Model, state: State) -> int:
    """Return the outputs byte that a pass ending in `state` has left; 0 for a phase that the table does not have."""
    row = model.table.get(cast(Phase, state.phase))
    return 0 if row is None else row.outputs_bits
