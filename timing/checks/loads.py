"""The rules for what a load asks of the contact, or the MOSFET, that breaks it."""

from __future__ import annotations

from collections.abc import Iterator

from timing.checks.finding import DesignEdit, Figure, Finding, Remedy, Severity, info
from timing.circuit.drives import Drive
from timing.circuit.ratings import PILOT_DUTY_V, RELAY_SIZES, relay_size, usual_dc_breaking_a
from timing.design.feeder import EXTRA_LOW_AC_V, EXTRA_LOW_DC_V, Coil, DcRating
from timing.project import Project

UNRATED_DC_V, UNRATED_DC_A = 30.0, 1.0
"""Up to both, a small relay's contact is taken to break dc without a word on it: 30 V is where the dc ratings of such
relays end, and a coil of 1 A is well inside them (practice)."""
COIL_SHARE = {"DC-13": 1.0, "resistive": 0.3}
"""Share of a stated dc current that a coil or motor may use. DC-13 is the category of IEC 60947-5-1 for dc
electromagnets; from a resistive rating three tenths are left (practice)."""
CLAMPED_V, CLAMPED_A = 60.0, 1.0
"""What the clamp at a dc load that a MOSFET switches is made for: a diode of 100 V, 1 A, a zener of 1.3 W (choice)."""


def wants_dc_rating(one: Drive) -> bool:
    """Tell whether a load may only be broken by a contact with a stated dc rating."""
    coil = one.actuator.coil
    on_contact = coil.kind == "dc" and one.actuator.drive == "relay"
    return on_contact and (coil.voltage_v > UNRATED_DC_V or coil.hold_a > UNRATED_DC_A)


def broken_a(coil: Coil) -> float:
    """Return the current that a contact must be sure to break (A).

    Above 30 V an arc can stand, so that even a motor that is still starting must be broken; below, a start broken
    now and then only wears the contact.
    """
    return max(coil.hold_a, coil.inrush_a or 0.0) if coil.voltage_v > UNRATED_DC_V else coil.hold_a


def usable_a(rating: DcRating) -> float:
    """Return what a coil or motor may use of a stated rating (A)."""
    return rating.current_a * COIL_SHARE[rating.category]


def dc_contact(project: Project) -> Iterator[Finding]:
    """A contact that breaks dc must be stated to break that voltage and current."""
    for one in filter(wants_dc_rating, project.drives):
        coil, rating = one.actuator.coil, one.actuator.contact_dc
        name, wanted_a = one.role.replace("_", " "), broken_a(coil)
        load = f"The {name} runs on {coil.voltage_v:g} V dc and takes {coil.hold_a:g} A"
        if coil.inrush_a is not None:
            load += f", {coil.inrush_a:g} A as it starts"
        figures = (Figure("voltage to break", coil.voltage_v, "V"), Figure("current to break", wanted_a, "A"))
        if rating is None:
            usual_a = usual_dc_breaking_a(coil.voltage_v)
            yield _refused(
                "circuits.dc-contact",
                one,
                f"{load}; no dc rating is stated for the contact that breaks it. A small relay of 10 A usually breaks "
                f"some {usual_a:.2g} A of a resistive load there, and three tenths of that of a coil or motor",
                (*figures, Figure("usually broken, resistive", usual_a, "A")),
            )
        elif rating.voltage_v < coil.voltage_v or usable_a(rating) < wanted_a:
            share = COIL_SHARE[rating.category]
            left = f", of which a coil or motor may use {usable_a(rating):.2g} A" if share < 1.0 else ""
            yield _refused(
                "circuits.dc-contact",
                one,
                f"{load}; its contact is rated {rating.current_a:g} A at {rating.voltage_v:g} V dc, "
                f"{rating.category}{left}",
                figures,
            )
        else:
            yield Finding(
                "circuits.dc-contact-stated",
                Severity.INFO,
                f"feeder.{one.role}.contact_dc",
                f"The {name}'s contact must be rated {rating.current_a:g} A at {rating.voltage_v:g} V dc, "
                f"{rating.category}: the parts list asks for it",
                "Buy it by that line of its data sheet; a relay of the same ac rating may not break this load at all",
                figures,
            )


