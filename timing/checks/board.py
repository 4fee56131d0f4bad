"""Rules on the board: its pins, its voltage, how well it is tested, and whether the sketch fits."""

from __future__ import annotations

from collections import defaultdict
from collections.abc import Iterator

from timing.checks.finding import DesignEdit, Figure, Finding, Remedy, error, info, warning
from timing.circuit.drives import LOW_GATE_V
from timing.design.board import FIVE_VOLT_LOGIC_V, OUTPUT_ROLES, ROLES, Kind, Pin, Role
from timing.design.features import features_of
from timing.design.pinning import needed_roles, suits
from timing.design.units import format_quantity
from timing.project import Project


def every_role_has_a_pin(project: Project) -> Iterator[Finding]:
    """Name the roles without a pin, and the pins that the board does not have."""
    for key, name in project.pins.items():
        if name is None:
            yield error(
                "every-role-has-a-pin",
                f"board.pins.{key}",
                f"the {ROLES[key].meaning} has no pin",
                f"{project.board.title} has no usual pin left for it",
                _with_a_free_pin(project, ROLES[key], f'board.pins: {key} = "PIN", with one of'),
            )
        elif project.board.pin(name) is None:
            yield error(
                "every-role-has-a-pin",
                f"board.pins.{key}",
                f"{ROLES[key].meaning}: {project.board.title} has no pin {name!r}",
                "the sketch would not compile, or drive something else",
                _with_a_free_pin(project, ROLES[key]),
            )


def one_role_a_pin(project: Project) -> Iterator[Finding]:
    """Name both claimants where two roles land on one pin."""
    claims = defaultdict(list)
    for role, pin in _placed(project):
        claims[pin.name].append(role)
    for name, roles in claims.items():
        if len(roles) > 1:
            yield error(
                "one-role-a-pin",
                f"board.pins.{roles[-1].key}",
                f"pin {name} is claimed by {' and '.join(role.meaning for role in roles)}",
                "one pin does one job",
                _with_a_free_pin(project, roles[-1], f"another pin for {roles[-1].key}, one of"),
            )


def pins_can_do_their_job(project: Project) -> Iterator[Finding]:
    """Analog roles need a converter channel, digital ones a digital pin, contacts a pull-up."""
    for role, pin in _placed(project):
        if role.kind is Kind.ANALOG and pin.analog_channel is None:
            yield error(
                "pins-can-do-their-job",
                f"board.pins.{role.key}",
                f"{role.meaning} on {pin.name}, which cannot measure a voltage",
                "a dial is read by the analog-to-digital converter",
                _with_a_free_pin(project, role),
            )
        elif role.kind is not Kind.ANALOG and not pin.digital:
            yield error(
                "pins-can-do-their-job",
                f"board.pins.{role.key}",
                f"{role.meaning} on {pin.name}, which only measures",
                "it cannot be switched or read as a contact",
                _with_a_free_pin(project, role),
            )
        elif role.kind is Kind.INPUT and not pin.pull_up:
            yield warning(
                "pins-can-do-their-job",
                f"board.pins.{role.key}",
                f"{role.meaning} on {pin.name}, which has no pull-up of its own",
                "an open contact would float",
                "an external 10 kohm resistor to the board's supply",
                _with_a_free_pin(project, role, "another pin,"),
            )


def pins_are_free_at_boot(project: Project) -> Iterator[Finding]:
    """Reserved pins are refused; pins that twitch by themselves at reset must not drive a load."""
    loads = {role.key for role in OUTPUT_ROLES}
    for role, pin in _placed(project):
        if pin.reserved:
            yield error(
                "pins-are-free-at-boot",
                f"board.pins.{role.key}",
                f"{role.meaning} on {pin.name}, which is taken: {pin.reserved}",
                "the board itself needs that pin",
                _with_a_free_pin(project, role),
            )
        elif pin.glitch and role.key in loads:
            yield error(
                "pins-are-free-at-boot",
                f"board.pins.{role.key}",
                f"{role.meaning} on {pin.name}, which moves by itself at reset: {pin.glitch}",
                "the load would twitch before the sketch has started; no resistor holds a pin that is driven",
                _with_a_free_pin(project, role),
            )


def outputs_are_pulled_off(project: Project) -> Iterator[Finding]:
    """Say which external resistor keeps each output off while the board boots."""
    wired = {one.role: one for one in project.drives}
    for role, pin in _placed(project):
        one = wired.get(role.key)
        if one is None:
            continue
        if one.pull_ohm is None:
            yield info(
                "outputs-are-pulled-off",
                f"board.pins.{role.key}",
                f"{role.meaning}: no resistor at {pin.name}; the module's input lights only when the pin draws current "
                "from it",
                "the pin floats in the bootloader: then nothing flows, and the load is off; try it before the load is "
                "connected",
            )
            continue
        rail = "board common" if one.on_level == "high" else "the board's supply"
        yield info(
            "outputs-are-pulled-off",
            f"board.pins.{role.key}",
            f"{role.meaning}: fit {format_quantity(one.pull_ohm, 'ohm')} from {pin.name} to {rail}",
            "the pin floats in the bootloader; the resistor holds the load off until the sketch drives it",
            figures=(Figure("resistor", one.pull_ohm, "ohm"),),
        )


