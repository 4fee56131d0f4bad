"""How a board is: asked over the link with queries alone, so that nothing moves and nothing is forgotten.

One thing leaves a trace: an error that is told is taken out of the board's queue, as SCPI has it.
"""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass, field
from enum import IntEnum
from typing import TypeVar

from bench.errors import GarbledError, RecorderFoundError, device_text
from bench.link import Link
from bench.message import Answer, Identity, message
from timing.protocol.commands import ERROR_QUEUE
from timing.protocol.recorder import RECORDER
from timing.protocol.resets import Reset
from timing.protocol.target import ANALOG_CHANNELS, Target
from timing.sequence.core.table import Fault, Phase

_Known = TypeVar("_Known", bound=IntEnum)


@dataclass(frozen=True)
class QueuedError:
    """One entry of the board's error queue."""

    number: int
    text: str


@dataclass(frozen=True)
class Status:
    """What a board said of itself."""

    identity: Identity
    phase: Phase
    fault: Fault
    """The fault shown now."""
    latest_fault: Fault
    """The latest shown since power-up."""
    reset: Reset
    bench_link: bool
    """True where the bench link was fitted when the board started."""
    errors: tuple[QueuedError, ...]
    counts: Mapping[str, int] = field(default_factory=dict)
    """Readings of its converter by channel; empty without the board's own design."""
    times_us: Mapping[str, int] = field(default_factory=dict)
    """What the dials give, by the name of the time."""


def carries(identity: Identity, target: Target) -> bool:
    """Tell whether a board carries this design, its settings edited or not."""
    return (identity.design, identity.digest) == (target.design, target.digest)


def ask_status(link: Link, identity: Identity, target: Target | None = None) -> Status:
    """Ask a board how it is. Raises BenchError, for a recorder, too: it has no sequence that it could tell of.

    target: the design to compare with; readings are asked for only where the board carries it, since another one may
    not have them.
    """
    if identity.design == RECORDER:
        raise RecorderFoundError(link.port)
    errors = _errors(link)
    state = link.query("state")
    own = target if target is not None and carries(identity, target) else None
    dials = () if own is None else tuple(own.scales)
    channels = () if own is None else (*dials, *(("supply",) if own.supply is not None else ()))
    return Status(
        identity,
        _known(Phase, link, "state", state, "phase"),
        _known(Fault, link, "state", state, "fault"),
        _known(Fault, link, "last_fault", link.query("last_fault"), "fault"),
        _known(Reset, link, "why_reset", link.query("why_reset"), "cause"),
        bool(link.query("bench").number("fitted")),
        errors,
        {name: link.query("analog", ANALOG_CHANNELS.index(name)).number("counts") for name in channels},
        {name: link.query("time", ANALOG_CHANNELS.index(name)).number("time_us") for name in dials},
    )


def _errors(link: Link) -> tuple[QueuedError, ...]:
    """Take the queue's errors; a board that never runs out of them is asked no more often than it can keep."""
    found: list[QueuedError] = []
    while len(found) < ERROR_QUEUE:
        answer = link.query("next_error")
        if answer.number("number") == 0:
            break
        found.append(QueuedError(answer.number("number"), device_text(answer.text("text"))))
    return tuple(found)


def _known(kind: type[_Known], link: Link, name: str, answer: Answer, field_name: str) -> _Known:
    try:
        return kind(answer.number(field_name))
    except ValueError:
        raise GarbledError(link.port, message(name).text, ",".join(answer.fields.values())) from None
