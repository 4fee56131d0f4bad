"""The plainest run that a hand can make without an arc: gas, wire and contactor come on, and go off in turn.

How it is ended hangs on what is fitted: let go in two-step, pressed again in four-step, by itself where every weld is
a spot. The times are such that a hand can follow them.
"""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass
from functools import cached_property

from timing.commission.setup import reach_us, set_us, setup_for
from timing.commission.step import Ask, CommissionStage, CommissionStep, DryRun, PanelSetup, YesNo
from timing.design.front_panel import WeldMode, weld_modes
from timing.project import Project
from timing.sequence.core.script import Change
from timing.sequence.core.table import Fault, Output

HAND_PULL_US = 300_000
"""A short pull of the trigger, by hand (practice)."""
RUN_HELD_US = 2_000_000
"""How long a run is held where nothing else ends it (choice: long enough to look and listen)."""
SHORTEST_HELD_US = 600_000
"""What is over sooner than this is nothing that a hand can follow (choice)."""
WENT_WELL = YesNo()
EVERYTHING = frozenset(Output)
"""What comes on in a weld. The gas output does in every design; where no valve is fitted nobody sees it."""
BEGIN_US = 100_000
"""When the scripts begin (choice)."""


@dataclass(frozen=True)
class HeldRun:
    """One pull of the trigger, or two taps of it: where everything stands, what hands do, and the wire's times."""

    setup: PanelSetup
    do: str
    changes: tuple[Change, ...]
    start_us: int
    """When wire and contactor come on."""
    wire_us: int
    """How long the wire runs."""
    lasts: str
    """The same in words."""
    fault: Fault = Fault.NONE
    paused_us: int = 0
    """From the contactor's drop-out to the instant from which the postflow counts: let go in a stitch pause."""

    @property
    def postflow_from(self) -> str:
        """From when the gas goes on for the postflow time, in words."""
        return "you have let go" if self.paused_us else "the contactor has let go"