def no_idle_pins(project: Project) -> Iterator[Finding]:
    """Point out pins given for something the design does not have."""
    needed = {role.key for role in needed_roles(project.design)}
    for key in project.design.board.pins:
        if key not in needed:
            yield info(
                "no-idle-pins",
                f"board.pins.{key}",
                f"a pin is given for the {ROLES[key].meaning}, which this design does not have",
                "it stays unused",
            )


def _placed(project: Project) -> Iterator[tuple[Role, Pin]]:
    for key, name in project.pins.items():
        pin = project.board.pin(name) if name is not None else None
        if pin is not None:
            yield ROLES[key], pin


def _with_a_free_pin(project: Project, role: Role, words: str = "one of") -> Remedy:
    """Offer the pins that are still free and can do the job of `role`; the first of them as a change."""
    free = _free_pins(project, role)
    if not free:
        return Remedy("none is free that can do it: a larger board, or a function less")
    return Remedy(f"{words} {', '.join(free)}", (DesignEdit(f"board.pins.{role.key}", free[0]),))


def _free_pins(project: Project, role: Role) -> list[str]:
    taken = {pin.name for _, pin in _placed(project)}
    return [pin.name for pin in project.board.pins if pin.name not in taken and suits(pin, role)]


def board_was_tested(project: Project) -> Iterator[Finding]:
    """Say so where a board's sketch has not run on its own microcontroller's program in the tests."""
    board = project.board
    if board.tested:
        yield warning(
            "board-was-tested",
            "board.type",
            f"{board.title}: the sketch was {board.tested.strip()}",
            "what was not tested may not work",
            "a bench test with lamps for loads (`wirecue bench`, `wirecue trace`) before it goes near the feeder",
        )


def gates_open_at_logic_level(project: Project) -> Iterator[Finding]:
    """At 3.3 V many MOSFETs that are called logic level open half-way and run hot."""
    logic_v = project.board.logic_v
    if logic_v >= FIVE_VOLT_LOGIC_V:
        return
    for one in project.drives:
        if not one.coupled:
            yield info(
                "gates-open-at-logic-level",
                f"feeder.{one.role}.drive",
                f"{ROLES[one.role].meaning}: the gate of its relay driver gets {logic_v:g} V",
                "a MOSFET specified at 4.5 V opens half-way there and runs hot (data sheets; practice)",
                f"a MOSFET whose on-resistance is specified at {LOW_GATE_V:g} V, as the parts list has it",
                figures=(Figure("gate drive", logic_v, "V"), Figure("gate drive to look for", LOW_GATE_V, "V")),
            )


def signals_keep_to_logic_level(project: Project) -> Iterator[Finding]:
    """A pin of a 3.3 V board must not see 5 V, from a sensor or from the rail."""
    design, board = project.design, project.board
    if board.logic_v >= FIVE_VOLT_LOGIC_V:
        return
    dialled = any(setting.dial for setting in features_of(design).times.values())
    figures = (Figure("highest voltage of a pin", board.logic_v, "V"),)
    from_logic = "pull-ups and dials" if dialled else "pull-ups"
    yield info(
        "signals-keep-to-logic-level",
        "board.type",
        f"no pin of the {board.title} is rated for more than {board.logic_v:g} V: {from_logic} go to its "
        f"{board.logic_v:g} V terminal, never to the rail or to USB's 5 V",
        "a pin above its supply feeds the board through its protection diode, and dies of it (data sheets)",
        figures=figures,
    )
    if design.arc_sensor is not None:
        yield info(
            "signals-keep-to-logic-level",
            "arc_sensor",
            f"the arc sensor's output meets a pin rated for {board.logic_v:g} V",
            "many current sensors feed their output from 5 V or more",
            "a sensor with a bare contact or open collector, closing to board common; or an optocoupler between",
            figures=figures,
        )


# Measured: deepest stack of the generated sketch with all interrupts, with a margin of two.
STACK_BYTES = 256
"""Room left for the stack (choice: several times what the simulator sees)."""


def memory_fit(project: Project) -> Iterator[Finding]:
    """Compare the sketch's flash and RAM with the board's."""
    footprint, board = project.footprint, project.board
    how = "as compiled" if footprint.measured else "estimated"
    says = (
        f"the sketch takes {footprint.flash_bytes} of {board.flash_bytes} bytes of flash and {footprint.ram_bytes} of "
        f"{board.ram_bytes} bytes of RAM ({how})"
    )
    figures = (
        Figure("flash taken", footprint.flash_bytes, "B"),
        Figure("flash of the board", board.flash_bytes, "B"),
        Figure("RAM taken", footprint.ram_bytes, "B"),
        Figure("RAM of the board", board.ram_bytes, "B"),
    )
    if footprint.flash_bytes > board.flash_bytes or footprint.ram_bytes + STACK_BYTES > board.ram_bytes:
        yield error(
            "memory-fit",
            "board.type",
            says,
            f"the stack needs about {STACK_BYTES} bytes of RAM on top",
            "a board with more memory",
            figures=figures,
        )
    else:
        yield info("memory-fit", "board.type", says, "it fits", figures=figures)
