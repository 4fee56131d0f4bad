"""The model as a board that is read pass by pass: filters, dials, supply sense and the phase table."""

from __future__ import annotations

from dataclasses import dataclass, field

from tests.support.attack.panel import Feeder
from timing.sequence.core.filters import ContactFilter
from timing.sequence.core.scan import Inputs, State, start, step
from timing.sequence.core.table import Table


@dataclass
class ModelBoard:
    """A board that was just switched on. `table` may have something wrong with it."""

    feeder: Feeder
    table: Table
    now_us: int
    state: State = field(init=False)
    _filters: dict[str, ContactFilter] = field(init=False)
    _times_us: dict[str, int] = field(init=False)
    """By name, as the dials stand."""
    _bad_dials: set[str] = field(default_factory=set)
    _latest: dict[str, tuple[int, ...]] = field(default_factory=dict)
    _below_since_us: int | None = None
    _low: bool = False
    _good: bool = False

    def __post_init__(self) -> None:
        rig = self.feeder.target.rig
        self.state = start(rig.settings, self.now_us)
        self._filters = {role: ContactFilter(*times_us) for role, times_us in rig.filters_us.items()}
        self._times_us = dict(rig.times_us) | {name: scale.low_us for name, scale in self.feeder.target.scales.items()}

    def reading(self, channel: str, counts: int, now_us: int) -> None:
        """Take one reading of one channel; the middle one of the last three counts."""
        before = self._latest.get(channel, ())
        if channel != "supply" and before == (counts, counts, counts):
            return  # a dial that stands still tells nothing new
        latest = self._latest[channel] = (*before, counts)[-3:]
        if len(latest) < 3:
            return
        counts = sorted(latest)[1]
        if channel == "supply":
            self._supply_reading(counts, now_us)
            return
        scale = self.feeder.target.scales[channel]
        if scale.is_fault(counts):
            self._bad_dials.add(channel)
        else:
            self._bad_dials.discard(channel)
            self._times_us[channel] = scale.time_us(counts)

    def _supply_reading(self, counts: int, now_us: int) -> None:
        """A supply that was below the lower threshold in every reading for the filter time is low; it is good where
        the latest reading was not below the higher one."""
        limits = self.feeder.supply
        assert limits is not None
        self._good = counts >= limits.good_counts
        if counts >= limits.low_counts:
            self._low, self._below_since_us = False, None
        else:
            self._below_since_us = now_us if self._below_since_us is None else self._below_since_us
            self._low = now_us - self._below_since_us >= self.feeder.target.rig.supply_filter_us

    def run_pass(self, closed: dict[str, bool], now_us: int) -> int:
        """Run one pass on the contacts as the pins show them; return the outputs byte."""
        rig, times_us = self.feeder.target.rig, self._times_us
        seen = {role: contact.read(closed[role], now_us) for role, contact in self._filters.items()}
        inputs = Inputs(
            **seen,
            interlock_open=not closed.get("interlock", True),
            supply_low=self._low,
            supply_poor=self.feeder.supply is not None and not self._good,
            dial_fault=bool(self._bad_dials),
            four_step=closed.get("four_step", rig.four_step),
            spot="spot" in times_us and closed.get("spot_switch", True),
            stitch="pause" in times_us and closed.get("pause_switch", True),
            preflow_us=times_us["preflow"] * closed.get("preflow_switch", True),
            burnback_us=times_us["burnback"] * closed.get("burnback_switch", True),
            postflow_us=times_us["postflow"] * closed.get("postflow_switch", True),
            spot_us=times_us.get("spot", 0),
            pause_us=times_us.get("pause", 0),
        )
        return step(self.table, rig.settings, self.state, inputs, now_us)
