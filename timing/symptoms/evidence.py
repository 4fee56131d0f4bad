"""The figures of one design by which causes are ranked, each computed once, when a cause first asks for it."""

from __future__ import annotations

from collections.abc import Callable
from dataclasses import dataclass
from functools import cached_property
from typing import TYPE_CHECKING, TypeVar

from timing.design.times import TIME_KEYS, TimeSetting
from timing.formatting import ms
from timing.process.errors import ProcessError
from timing.project import Project
from timing.symptoms.symptom import Standing

if TYPE_CHECKING:
    from timing.circuit.trigger_input import TriggerSense
    from timing.process.advice import Advice
    from timing.process.burnback import WireRest
    from timing.process.burnback_curve import BurnbackCurve, Sensitivity
    from timing.process.case import BurnbackCase
    from timing.process.ranging import TimeAdvice

Computed = TypeVar("Computed")

LIKELY_CHANCE = 0.05
"""A fault that this share of the welds ends in, as computed, is one that the figures point to (choice)."""
UNLIKELY_CHANCE = 0.01
"""Below this share the figures speak against it (choice)."""


def standing_of(chance: float) -> Standing:
    """Return how a computed share of the welds stands to what was seen."""
    if chance >= LIKELY_CHANCE:
        return Standing.LIKELY
    return Standing.UNLIKELY if chance < UNLIKELY_CHANCE else Standing.OPEN


def points_here(speaks_for_it: bool) -> Standing:
    """Return the standing of a cause that the figures show, or rule out."""
    return Standing.LIKELY if speaks_for_it else Standing.UNLIKELY


@dataclass(frozen=True)
class TimeInQuestion:
    """One time of the design, beside the advice on it."""

    key: str
    """In the design file."""
    setting: TimeSetting
    advised: TimeAdvice | None
    """None where nothing can be computed."""

    @property
    def set_us(self) -> int:
        """The design's own value."""
        return self.setting.setting_us

    def turned_to(self, to_us: int) -> str:
        """Say how the time is brought to `to_us`: on its dial, past its dial, or in the file."""
        to = ms(to_us)
        if not self.setting.dial:
            return f"Set {self.key} to {to} in the design file, build, and flash the board."
        if self.setting.low_us <= to_us <= self.setting.high_us:
            return f"Turn its dial a mark at a time, to about {to}."
        end_us = self.setting.low_us if to_us < self.setting.low_us else self.setting.high_us
        return (
            f"Its dial ends at {ms(end_us)}, and {to} is needed: `wirecue advise` gives the range; the board is "
            "flashed again and the plate printed anew."
        )


@dataclass(frozen=True)
class AskedTimes:
    """The times of a design by their names; None for what it does not have."""

    preflow: TimeInQuestion
    burnback: TimeInQuestion
    postflow: TimeInQuestion
    spot: TimeInQuestion | None = None
    pause: TimeInQuestion | None = None


@dataclass(frozen=True, eq=False)
class Evidence:
    """What a project's figures say. What cannot be computed, because no arc could burn, is None."""

    project: Project

    @cached_property
    def case(self) -> BurnbackCase | None:
        """The burnback case."""
        from timing.process.case import burnback_case

        return _where_it_can(lambda: burnback_case(self.project.design))

    @cached_property
    def curve(self) -> BurnbackCurve | None:
        """The burnback curve, the design's own setting among its settings."""
        # Late, as the computations: what needs none of them shall not wait for arrays.
        import numpy as np

        from timing.process.burnback_curve import burnback_curve, curve_settings_s
        from timing.process.case import wire_speeds_mm_s

        case = self.case
        if case is None:
            return None
        settings = np.union1d(curve_settings_s(case, self.setting_s), [self.setting_s])
        speeds_mm_s = wire_speeds_mm_s(self.project.design)
        return _where_it_can(lambda: burnback_curve(case, settings, speeds_mm_s=speeds_mm_s))

    @cached_property
    def rest(self) -> WireRest | None:
        """The likely wire end at the design's own burnback."""
        from timing.process.case import run_likely

        case = self.case
        return None if case is None else _where_it_can(lambda: run_likely(case, [self.setting_s])[0])

    @cached_property
    def felt(self) -> Sensitivity | None:
        """What small changes do to the wire end there."""
        from timing.process.burnback_curve import sensitivity

        case = self.case
        return None if case is None else _where_it_can(lambda: sensitivity(case, self.setting_s, 0.010))

    @cached_property
    def advice(self) -> Advice | None:
        """Where to start with every time."""
        return _where_it_can(lambda: self.project.advice)

    @cached_property
    def asked(self) -> AskedTimes:
        """The times, each beside the advice on it."""
        fitted = self.project.features.times
        advised = {} if self.advice is None else {time.name: time for time in self.advice.times}
        return AskedTimes(**{name: TimeInQuestion(TIME_KEYS[name], fitted[name], advised.get(name)) for name in fitted})

    @property
    def setting_s(self) -> float:
        """The design's own burnback setting."""
        return self.asked.burnback.set_us / 1e6

    def chance(self, *outcomes: int) -> float | None:
        """Return the share of welds that end in any of these outcomes at the design's own burnback."""
        if self.curve is None:
            return None
        row = int((abs(self.curve.settings_s - self.setting_s)).argmin())
        return float(sum(self.curve.chances[row, one] for one in outcomes))

    @cached_property
    def trigger(self) -> TriggerSense:
        """The trigger's input with its levels."""
        from timing.circuit.trigger_input import trigger_sense

        return trigger_sense(self.project.design, self.project.board)


def _where_it_can(computed: Callable[[], Computed]) -> Computed | None:
    try:
        return computed()
    except ProcessError:
        return None
