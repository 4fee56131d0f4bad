"""What protects the wires of a load, and what they must carry for it."""

from __future__ import annotations

from dataclasses import dataclass, replace

from timing.design.design import Design
from timing.design.feeder import Actuator
from timing.power.components import winding
from timing.power.fuse import HIGH_BREAKING, FuseChoice, choose_fuse

LIMITED_A = 8.0
"""What an inherently limited winding gives into a short after a minute, at most (published: NFPA 70, chapter 9, table
11(A), seen quoted)."""
MOTOR_START_S = 0.2
"""How long a wire feed motor takes its starting current (practice)."""
MAINS_SHORT_A = HIGH_BREAKING.breaks_a
"""Taken for a short in a circuit that is not measured: what such fuses can break (choice)."""


@dataclass(frozen=True)
class Protection:
    """Of the wires of one load."""

    by: str
    """own-fuse, feeder, limited."""
    fuse: FuseChoice | None
    """The add-on's own fuse, held against load, inrush and short."""
    proposed: bool
    """True where the design leaves its rating open."""
    wire_a: float
    """What the wires must carry: what protects them, or the short that nothing opens."""
    short_a: float | None
    """Largest current into a dead short; None where the circuit is not the measured winding's."""


def protection(design: Design, actuator: Actuator) -> Protection:
    """Return what protects the wires of a load."""
    stated, coil = actuator.protection, actuator.coil
    source = winding(design.supply)
    line = design.supply.line_tolerance_percent / 100.0
    on_winding = coil.fed_from == "control"
    short_a = source.open_v * (1.0 + line) / source.least_ohm if on_winding else None
    by = "own-fuse" if stated is None else stated.by
    if by == "limited":
        return Protection(by, None, False, max(coil.hold_a, min(short_a or LIMITED_A, LIMITED_A)), short_a)
    if by == "feeder":
        assert stated is not None
        assert stated.rating_a is not None
        return Protection(by, None, False, max(coil.hold_a, stated.rating_a), short_a)
    least_a = source.open_v * (1.0 - line) / source.most_ohm if on_winding else MAINS_SHORT_A
    highest_a = MAINS_SHORT_A if short_a is None else short_a
    like = FuseChoice(0.0, coil.hold_a, _inrush_a2s(actuator), least_a, highest_a, least_a)
    rating = None if stated is None else stated.rating_a
    fuse = choose_fuse(like) if rating is None else replace(like, rating_a=rating)
    return Protection(by, fuse, rating is None, max(coil.hold_a, fuse.rating_a), short_a)


def _inrush_a2s(actuator: Actuator) -> float:
    coil = actuator.coil
    lasts_s = MOTOR_START_S if actuator.turns_motor else actuator.on_delay.max_us / 1e6
    return (coil.inrush_a or coil.hold_a) ** 2 * lasts_s