@dataclass(frozen=True)
class DryPanel:
    """What the panel of a project can be set to for dry runs."""

    project: Project

    @cached_property
    def weld(self) -> WeldMode:
        """The plainest way to weld that the panel offers."""
        return weld_modes(self.project.design)[0]

    @cached_property
    def four_step_alone(self) -> bool:
        """True where no switch offers two-step."""
        return self.project.design.trigger.mode == "four-step" and self.weld is WeldMode.CONTINUOUS

    @cached_property
    def filter_us(self) -> int:
        """A press or release counts after this time."""
        return self.project.design.trigger.filter_us

    @cached_property
    def gas(self) -> bool:
        """True where a gas valve is fitted."""
        return self.project.design.feeder.gas_valve is not None

    @cached_property
    def arc_sensor(self) -> bool:
        """True where an arc sensor is fitted: without an arc no spot begins to count."""
        return self.project.design.arc_sensor is not None

    @cached_property
    def limit_us(self) -> int | None:
        """What ends a weld without an arc, counted from the contactor; None: nothing."""
        limits = self.project.design.limits
        return min((one for one in (limits.weld_us, limits.arc_start_us) if one is not None), default=None)

    @cached_property
    def spot_held_us(self) -> int:
        """Spot time and stitch pause to be followed by eye; the weld limit counts through both."""
        return RUN_HELD_US if self.limit_us is None else min(RUN_HELD_US, self.limit_us // 4)

    @cached_property
    def limit_fault(self) -> Fault:
        """The fault that this limit shows."""
        limits = self.project.design.limits
        by_arc = limits.arc_start_us is not None and (limits.weld_us is None or limits.arc_start_us < limits.weld_us)
        return Fault.ARC_START if by_arc else Fault.WELD_LIMIT

    def time_us(self, name: str, wanted_us: int | None = None) -> int:
        """Return what a time can be set to, nearest to the one wanted, else to the design's; 0 where it has none."""
        return set_us(self.project, name, wanted_us) if name in self.project.features.times else 0

    def longest_us(self, name: str) -> int:
        """Return the longest that a time can be set to."""
        return reach_us(self.project, name)[1]

    def setup(
        self,
        weld: WeldMode,
        four_step: bool = False,
        off: tuple[str, ...] = (),
        dials_us: Mapping[str, int] | None = None,
    ) -> PanelSetup:
        """Return where everything stands."""
        return setup_for(self.project, weld, four_step=four_step, off=off, dials_us=dials_us)

    def held_run(self, off: tuple[str, ...] = (), dials_us: Mapping[str, int] | None = None) -> HeldRun | None:
        """Return the plainest run with some times switched off; None where it is over too soon for a hand."""
        wanted_us = {"spot": self.spot_held_us, "pause": self.spot_held_us, **(dials_us or {})}
        setup = self.setup(self.weld, False, off, wanted_us)
        preflow_us = 0 if "preflow" in off else self.time_us("preflow", wanted_us.get("preflow"))
        start_us = BEGIN_US + self.filter_us + preflow_us
        if self.weld is not WeldMode.CONTINUOUS and not self.arc_sensor:
            burnback_us = 0 if "burnback" in off else self.time_us("burnback", wanted_us.get("burnback"))
            return self._spot_run(setup, start_us, burnback_us)
        held_us = RUN_HELD_US if self.limit_us is None else min(RUN_HELD_US, self.limit_us // 2)
        if self.limit_us is not None and held_us < SHORTEST_HELD_US:
            return self._limited_run(setup, start_us, self.limit_us)
        seconds = f"about {held_us / 1e6:.2g} s"
        if self.four_step_alone:
            taps, wire_us = self.pressed_again(start_us, held_us)
            do = f"Press the trigger and let go; {seconds} later press it again and let go."
            return HeldRun(setup, do, taps, start_us, wire_us, "until it is pressed again")
        end_us = start_us + held_us
        do = f"Hold the trigger; {seconds} after the wire has started let go."
        changes = (Change(BEGIN_US, "trigger", 1), Change(end_us, "trigger", 0))
        return HeldRun(setup, do, changes, start_us, held_us + self.filter_us, "until the trigger is let go")

    def pressed_again(self, start_us: int, held_us: int) -> tuple[tuple[Change, ...], int]:
        """Return a four-step run that starts at `start_us` and is ended after `held_us`, and how long its wire runs."""
        end_us = max(start_us, BEGIN_US + HAND_PULL_US + self.filter_us) + held_us
        return (*tap(BEGIN_US), *tap(end_us)), end_us + self.filter_us - start_us

    def _limited_run(self, setup: PanelSetup, start_us: int, limit_us: int) -> HeldRun:
        """A limit ends every run without an arc before a hand can."""
        let_go_us = start_us + limit_us + RUN_HELD_US
        do = "Hold the trigger until the wire has stopped by itself, then let go."
        changes = tap(BEGIN_US, for_us=let_go_us)
        if self.four_step_alone:
            do, changes = "Press the trigger, let go, and wait until the wire has stopped by itself.", tap(BEGIN_US)
        lasts = f"for {limit_us / 1e3:.3g} ms, until the {self.limit_fault.word} ends it"
        return HeldRun(setup, do, changes, start_us, limit_us, lasts, self.limit_fault)

    def _spot_run(self, setup: PanelSetup, start_us: int, burnback_us: int) -> HeldRun | None:
        """Every weld is a spot: it is held until the spot ends by itself; where it repeats, let go in the pause."""
        spot_us = self.time_us("spot", self.spot_held_us)
        limited = self.limit_us is not None and self.limit_us < spot_us
        wire_us = self.limit_us if limited and self.limit_us is not None else spot_us
        stopped_us = start_us + wire_us + burnback_us
        fault = self.limit_fault if limited else Fault.NONE
        lasts = f"for {wire_us / 1e6:.3g} s, then stops by itself"
        do = "Hold the trigger until the wire has stopped by itself, then let go."
        let_go_us, paused_us = stopped_us + HAND_PULL_US, 0
        if self.weld is WeldMode.STITCH and not limited:
            pause_us = self.time_us("pause", self.spot_held_us)
            let_go_us = stopped_us + pause_us // 2
            over = self.limit_us is not None and let_go_us + self.filter_us >= start_us + self.limit_us
            if pause_us < SHORTEST_HELD_US or over:
                return None
            do = "Hold the trigger until the wire has stopped by itself; let go before it starts again."
            paused_us = pause_us // 2 + self.filter_us
        changes = (Change(BEGIN_US, "trigger", 1), Change(let_go_us, "trigger", 0))
        return HeldRun(setup, do, changes, start_us, wire_us, lasts, fault, paused_us)


def tap(at_us: int, what: str = "trigger", for_us: int = HAND_PULL_US) -> tuple[Change, Change]:
    """Return a contact closed for a moment."""
    return Change(at_us, what, 1), Change(at_us + for_us, what, 0)


def run_step(
    panel: DryPanel,
    stage: CommissionStage,
    key: str,
    title: str,
    setup: PanelSetup,
    do: tuple[str, ...],
    expect: str,
    if_not: str,
    run: DryRun,
    *,
    ask: Ask = WENT_WELL,
    cautions: tuple[str, ...] = (),
    needed: bool = False,
) -> CommissionStep:
    """Return a step that is a run without an arc, with the model's word for it."""
    return CommissionStep(
        key, stage, title, do, expect, if_not, ask, setup, cautions, needed, run, sequence_basis(panel.project)
    )


def sequence_basis(project: Project) -> str:
    """Return what the outcome of a dry run holds for: the constants of the sequence, its pins and what its dials do."""
    features, settings = project.features, dict(vars(project.settings))
    # By name: a condition that is worded otherwise is the same condition.
    settings["fixed"] = {condition.name: value for condition, value in project.settings.fixed.items()}
    times_us = {name: (one.low_us, one.high_us, one.off_switch) for name, one in features.times.items()}
    return repr((sorted(settings.items()), sorted(project.pins.items()), times_us, features.filters_us))
