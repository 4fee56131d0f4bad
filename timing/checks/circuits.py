"""The rules for the circuits round the board: drives, contacts, dials, supply sense."""

from __future__ import annotations

import math
from collections.abc import Iterator

from timing.checks.controls import HAND_DEG
from timing.checks.finding import DesignEdit, Figure, Finding, Remedy, Severity, time_figure
from timing.circuit.dial import WIPER_CAPACITOR_F, PanelDial, mains_pick_up_v
from timing.circuit.drives import TRIAC_HOLDING_A, Drive
from timing.circuit.ratings import RELAY_CLOSING_A, snubber_ohm_least, snubber_peak_a
from timing.circuit.senses import (
    SOURCE_OHM_MAX,
    WETTING_A,
    contact_sense,
    contacts_a,
    divider_top_ohm,
    sense_divider,
    wetted_contacts,
)
from timing.design.suppression import Suppression, clamped_at_load, on_relay_module
from timing.design.times import TIME_KEYS
from timing.design.units import format_quantity
from timing.formatting import ms
from timing.project import Project

NOTICEABLE_US = 2_000
"""A release this much later is reported: under a tenth of a usual burnback time (choice)."""
DIAL_SAG_SHARE = 0.05
"""Share by which a wiper's pull may bend a dial's scale (choice)."""
LEAST_STEPS = 4
"""Converter steps wanted between low and good (choice)."""
SMALL_BOTTOM_OHM = 4700.0
"""Divider bottom that a remedy proposes (choice)."""


def _relay(one: Drive) -> Remedy:
    return Remedy("Use a relay", (DesignEdit(f"feeder.{one.role}.drive", "relay"),))


def _name(one: Drive) -> str:
    return one.role.replace("_", " ")


def drive_suits_load(project: Project) -> Iterator[Finding]:
    """A triac never lets go of direct current; a MOSFET conducts one half-wave unasked."""
    for one in project.drives:
        kind, coil = one.actuator.drive, one.actuator.coil
        key = f"feeder.{one.role}.drive"
        if kind == "opto-triac" and coil.kind == "dc":
            text = f"The {_name(one)} runs on dc and is driven by an opto-triac"
            reason = "A triac switches off only when its current passes through zero, which dc never does"
            yield Finding("circuits.triac-on-dc", Severity.ERROR, key, text, reason, (), (_relay(one),))
        if kind == "mosfet" and coil.kind == "ac":
            text = f"The {_name(one)} runs on ac and is driven by a MOSFET"
            reason = "A MOSFET's own diode conducts every other half-wave, switched on or not"
            yield Finding("circuits.mosfet-on-ac", Severity.ERROR, key, text, reason, (), (_relay(one),))
        if kind == "opto-triac" and coil.kind == "ac" and coil.hold_a < TRIAC_HOLDING_A:
            yield Finding(
                "circuits.triac-small-coil",
                Severity.WARNING,
                key,
                f"The {_name(one)} draws {1000 * coil.hold_a:.0f} mA; a triac may need {1000 * TRIAC_HOLDING_A:.0f} mA "
                "to stay on",
                "Under its holding current a triac drops out in each half-wave and the coil hums",
                (Figure("coil current", coil.hold_a, "A"),),
                (_relay(one),),
            )


def pin_current(project: Project) -> Iterator[Finding]:
    """No pin may carry more than its board allows."""
    limit = project.board.pin_current_a
    for one in project.drives:
        if one.pin_a > limit:
            yield Finding(
                "circuits.pin-current",
                Severity.ERROR,
                f"feeder.{one.role}.drive",
                f"The {_name(one)}'s pin carries {1000 * one.pin_a:.1f} mA; the board allows {1000 * limit:g} mA",
                "An overloaded pin sags, then fails",
                (Figure("pin current", one.pin_a, "A"),),
                (_relay(one),),
            )


def leaks(project: Project) -> Iterator[Finding]:
    """What a semiconductor lets through while it is off must be too little to hold the coil in."""
    for one in project.drives:
        if one.holds_in:
            yield Finding(
                "circuits.leak-holds",
                Severity.ERROR,
                f"feeder.{one.role}.drive",
                f"The {_name(one)}'s {one.actuator.drive} may leak {1000 * one.leakage_a:g} mA while it is off; the "
                f"coil is sure to let go only under {1000 * one.lets_go_a:.1f} mA",
                "What leaks flows through the coil: it may stay in, or hum and drop out late",
                (Figure("leakage", one.leakage_a, "A"), Figure("lets go under", one.lets_go_a, "A")),
                (_relay(one),),
            )


