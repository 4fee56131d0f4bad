"""[times], [spot] and [stitch]: the times, each fixed or on a dial of the front panel."""

from __future__ import annotations

from typing import Annotated, Any, Literal

from pydantic import Field, GetJsonSchemaHandler, StrictBool, model_validator
from pydantic_core import CoreSchema

from timing.design.section import Section, refuse
from timing.design.units import Measure, format_duration

TIME_KEYS = {
    "preflow": "times.preflow",
    "spot": "spot.time",
    "burnback": "times.burnback",
    "postflow": "times.postflow",
    "pause": "stitch.pause",
}
"""Where each of columns.TIME_NAMES stands in the design file."""
TIME_TITLES = {
    "preflow": "preflow time",
    "spot": "spot weld time",
    "burnback": "burnback time",
    "postflow": "postflow time",
    "pause": "stitch pause",
}
"""What each of them is called in full."""
TIME_MEANINGS = {
    "preflow": "gas before wire and arc",
    "spot": "length of one spot",
    "burnback": "arc on after the wire has stopped",
    "postflow": "gas after the arc",
    "pause": "from one stitch to the next",
}
"""What each of them does, in a few words."""
SELECTED = ("spot_switch", "pause_switch")
"""Roles of the two contacts by which spot and stitch are chosen."""
LONGEST_US = 60_000_000
"""Longest time that a design may set (choice)."""
LONGEST_BURNBACK_US = 2_000_000
"""Longer than any wire takes to burn free; the contactor stays on all the while (choice)."""
SHORTEST_SPOT_US = 1_000
"""Shortest spot that a design may set (choice)."""
LONGEST_COMPLETED_SPOT_US = 10_000_000
"""Longest spot that goes on when the trigger is let go (choice)."""
_OWN_LIMITS_US = {"spot": (SHORTEST_SPOT_US, LONGEST_US), "burnback": (0, LONGEST_BURNBACK_US)}


def time_limits_us(name: str) -> tuple[int, int]:
    """Return what a time may be at the least and at the most, in us."""
    return _OWN_LIMITS_US.get(name, (0, LONGEST_US))


TimeUs = Annotated[int, Measure("us", 0, LONGEST_US, "250 ms")]


class TimeSetting(Section):
    """One time: `"250 ms"` alone for a fixed one, or a table with `from` and `to` for a dial."""

    setting_us: TimeUs = Field(description="The time itself; with a dial, where the dial stands to begin with.")
    from_us: TimeUs | None = Field(None, description="Dial: time at the low end.")
    to_us: TimeUs | None = Field(None, description="Dial: time at the high end.")
    taper: Literal["linear", "audio"] = Field("linear", description="Dial: taper of the potentiometer.")
    rotation_deg: Annotated[float, Measure("deg", 90, 3600, "300 deg")] = Field(
        300.0, description="Dial: electrical rotation of the potentiometer."
    )
    resistance_ohm: Annotated[float, Measure("ohm", 1e3, 1e5, "10 kohm")] = Field(
        10e3, description="Dial: resistance of the potentiometer."
    )
    off_switch: StrictBool = Field(False, description="True where a switch takes the function out altogether.")

    @model_validator(mode="before")
    @classmethod
    def _bare_text_is_fixed(cls, value: Any) -> Any:
        return {"setting": value} if isinstance(value, str) else value

    @classmethod
    def __get_pydantic_json_schema__(cls, schema: CoreSchema, handler: GetJsonSchemaHandler) -> dict[str, Any]:
        """Describe both forms, for editors: the bare text and the table."""
        table = handler.resolve_ref_schema(handler(schema))
        fixed = {"type": "string", "examples": ["250 ms"], "description": "A fixed time."}
        return {"anyOf": [fixed, table]}

    @model_validator(mode="after")
    def _dial_has_both_ends(self) -> TimeSetting:
        if (self.from_us is None) != (self.to_us is None):
            raise refuse("a dial with one end", "both `from` and `to`, or neither for a fixed time")
        if self.from_us is not None and self.to_us is not None:
            if self.from_us >= self.to_us:
                ends = f"from {format_duration(self.from_us)} to {format_duration(self.to_us)}"
                raise refuse(f"a dial that does not rise, {ends}", "`from` below `to`")
            if not self.from_us <= self.setting_us <= self.to_us:
                ends = f"{format_duration(self.from_us)} to {format_duration(self.to_us)}"
                raise refuse("a setting outside its dial", f"`setting` from {ends}, as `from` and `to` have it")
        return self

    @property
    def dial(self) -> bool:
        """True where the time is on a dial."""
        return self.from_us is not None

    @property
    def low_us(self) -> int:
        """Shortest time this setting can give, while not switched off."""
        return self.setting_us if self.from_us is None else self.from_us

    @property
    def high_us(self) -> int:
        """Longest time this setting can give."""
        return self.setting_us if self.to_us is None else self.to_us


BurnbackTime = Annotated[
    int, Measure("us", 0, LONGEST_BURNBACK_US, "100 ms", "once begun, no pull of the trigger shortens a burnback")
]


class BurnbackSetting(TimeSetting):
    """The burnback time, as any other, but 2 s at most: no pull of the trigger shortens it."""

    setting_us: BurnbackTime = Field(description="The time itself; with a dial, where the dial stands to begin with.")
    from_us: BurnbackTime | None = Field(None, description="Dial: time at the low end.")
    to_us: BurnbackTime | None = Field(None, description="Dial: time at the high end.")


class Times(Section):
    """The three times of every weld."""

    preflow: TimeSetting = Field(description="Gas on before wire and arc.")
    burnback: BurnbackSetting = Field(
        description="Contactor on after the wire drive is off, so that the wire burns free (AWS A3.0: meltback time)."
    )
    postflow: TimeSetting = Field(description="Gas on after the arc.")


class Spot(Section):
    """Timed welds: arc spots, plugs, tacks."""

    time: TimeSetting = Field(description="Weld time of one spot.")
    on_release: Literal["end", "complete"] = Field(
        "end",
        description="What an early release of the trigger does to the spot. One that completes lasts 10 s at most, and "
        "another press ends it; before the arc is established a release always ends it.",
    )

    @model_validator(mode="after")
    def _lasts(self) -> Spot:
        if self.time.low_us < SHORTEST_SPOT_US:
            raise refuse("a spot time that reaches zero", "1 ms at least; use off_switch to take spot welding out")
        if self.on_release == "complete" and self.time.high_us > LONGEST_COMPLETED_SPOT_US:
            longest, allowed = format_duration(self.time.high_us), format_duration(LONGEST_COMPLETED_SPOT_US)
            raise refuse(
                f'a spot of up to {longest} with on_release = "complete"',
                f'{allowed} at most, or on_release = "end"',
                "a spot that completes goes on with nobody holding the trigger",
            )
        return self


class Stitch(Section):
    """Spot after spot while the trigger is held."""

    pause: TimeSetting = Field(description="Time between the end of burnback and the next spot.")
