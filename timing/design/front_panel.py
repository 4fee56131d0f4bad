"""What stands on a design's front panel beside its dials, and how its switches stand for a weld.

One list of controls for plates, sheets, dry runs and parts: each position of a control says which contacts it closes,
by role, and that is all the firmware ever sees of it.
"""

from __future__ import annotations

from collections.abc import Iterable, Iterator
from dataclasses import dataclass
from enum import Enum, StrEnum, auto

from timing.design.design import Design
from timing.design.features import features_of
from timing.design.times import SELECTED, TIME_TITLES


class WeldMode(StrEnum):
    """How a weld runs on while the trigger is held; the words stand on the selector's plate."""

    CONTINUOUS = auto()
    """Until the trigger ends it."""
    SPOT = auto()
    """For the spot time."""
    STITCH = auto()
    """Spot after spot, with the stitch pause between."""

    @property
    def closes(self) -> frozenset[str]:
        """Roles of the contacts that are closed for it: each contact is one function, closed while it is on."""
        return _CLOSES[self]


_CLOSES = {
    WeldMode.CONTINUOUS: frozenset[str](),
    WeldMode.SPOT: frozenset(SELECTED[:1]),
    WeldMode.STITCH: frozenset(SELECTED),
}

_SAYS = {
    WeldMode.CONTINUOUS: "until the trigger ends it",
    WeldMode.SPOT: "one, for the spot time",
    WeldMode.STITCH: "spot after spot, while held",
}
_DOWN = (WeldMode.SPOT, WeldMode.CONTINUOUS, WeldMode.STITCH)
"""The selector's positions from the top down."""


class ControlKind(Enum):
    """What a hand or an eye does with a control."""

    OFF_SWITCH = "off switch"
    """A toggle switch below its dial."""
    SWITCH = "switch"
    BUTTON = "push button"
    LAMP = "lamp"


@dataclass(frozen=True)
class Position:
    """One way in which a control stands."""

    label: str
    """As its plate has it."""
    says: str = ""
    """What it does, in a few words."""
    closes: frozenset[str] = frozenset()
    """Roles of the contacts closed there; the control's others are open."""


@dataclass(frozen=True)
class Control:
    """One switch, button or lamp of the panel."""

    key: str
    """The role of its pin; of the selector, which has two, `selector`."""
    kind: ControlKind
    title: str
    roles: tuple[str, ...]
    positions: tuple[Position, ...] = ()
    """From the top down; of a button the one while it is pressed; a lamp has none."""

    def position(self, closed: Iterable[str]) -> Position:
        """Return where it stands while the contacts `closed` are. Raises ValueError where no position closes those."""
        wanted = frozenset(closed) & frozenset(self.roles)
        found = next((one for one in self.positions if one.closes == wanted), None)
        if found is None:
            raise ValueError(f"the {self.title} switch has no position that closes {sorted(wanted)} alone")
        return found


@dataclass(frozen=True)
class SwitchPosition:
    """Where one switch stands."""

    control: Control
    position: Position

    def __str__(self) -> str:
        return f"{self.control.title} switch at {self.position.label.upper()}"


def controls_of(design: Design) -> tuple[Control, ...]:
    """Return every control of the panel beside the dials' knobs, in the order of the panel."""
    return tuple(_controls(design))


def _controls(design: Design) -> Iterator[Control]:
    features = features_of(design)
    if features.fitted["four_step"]:
        two_step = Position("two-step", "weld while held")
        four_step = Position("four-step", "press to start, press to end", frozenset({"four_step"}))
        yield Control("four_step", ControlKind.SWITCH, "trigger", ("four_step",), (two_step, four_step))
    selected = design.panel.has_selector
    if selected:
        # Off in the middle: a broken wire to either side, or to both, leaves a weld that the trigger ends.
        places = tuple(Position(weld.value, _SAYS[weld], weld.closes) for weld in _DOWN)
        yield Control("selector", ControlKind.SWITCH, "weld", SELECTED, places)
    for name in features.times:
        role = f"{name}_switch"
        if features.fitted[role] and not (selected and role in SELECTED):
            on_off = (Position("on", TIME_TITLES[name], frozenset({role})), Position("off"))
            yield Control(role, ControlKind.OFF_SWITCH, "stitch" if name == "pause" else name, (role,), on_off)
    for name, says in (("purge", "gas only"), ("inch", "wire only; away from people")):
        if features.fitted[name]:
            yield Control(name, ControlKind.BUTTON, name, (name,), (Position("hold", says, frozenset({name})),))
    yield Control("lamp", ControlKind.LAMP, "status", ("lamp",))


def weld_modes(design: Design) -> tuple[WeldMode, ...]:
    """Return the ways to weld that the panel can choose between; without a switch for it, the one that there is."""
    if design.spot is None:
        return (WeldMode.CONTINUOUS,)
    fitted = features_of(design).fitted
    spot_switched, pause_switched = (fitted[role] for role in SELECTED)
    without = (WeldMode.CONTINUOUS,) if spot_switched else ()
    if design.stitch is None:
        return (*without, WeldMode.SPOT)
    return (*without, *((WeldMode.SPOT,) if pause_switched else ()), WeldMode.STITCH)


def switch_positions(
    design: Design, weld: WeldMode, *, four_step: bool = False, off: Iterable[str] = ()
) -> tuple[SwitchPosition, ...]:
    """Return where each switch of the panel stands for a weld, in the order of the panel.

    four_step: the trigger's mode, where a switch has it. off: names of further times that are switched off, such as
    "preflow". Raises ValueError where the panel cannot do that: ask `weld_modes` and `features_of(design).switched`.
    """
    if weld not in weld_modes(design):
        raise ValueError(f"{weld}: this panel offers {', '.join(weld_modes(design))}")
    switches = [one for one in controls_of(design) if one.kind in (ControlKind.SWITCH, ControlKind.OFF_SWITCH)]
    wanted = {f"{name}_switch" for name in off} | ({"four_step"} if four_step else set())
    missing = wanted - {role for one in switches for role in one.roles if role not in SELECTED}
    if missing:
        raise ValueError(f"no switch of its own for {', '.join(sorted(missing))}")
    on = {role for one in switches for role in one.roles} - wanted - {"four_step", *SELECTED}
    closed = on | weld.closes | ({"four_step"} if four_step else set())
    return tuple(SwitchPosition(one, one.position(closed)) for one in switches)
