"""[supply]: the feeder's 24 VAC control supply and what the add-on makes of it."""

from __future__ import annotations

from typing import Annotated, Literal

from pydantic import Field, model_validator

from timing.design.section import Section, refuse
from timing.design.units import Measure


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
    grounded: Literal["no", "yes", "unknown"] = Field(
        "unknown",
        description="Whether either side of the 24 VAC is tied to chassis, or shared with other circuits, as measured "
        "with the power off. unknown counts as yes.",
    )
    measured_open_v: Annotated[float, Measure("V", 12, 60, "27.5 V")] | None = Field(
        None, description="Measured with nothing drawn."
    )
    measured_loaded_v: Annotated[float, Measure("V", 10, 60, "25.1 V")] | None = Field(
        None, description="Measured with the load below."
    )
    measured_load_a: Annotated[float, Measure("A", 0.01, 40, "1.2 A")] | None = Field(
        None, description="Current drawn in the loaded measurement."
    )
    measured_with: Literal["resistive", "coils"] = Field(
        "coils",
        description="What was drawn in the loaded measurement. resistive: a lamp or a power resistor; coils: the "
        "feeder's own, whose current lags, so that the winding's resistance is known within a range only.",
    )
    measured_power_factor_percent: Annotated[float, Measure("%", 5, 100, "35 %")] | None = Field(
        None,
        description="Power factor of what was drawn in the loaded measurement, where a meter showed it; 100 % with a "
        "resistive load, and 20 % to 50 %, usually 35 %, with coils, if left out.",
    )
    rectifier: Literal["bridge", "half-wave"] = Field("bridge", description="Rectifier of the add-on.")
    series_resistor_ohm: Annotated[float, Measure("ohm", 0.47, 100, "4.7 ohm")] | None = Field(
        None,
        description="Wirewound resistor between fuse and rectifier: it keeps the surge of switching on from setting "
        "the fuse; left out: there is none.",
    )
    reservoir_f: Annotated[float, Measure("F", 10e-6, 0.1, "1000 uF")] = Field(
        description="Reservoir capacitor of the add-on."
    )
    regulator: Literal["switching", "linear"] = Field("switching", description="What makes the board's supply.")
    line_tolerance_percent: Annotated[float, Measure("%", 0, 20, "10 %")] = Field(
        10.0, description="How far the mains may stray from nominal, up and down."
    )
    regulation_percent: Annotated[float, Measure("%", 1, 60, "12 %")] | None = Field(
        None,
        description="Regulation of the transformer, where it was not measured; estimated from its rating if left out.",
    )
    reservoir_rating_v: Annotated[float, Measure("V", 6.3, 450, "63 V")] = Field(
        63.0, description="Voltage rating of the reservoir capacitor."
    )
    reservoir_tolerance_percent: Annotated[float, Measure("%", 0, 50, "20 %")] = Field(
        20.0, description="Tolerance of the reservoir capacitor."
    )
    reservoir_ageing_percent: Annotated[float, Measure("%", 0, 50, "20 %")] = Field(
        20.0, description="Capacitance that the reservoir loses over its life; its series resistance doubles meanwhile."
    )
    reservoir_esr_ohm: Annotated[float, Measure("ohm", 0.001, 20, "0.15 ohm")] | None = Field(
        None, description="Series resistance of the reservoir; worked out from a usual loss factor if left out."
    )
    reservoir_ripple_a: Annotated[float, Measure("A", 0.01, 50, "1.2 A")] | None = Field(
        None, description="Ripple current rating of the reservoir; left out: the wanted rating is only stated."
    )
    regulator_output_v: Annotated[float, Measure("V", 1.8, 30, "9 V")] | None = Field(
        None, description="What the regulator makes; if left out, a usual voltage that the board takes."
    )
    regulator_input_max_v: Annotated[float, Measure("V", 5, 150, "60 V")] | None = Field(
        None,
        description="Highest voltage that the regulator's input is rated for; 35 V linear and 40 V switching if "
        "left out.",
    )
    regulator_dropout_v: Annotated[float, Measure("V", 0.05, 10, "2.5 V")] | None = Field(
        None, description="Least difference of input and output; 2.5 V linear and 2 V switching if left out."
    )
    regulator_input_min_v: Annotated[float, Measure("V", 2, 75, "18 V")] | None = Field(
        None,
        description="Least input at which the output stands; output plus dropout if left out, 18 V with an isolating "
        "module.",
    )
    regulator_efficiency_percent: Annotated[float, Measure("%", 30, 99, "80 %")] | None = Field(
        None,
        description="Efficiency of a switching regulator at this small load; 80 %, or 75 % of an isolating module, if "
        "left out.",
    )
    regulator_output_max_a: Annotated[float, Measure("A", 0.05, 10, "0.5 A")] | None = Field(
        None,
        description="Rated output current of the regulator; 0.5 A if left out. An isolating module must give a tenth "
        "of it at all times: a resistor takes what the board does not.",
    )
    regulator_cooling_k_per_w: Annotated[float, Measure("K/W", 1, 300, "65 K/W")] | None = Field(
        None,
        description="Thermal resistance of the regulator, junction to the air in the box, heat sink included; 65 K/W "
        "linear (TO-220 without heat sink) and 40 K/W switching if left out.",
    )
    junction_max_deg_c: Annotated[float, Measure("degC", 60, 200, "125 degC")] = Field(
        125.0, description="Hottest that the regulator's junction may run."
    )
    box_air_deg_c: Annotated[float, Measure("degC", 0, 85, "50 degC")] = Field(
        50.0, description="Hottest air inside the box."
    )
    isolation: Literal["none", "module", "transformer"] = Field(
        "none",
        description="What parts COMMON from the winding. none: nothing, the rectifier joins them; module: an isolating "
        "dc-dc module in place of the regulator, which leaves no way to measure the reservoir; transformer: a second "
        "transformer between fuse and rectifier.",
    )
    isolation_rating_va: Annotated[float, Measure("V*A", 2, 200, "16 VA")] = Field(
        16.0, description="Rating of that second transformer."
    )
    isolation_output_v: Annotated[float, Measure("V", 9, 36, "18 V")] = Field(
        18.0, description="Its rated secondary voltage, at its rated load and with the winding's nominal voltage on it."
    )
    fuse_a: Annotated[float, Measure("A", 0.05, 10, "1 A")] | None = Field(
        None, description="Fuse of the add-on, time-lag; left out: one is proposed."
    )
    trigger_resistor_ohm: Annotated[float, Measure("ohm", 47, 1e5, "4.7 kohm")] | None = Field(
        None, description="Series resistor of the trigger's optocoupler; left out: one is proposed."
    )
    trigger_bleed_ohm: Annotated[float, Measure("ohm", 22, 1e4, "240 ohm")] | None = Field(
        None,
        description="Bleed resistor across the trigger's optocoupler: it takes what a damp cable leaks; left out: one "
        "is proposed.",
    )
    sense: SupplySense | None = Field(None, description="How the board measures its supply; left out: it does not.")

    @model_validator(mode="after")
    def _measured_together(self) -> Supply:
        loaded = (self.measured_open_v, self.measured_loaded_v, self.measured_load_a)
        if any(value is not None for value in loaded) and any(value is None for value in loaded):
            raise refuse("a half-measured supply", "measured_open, measured_loaded and measured_load together, or none")
        return self
