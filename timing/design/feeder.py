"""[feeder]: the circuits of the machine that the add-on switches, and how slowly they follow."""

from __future__ import annotations

from typing import Annotated, Literal

from pydantic import Field, StrictBool, model_validator

from timing.design.section import Section, refuse
from timing.design.units import Measure

EXTRA_LOW_AC_V, EXTRA_LOW_DC_V = 50.0, 60.0
"""Above either, a circuit counts as mains. 50 V ac is the bound of safety extra-low voltage in the electrotechnical
vocabulary (IEC 61558-1, 3.7.16). For dc it names 120 V, but ripple-free, which a feeder's rectified supply is not;
60 V is the dc bound of IEC 62282-5-1, 3.23 (published: both as the IEC's own glossary quotes them, std.iec.ch)."""

COAST_BRAKED_US, COAST_UNBRAKED_US = 25_000, 80_000
"""Run-on of a wire whose coast nobody stated, as time at full speed. Small geared motors have a time constant of some
40 ms with their armature shorted (practice); with the friction that they work against, that is a run-on of 0.6 of it,
and without the brake, by the same friction alone, of 2 of it (derived: timing.process.coast)."""

Lag = Annotated[int, Measure("us", 0, 1_000_000, "20 ms")]


class Spread(Section):
    """A delay as it varies from one operation to the next, measured or from experience."""

    min_us: Lag = Field(description="Shortest seen.")
    typical_us: Lag = Field(description="Usual value.")
    max_us: Lag = Field(description="Longest seen.")

    @model_validator(mode="after")
    def _ordered(self) -> Spread:
        if not self.min_us <= self.typical_us <= self.max_us:
            raise refuse("delays out of order", "min, typical and max in rising order")
        return self


class Coil(Section):
    """The load that an output of the add-on switches."""

    fed_from: Literal["control", "elsewhere"] = Field(
        "control",
        description="control: the feeder's own 24 VAC supply; elsewhere: another circuit, such as 115 V.",
    )
    kind: Literal["ac", "dc"] = Field("ac", description="What the coil runs on.")
    voltage_v: Annotated[float, Measure("V", 5, 250, "24 VAC")] = Field(24.0, description="Its nominal voltage.")
    hold_a: Annotated[float, Measure("A", 0.005, 20, "0.35 A")] = Field(description="Current once pulled in.")
    inrush_a: Annotated[float, Measure("A", 0.005, 60, "0.9 A")] | None = Field(
        None, description="Current while it pulls in; the holding current if left out."
    )
    switched_pole: Literal["plus", "minus"] = Field(
        "plus", description="Of a dc circuit: the side in which the contact stands that switched it as found."
    )
    held_power_factor_percent: Annotated[float, Measure("%", 5, 100, "35 %")] | None = Field(
        None,
        description="Power factor of an ac coil once pulled in: watts over volts times amperes of its data sheet; "
        "20 % to 50 %, usually 35 %, if left out.",
    )
    pull_in_power_factor_percent: Annotated[float, Measure("%", 5, 100, "70 %")] | None = Field(
        None,
        description="The same while it pulls in; 50 % to 85 %, usually 70 %, if left out.",
    )
    drop_out_percent: Annotated[float, Measure("%", 1, 75, "20 %")] = Field(
        20.0, description="Share of its holding current below which it is sure to let go."
    )

    @property
    def above_extra_low(self) -> bool:
        """True for a circuit above extra-low voltage, which is treated as mains."""
        return self.voltage_v > (EXTRA_LOW_DC_V if self.kind == "dc" else EXTRA_LOW_AC_V)

    @model_validator(mode="after")
    def _pulls_in_with_more(self) -> Coil:
        if self.inrush_a is not None and self.inrush_a < self.hold_a:
            raise refuse(
                f"inrush of {self.inrush_a:g} A below hold of {self.hold_a:g} A",
                "an inrush of the holding current or more",
                "a coil takes most while it pulls in; leave inrush out where it was not measured",
            )
        return self


