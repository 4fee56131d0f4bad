"""What takes the spike when a dc coil is switched off, and what that does to the time in which it lets go."""

from __future__ import annotations

import math
from collections.abc import Iterable
from typing import Literal

from timing.design.circuits import MODULE_COIL_A, MODULE_RAIL_V
from timing.design.design import Design
from timing.design.feeder import Actuator, Spread

Suppression = Literal["zener", "varistor", "diode"]

RELAY_TIME_CONSTANT_S = 0.006
"""L / R of a small dc relay: two such relays have 1.6 ms, and 8 ms with the armature in (practice: seen quoted)."""
LOAD_TIME_CONSTANT_S = 0.020
"""L / R assumed for a dc valve, contactor or motor relay, above that of small relays; it counts behind a MOSFET alone
(choice)."""
MOTOR_TIME_CONSTANT_S = 0.005
"""L / R of a wire feed motor's winding: its current dies away in no time, whatever is across it (practice)."""
LET_GO_SHARES = (0.50, 0.35, 0.10)
"""Share of its nominal current at which a dc relay lets go: early, typical, late. At 10 % of its rated voltage it must
have, and 20 % to 23 % were read from one such relay's curves (practice: seen quoted)."""
DIODE_V = 0.8
"""Drop of a diode that carries a coil's current (practice)."""
USUAL_RAIL_V = 9.0
"""Relay coils are taken for this voltage where the design leaves the regulator's output open. At 5 V a relay with a
plain diode lets go half a millisecond sooner: far less than relays differ (choice)."""


def clamp_v(suppression: Suppression, coil_v: float) -> float:
    """Voltage that the suppression holds the coil at while its current dies down.

    A zener of about the coil's own voltage in series with a diode; a varistor clamps at two and a half times the
    coil's voltage (practice).
    """
    return {"diode": DIODE_V, "zener": coil_v + DIODE_V, "varistor": 2.5 * coil_v}[suppression]


def let_go_s(time_constant_s: float, coil_v: float, clamping_v: float, let_go_share: float) -> float:
    """Time from switching off until the coil's current has fallen to a share of its nominal value.

    Exact for a constant L and R: i falls towards -clamp / R, so t = (L / R) ln((1 + c) / (share + c)) with
    c = clamp / coil voltage.
    """
    ratio = clamping_v / coil_v
    return time_constant_s * math.log((1.0 + ratio) / (let_go_share + ratio))


def added_delay_us(suppression: Suppression, coil_v: float, time_constant_s: float) -> tuple[int, int, int]:
    """Return (min, typical, max) of what a suppression adds to the release over a zener; negative: it is faster."""

    def time_s(kind: Suppression, share: float) -> float:
        return let_go_s(time_constant_s, coil_v, clamp_v(kind, coil_v), share)

    early, typical, late = (
        round(1e6 * (time_s(suppression, share) - time_s("zener", share))) for share in LET_GO_SHARES
    )
    return min(early, late), typical, max(early, late)


def off_delay_of(design: Design, actuator: Actuator) -> Spread:
    """Return when a load of the design really ceases, its suppression counted: the one source for all timing."""
    if on_relay_module(design, actuator):
        return off_delay(as_built(design, actuator), MODULE_RAIL_V)
    return off_delay(actuator, design.supply.regulator_output_v or USUAL_RAIL_V)


def load_time_constant_s(actuator: Actuator) -> float:
    """Return L / R assumed for a dc load: a motor's own circuit, or the coil of a valve, relay or contactor."""
    return MOTOR_TIME_CONSTANT_S if actuator.turns_motor else LOAD_TIME_CONSTANT_S


def clamped_at_load(actuator: Actuator) -> Suppression | None:
    """Return what takes the spike right at a dc load; None for ac, also where a dc coil has its own rectifier."""
    coil = actuator.coil
    if coil.kind == "ac" or (coil.fed_from == "control" and actuator.drive != "mosfet"):
        return None
    return actuator.suppression if actuator.drive == "mosfet" else actuator.load_suppression


def on_relay_module(design: Design, actuator: Actuator) -> bool:
    """Tell whether a ready-made relay module switches the actuator."""
    return actuator.drive == "relay" and design.circuits.build == "modules"


def as_built(design: Design, actuator: Actuator) -> Actuator:
    """Return the actuator with the relay that is fitted: a ready-made module has a plain diode across its coil."""
    if not on_relay_module(design, actuator):
        return actuator
    coil_a = MODULE_COIL_A if actuator.relay_coil_a is None else actuator.relay_coil_a
    return actuator.model_copy(update={"suppression": "diode", "relay_coil_a": coil_a})


def off_delay(actuator: Actuator, rail_v: float) -> Spread:
    """Return the actuator's off-delay with its suppression taken into account; `rail_v` is the relay coil's voltage.

    This is the delay for the timing model: the design states it for zener suppression, at the relay's coil and at a dc
    load alike. An opto-triac has no dc coil to suppress, so nothing is added.
    """
    lag = actuator.interposed
    added = [0, 0, 0] if lag is None else _ends(lag.off_delay)
    if actuator.drive == "relay":
        added = _sum(added, added_delay_us(actuator.suppression, rail_v, RELAY_TIME_CONSTANT_S))
    at_load = clamped_at_load(actuator)
    if at_load is not None:
        added = _sum(added, added_delay_us(at_load, actuator.coil.voltage_v, load_time_constant_s(actuator)))
    if not any(added):
        return actuator.off_delay
    stated = actuator.off_delay
    return Spread.model_construct(
        min_us=max(0, stated.min_us + added[0]),
        typical_us=max(0, stated.typical_us + added[1]),
        max_us=max(0, stated.max_us + added[2]),
    )


def on_delay_of(actuator: Actuator) -> Spread:
    """Return when a load of the design really acts, an interposing contactor's lag counted."""
    if actuator.interposed is None:
        return actuator.on_delay
    low, typical, high = _sum(_ends(actuator.on_delay), _ends(actuator.interposed.on_delay))
    return Spread.model_construct(min_us=low, typical_us=typical, max_us=high)


def _ends(delay: Spread) -> list[int]:
    return [delay.min_us, delay.typical_us, delay.max_us]


def _sum(one: Iterable[int], other: Iterable[int]) -> list[int]:
    return [first + second for first, second in zip(one, other, strict=True)]
