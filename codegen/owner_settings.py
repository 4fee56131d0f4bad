"""The numbers of a sketch's settings.h, which its owner may change: what each may be, and their checksum.

The file as it is written is read here, so that no number in it can be left out of either.
"""

from __future__ import annotations

import re
from collections.abc import Iterable, Iterator, Sequence
from dataclasses import dataclass

from timing.design.board import Board
from timing.design.controls import LONGEST_LIMIT_US, ArcSensor, Buttons, Limits, Trigger
from timing.design.design import Design
from timing.design.feeder import Spread
from timing.design.section import Section
from timing.design.supply import SupplySense
from timing.design.times import LONGEST_BURNBACK_US, LONGEST_COMPLETED_SPOT_US, LONGEST_US, SHORTEST_SPOT_US
from timing.design.units import Measure, format_duration

CHECKSUM_FACTOR = 0x9E3779B1
"""Odd, so that a number changed by itself always changes the sum: it is multiplied by a power of this, modulo 2^32."""
CHECKSUM_MASK = 0xFFFFFFFF

_LINE = re.compile(r"^#define (\w+) (.+?)(?: /\*.*\*/)?$", re.MULTILINE)
_NUMBER = re.compile(r"(\d+)u?|UINT32_C\((\d+)\)")
_PIN = re.compile(r"PIN_OF\((?:([A-HJ-L]), )?(\d+)\)")
_BITS_A_PORT = 8
PORTS = "ABCDEFGHJKL"
"""Ports of the chips that have them by letter, in the order in which they are counted; there is no port I."""


@dataclass(frozen=True)
class OwnerSetting:
    """One number of settings.h."""

    name: str
    """As the C files call it."""
    number: int
    """As the design has it; a pin as a number of its own."""
    lowest: int | None = None
    highest: int | None = None
    """Both inclusive. None: a pin, of which the chip says what there is."""

    @property
    def allowed(self) -> str:
        """What it may be, in words: '0 ms to 2 s (0 to 2000000)'."""
        if self.lowest is None or self.highest is None:
            return "a pin of the chip"
        plain = f"{self.lowest} {'or' if self.highest == 1 else 'to'} {self.highest}"
        if not self.name.endswith("_US"):
            return plain
        return f"{format_duration(self.lowest)} to {format_duration(self.highest)} ({plain})"


@dataclass(frozen=True)
class LessThan:
    """Two numbers of which the first must be less than the second."""

    less: str
    more: str


def owner_settings(settings_h: str, design: Design, board: Board) -> tuple[OwnerSetting, ...]:
    """Return every number that the text of a settings.h defines, in its order.

    Raises ValueError for a definition that is neither a whole number nor a pin: such have no place in that file.
    """
    found = _LINE.findall(settings_h)
    return tuple(OwnerSetting(name, _value(name, text), *_bounds(name, design, board)) for name, text in found)


def checksum(settings: Iterable[OwnerSetting]) -> int:
    """Return the checksum of `settings`, as the compiler works it out from settings.h."""
    total = 0
    for setting in settings:
        total = (total * CHECKSUM_FACTOR + setting.number) & CHECKSUM_MASK
    return total


def orders(settings: Iterable[OwnerSetting]) -> Iterator[LessThan]:
    """Yield the pairs among `settings` that must rise."""
    names = {setting.name for setting in settings}
    for less in sorted(names):
        for low, high in (("_LOW_US", "_HIGH_US"), ("_LOW_COUNTS", "_GOOD_COUNTS")):
            more = less.removesuffix(low) + high
            if less.endswith(low) and more in names:
                yield LessThan(less, more)
    if {"DIAL_FAULT_BELOW", "DIAL_LOW_COUNTS"} <= names:
        yield LessThan("DIAL_FAULT_BELOW", "DIAL_LOW_COUNTS")


def settings_names(settings: Sequence[OwnerSetting]) -> dict[str, object]:
    """Return the names that the templates may use for `settings`."""
    return {
        "owner": settings,
        "orders": tuple(orders(settings)),
        "checksum": checksum(settings),
        "factor": CHECKSUM_FACTOR,
    }


def _value(name: str, text: str) -> int:
    if (pin := _PIN.fullmatch(text)) is not None:
        return (PORTS.index(pin[1]) * _BITS_A_PORT if pin[1] else 0) + int(pin[2])
    number = _NUMBER.fullmatch(text)
    if number is None:
        raise ValueError(f"{name} is neither a whole number nor a pin: {text}")
    return int(number[1] or number[2])


def _bounds(name: str, design: Design, board: Board) -> tuple[int | None, int | None]:
    if name.endswith("_PIN"):
        return None, None
    if name.endswith("_ON_HIGH"):
        return 0, 1
    if name.endswith("_CHANNEL"):
        return 0, max(pin.analog_channel for pin in board.pins if pin.analog_channel is not None)
    if name == "DIAL_LOW_COUNTS":
        return 1, board.adc_full_scale // 2 - 1
    if name.endswith(("_COUNTS", "_BELOW")):
        return 0, board.adc_full_scale
    if name in _FILED:
        section, field = _FILED[name]
        measure = _measure(section, field)
        return round(measure.low), round(measure.high)
    return _time_bounds(name, design)


def _time_bounds(name: str, design: Design) -> tuple[int, int]:
    if name == "CONTACTOR_OFF_DELAY_US":
        # As the design file has it; a diode across its coil comes on top.
        return 0, 2 * round(_measure(Spread, "max_us").high)
    of = name.removesuffix("_US").removesuffix("_LOW").removesuffix("_HIGH").lower()
    if of == "burnback":
        return 0, LONGEST_BURNBACK_US
    if of == "spot":
        completes = design.spot is not None and design.spot.on_release == "complete"
        return SHORTEST_SPOT_US, LONGEST_COMPLETED_SPOT_US if completes else LONGEST_US
    return 0, LONGEST_US if of in ("preflow", "postflow", "pause") else LONGEST_LIMIT_US


_FILED: dict[str, tuple[type[Section], str]] = {
    "WELD_LIMIT_US": (Limits, "weld_us"),
    "ARC_START_LIMIT_US": (Limits, "arc_start_us"),
    "PURGE_LIMIT_US": (Limits, "purge_us"),
    "INCH_LIMIT_US": (Limits, "inch_us"),
    "TRIGGER_FILTER_US": (Trigger, "filter_us"),
    "PURGE_FILTER_US": (Buttons, "filter_us"),
    "INCH_FILTER_US": (Buttons, "filter_us"),
    "ARC_FILTER_US": (ArcSensor, "filter_us"),
    "SUPPLY_FILTER_US": (SupplySense, "filter_us"),
}
"""Numbers that the design file has under another name: its bounds are theirs."""


def _measure(section: type[Section], field: str) -> Measure:
    info = section.model_fields[field]
    found = [item for item in _metadata(info.annotation, info.metadata) if isinstance(item, Measure)]
    return found[0]


def _metadata(annotation: object, metadata: Iterable[object]) -> Iterator[object]:
    yield from metadata
    for part in getattr(annotation, "__args__", ()):
        yield from getattr(part, "__metadata__", ())
