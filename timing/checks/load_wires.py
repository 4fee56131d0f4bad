"""The rules for the wires of a load: what opens when they are shorted, and what bonds the box that they end in."""

from __future__ import annotations

from collections.abc import Iterator

from timing.checks.finding import DesignEdit, Figure, Finding, Remedy, Severity, info
from timing.checks.loads import let_a_contactor
from timing.circuit.drives import Drive, short_name
from timing.circuit.lists import GAUGES, THINNEST_POWER, gauge_for
from timing.circuit.protection import LIMITED_A, protection
from timing.project import Project

LEAST_BOND = next(size for size in GAUGES if size.metric_mm2 >= 1.5)
"""Thinnest protective conductor (choice)."""


def load_wires(project: Project) -> Iterator[Finding]:
    """What protects the wires of each load is said, or that nothing does."""
    for one in project.drives:
        held, guard = one.protection.fuse, one.protection
        name, key = one.role.replace("_", " "), f"feeder.{one.role}.protection"
        if guard.by == "limited":
            yield from _limited(one)
        elif held is None:
            yield info(
                "circuits.load-fuse",
                key,
                f"The {name}'s wires are protected by the machine's own {guard.wire_a:g} A and sized for that",
                "A short melts what is thinner than its fuse: IEC 60204-1 wants every conductor of a control circuit "
                "protected against overcurrent",
            )
        elif not held.carries or not held.survives_inrush:
            yield Finding(
                "circuits.load-unprotected",
                Severity.ERROR,
                key,
                f"The {name} takes {held.continuous_a:g} A and {held.inrush_a2s:.2g} A^2 s at pull-in: a fuse of "
                f"{held.rating_a:g} A, 5 x 20 mm, does not stand that, and no other protection is stated for its wires",
                "IEC 60204-1 wants every conductor of a control circuit protected against overcurrent; unprotected, a "
                "chafed wire burns",
                (Figure("holding current", held.continuous_a, "A"), Figure("fuse", held.rating_a, "A")),
                tuple(_protected(project, one)),
            )
        elif guard.proposed:
            yield Finding(
                "circuits.load-fuse",
                Severity.INFO,
                key,
                f"The {name}'s wires: a fuse of the add-on, {held.marking}, where {short_name(one)}-FEED leaves its "
                "supply",
                f"The fuse F1 protects the add-on alone. This one carries {held.continuous_a:g} A and stands the "
                "pull-in; the load's wires are sized for it. State the machine's own fuse or breaker in its place if "
                "there is one in this circuit",
                (Figure("fuse", held.rating_a, "A"), Figure("holding current", held.continuous_a, "A")),
                (Remedy(f"Fit {held.marking}", _own_fuse(one, held.rating_a)),),
            )


def _own_fuse(one: Drive, rating_a: float) -> tuple[DesignEdit, ...]:
    key = f"feeder.{one.role}.protection"
    return DesignEdit(f"{key}.by", "own-fuse"), DesignEdit(f"{key}.rating", f"{rating_a:g} A")


def _protected(project: Project, one: Drive) -> Iterator[Remedy]:
    key = f"feeder.{one.role}.protection"
    actuator = one.actuator.model_copy(update={"protection": None})
    proposed = protection(project.design, actuator).fuse
    if proposed is not None and proposed.carries and proposed.survives_inrush:
        told = f"Fit {proposed.marking} where {short_name(one)}-FEED leaves its supply"
        yield Remedy(told, _own_fuse(one, proposed.rating_a))
    yield Remedy(
        "Find the fuse or breaker that the machine has in this circuit, and write down what stands on it: "
        f'{key} = {{ by = "feeder", rating = "..." }}'
    )
    yield let_a_contactor(one)


def _limited(one: Drive) -> Iterator[Finding]:
    """A winding that gives little into a short needs no fuse; one that gives more is not limited."""
    short_a, name = one.protection.short_a, one.role.replace("_", " ")
    if short_a is not None and short_a <= LIMITED_A:
        yield info(
            "circuits.load-fuse",
            f"feeder.{one.role}.protection",
            f"The {name}'s wires are protected by the winding, which gives {short_a:.1f} A into a short, and sized for "
            f"{one.protection.wire_a:.1f} A",
            "An inherently limited winding (NFPA 70, class 2) heats no wire that is sized for its short",
        )
        return
    given = "is not the measured winding" if short_a is None else f"gives up to {short_a:.0f} A into a short"
    yield Finding(
        "circuits.load-unprotected",
        Severity.ERROR,
        f"feeder.{one.role}.protection",
        f"The {name}'s supply {given}; it is not limited to {LIMITED_A:g} A, and nothing else protects its wires",
        "IEC 60204-1 wants every conductor of a control circuit protected against overcurrent; unprotected, a chafed "
        "wire burns",
        () if short_a is None else (Figure("into a short", short_a, "A"),),
        (
            Remedy(
                "Fit a fuse of the add-on in the FEED wire",
                (DesignEdit(f"feeder.{one.role}.protection.by", "own-fuse"),),
            ),
        ),
    )


def protective_conductor(project: Project) -> Iterator[Finding]:
    """A metal box with mains-level circuits in it is bonded."""
    high = [one for one in project.drives if one.actuator.coil.above_extra_low]
    if not high:
        return
    wire_a = max(one.protection.wire_a for one in high)
    gauge = max(gauge_for(wire_a, THINNEST_POWER), LEAST_BOND, key=lambda size: size.area_mm2)
    names = " and ".join(one.role.replace("_", " ") for one in high)
    yield info(
        "circuits.protective-conductor",
        f"feeder.{high[0].role}.coil.voltage",
        f"The box carries the {names} at mains level: a protective conductor of {gauge} or thicker, green-yellow, goes "
        "to box and lid, by a licensed electrician",
        "Without it a loose wire makes the box live. IEC 60204-1 has it as thick as the line conductors; local codes "
        "come first",
        figures=(Figure("line conductors carry", wire_a, "A"),),
    )
