"""What the board listens to: trigger, buttons, switches, dials, its own supply; and the lamp."""

from __future__ import annotations

from timing.circuit.contact_sense import FILTER_CAPACITOR_F as CONTACT_CAPACITOR_F
from timing.circuit.contact_sense import contact_sense
from timing.circuit.dial_wiring import WIPER_CAPACITOR_F, dial_wirings
from timing.circuit.preferred import nearest
from timing.circuit.supply_sense import CAPACITOR_F
from timing.circuit.trigger_sense import CTR_NEW, FILTER_CAPACITOR_F, LED_MAX_A, PULL_UP_OHM, trigger_sense
from timing.circuit.wiring import SCREENED, TWISTED, Wiring
from timing.design.pinning import needed_roles
from timing.design.roles import ROLES, SUPPLY_SENSE, TIME_NAMES, Kind, Role
from timing.design.units import format_quantity

LAMP_V, LAMP_A = 2.0, 0.005
"""Forward voltage and current of the status LED (practice)."""
OTHER_INPUTS = {
    "purge": "push button, normally open",
    "inch": "push button, normally open",
    "interlock": "dry (potential-free) contact of its own, closed when all is well",
    "arc": "dry (potential-free) contact of the current sensor, closed when the arc is established",
    "four_step": "toggle switch, closed for four-step",
}


def trigger(wiring: Wiring, plug: str) -> None:
    """The trigger's optocoupler, from the plug to the pin."""
    build, sense = wiring.build, trigger_sense(wiring.design, wiring.board)
    live = build.net("TRIG-LIVE", "trigger", 0.05, TWISTED)
    back = build.net("TRIG-RETURN", "trigger", 0.05, TWISTED)
    led = build.net("TRIG-LED", "trigger", 0.05)
    build.join(live, f"{plug}.TRIG-LIVE")
    build.join(back, f"{plug}.TRIG-RETURN")
    reason = f"{1000 * sense.low_a:.1f} mA at low line, {sense.margin:.1f} times what an aged optocoupler needs"
    wiring.resistor(sense.resistor_ohm, live, led, reason, sense.dissipation_w)
    ac_input = sense.ac and sense.ac_input
    kind = "ac-input-coupler" if ac_input else "coupler"
    text = "optocoupler, ac input" if ac_input else "optocoupler"
    ref = build.add(
        "U", kind, "CTR 50 %", f"{text}, transistor output, CTR {100 * CTR_NEW:g} % or more at 5 mA, "
        f"LED {2000 * LED_MAX_A:g} mA, 5 kV isolation",
        ("A", "K", "C", "E"), reason="keeps the trigger's circuit apart from the board",
    )  # fmt: skip
    build.join(led, f"{ref}.A")
    build.join(back, f"{ref}.K")
    pin = wiring.pin("trigger")
    build.join(pin, f"{ref}.C")
    build.join(wiring.common, f"{ref}.E")
    if not ac_input:
        guard = build.add("D", "diode", "100 V 1 A", "diode, 100 V, 1 A", ("A", "K"),
                          reason="protects the LED from reverse voltage")  # fmt: skip
        build.two(guard, back, led)
    wiring.resistor(PULL_UP_OHM, wiring.logic, pin, "pulls the trigger pin up")
    wiring.ceramic(FILTER_CAPACITOR_F, pin, wiring.common, "takes the starter's high frequency off the pin", 50.0)


def inputs(wiring: Wiring) -> None:
    """Buttons, switches, contacts, the bench link and the lamp."""
    build = wiring.build
    switched = {f"{name}_switch": f"toggle switch, closed for {name}" for name in TIME_NAMES}
    for role in needed_roles(wiring.design):
        text = {**OTHER_INPUTS, **switched}.get(role.key)
        if role.key == "bench_link":
            ref = build.add("JP", "jumper", "bench link", "pin header with jumper", ("1", "2"),
                            reason="read at power-up; off in service")  # fmt: skip
            build.two(ref, wiring.pin(role.key), wiring.common)
        elif role.kind is Kind.INPUT and text is not None:
            _contact(wiring, role, text)
        elif role.key == "lamp":
            _lamp(wiring, role)


def _contact(wiring: Wiring, role: Role, text: str) -> None:
    build = wiring.build
    ref = build.add("S", "contact", ROLES[role.key].meaning, text, ("1", "2"), "panel")
    pin = build.net(f"PIN-{role.key}", "signal", 0.02, SCREENED)
    build.join(pin, f"{wiring.mcu}.{wiring.pins[role.key]}")
    build.two(ref, pin, wiring.common)
    sense = contact_sense(wiring.board)
    wiring.resistor(sense.pull_up_ohm, wiring.logic, pin, f"wets the contact with {1000 * sense.wetting_a:.1f} mA")
    wiring.ceramic(CONTACT_CAPACITOR_F, pin, wiring.common, "keeps the wire's noise off the pin", 50.0)


def _lamp(wiring: Wiring, role: Role) -> None:
    build = wiring.build
    pin, lamp = wiring.pin(role.key), build.net("LAMP", "signal")
    wiring.resistor(nearest((wiring.board.logic_v - LAMP_V) / LAMP_A), pin, lamp, f"{1000 * LAMP_A:g} mA for the lamp")
    ref = build.add("H", "lamp", "status", "LED, 5 mm, with holder", ("A", "K"), "panel")
    build.two(ref, lamp, wiring.common)


def dials(wiring: Wiring) -> None:
    """Every dial with its end resistors and its wiper's pull."""
    build = wiring.build
    for dial in dial_wirings(wiring.design, wiring.board):
        name = dial.name.upper()
        top = build.net(f"{name}-TOP", "signal", 0.02, SCREENED)
        bottom = build.net(f"{name}-BOTTOM", "signal", 0.02, SCREENED)
        pin = build.net(f"PIN-{dial.name}_dial", "signal", 0.02, SCREENED)
        build.join(pin, f"{wiring.mcu}.{wiring.pins[f'{dial.name}_dial']}")
        value = format_quantity(dial.setting.resistance_ohm, "ohm")
        pot = build.add(
            "RP", "potentiometer", value, f"potentiometer {value}, {dial.setting.taper} taper, "
            f"{dial.setting.rotation_deg:g} deg, {dial.name} dial", ("1", "2", "3"), "panel",
        )  # fmt: skip
        build.join(bottom, f"{pot}.1")
        build.join(pin, f"{pot}.2")
        build.join(top, f"{pot}.3")
        wiring.resistor(dial.end_ohm, wiring.logic, top, "keeps a sound dial off the top rail")
        wiring.resistor(dial.end_ohm, bottom, wiring.common, "keeps a sound dial off the bottom rail")
        wiring.resistor(dial.wiper_pull_ohm, pin, wiring.common, "makes an open wiper read as broken")
        wiring.ceramic(WIPER_CAPACITOR_F, pin, wiring.common, "keeps the arc's noise off the reading", 50.0)


def sense(wiring: Wiring) -> None:
    """The supply-sense divider, where the design has one."""
    divider = wiring.design.supply.sense
    if divider is None:
        return
    pin = wiring.pin(SUPPLY_SENSE.key)
    wiring.resistor(divider.divider_top_ohm, wiring.plus, pin, "supply sense, upper part")
    wiring.resistor(divider.divider_bottom_ohm, pin, wiring.common, "supply sense, lower part")
    wiring.ceramic(CAPACITOR_F, pin, wiring.common, "steadies the reading", 50.0)
