"""[trigger], [buttons], [interlock], [arc_sensor]: what is listened to. [limits]: what ends what nobody ends."""

from __future__ import annotations

from typing import Annotated, Literal

from pydantic import Field, StrictBool

from timing.design.section import Section
from timing.design.units import Measure

Filter = Annotated[int, Measure("us", 0, 100_000, "25 ms")]


class Trigger(Section):
    """The gun's trigger circuit."""

    mode: Literal["two-step", "four-step", "switch"] = Field(
        "two-step",
        description="two-step: weld while held; four-step: press to start, press to end; switch: a panel switch "
        "selects.",
    )
    sense: Literal["dc", "ac"] = Field(description="Whether the trigger circuit carries dc or ac.")
    optocoupler: Literal["ac-input", "single"] = Field(
        "ac-input",
        description="For ac: ac-input (two LEDs, bidirectional) conducts in both half-waves, single in every other "
        "one.",
    )
    circuit_voltage_v: Annotated[float, Measure("V", 3, 60, "24 VAC")] = Field(
        24.0, description="Voltage across the open trigger contact."
    )
    snubber_capacitor_f: Annotated[float, Measure("F", 1e-9, 2e-6, "100 nF")] | None = Field(
        None,
        description="Capacitor of an RC that was left across the trigger's contact; left out: there is none. What it "
        "leaks must not be read as a press.",
    )
    leak_ohm: Annotated[float, Measure("ohm", 1e3, 1e9, "1 Mohm")] | None = Field(
        None,
        description="Least resistance measured between the trigger's two wires, trigger open and both wires off: gun "
        "cable and gun, damp. Left out: a leak of 1 mA is allowed for.",
    )
    filter_us: Filter = Field(
        description="A press counts after this time closed, a release after this time open. With ac sensing it "
        "bridges the gaps between half-waves."
    )


class Buttons(Section):
    """Panel buttons."""

    purge: StrictBool = Field(False, description="A button for gas only. Shielding gas suffocates in a closed room.")
    inch: StrictBool = Field(
        False, description="A button for wire only. The wire jumps out of the tip: gun away from people."
    )
    filter_us: Filter = Field(20_000, description="A press or release counts after this time.")


class Interlock(Section):
    """A normally closed contact that stops everything at once when it opens; no substitute for a safety circuit. It
    must be a dry (potential-free) contact of its own, which carries no other circuit."""

    fitted: StrictBool = Field(False, description="True where the contact is wired to the board.")


class ArcSensor(Section):
    """A current sensor that closes a dry (potential-free) contact of its own when the arc is established."""

    filter_us: Filter = Field(5_000, description="The arc counts as established after this time.")


# Well under half the range of a 32-bit count of microseconds (35 min), so that comparisons survive its wrap.
LONGEST_LIMIT_US = 1_800_000_000
"""Longest limit that a design may set (choice)."""


class Limits(Section):
    """Longest times; after one of them nothing starts until the trigger was seen open."""

    weld_us: Annotated[int, Measure("us", 100_000, LONGEST_LIMIT_US, "60 s")] | None = Field(
        None, description="Longest weld, counted from the first contactor-on; must be set in four-step."
    )
    arc_start_us: Annotated[int, Measure("us", 50_000, 60_000_000, "2 s")] | None = Field(
        None, description="With an arc sensor: longest wait for the arc."
    )
    purge_us: Annotated[int, Measure("us", 100_000, 600_000_000, "30 s")] = Field(
        30_000_000, description="Longest purge."
    )
    inch_us: Annotated[int, Measure("us", 100_000, 600_000_000, "10 s")] = Field(
        10_000_000, description="Longest inch."
    )