def _refused(rule: str, one: Drive, text: str, figures: tuple[Figure, ...]) -> Finding:
    coil, key = one.actuator.coil, f"feeder.{one.role}"
    stated = Remedy(
        f"Fit a relay whose data sheet states DC-13 (IEC 60947-5-1) for {coil.voltage_v:g} V and {broken_a(coil):g} A "
        f'or more, and write down what it states: {key}.contact_dc = {{ voltage = "...", current = "...", '
        'category = "DC-13" }'
    )
    interposed = Remedy(
        "Let the add-on's small relay work an interposing contactor whose data sheet states DC-13 for this load; its "
        f"coil is then the load, so {key}.coil describes that coil, and the delays include the contactor"
    )
    remedies: tuple[Remedy, ...] = (interposed, stated) if coil.above_extra_low else (stated, interposed)
    if coil.voltage_v <= CLAMPED_V and coil.hold_a <= CLAMPED_A:
        remedies += (Remedy(f'Use a MOSFET, which draws no arc ({key}.drive = "mosfet")'),)
    return Finding(
        rule,
        Severity.ERROR,
        f"{key}.contact_dc",
        text,
        "An ac rating says nothing of dc: the current never passes through zero, so the arc between the opening "
        "contacts stands, the load runs on with the output off, and the relay burns",
        figures,
        remedies,
    )


def dc_clamp(project: Project) -> Iterator[Finding]:
    """A MOSFET that breaks a dc load hands its spike to a clamp that must bear it."""
    for one in project.drives:
        coil = one.actuator.coil
        if one.actuator.drive != "mosfet" or coil.kind != "dc":
            continue
        if coil.voltage_v <= CLAMPED_V and coil.hold_a <= CLAMPED_A:
            continue
        yield Finding(
            "circuits.dc-clamp",
            Severity.ERROR,
            f"feeder.{one.role}.drive",
            f"The {one.role.replace('_', ' ')} runs on {coil.voltage_v:g} V dc and takes {coil.hold_a:g} A; the clamp "
            f"at a load that a MOSFET switches is for {CLAMPED_V:g} V and {CLAMPED_A:g} A",
            "The spike of a larger load breaks the clamp, then the MOSFET, which fails closed: the load runs on",
            (Figure("load voltage", coil.voltage_v, "V"), Figure("load current", coil.hold_a, "A")),
            (
                Remedy(
                    "Let the MOSFET or the add-on's small relay work an interposing contactor whose data sheet states "
                    "DC-13 (IEC 60947-5-1) for this load; its coil is then the load of this table"
                ),
            ),
        )


def above_extra_low(project: Project) -> Iterator[Finding]:
    """A load at mains level keeps to a connector of its own, and is left to a licensed electrician."""
    for one in project.drives:
        coil = one.actuator.coil
        if not coil.above_extra_low:
            continue
        yield Finding(
            "circuits.above-extra-low",
            Severity.WARNING,
            f"feeder.{one.role}.coil.voltage",
            f"The {one.role.replace('_', ' ')}'s circuit stands at {coil.voltage_v:g} V {coil.kind}, above extra-low "
            f"voltage ({EXTRA_LOW_AC_V:g} V ac, {EXTRA_LOW_DC_V:g} V dc)",
            "Touching it can kill. It has a connector of its own in the drawings and lists, apart from the 24 V; its "
            "part of the box needs covers, mains spacing and a protective conductor on all metal",
            (Figure("load voltage", coil.voltage_v, "V"),),
            (
                Remedy(
                    "Let a small 24 V relay in the machine switch it, fitted by a licensed electrician, and make that "
                    "relay's coil the load: then no wire of the add-on is above extra-low voltage"
                ),
                Remedy("Leave this circuit, its connector and its tests to a licensed electrician"),
            ),
        )


def fed_by_the_winding(project: Project) -> Iterator[Finding]:
    """What stands above extra-low voltage is not fed by a winding of 24 V."""
    for one in project.drives:
        coil, key = one.actuator.coil, f"feeder.{one.role}.coil.fed_from"
        if coil.above_extra_low and coil.fed_from == "control":
            yield Finding(
                "circuits.fed-from",
                Severity.ERROR,
                key,
                f"The {one.role.replace('_', ' ')} takes {coil.voltage_v:g} V and is said to be fed by the control "
                f"winding of {project.design.supply.nominal_v:g} V",
                "The budget would count its current on the wrong winding, and the drawing would join two circuits",
                (Figure("load voltage", coil.voltage_v, "V"), Figure("winding", project.design.supply.nominal_v, "V")),
                (Remedy("State that it is fed from another circuit", (DesignEdit(key, "elsewhere"),)),),
            )


