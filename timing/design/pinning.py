"""Which roles a design needs, and on which pins of its board they land."""

from __future__ import annotations

from collections.abc import Iterator

from timing.design.board import Board
from timing.design.design import Design
from timing.design.roles import DIAL_ROLES, ROLES, SUPPLY_SENSE, SWITCH_ROLES, TIME_NAMES, Role


def needed_roles(design: Design) -> tuple[Role, ...]:
    """Return the roles that `design` needs a pin for, in the order of roles.ROLES."""
    needed = set(_needed_keys(design))
    return tuple(role for key, role in ROLES.items() if key in needed)


def _needed_keys(design: Design) -> Iterator[str]:
    yield from ("wire_drive", "contactor", "lamp", "trigger", "bench_link")
    optional = {
        "gas_valve": design.feeder.gas_valve is not None,
        "purge": design.buttons.purge,
        "inch": design.buttons.inch,
        "interlock": design.interlock.fitted,
        "arc": design.arc_sensor is not None,
        "four_step": design.trigger.mode == "switch",
        SUPPLY_SENSE.key: design.supply.sense is not None,
    }
    yield from (key for key, fitted in optional.items() if fitted)
    for name, dial, switch in zip(TIME_NAMES, DIAL_ROLES, SWITCH_ROLES, strict=True):
        setting = design.setting(name)
        if setting is not None and setting.dial:
            yield dial.key
        if setting is not None and setting.off_switch:
            yield switch.key


def pin_names(design: Design, board: Board) -> dict[str, str | None]:
    """Return the pin name for each role that `design` needs; None where neither design nor board names one."""
    chosen = design.board.pins
    return {role.key: chosen.get(role.key, board.usual_pins.get(role.key)) for role in needed_roles(design)}
