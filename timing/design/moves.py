"""What moves on the front panel from one design to another: said once, for advise, fit, diff and page."""

from __future__ import annotations

from collections.abc import Iterable
from dataclasses import dataclass

from timing.design.design import Design
from timing.design.features import features_of
from timing.design.times import TIME_KEYS, TimeSetting
from timing.design.units import format_duration

SCALE_FIELDS = ("from_us", "to_us", "taper", "rotation_deg", "resistance_ohm")
"""What the scale of a dial's plate is drawn from."""


@dataclass(frozen=True)
class PanelMove:
    """One time that stands otherwise than before. None: the design has no such time."""

    name: str
    """As in columns.TIME_NAMES."""
    before: TimeSetting | None
    after: TimeSetting | None

    @property
    def new_plate(self) -> bool:
        """True where a plate must be printed: there was none, or its scale would lie."""
        after = _dial(self.after)
        return after is not None and _scale(after) != _scale(_dial(self.before))

    @property
    def reset(self) -> bool:
        """True where the setting itself moves."""
        return None not in (self.before, self.after) and _setting(self.before) != _setting(self.after)

    @property
    def sentence(self) -> str:
        """What stands otherwise, without a full stop."""
        before, after = self.before, self.after
        off = "; its dial and plate come off" if _dial(before) else ""
        if after is None:
            return f"{self.name}: the design has none any more{off}"
        set_at = format_duration(after.setting_us)
        if self.new_plate:
            was = f"not {_span(before)}" if _dial(before) else "new"
            return f"{self.name}: a dial from {_span(after)}, {was}, set to {set_at}"
        if not after.dial:
            was = "" if before is None else f", not {_standing(before)}"
            return f"{self.name}: fixed at {set_at}{was}{off}"
        if self.reset:
            return f"{self.name}: turn its dial from {_standing(before)} to {set_at}"
        return f"{self.name}: its switch is {'fitted' if after.off_switch else 'left out'}"


def panel_moves(before: Design, after: Design) -> tuple[PanelMove, ...]:
    """Return every time that moves from one design to the other, in the order of the panel."""
    old, new = features_of(before).times, features_of(after).times
    return tuple(PanelMove(name, old.get(name), new.get(name)) for name in TIME_KEYS if old.get(name) != new.get(name))


def plates_to_print(moves: Iterable[PanelMove]) -> tuple[str, ...]:
    """Return the names of the times whose plates must be printed."""
    return tuple(move.name for move in moves if move.new_plate)


def _dial(setting: TimeSetting | None) -> TimeSetting | None:
    return setting if setting is not None and setting.dial else None


def _scale(setting: TimeSetting | None) -> tuple[object, ...]:
    return () if setting is None else tuple(getattr(setting, name) for name in SCALE_FIELDS)


def _setting(setting: TimeSetting | None) -> int | None:
    return None if setting is None else setting.setting_us


def _span(setting: TimeSetting | None) -> str:
    return "" if setting is None else f"{format_duration(setting.low_us)} to {format_duration(setting.high_us)}"


def _standing(setting: TimeSetting | None) -> str:
    return "" if setting is None else format_duration(setting.setting_us)
