"""Which channel of a capture is what on the board, and which level means on or closed."""

from __future__ import annotations

import re
from collections.abc import Iterator, Mapping, Sequence
from dataclasses import dataclass
from typing import Literal

from bench.capture.capture import Capture, CaptureError, Channel
from timing.errors import meant
from timing.protocol.target import OUTPUT_BIT
from timing.sequence.core.columns import TIME_NAMES
from timing.sequence.core.script import Change, Switch
from timing.sequence.core.table import Output

SignalLevel = Literal["high", "low"]

OUTPUTS = {role: Output(bit) for role, bit in OUTPUT_BIT.items()}
INPUTS = ("trigger", "purge", "inch", "arc", "interlock", "supply", "four_step")
SWITCHES = {f"{name}_switch": Switch(name) for name in TIME_NAMES}
SIGNALS = (*OUTPUTS, *INPUTS, *SWITCHES)
RESTS_OPEN = ("trigger", "purge", "inch", "arc")
RESTS_CLOSED = ("interlock", "supply")

# Words in a channel's name from which its role is guessed, where the name is not the role itself.
_WORDS = {
    "gas_valve": {"gas", "valve", "solenoid"},
    "wire_drive": {"wire", "drive", "feed", "motor"},
    "contactor": {"contactor", "weld", "welding"},
    "trigger": {"trigger", "gun", "torch"},
    "purge": {"purge"},
    "inch": {"inch"},
    "arc": {"arc"},
    "interlock": {"interlock"},
    "supply": {"supply"},
    "four_step": {"step"},
}
# A channel with one of these words shows something else: what a load does, or a phase.
_OTHER = {"actual", "phase", "dial", "length", "current", "voltage"}
_NS_PER_US = 1_000


@dataclass(frozen=True)
class Assigned:
    """One role on one channel."""

    role: str
    channel: Channel
    on_level: SignalLevel
    """Which level means on, closed or good."""
    why: str
    """How that is known."""

    def on(self, level: int) -> bool:
        """Tell whether a level means on, closed or good."""
        return level == (self.on_level == "high")

    @property
    def begins_on(self) -> bool:
        """True where it is on, closed or good at the first sample."""
        return self.on(self.channel.begins)

    def changes_us(self) -> Iterator[tuple[int, bool]]:
        """Yield instant and new state of every change."""
        for at_ns, level in self.channel.changes:
            yield round(at_ns / _NS_PER_US), self.on(level)

    def script_changes(self) -> Iterator[Change]:
        """Yield what it does to the sequence, as a trigger script has it."""
        what = SWITCHES.get(self.role, self.role)
        rests = self.role not in RESTS_OPEN
        if self.role == "four_step" or self.begins_on != rests:
            yield Change(0, what, int(self.begins_on))
        for at_us, on in self.changes_us():
            yield Change(at_us, what, int(on))


def parse_map(texts: Sequence[str], source: str) -> dict[str, tuple[str, SignalLevel | None]]:
    """Read mappings such as 'gas_valve=D0' or 'trigger=D3:low', several parted by commas.

    Returns channel and, where it is told, the level that means on or closed, by role. Raises CaptureError.
    """
    wanted: dict[str, tuple[str, SignalLevel | None]] = {}
    for text in (part.strip() for whole in texts for part in whole.split(",")):
        role, equals, channel = (piece.strip() for piece in text.partition("="))
        role = role.replace("-", "_")
        if not equals or not channel:
            raise CaptureError(
                source, f"{text!r} for a mapping", "ROLE=CHANNEL, such as gas_valve=CH1 or trigger=CH4:low"
            )
        if role not in SIGNALS:
            allowed = "; ".join(filter(None, (", ".join(SIGNALS), meant(role, SIGNALS))))
            raise CaptureError(source, f"{role!r} for a role", allowed)
        if role in wanted:
            raise CaptureError(source, f"two channels for the {_said(role)}", "one channel a role")
        name, _, level = channel.rpartition(":")
        if name and level in ("low", "high"):
            wanted[role] = (name, "low" if level == "low" else "high")
        else:
            wanted[role] = (channel, None)
    return wanted


def assign(
    capture: Capture,
    wanted: Mapping[str, tuple[str, SignalLevel | None]],
    fitted: frozenset[str],
    on_levels: Mapping[str, SignalLevel],
) -> tuple[Assigned, ...]:
    """Return the roles that the capture shows: as told, the others guessed by the channels' names.

    wanted: as `parse_map` returns it. fitted: roles that the design has, and supply where it is sensed. on_levels: by
    output, the pin's level that switches on. Raises CaptureError where a role or channel is not there.
    """
    chosen: dict[str, tuple[str, SignalLevel | None]] = {}
    for role, (name, level) in wanted.items():
        if role not in fitted:
            has = ", ".join(known for known in SIGNALS if known in fitted)
            raise CaptureError(capture.source, f"a channel for the {_said(role)}, which the design has not", has)
        if name not in capture.channels:
            raise CaptureError(capture.source, f"no channel {name!r}", _quoted(capture.channels))
        chosen[role] = (name, level)
    taken = {name for name, _ in chosen.values()}
    for role in SIGNALS:
        if role in fitted and role not in chosen:
            guessed = _guess(role, [name for name in capture.channels if name not in taken])
            if guessed is not None:
                chosen[role] = (guessed, None)
    _refuse_shared(capture, chosen)
    return tuple(_assigned(capture, role, *chosen[role], on_levels) for role in SIGNALS if role in chosen)


def _guess(role: str, names: Sequence[str]) -> str | None:
    exact = [name for name in names if "_".join(_words(name)) == role]
    if exact:
        return exact[0]
    alike = [name for name in names if _WORDS.get(role, set()) & set(_words(name)) and not _OTHER & set(_words(name))]
    return alike[0] if len(alike) == 1 else None


def _words(name: str) -> list[str]:
    return re.findall(r"[a-z]+|\d+", name.lower())


def _refuse_shared(capture: Capture, chosen: Mapping[str, tuple[str, SignalLevel | None]]) -> None:
    claims: dict[str, list[str]] = {}
    for role, (name, _) in chosen.items():
        claims.setdefault(name, []).append(role)
    for name, roles in claims.items():
        if len(roles) > 1:
            found = f"channel {name!r} for {' and '.join(map(_said, roles))}"
            raise CaptureError(capture.source, found, "one role a channel; --map tells which")


def _assigned(
    capture: Capture, role: str, name: str, level: SignalLevel | None, on_levels: Mapping[str, SignalLevel]
) -> Assigned:
    channel = capture.channels[name]
    if channel.unknown_ns is not None:
        found = f"channel {name!r} has no level at {channel.unknown_ns / 1e6:g} ms"
        raise CaptureError(capture.source, found, "channels that are 0 or 1 throughout")
    if level is not None:
        return Assigned(role, channel, level, "as told")
    if capture.logical:
        return Assigned(role, channel, "high", "a simulation says so")
    if role in on_levels:
        return Assigned(role, channel, on_levels[role], "the design's level")
    begins: SignalLevel = "high" if channel.begins else "low"
    other: SignalLevel = "low" if channel.begins else "high"
    if role in RESTS_OPEN:
        return Assigned(role, channel, other, "it begins open")
    if role in RESTS_CLOSED:
        return Assigned(role, channel, begins, "it begins closed")
    return Assigned(role, channel, "low", "contacts close to board common")


def _said(role: str) -> str:
    return role.replace("_", " ")


def _quoted(channels: Mapping[str, Channel]) -> str:
    return ", ".join(map(repr, channels))