def ac_contact(project: Project) -> Iterator[Finding]:
    """An ac coil must be within what a small relay makes and breaks of coils."""
    largest = next(size for size in reversed(RELAY_SIZES) if size.name)
    for one in project.drives:
        coil = one.actuator.coil
        if coil.kind != "ac" or one.actuator.drive != "relay" or relay_size(one.actuator) is not None:
            continue
        inrush_a = coil.inrush_a or coil.hold_a
        yield Finding(
            "circuits.ac-contact",
            Severity.ERROR,
            f"feeder.{one.role}.coil.hold",
            f"The {one.role.replace('_', ' ')} takes {coil.hold_a:g} A at {coil.voltage_v:g} V ac and {inrush_a:g} A "
            f"as it pulls in; the contact of a small relay ({largest.name}, {largest.contact_a:g} A) makes "
            f"{largest.make_va / max(coil.voltage_v, PILOT_DUTY_V):.3g} A and breaks "
            f"{min(largest.break_va / coil.voltage_v, largest.contact_a):.3g} A of coils",
            "Utilisation category AC-15 of IEC 60947-5-1 is for coils; beyond it a contact burns or welds, and a "
            "welded one leaves the load on",
            (Figure("holding current", coil.hold_a, "A"), Figure("inrush", inrush_a, "A")),
            (let_a_contactor(one),),
        )


def let_a_contactor(one: Drive) -> Remedy:
    """Return the remedy for a load that is too much for what the add-on has."""
    key = f"feeder.{one.role}"
    return Remedy(
        f"Let the add-on's small relay work an interposing contactor rated for this load: {key}.coil then describes "
        f"that contactor's coil, and the table {key}.interposed this load and the contactor's lag"
    )


def interposed(project: Project) -> Iterator[Finding]:
    """The contact of an interposing contactor is held against the load behind it."""
    for one in project.drives:
        behind, key = one.actuator.interposed, f"feeder.{one.role}.interposed"
        if behind is None:
            continue
        wanted_a = max(behind.hold_a, behind.inrush_a or 0.0) if behind.voltage_v > UNRATED_DC_V else behind.hold_a
        name, stated = one.role.replace("_", " "), behind.contact_dc
        figures = (Figure("voltage to break", behind.voltage_v, "V"), Figure("current to break", wanted_a, "A"))
        short = stated is None or stated.voltage_v < behind.voltage_v or usable_a(stated) < wanted_a
        if behind.kind == "dc" and short:
            told = "nothing" if stated is None else f"{usable_a(stated):.3g} A at {stated.voltage_v:g} V"
            yield Finding(
                "circuits.interposed-contact",
                Severity.ERROR,
                f"{key}.contact_dc",
                f"The {name} behind the interposing contactor runs on {behind.voltage_v:g} V dc and takes {wanted_a:g} "
                f"A; of what its contact breaks of such loads on dc, {told} is stated",
                "An ac rating says nothing of dc: the arc between the opening contacts stands, and the load runs on",
                figures,
                (
                    Remedy(
                        f"Choose a contactor whose data sheet states DC-13 (IEC 60947-5-1) for {behind.voltage_v:g} V "
                        f"and {wanted_a:g} A, its poles in series if it says so, and write that down"
                    ),
                ),
            )
            continue
        yield info(
            "circuits.interposed",
            key,
            f"An interposing contactor stands between the add-on's {one.actuator.drive} and the {name}: "
            f"{behind.hold_a:g} A at {behind.voltage_v:g} V {behind.kind}",
            "Its lag is in every time that is computed; its contact goes where the load was switched as found, and the "
            "load has a varistor of its own across it. The contact as found works the contactor's coil through the "
            "bypass plug. Leave a circuit above extra-low voltage, and its protective conductor, to a licensed "
            "electrician",
            figures=figures,
        )


def mosfet_on_winding(project: Project) -> Iterator[Finding]:
    """A dc coil on the control winding has ac in front of its rectifier: no circuit for a MOSFET."""
    for one in project.drives:
        coil, key = one.actuator.coil, f"feeder.{one.role}"
        if one.actuator.drive != "mosfet" or coil.kind != "dc" or coil.fed_from != "control":
            continue
        yield Finding(
            "circuits.mosfet-on-winding",
            Severity.ERROR,
            f"{key}.drive",
            f"The {one.role.replace('_', ' ')} runs on dc, is fed by the {project.design.supply.nominal_v:g} VAC "
            "winding, and is driven by a MOSFET",
            "What the MOSFET switches is ac: its own diode conducts every other half-wave, switched on or not, and the "
            "load stays in",
            (Figure("load voltage", coil.voltage_v, "V"),),
            (
                Remedy("Use a relay, which breaks ac and dc alike", (DesignEdit(f"{key}.drive", "relay"),)),
                Remedy(
                    "Give this load dc of its own, a bridge and a capacitor on a winding apart from the add-on's, and "
                    "switch behind them",
                    (DesignEdit(f"{key}.coil.fed_from", "elsewhere"),),
                ),
            ),
        )
