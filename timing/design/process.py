"""[process]: the wire, the gas and the settings of the machine."""

from __future__ import annotations

from typing import TYPE_CHECKING, Annotated, Literal

from pydantic import Field, model_validator

from timing.design.section import Section, Title, refuse
from timing.design.units import Measure

if TYPE_CHECKING:
    from timing.design.gases import GasReading

Wire = Literal["mild-steel", "stainless-steel", "aluminium", "flux-cored", "self-shielded"]
Polarity = Literal["electrode-positive", "electrode-negative"]
# ISO 14175 group letters: I inert, M1-M3 mixtures with oxidising parts, C carbon dioxide (seen quoted).
Gas = Literal[
    "M12", "M13", "M14", "M20", "M21", "M22", "M23", "M24", "M25", "M26", "M27", "M31", "M32", "M33", "M34", "M35",
    "C1", "C2", "I1", "I2", "I3", "none",
]  # fmt: skip

TRAVEL_MM_S = 6.0
"""Speed along the seam by hand, 14 in/min, in steel (practice)."""
ALUMINIUM_TRAVEL_MM_S = 11.0
"""The same in aluminium, which leads the heat away: one run with 1.2 mm wire at 600 to 700 mm/min (published: G.
Mathers, The welding of aluminium and its alloys, 2002, figure 7.17, argon, fillet welds, seen)."""
USUAL_HOSE_BORE_MM = 6.3
"""Bore of the hose to the gas valve where the design leaves it out, 1/4 in (practice)."""