def snubbers(project: Project) -> Iterator[Finding]:
    """A contact that closes on an empty RC element carries what its resistor lets through."""
    for one in project.drives:
        actuator = one.actuator
        if actuator.snubber_capacitor_f is None or actuator.drive != "relay":
            continue
        peak_a = snubber_peak_a(project.design, actuator)
        if peak_a <= RELAY_CLOSING_A:
            continue
        value = format_quantity(snubber_ohm_least(project.design, actuator.coil), "ohm")
        yield Finding(
            "circuits.snubber-closing",
            Severity.WARNING,
            f"feeder.{one.role}.snubber_resistor",
            f"When the {_name(one)}'s contact closes at the peak, its empty RC element takes {peak_a:.0f} A",
            f"Small contacts weld in time by more than some {RELAY_CLOSING_A:g} A at each closing (common practice, no "
            "source)",
            (Figure("closing current", peak_a, "A"), Figure("resistor", actuator.snubber_resistor_ohm, "ohm")),
            (Remedy(f"Fit {value}", (DesignEdit(f"feeder.{one.role}.snubber_resistor", value),)),),
        )


def release(project: Project) -> Iterator[Finding]:
    """Tell where the suppression changes the off-delay, and with it the burnback."""
    meaning = {
        "wire_drive": "The wire coasts on that much longer: more extension is left, and burnback must be longer",
        "contactor": "The arc burns that much longer: it is burnback nobody set, and the spread comes on top",
        "gas_valve": "Gas flows that much longer",
    }
    for one in project.drives:
        stated_us, actual = _stated_us(one), one.off_delay
        later_us = actual.typical_us - stated_us
        if abs(later_us) < NOTICEABLE_US:
            continue
        if later_us < 0:
            yield _sooner(one, later_us)
            continue
        keys = _suppressed_by(one, "diode")
        if on_relay_module(project.design, one.actuator):
            # The diode on the module is there to stay; one across the load is not.
            keys.remove("suppression")
            if not keys:
                yield _of_module(one, later_us, meaning[one.role])
                continue
        where = {"suppression": "the relay's coil", "load_suppression": "the load"} if len(keys) > 1 else {}
        told = " and one across ".join(where.get(key, "its coil") for key in keys)
        yield Finding(
            "circuits.release",
            Severity.WARNING,
            f"feeder.{one.role}.{keys[0]}",
            f"With a plain diode across {told} the {_name(one)} lets go after {actual.typical_us / 1000:.1f} ms "
            f"({actual.min_us / 1000:.1f} to {actual.max_us / 1000:.1f} ms) instead of "
            f"{stated_us / 1000:.1f} ms",
            "The coil's current dies down slowly through a plain diode. " + meaning[one.role],
            (Figure("off-delay", actual.typical_us / 1000, "ms"), Figure("later by", later_us / 1000, "ms")),
            (
                Remedy(
                    "Put a zener of about the coil's voltage in series with the diode",
                    tuple(DesignEdit(f"feeder.{one.role}.{key}", "zener") for key in keys),
                ),
            ),
        )


def _stated_us(one: Drive) -> int:
    """Return the usual off-delay that the design states, an interposing contactor's lag included."""
    behind = one.actuator.interposed
    return one.actuator.off_delay.typical_us + (0 if behind is None else behind.off_delay.typical_us)


def _suppressed_by(one: Drive, kind: Suppression) -> list[str]:
    """Return the keys of the suppressions of a drive that are of a kind: that of its relay, that of its load."""
    actuator = one.actuator
    keys = {"suppression": actuator.suppression}
    if actuator.drive == "relay" and clamped_at_load(actuator) is not None:
        keys["load_suppression"] = actuator.load_suppression
    return [key for key, value in keys.items() if value == kind]


def _of_module(one: Drive, later_us: int, meaning: str) -> Finding:
    stated_us, actual = _stated_us(one), one.off_delay
    return Finding(
        "circuits.release",
        Severity.INFO,
        "circuits.build",
        f"On a relay module the {_name(one)} lets go after {actual.typical_us / 1000:.1f} ms "
        f"({actual.min_us / 1000:.1f} to {actual.max_us / 1000:.1f} ms) instead of {stated_us / 1000:.1f} ms",
        f"A plain diode lies across the module's coil. {meaning}. The times that are advised count it",
        (Figure("off-delay", actual.typical_us / 1000, "ms"), Figure("later by", later_us / 1000, "ms")),
    )


