"""The design: everything that one add-on for one feeder is made from."""

from __future__ import annotations

import hashlib
import json
from typing import Literal

from pydantic import Field, model_validator

from timing.design.board import BoardChoice
from timing.design.circuits import Circuits
from timing.design.controls import ArcSensor, Buttons, Interlock, Limits, Trigger
from timing.design.extension_left import ExtensionLeft
from timing.design.feeder import Feeder
from timing.design.panel import Panel
from timing.design.process import Process
from timing.design.section import Name, Notes, Section, Title, refuse
from timing.design.supply import Supply
from timing.design.times import Spot, Stitch, Times, TimeSetting


class Design(Section):
    """One design file."""

    format: Literal[1] = Field(description="Version of this file format.")
    name: Name = Field(description="Short name; the sketch and its folder are called so.")
    title: Title = Field("", description="One line for people.")
    notes: Notes = Field("", description="Anything worth keeping with the design.")
    process: Process
    feeder: Feeder
    trigger: Trigger
    buttons: Buttons = Field(default_factory=lambda: Buttons.model_validate({}))
    interlock: Interlock = Field(default_factory=lambda: Interlock.model_validate({}))
    arc_sensor: ArcSensor | None = Field(None, description="Current sensor; left out: there is none.")
    times: Times
    spot: Spot | None = Field(None, description="Timed welds; left out: there are none.")
    stitch: Stitch | None = Field(None, description="Spot after spot; left out: there is none.")
    limits: Limits = Field(default_factory=lambda: Limits.model_validate({}))
    panel: Panel = Field(default_factory=lambda: Panel.model_validate({}))
    supply: Supply
    board: BoardChoice
    extension_left: ExtensionLeft | None = Field(None, description="What test welds found; left out: nothing yet.")
    circuits: Circuits = Field(default_factory=lambda: Circuits.model_validate({}))

    @model_validator(mode="after")
    def _fits_together(self) -> Design:
        if self.stitch is not None and self.spot is None:
            raise refuse("[stitch] without [spot]", "a spot time to repeat, or no [stitch]")
        if self.panel.has_selector and not self._both_switched():
            raise refuse(
                'panel.selector = "three-position" without both switches that it stands for',
                "off_switch = true on spot.time and on stitch.pause, or no selector",
                "the one switch takes spot and stitch in and out",
            )
        if self.process.gasless != (self.feeder.gas_valve is None):
            raise refuse(
                f"gas = {self.process.gas!r} {'with' if self.process.gasless else 'without'} [feeder.gas_valve]",
                "a gas valve for a gas, none for gasless wire",
            )
        if self.arc_sensor is not None and self.limits.arc_start_us is None:
            raise refuse("[arc_sensor] without limits.arc_start", 'limits.arc_start = "2 s" or so')
        if self.arc_sensor is None and self.limits.arc_start_us is not None:
            raise refuse("limits.arc_start without [arc_sensor]", "a sensor that sees the arc, or no such limit")
        return self

    def _both_switched(self) -> bool:
        times = (None if self.spot is None else self.spot.time, None if self.stitch is None else self.stitch.pause)
        return all(time is not None and time.off_switch for time in times)

    def setting(self, name: str) -> TimeSetting | None:
        """Return the time setting of that name (see columns.TIME_NAMES), or None where the design has none."""
        if name == "spot":
            return None if self.spot is None else self.spot.time
        if name == "pause":
            return None if self.stitch is None else self.stitch.pause
        found: TimeSetting = getattr(self.times, name)
        return found

    def digest(self) -> str:
        """Return 16 hex digits that stand for the content; comments and layout of the file do not count.

        Nor do `panel.made` and `extension_left`: neither plates glued on nor test welds make another board of the one
        that was tested.
        """
        told = self.model_dump(mode="json", exclude={"panel": {"made"}, "extension_left": True})
        content = json.dumps(told, sort_keys=True, ensure_ascii=True)
        return hashlib.sha256(content.encode()).hexdigest()[:16]