class Process(Section):
    """What is welded with."""

    wire: Wire = Field(description="Wire material; self-shielded wire runs without gas.")
    wire_class: Title | None = Field(
        None, description='Class on the spool\'s label, such as "ER70S-6"; `wire` is what it stands for.'
    )
    wire_diameter_mm: Annotated[float, Measure("mm", 0.5, 2.5, "0.9 mm")] = Field(description="Wire diameter.")
    polarity: Polarity | None = Field(
        None,
        description="Polarity of the wire; left out: as the wire is usually run, self-shielded negative, all others "
        "positive.",
    )
    gas: Gas = Field(description="Shielding gas group of ISO 14175, or none for gasless wire.")
    gas_mixture: Title | None = Field(
        None, description='The gas as its cylinder names it, such as "75/25 argon CO2"; `gas` is its group.'
    )
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
    load_voltage_v: Annotated[float, Measure("V", 8, 60, "20 V")] | None = Field(
        None, description="Mean volts at the terminals while welding at these settings; the usual ones if left out."
    )
    load_current_a: Annotated[float, Measure("A", 10, 600, "120 A")] | None = Field(
        None, description="Mean amperes while welding at these settings; computed from the wire that melts if left out."
    )
    slope_v_per_a: Annotated[float, Measure("V/A", 0.001, 0.2, "25 mV/A")] | None = Field(
        None,
        description="Slope of the constant-voltage source: volts lost for each ampere drawn, leads included; left out, "
        "it follows from the voltages open and under load.",
    )
    inductance_h: Annotated[float, Measure("H", 1e-6, 5e-3, "300 uH")] = Field(
        300e-6, description="Inductance of power source and leads."
    )
    source_capacitance_f: Annotated[float, Measure("F", 1e-4, 2.0, "50 mF")] | None = Field(
        None,
        description="Capacitor bank behind the power source's rectifier, which feeds the arc on after the contactor "
        "lets go; left out where there is none.",
    )
    source_phases: Literal["one", "three"] | None = Field(
        None, description="Phases of the mains that the power source runs on; left out: no ripple is counted."
    )

    travel_speed_mm_s: Annotated[float, Measure("mm/s", 1, 50, "6 mm/s")] | None = Field(
        None,
        description="Speed of the gun along the seam; with the current it gives the heat in each mm of weld. Left out: "
        f"{TRAVEL_MM_S:g} mm/s, and {ALUMINIUM_TRAVEL_MM_S:g} mm/s with aluminium.",
    )
    plate_thickness_mm: Annotated[float, Measure("mm", 0.5, 40, "2 mm")] | None = Field(
        None, description="Plate mainly welded, the top sheet of a plug or spot; 1 mm for each 40 A if left out."
    )
    plate_thickness_low_mm: Annotated[float, Measure("mm", 0.5, 40, "0.8 mm")] | None = Field(
        None, description="Thinnest top sheet the spot dial must serve; the main one if left out."
    )
    plate_thickness_high_mm: Annotated[float, Measure("mm", 0.5, 40, "3 mm")] | None = Field(
        None, description="Thickest top sheet the spot dial must serve; the main one if left out."
    )
    plug_hole_mm: Annotated[float, Measure("mm", 2, 40, "8 mm")] | None = Field(
        None, description="Hole of a plug weld at the main thickness; a usual size for each thickness if left out."
    )
    spot_diameter_mm: Annotated[float, Measure("mm", 1, 25, "5 mm")] | None = Field(
        None,
        description="Diameter over which a spot without a hole shall fuse the two sheets at their joint; left out: "
        "spots are plugs.",
    )
    back_sheet_mm: Annotated[float, Measure("mm", 0.5, 40, "2 mm")] | None = Field(
        None, description="Back sheet of a spot without a hole; as thick as the top one if left out."
    )
    gas_hose_length_mm: Annotated[float, Measure("mm", 100, 50000, "3 m")] | None = Field(
        None,
        description="Hose from the gas regulator to the gas valve; its pressure surges out at every start. Without "
        "length and gas_hose_pressure no surge is counted.",
    )
    gas_hose_bore_mm: Annotated[float, Measure("mm", 2, 20, "6.3 mm")] | None = Field(
        None, description=f"Bore of that hose; {USUAL_HOSE_BORE_MM:g} mm if left out."
    )
    gas_hose_pressure_bar: Annotated[float, Measure("bar", 0, 10, "2 bar")] | None = Field(
        None,
        description="Pressure that this hose stands at while the valve is shut, above the air's: on a gauge behind the "
        "regulator, some time after the last weld.",
    )
    gun_length_mm: Annotated[float, Measure("mm", 300, 20000, "3 m")] = Field(
        3000.0, description="Gun cable, from the gas valve to the gas diffuser."
    )
    gun_bore_mm: Annotated[float, Measure("mm", 1, 20, "4.5 mm")] = Field(
        4.5, description="Bore of the gun's gas passage, or of a round one that holds as much beside the liner."
    )
    nozzle_bore_mm: Annotated[float, Measure("mm", 5, 40, "16 mm")] = Field(16.0, description="Bore of the nozzle.")
    nozzle_length_mm: Annotated[float, Measure("mm", 5, 100, "30 mm")] = Field(
        30.0, description="Length of the space in the nozzle, from the gas diffuser to its end."
    )
    gas_cylinder_l: Annotated[float, Measure("L", 100, 100000, "2300 L")] | None = Field(
        None, description="Gas in a full cylinder, let out to the air's pressure; left out: no count of welds."
    )
    duty_cycle_percent: Annotated[float, Measure("%", 5, 100, "60 %")] | None = Field(
        None,
        description="Duty cycle of the power source over 10 min, from its plate; left out: arc time is not held to it.",
    )
    duty_cycle_current_a: Annotated[float, Measure("A", 10, 1000, "180 A")] | None = Field(
        None, description="Current that this duty cycle is stated for; needed with it."
    )

    @model_validator(mode="after")
    def _duty_cycle_with_current(self) -> Process:
        if (self.duty_cycle_percent is None) != (self.duty_cycle_current_a is None):
            raise refuse("half a duty cycle", "duty_cycle and duty_cycle_current together, or neither")
        return self

    @model_validator(mode="after")
    def _loaded_below_open(self) -> Process:
        open_v, load_v = self.open_circuit_voltage_v, self.load_voltage_v
        if open_v is not None and load_v is not None and load_v > open_v:
            found = f"load_voltage of {load_v:g} V with an open_circuit_voltage of {open_v:g} V"
            raise refuse(found, "fewer volts under load than open", "read both at one setting of the machine")
        return self

    @model_validator(mode="after")
    def _hole_or_none(self) -> Process:
        if self.spot_diameter_mm is None and self.back_sheet_mm is not None:
            raise refuse("back_sheet without spot_diameter", "both for spots without a hole, neither for plugs")
        if self.spot_diameter_mm is not None and self.plug_hole_mm is not None:
            raise refuse(
                "plug_hole with spot_diameter",
                "plug_hole for plugs, spot_diameter for spots without a hole",
                "a plug's time follows from its hole",
            )
        return self

    @model_validator(mode="after")
    def _low_below_high(self) -> Process:
        speeds = (self.wire_feed_speed_low_mm_s, self.wire_feed_speed_mm_s, self.wire_feed_speed_high_mm_s)
        plates = (self.plate_thickness_low_mm, self.plate_thickness_mm, self.plate_thickness_high_mm)
        for key, values in (("wire_feed_speed", speeds), ("plate_thickness", plates)):
            known = [value for value in values if value is not None]
            if known != sorted(known):
                raise refuse(f"{key}_low, {key} and {key}_high out of order", f"{key}_low <= {key} <= {key}_high")
        return self

    @model_validator(mode="after")
    def _gas_needs_flow(self) -> Process:
        if self.gas == "none" and self.gas_flow_l_min is not None:
            raise refuse("gas_flow with gas = 'none'", "a gas with its flow, or neither")
        if self.gas != "none" and self.gas_flow_l_min is None:
            raise refuse("a gas without gas_flow", 'gas_flow = "14 L/min" or what the job needs')
        if self.wire == "self-shielded" and self.gas != "none":
            raise refuse(f"self-shielded wire with gas {self.gas!r}", "gas = 'none'", "it makes its own gas")
        return self

    @model_validator(mode="after")
    def _names_agree(self) -> Process:
        if self.wire_class is not None:
            # Most designs name neither class nor mixture, and every command waits for what this module imports.
            from timing.design.wire_classes import wire_class

            reading = wire_class(self.wire_class)
            if reading is not None and reading.kind != self.wire:
                found = f"wire = {self.wire!r} with wire_class = {self.wire_class!r}"
                hint = "it makes its own gas" if reading.self_shielded else ""
                raise refuse(found, f"wire = {reading.kind!r}", hint)
        if self.gas_mixture is not None:
            groups = list(dict.fromkeys(one.group for one in _readings(self.gas_mixture)))
            if self.gas not in groups:
                allowed = " or ".join(f"gas = {group!r}" for group in groups)
                raise refuse(f"gas = {self.gas!r} with gas_mixture = {self.gas_mixture!r}", allowed)
        return self

    @property
    def helium_percent(self) -> float:
        """Helium in the gas, as far as its mixture is named; 0 otherwise."""
        readings = () if self.gas_mixture is None else _readings(self.gas_mixture)
        return next((one.helium_percent for one in readings if one.group == self.gas), 0.0)

    @property
    def likely_travel_mm_s(self) -> float:
        """The travel speed, or what is usual with the wire."""
        usual_mm_s = ALUMINIUM_TRAVEL_MM_S if self.wire == "aluminium" else TRAVEL_MM_S
        return self.travel_speed_mm_s or usual_mm_s

    @property
    def gasless(self) -> bool:
        """True where no gas valve is wired."""
        return self.gas == "none"


def _readings(mixture: str) -> tuple[GasReading, ...]:
    from timing.design.gases import GasNameError, gas_readings

    try:
        return gas_readings(mixture)
    except GasNameError as error:
        raise refuse(error.found, 'a gas as cylinders name it, such as "75/25 argon CO2"', error.hint) from None
