"""Which roles a design needs, and on which pins of its board they land."""

from __future__ import annotations

from collections.abc import Iterable, Iterator, Mapping

from timing.design.board import SUPPLY_SENSE, Board, Kind, Pin, Role
from timing.design.design import Design
from timing.design.features import features_of


def needed_roles(design: Design) -> tuple[Role, ...]:
    """Return the roles that `design` needs a pin for, in the order of roles.ROLES."""
    return features_of(design).roles


def pin_names(design: Design, board: Board) -> dict[str, str | None]:
    """Return the pin name for each role that `design` needs.

    The design's own word comes first, then the board's usual pin, where the design has not given it to another role.
    A dial or contact that is left takes the first pin that is free and can do it; dials choose first, being harder
    to place. None where there is none.
    """
    needed = needed_roles(design)
    names = _named(design, board, needed)
    for kind in (Kind.ANALOG, Kind.INPUT):
        for role in needed:
            if names[role.key] is None and role.kind is kind:
                names[role.key] = next(_free(board, role, names), None)
    return names


def analog_pins(design: Design, board: Board) -> tuple[str, ...]:
    """Return the pins of `board` that can measure, and that no contact or output of `design` is on."""
    names = pin_names(design, board)
    taken = {names[role.key] for role in needed_roles(design) if role.kind is not Kind.ANALOG}
    return tuple(pin.name for pin in board.pins if suits(pin, SUPPLY_SENSE) and pin.name not in taken)


def suits(pin: Pin, role: Role) -> bool:
    """Tell whether a pin can do the job of a role, and keeps still until the sketch has started."""
    able = pin.analog_channel is not None if role.kind is Kind.ANALOG else pin.digital
    pulled = pin.pull_up or role.kind is not Kind.INPUT
    return able and pulled and not pin.reserved and not pin.glitch


def _named(design: Design, board: Board, needed: Iterable[Role]) -> dict[str, str | None]:
    chosen = design.board.pins
    names: dict[str, str | None] = {}
    for role in needed:
        usual = board.usual_pins.get(role.key)
        given_away = role.kind is not Kind.OUTPUT and usual in chosen.values()
        names[role.key] = chosen.get(role.key, None if given_away else usual)
    return names


def _free(board: Board, role: Role, names: Mapping[str, str | None]) -> Iterator[str]:
    """The pins left for a role; for a contact those first that cannot measure."""
    taken = set(names.values())
    free = [pin for pin in board.pins if suits(pin, role) and pin.name not in taken]
    yield from (pin.name for pin in sorted(free, key=lambda pin: pin.analog_channel is not None))