class DcRating(Section):
    """What a contact is stated to break on dc. Its ac rating says nothing of that: with ac the arc goes out at the
    next zero of the current, with dc it stands and the load runs on."""

    voltage_v: Annotated[float, Measure("V", 5, 600, "30 V")] = Field(description="Dc voltage of the rating.")
    current_a: Annotated[float, Measure("A", 0.05, 200, "5 A")] = Field(description="Current at that voltage.")
    category: Literal["DC-13", "resistive"] = Field(
        description="DC-13: for coils, by IEC 60947-5-1; resistive: for heaters and lamps, of which a coil or motor "
        "may use three tenths."
    )


class LoadProtection(Section):
    """What opens when the wires of a load are shorted."""

    by: Literal["own-fuse", "feeder", "limited"] = Field(
        description="own-fuse: a fuse of the add-on in the FEED wire, where it leaves the supply; feeder: a fuse or "
        "breaker that the machine has in this circuit; limited: nothing, but the winding cannot give more than 8 A."
    )
    rating_a: Annotated[float, Measure("A", 0.05, 20, "2 A")] | None = Field(
        None, description="Its rating; of the add-on's own fuse proposed if left out."
    )

    @model_validator(mode="after")
    def _rated(self) -> LoadProtection:
        if self.by == "feeder" and self.rating_a is None:
            raise refuse(
                "a fuse or breaker without its rating", "the rating that stands on it", "the wires are sized for it"
            )
        return self


class Interposed(Section):
    """The load behind an interposing contactor, whose own coil is then that of the table above.

    It is fed by a circuit of its own: the budget of the control winding counts the contactor's coil alone.
    """

    kind: Literal["ac", "dc"] = Field(description="What the load itself runs on.")
    voltage_v: Annotated[float, Measure("V", 5, 600, "90 V")] = Field(description="Its nominal voltage.")
    hold_a: Annotated[float, Measure("A", 0.005, 100, "3 A")] = Field(description="Its current once it runs.")
    inrush_a: Annotated[float, Measure("A", 0.005, 300, "9 A")] | None = Field(
        None, description="Its current as it starts; the running current if left out."
    )
    contact_dc: DcRating | None = Field(
        None, description="What the contactor's data sheet states of dc; a dc load needs it."
    )
    on_delay: Spread = Field(description="From the contactor's coil to its contact: added to the on-delay above.")
    off_delay: Spread = Field(description="The same at switching off, added to the off-delay above.")

    @property
    def load(self) -> Coil:
        """The load as one of another circuit, beyond what an output of the add-on may switch."""
        return Coil.model_construct(
            fed_from="elsewhere", kind=self.kind, voltage_v=self.voltage_v, hold_a=self.hold_a, inrush_a=self.inrush_a
        )


class Actuator(Section):
    """An output's load with its lag, from the board's pin to gas, wire or arc voltage."""

    on_delay: Spread = Field(description="From commanded on to acting, the relay of the add-on included.")
    off_delay: Spread = Field(description="From commanded off to ceasing, the relay of the add-on included.")
    coil: Coil = Field(description="The load itself.")
    drive: Literal["relay", "opto-triac", "mosfet"] = Field("relay", description="What the add-on switches it with.")
    contact_dc: DcRating | None = Field(
        None,
        description="Dc rating of the relay's contact, read off its data sheet; left out: none is stated. A dc load "
        "above 30 V or 1 A needs one.",
    )
    interposed: Interposed | None = Field(
        None,
        description="The load behind an interposing contactor, where it is too much for the add-on's relay; `coil` is "
        "then the contactor's. Left out: there is none.",
    )
    protection: LoadProtection | None = Field(
        None, description="What protects the wires of this load; left out: a fuse of the add-on is proposed."
    )
    relay_coil_a: Annotated[float, Measure("A", 0.005, 0.3, "40 mA")] | None = Field(
        None,
        description="Coil current of the add-on's relay, on the regulator's output; left out: that of a relay of the "
        "size that the load asks for.",
    )
    suppression: Literal["zener", "varistor", "diode"] = Field(
        "zener",
        description="What takes the spike of a dc coil: of the relay, or of the load with a MOSFET. The delays above "
        "are stated for zener; a plain diode lets go later, and the difference is computed and added.",
    )
    load_suppression: Literal["zener", "varistor", "diode"] = Field(
        "zener",
        description="What takes the spike of a dc load behind a relay's contact, right at the load. The delays above "
        "are stated for zener here too; what a plain diode adds to the release is computed.",
    )
    snubber_capacitor_f: Annotated[float, Measure("F", 1e-9, 2e-6, "47 nF")] | None = Field(
        None, description="Capacitor of the RC element across the load; left out: there is none."
    )
    snubber_resistor_ohm: Annotated[float, Measure("ohm", 1, 1000, "100 ohm")] = Field(
        100.0, description="Resistor of that RC element."
    )

    @property
    def turns_motor(self) -> bool:
        """True where the load of the add-on's contact is a motor itself."""
        return False


