"""[supply]: the feeder's 24 VAC control supply and what the add-on makes of it."""

from __future__ import annotations

from typing import Annotated, Literal

from pydantic import Field, model_validator

from timing.design.quantities import Measure
from timing.design.section import Section, refuse


class SupplySense(Section):
    """A divider that lets the board measure its own reservoir, so that it drops out before it is confused."""

    divider_top_ohm: Annotated[float, Measure("ohm", 1e3, 1e6, "56 kohm")] = Field(
        description="Resistor from reservoir to the board's pin."
    )
    divider_bottom_ohm: Annotated[float, Measure("ohm", 1e2, 1e6, "4.7 kohm")] = Field(
        description="Resistor from the board's pin to board common."
    )
    low_v: Annotated[float, Measure("V", 3, 60, "10 V")] = Field(
        description="Reservoir voltage below which everything is switched off."
    )
    good_v: Annotated[float, Measure("V", 3, 60, "12 V")] = Field(
        description="Reservoir voltage above which the supply counts as good again."
    )
    filter_us: Annotated[int, Measure("us", 0, 200_000, "20 ms")] = Field(
        20_000, description="The supply counts as low after this time below."
    )

    @model_validator(mode="after")
    def _hysteresis(self) -> SupplySense:
        if self.low_v >= self.good_v:
            raise refuse("supply thresholds without a gap", "`low` below `good`")
        return self


class Supply(Section):
    """The control transformer and the add-on's own supply."""

    nominal_v: Annotated[float, Measure("V", 12, 48, "24 V")] = Field(24.0, description="Rated secondary voltage.")
    rating_va: Annotated[float, Measure("V*A", 5, 1000, "75 VA")] = Field(description="Rating of the transformer.")
    line_frequency_hz: Annotated[float, Measure("Hz", 50, 60, "60 Hz")] = Field(description="Line frequency.")
    measured_open_v: Annotated[float, Measure("V", 12, 60, "27.5 V")] | None = Field(
        None, description="Measured with nothing drawn."
    )
    measured_loaded_v: Annotated[float, Measure("V", 10, 60, "25.1 V")] | None = Field(
        None, description="Measured with the load below."
    )
    measured_load_a: Annotated[float, Measure("A", 0.01, 40, "1.2 A")] | None = Field(
        None, description="Current drawn in the loaded measurement."
    )
    rectifier: Literal["bridge", "half-wave"] = Field("bridge", description="Rectifier of the add-on.")
    reservoir_f: Annotated[float, Measure("F", 10e-6, 0.1, "1000 uF")] = Field(
        description="Reservoir capacitor of the add-on."
    )
    regulator: Literal["switching", "linear"] = Field("switching", description="What makes the board's supply.")
    sense: SupplySense | None = Field(None, description="How the board measures its supply; left out: it does not.")

    @model_validator(mode="after")
    def _measured_together(self) -> Supply:
        loaded = (self.measured_open_v, self.measured_loaded_v, self.measured_load_a)
        if any(value is not None for value in loaded) and any(value is None for value in loaded):
            raise refuse("a half-measured supply", "measured_open, measured_loaded and measured_load together, or none")
        return self