def _sooner(one: Drive, later_us: int) -> Finding:
    stated_us, actual = _stated_us(one), one.off_delay
    return Finding(
        "circuits.release",
        Severity.INFO,
        f"feeder.{one.role}.{_suppressed_by(one, 'varistor')[0]}",
        f"With a varistor the {_name(one)} lets go after {actual.typical_us / 1000:.1f} ms "
        f"({actual.min_us / 1000:.1f} to {actual.max_us / 1000:.1f} ms) instead of {stated_us / 1000:.1f} ms",
        "It holds the coil at a higher voltage than a zener would: the current dies down sooner",
        (Figure("off-delay", actual.typical_us / 1000, "ms"), Figure("later by", later_us / 1000, "ms")),
    )


def supply_divider(project: Project) -> Iterator[Finding]:
    """The supply-sense divider keeps the pin inside the converter's range at the highest voltage."""
    budget = project.budget
    sense = project.design.supply.sense
    if sense is None:
        return
    divider = sense_divider(sense, project.board, budget.highest_v)
    limit = min(project.board.adc_reference_v, project.board.logic_v)
    bottom = min(sense.divider_bottom_ohm, SMALL_BOTTOM_OHM)
    top = divider_top_ohm(bottom, project.board, budget.highest_v)
    changes = (
        DesignEdit("supply.sense.divider_top", format_quantity(top, "ohm")),
        DesignEdit("supply.sense.divider_bottom", format_quantity(bottom, "ohm")),
    )
    remedy = Remedy(f"Fit {format_quantity(top, 'ohm')} over {format_quantity(bottom, 'ohm')}", changes)
    figures = (
        Figure("pin voltage", divider.pin_high_v, "V"),
        Figure("source resistance", divider.source_ohm, "ohm"),
        Figure("one count", 1000 * divider.v_per_count, "mV"),
    )
    if divider.pin_high_v > limit:
        yield Finding(
            "circuits.sense-voltage",
            Severity.ERROR,
            "supply.sense.divider_top",
            f"At {budget.highest_v:.1f} V the supply-sense pin stands at {divider.pin_high_v:.2f} V; full scale is "
            f"{limit:g} V",
            "A pin above its supply feeds the board through its protection diode",
            figures,
            (remedy,),
        )
    if divider.source_ohm > SOURCE_OHM_MAX:
        yield Finding(
            "circuits.sense-source",
            Severity.WARNING,
            "supply.sense.divider_bottom",
            f"The divider's source resistance is {divider.source_ohm / 1000:.1f} kohm; converters need "
            f"{SOURCE_OHM_MAX / 1000:g} kohm at most",
            "The converter's sampling capacitor does not fill through more, and the reading is low",
            figures,
            (remedy,),
        )
    steps = divider.thresholds.good_counts - divider.thresholds.low_counts
    if steps < LEAST_STEPS:
        yield Finding(
            "circuits.sense-resolution",
            Severity.WARNING,
            "supply.sense.good",
            f"Low and good are {steps} counts of the converter apart",
            "Noise of a count or two would make the supply seem to come and go",
            figures,
            (remedy,),
        )


def dials(project: Project) -> Iterator[Finding]:
    """The wiper's pull must not bend the dial."""
    for dial in project.dials.values():
        if dial.sag_share > DIAL_SAG_SHARE:
            yield Finding(
                "circuits.dial-bends",
                Severity.WARNING,
                f"{TIME_KEYS[dial.name]}.resistance",
                f"The {dial.name} dial reads up to {100 * dial.sag_share:.0f} % of full scale low in its middle",
                f"The {format_quantity(dial.wiper_pull_ohm, 'ohm')} that shows a broken wiper load a potentiometer "
                f"of {format_quantity(dial.setting.resistance_ohm, 'ohm')}",
                (Figure("reading low by", 100 * dial.sag_share, "%"),),
                _lower_dial(dial),
            )