class WireDrive(Actuator):
    """The wire feed motor's circuit; the wire coasts on when it is off."""

    coast_us: Annotated[int, Measure("us", 0, 1_000_000, "50 ms")] | None = Field(
        None,
        description="Coast: what the wire runs on once the drive is off, divided by the wire feed speed. Left out: "
        f"{COAST_BRAKED_US // 1000} ms with a brake, {COAST_UNBRAKED_US // 1000} ms without, which is a guess.",
    )
    coast_measured: StrictBool = Field(
        False, description="True where the coast comes from test welds or a measurement, which narrows the band."
    )
    braked: StrictBool = Field(
        False,
        description="True where a brake contact shorts the motor's armature: the wire's speed then dies away, most of "
        "it at once. Without, friction stops it evenly.",
    )
    switched: Literal["relay-coil", "motor"] = Field(
        "motor",
        description="What the add-on switches: the coil of the relay that the machine has for its motor, or the "
        "motor's own circuit. With a brake only the relay's coil will do: its normally closed contact brakes.",
    )

    @model_validator(mode="after")
    def _measured_is_stated(self) -> WireDrive:
        if self.coast_measured and self.coast_us is None:
            raise refuse("coast_measured without a coast", "coast with it, or coast_measured = false")
        return self

    @property
    def likely_coast_us(self) -> int:
        """The coast, or what is usual with or without a brake."""
        usual_us = COAST_BRAKED_US if self.braked else COAST_UNBRAKED_US
        return usual_us if self.coast_us is None else self.coast_us

    @property
    def turns_motor(self) -> bool:
        """True where the load of the add-on's contact is the motor itself."""
        return self.switched == "motor" and self.interposed is None


class AsFound(Section):
    """How the machine was wired before anything was changed: what the drawings of the cuts are made from."""

    trigger: Literal["coils", "relay", "electronics"] = Field(
        description="What the gun's trigger works: coils: valve, relay and contactor themselves; relay: the coil of "
        "one relay, whose contacts work them; electronics: an input of a control circuit board."
    )
    supply_from: Literal["transformer", "cable"] = Field(
        "transformer",
        description="Where the 24 VAC comes from: a control transformer in the feeder, or a cable from the "
        "power source.",
    )
    one_relay: StrictBool = Field(
        False, description="True where one relay or contact worked both wire drive and contactor and has been parted."
    )
    grounded_side: Literal["switched", "common"] | None = Field(
        None,
        description="Which side of a grounded 24 VAC is tied to chassis: switched: the side in which the trigger or "
        "its relay switches; common: the other, to which all coils go. Left out where it floats or was not traced.",
    )


class Feeder(Section):
    """The machine as found."""

    as_found: AsFound | None = Field(None, description="How it was wired; left out, no cut can be drawn.")
    gas_valve: Actuator | None = Field(None, description="Gas solenoid valve; left out with gasless wire.")
    wire_drive: WireDrive = Field(description="Wire feed motor or its relay.")
    contactor: Actuator = Field(description="Contactor of the welding current, or its pilot relay.")
