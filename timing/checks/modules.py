"""The rules for ready-made modules: active level, inputs at 3.3 V, coil voltage, input rating, spacing."""

from __future__ import annotations

from collections.abc import Iterator

from timing.checks.finding import DesignEdit, Figure, Finding, Remedy, Severity
from timing.circuit.drives import Drive
from timing.circuit.preferred import VOLTAGE_MARGIN
from timing.design.board import FIVE_VOLT_LOGIC_V
from timing.design.circuits import MODULE_COIL_A, MODULE_RAIL_V
from timing.power.components import USUAL_SWITCHING_V
from timing.project import Project

SOLDERED = Remedy(
    "Build the circuit from its parts, where relay, spacing and suppression are known",
    (DesignEdit("circuits.build", "board"),),
)
"""What remains where no module will do."""


def _relays(project: Project) -> list[Drive]:
    """The outputs that a relay module switches; none where none is used."""
    if project.design.circuits.build != "modules":
        return []
    return [one for one in project.drives if one.actuator.drive == "relay"]


def _names(outputs: list[Drive]) -> str:
    return ", ".join(one.role.replace("_", " ") for one in outputs)


def active_level(project: Project) -> Iterator[Finding]:
    """The level with which the module in hand pulls in is the level that the design takes for on."""
    level = project.design.circuits.relay_active
    wrong = [one for one in _relays(project) if level is not None and one.on_level != level]
    if level is None or not wrong:
        return
    yield Finding(
        "circuits.module-level",
        Severity.ERROR,
        "circuits.relay_active",
        f"The relay module pulls in when its input is {level}, and the design takes {wrong[0].on_level} for on: "
        f"{_names(wrong)}",
        "Every output would be turned round: the loads run from power-up on, and stop when they should start",
        (),
        (
            Remedy(f"Let {level} mean on", tuple(DesignEdit(f"board.on_level.{one.role}", level) for one in wrong)),
            Remedy(f"Get a module that pulls in when its input is {wrong[0].on_level}, or turn its jumper"),
        ),
    )


def low_voltage_inputs(project: Project) -> Iterator[Finding]:
    """A pin of 3.3 V cannot switch off an input that is lit from 5 V."""
    logic_v, circuits = project.board.logic_v, project.design.circuits
    lit = [one for one in _relays(project) if one.on_level == "low"]
    if logic_v >= FIVE_VOLT_LOGIC_V or circuits.relay_inputs == "apart" or not lit:
        return
    levels = tuple(DesignEdit(f"board.on_level.{one.role}", "high") for one in lit)
    unstated = () if circuits.relay_active is None else (DesignEdit("circuits.relay_active", "high"),)
    yield Finding(
        "circuits.module-inputs",
        Severity.ERROR,
        "circuits.relay_inputs",
        f"Active-low inputs supplied with {MODULE_RAIL_V:g} V on a board of {logic_v:g} V: {_names(lit)}",
        f"The input's LED lies between {MODULE_RAIL_V:g} V and the pin. At {logic_v:g} V, its highest, "
        f"{MODULE_RAIL_V - logic_v:.1f} V are left across LED and resistor, enough to stay lit: such a relay may never "
        "switch off, and the pin is pulled above its supply (common practice, no source)",
        (Figure("supply of the inputs", MODULE_RAIL_V, "V"), Figure("pin's highest", logic_v, "V")),
        (
            Remedy(
                f"Use a module whose inputs have a supply of their own, specified for {logic_v:g} V: pull its jumper "
                "between inputs and coils, and join that terminal to the board's logic supply",
                (DesignEdit("circuits.relay_inputs", "apart"),),
            ),
            Remedy(f"Use an active-high module that is on from {logic_v:g} V", (*levels, *unstated)),
        ),
    )


def coil_voltage(project: Project) -> Iterator[Finding]:
    """The regulator makes what the modules' coils take."""
    relays, rail = _relays(project), project.budget.regulator.output_v
    if not relays or rail == MODULE_RAIL_V:
        return
    yield Finding(
        "circuits.module-coils",
        Severity.ERROR,
        "supply.regulator_output",
        f"The regulator makes {rail:g} V, and the relay modules take {MODULE_RAIL_V:g} V",
        "Above it coils and input resistors overheat; below it relays may not pull in",
        (Figure("regulator output", rail, "V"), Figure("coil", MODULE_RAIL_V, "V")),
        (
            Remedy(
                f"Set the regulator to {MODULE_RAIL_V:g} V",
                (DesignEdit("supply.regulator_output", f"{MODULE_RAIL_V:g} V"),),
            ),
            SOLDERED,
        ),
    )


def module_spacing(project: Project) -> Iterator[Finding]:
    """Nothing above extra-low voltage on a module whose spacing nobody states."""
    if project.design.circuits.build != "modules":
        return
    for one in project.drives:
        coil = one.actuator.coil
        if coil.above_extra_low:
            yield Finding(
                "circuits.module-spacing",
                Severity.ERROR,
                f"feeder.{one.role}.coil.voltage",
                f"The {one.role.replace('_', ' ')} stands at {coil.voltage_v:g} V {coil.kind}, on a ready-made module "
                "that states neither creepage nor insulation",
                "On many modules the tracks of the contacts run a millimetre or two from those of the coil: what may "
                "kill would be that far from the board, the USB socket and the panel (common practice, no source)",
                (Figure("load voltage", coil.voltage_v, "V"),),
                (
                    SOLDERED,
                    Remedy(
                        "Let a relay with a 24 V coil in the machine switch it, fitted by a licensed electrician, and "
                        "make that coil the load"
                    ),
                ),
            )


def what_modules_bring(project: Project) -> Iterator[Finding]:
    """What the coils of relay modules draw, and which regulator module stands the winding."""
    budget, relays = project.budget, _relays(project)
    if relays:
        drawn = sum(one.actuator.relay_coil_a or MODULE_COIL_A for one in relays)
        yield Finding(
            "circuits.module-load",
            Severity.INFO,
            "circuits.build",
            f"Relay modules: coils of {MODULE_RAIL_V:g} V, {1000 * drawn:.0f} mA with all in, fed by the regulator "
            "past the board's own; a plain diode across each coil",
            "The 24 VAC budget counts that current, and every time that is advised counts the later release",
            (Figure("coils", drawn, "A"),),
        )
    highest = budget.highest_v
    if project.design.circuits.build == "modules" and highest * VOLTAGE_MARGIN > USUAL_SWITCHING_V:
        yield Finding(
            "circuits.module-input-trap",
            Severity.INFO,
            "supply.regulator_input_max",
            f"The usual regulator module ends at {USUAL_SWITCHING_V:g} V, and the reservoir can stand at "
            f"{highest:.1f} V: "
            f"look for one rated {max(budget.regulator.input_max_v, 60.0):g} V at its input",
            "It works on the bench and on a quiet day; with a high line and nothing drawn its chip breaks down and may "
            "pass the reservoir's voltage on to the board (common practice, no source)",
            (Figure("highest reservoir voltage", highest, "V"), Figure("usual module", USUAL_SWITCHING_V, "V")),
        )
