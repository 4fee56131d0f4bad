"""[process]: the wire, the gas and the settings of the machine."""

from __future__ import annotations

from typing import Annotated, Literal

from pydantic import Field, model_validator

from timing.design.quantities import Measure
from timing.design.section import Section, refuse

Wire = Literal["mild-steel", "stainless-steel", "aluminium", "flux-cored", "self-shielded"]
# ISO 14175 group letters: I inert, M1-M3 mixtures with oxidising parts, C carbon dioxide (memory).
Gas = Literal["M12", "M20", "M21", "M22", "C1", "I1", "I3", "none"]


class Process(Section):
    """What is welded with."""

    wire: Wire = Field(description="Wire material; self-shielded wire runs without gas.")
    wire_diameter_mm: Annotated[float, Measure("mm", 0.5, 2.5, "0.9 mm")] = Field(description="Wire diameter.")
    gas: Gas = Field(description="Shielding gas group of ISO 14175, or none for gasless wire.")
    gas_flow_l_min: Annotated[float, Measure("L/min", 2, 40, "14 L/min")] | None = Field(
        None, description="Gas flow at the nozzle; left out with gas = none."
    )
    wire_feed_speed_mm_s: Annotated[float, Measure("mm/s", 10, 500, "200 in/min")] = Field(
        description="Wire feed speed this design starts from."
    )
    wire_feed_speed_low_mm_s: Annotated[float, Measure("mm/s", 10, 500, "120 in/min")] | None = Field(
        None, description="Slowest wire feed speed the dials must serve; the starting speed if left out."
    )
    wire_feed_speed_high_mm_s: Annotated[float, Measure("mm/s", 10, 500, "350 in/min")] | None = Field(
        None, description="Fastest wire feed speed the dials must serve; the starting speed if left out."
    )
    contact_tip_to_work_mm: Annotated[float, Measure("mm", 4, 40, "12 mm")] = Field(
        description="Contact-tip-to-work distance."
    )
    open_circuit_voltage_v: Annotated[float, Measure("V", 12, 60, "24 V")] | None = Field(
        None, description="Open-circuit voltage at the setting used, measured at the terminals."
    )
    slope_v_per_a: Annotated[float, Measure("V/A", 0.001, 0.2, "25 mV/A")] = Field(
        0.025,
        description="Slope of the constant-voltage source: volts lost for each ampere drawn, leads included.",
    )
    inductance_h: Annotated[float, Measure("H", 1e-6, 5e-3, "300 uH")] = Field(
        300e-6, description="Inductance of source and leads."
    )

    @model_validator(mode="after")
    def _gas_needs_flow(self) -> Process:
        if self.gas == "none" and self.gas_flow_l_min is not None:
            raise refuse("gas_flow with gas = 'none'", "a gas with its flow, or neither")
        if self.gas != "none" and self.gas_flow_l_min is None:
            raise refuse("a gas without gas_flow", 'gas_flow = "14 L/min" or what the job needs')
        if self.wire == "self-shielded" and self.gas != "none":
            raise refuse(f"self-shielded wire with gas {self.gas!r}", "gas = 'none'", "it makes its own gas")
        return self

    @property
    def gasless(self) -> bool:
        """True where no gas valve is wired."""
        return self.gas == "none"