def dial_pick_up(project: Project) -> Iterator[Finding]:
    """Among modules no capacitor stands at a wiper: what the converter and a mains wire beside it make of that."""
    design, budget = project.design, project.budget
    if design.circuits.build != "modules":
        return
    beside_v = budget.winding.open_v * (1.0 + design.supply.line_tolerance_percent / 100.0)
    told: dict[Severity, tuple[float, Finding]] = {}
    for dial in project.dials.values():
        frequency_hz = design.supply.line_frequency_hz
        volts = mains_pick_up_v(dial.source_ohm, beside_v, frequency_hz)
        counts = volts / project.board.adc_reference_v * (dial.full_counts + 1)
        turned_deg = counts * dial.count_us / min(dial.degree_us)
        matters = turned_deg > HAND_DEG or dial.source_ohm > SOURCE_OHM_MAX
        severity = Severity.WARNING if matters else Severity.INFO
        corner_hz = 1.0 / (2.0 * math.pi * dial.source_ohm * WIPER_CAPACITOR_F)
        spares = (
            f"a capacitor of {format_quantity(WIPER_CAPACITOR_F, 'F')} at the wiper would begin at {corner_hz:.0f} Hz "
            "only, so that none is fitted; what the arc radiates is kept off by twist or screen and a median of three "
            "readings"
        )
        finding = Finding(
            "circuits.dial-pick-up",
            severity,
            f"{TIME_KEYS[dial.name]}.resistance",
            f"The {dial.name} dial has up to {dial.source_ohm / 1000:.1f} kohm from wiper to pin; beside "
            f"{beside_v:.0f} V of mains frequency all the way its reading may move by {1000 * volts:.2g} mV, "
            f"{ms(counts * dial.count_us)}, as by a turn of {turned_deg:.1g} degrees",
            f"A hand sets a knob to about {HAND_DEG:g} degrees, and converters need {SOURCE_OHM_MAX / 1000:g} kohm or "
            "less to fill their sampling capacitor" + ("" if matters else f"; {spares}"),
            (
                Figure("from wiper to pin, most", dial.source_ohm, "ohm"),
                Figure("wire beside it", beside_v, "V"),
                Figure("picked up, peak", 1000 * volts, "mV"),
                time_figure("its time moves by", counts * dial.count_us),
                Figure("as by a turn of", turned_deg, "deg"),
            ),
            _lower_dial(dial) if matters else (),
        )
        if severity not in told or told[severity][0] < turned_deg:
            told[severity] = (turned_deg, finding)
    yield from (finding for _, finding in told.values())


def _lower_dial(dial: PanelDial) -> tuple[Remedy, ...]:
    return (Remedy("Use a potentiometer of 10 kohm", (DesignEdit(f"{TIME_KEYS[dial.name]}.resistance", "10 kohm"),)),)


def dry_contacts(project: Project) -> Iterator[Finding]:
    """What interlock and arc sensor bring to the board is a bare contact, and nothing else is on it."""
    design = project.design
    fitted = {"interlock": design.interlock.fitted, "arc_sensor": design.arc_sensor is not None}
    for key, there in fitted.items():
        if there:
            yield Finding(
                "circuits.dry-contact",
                Severity.INFO,
                key,
                f"The {key.replace('_', ' ')} must close a dry (potential-free) contact of its own, wired to nothing "
                "but the board",
                "Its two wires join the board's pin and COMMON: a contact that carries another circuit brings that "
                "circuit's voltage to the pin, and ties COMMON to it",
            )


def contacts(project: Project) -> Iterator[Finding]:
    """Every contact gets a resistor that wets it."""
    wetted = wetted_contacts(project.design)
    if not wetted:
        return
    if project.design.circuits.build == "modules":
        yield _on_input_module(project, len(wetted))
        return
    sense, value = contact_sense(project.board), format_quantity(contact_sense(project.board).pull_up_ohm, "ohm")
    yield Finding(
        "circuits.contacts",
        Severity.INFO,
        "board.type",
        f"Contacts: {value} from each to {project.board.logic_v:g} V, {1000 * sense.wetting_a:.1f} mA through a closed "
        "one",
        "A switch or interlock that carries next to nothing goes bad by the film on its contacts; an industrial input "
        f"draws {1000 * WETTING_A:g} mA or more (IEC 61131-2). The pin follows an opening contact within "
        f"{sense.opening_us / 1000:.2f} ms. A damp cable counts as open down to {sense.leak_ohm / 1000:.1f} kohm, a "
        f"closed contact as closed up to {sense.closed_ohm:.0f} ohm",
        (
            Figure("pull-up resistor", sense.pull_up_ohm, "ohm"),
            Figure("current through a contact", 1000 * sense.wetting_a, "mA"),
            Figure("all contacts closed", 1000 * contacts_a(project.design, project.board), "mA"),
            Figure("reads open with a leak of at least", sense.leak_ohm, "ohm"),
            Figure("reads closed with at most", sense.closed_ohm, "ohm"),
        ),
    )


def _on_input_module(project: Project, count: int) -> Finding:
    drawn_ma = 1000 * contacts_a(project.design, project.board)
    return Finding(
        "circuits.contacts",
        Severity.INFO,
        "circuits.build",
        f"Contacts: {count} on an opto-input module, which wets each with {1000 * WETTING_A:g} mA or more",
        "A switch or interlock that carries next to nothing goes bad by the film on its contacts; an industrial input "
        f"draws {1000 * WETTING_A:g} mA or more (IEC 61131-2)",
        (
            Figure("current through a contact, least", 1000 * WETTING_A, "mA"),
            Figure("all contacts closed", drawn_ma, "mA"),
        ),
    )
