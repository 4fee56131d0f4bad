"""The inputs that the bench puts in the place of the pins: contacts, switches, dials, supply."""

from __future__ import annotations

from collections.abc import Iterable
from dataclasses import dataclass, replace

from bench.message import Message, message
from timing.protocol.target import ANALOG_CHANNELS, RAW_BIT, Target
from timing.sequence.core.engine import Rig
from timing.sequence.core.filters import SupplyLevel
from timing.sequence.core.script import Change, Dial, Switch, What

SUPPLY_CHANNEL = ANALOG_CHANNELS.index("supply")
BROKEN_COUNTS = 0
"""A dial's reading with its wire broken: the pull takes it to board common."""


@dataclass(frozen=True)
class ForcedInputs:
    """How all forced inputs stand."""

    target: Target
    contacts: int
    counts: tuple[tuple[int, int], ...]
    """Channel and reading, for each analog channel that the design has."""

    def messages(self) -> tuple[Message, ...]:
        """Return the messages that force all of it: contacts first, for they hold the machine still."""
        return (
            message("force_contacts", self.contacts),
            *(message("force_analog", channel, counts) for channel, counts in self.counts),
        )

    def with_change(self, change: Change) -> tuple[ForcedInputs, Message]:
        """Return how they stand after a change of an input, and the message that does it. Raises ValueError."""
        bit = RAW_BIT.get(contact_of(change.what))
        if bit is not None:
            contacts = self.contacts | bit if change.value else self.contacts & ~bit
            return replace(self, contacts=contacts), message("force_contacts", contacts)
        channel, counts = self._analog(change)
        forced = tuple((each, counts if each == channel else old) for each, old in self.counts)
        return replace(self, counts=forced), message("force_analog", channel, counts)

    def _analog(self, change: Change) -> tuple[int, int]:
        match change.what:
            case Dial(name) if name in self.target.scales:
                return ANALOG_CHANNELS.index(name), self.target.scales[name].counts_for(change.value)
            case "supply" if self.target.supply is not None:
                return SUPPLY_CHANNEL, self.target.supply.at(SupplyLevel(change.value))
            case "dial_fault" if self.target.scales:
                first = next(iter(self.target.scales))
                counts = BROKEN_COUNTS if change.value else setting_counts(self.target, first)
                return ANALOG_CHANNELS.index(first), counts
        raise ValueError(f"'{change.what}' cannot be forced on this design")


def setting_counts(target: Target, name: str) -> int:
    """Return the reading at which a dial stands at the design's setting."""
    return target.scales[name].counts_for(target.rig.times_us[name])


def quiet_inputs(target: Target) -> ForcedInputs:
    """Return everything open, all well, dials and switches as the design sets them."""
    contacts = RAW_BIT["interlock"] | RAW_BIT["four_step"] * target.rig.four_step
    for name, on in target.rig.switches.items():
        contacts |= RAW_BIT[f"{name}_switch"] * on
    counts = [(ANALOG_CHANNELS.index(name), setting_counts(target, name)) for name in target.scales]
    if target.supply is not None:
        counts.append((SUPPLY_CHANNEL, target.supply.good))
    return ForcedInputs(target, contacts, tuple(counts))


def rig_as_forced(target: Target) -> Rig:
    """Return the design's sequence with each dial at the time that its forced reading gives."""
    times_us = {name: target.dialled_us(name, time_us) for name, time_us in target.rig.times_us.items()}
    return replace(target.rig, times_us=times_us)


def change_as_forced(target: Target, change: Change) -> Change:
    """Return a change as the board gets it: a dial's time is the nearest that its reading gives."""
    if not isinstance(change.what, Dial):
        return change
    return replace(change, value=target.dialled_us(change.what.name, change.value))


def contact_of(what: What) -> str:
    """Return the name that the link has for a contact (see target.RAW_BIT); of what is none, its text."""
    return f"{what.name}_switch" if isinstance(what, Switch) else str(what)


def is_contact(change: Change) -> bool:
    """Tell whether a change goes with the contacts, whose instant the board tells itself."""
    return contact_of(change.what) in RAW_BIT


def grouped(changes: Iterable[Change]) -> list[list[Change]]:
    """Return changes in groups of one instant and one kind of message: contacts together, all others alone."""
    groups: list[list[Change]] = []
    for change in changes:
        last = groups[-1][-1] if groups else None
        if last is not None and last.at_us == change.at_us and is_contact(last) and is_contact(change):
            groups[-1].append(change)
        else:
            groups.append([change])
    return groups
