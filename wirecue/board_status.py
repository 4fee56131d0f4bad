"""A board's status as text for people and as plain data."""

from __future__ import annotations

from collections.abc import Iterator
from dataclasses import dataclass
from typing import Any

from bench.status import Status, carries
from timing.circuit.senses import counts_per_v
from timing.formatting import ms
from timing.project import Project
from timing.protocol.resets import FIRST_ON_LAMP, RESET_ROWS, Reset
from timing.protocol.target import Target
from timing.sequence.core.table import Fault
from timing.sequence.faults import EXPLANATIONS
from wirecue.terminal import paragraph

STATUS_FORMAT = 1
_LABEL = 14


@dataclass(frozen=True)
class Compared:
    """A status beside the design that was given."""

    status: Status
    port: str
    real: bool
    """False for a board of software, which no opening of a port resets."""
    project: Project | None = None
    target: Target | None = None

    @property
    def this_design(self) -> bool | None:
        """True where the board carries the design, edited or not; None where none was given."""
        return None if self.target is None else carries(self.status.identity, self.target)

    @property
    def as_designed(self) -> bool:
        """False where a design was given that the board does not carry as it was built."""
        return self.target is None or (bool(self.this_design) and not self.status.identity.edited)

    @property
    def supply_v(self) -> float | None:
        """Voltage of the add-on's supply; None where it is not sensed, or not known how."""
        counts = self.status.counts.get("supply")
        if counts is None or self.project is None or self.project.design.supply.sense is None:
            return None
        return counts / counts_per_v(self.project.design.supply.sense, self.project.board)

    @property
    def opening_resets(self) -> bool | None:
        """True where opening the port has reset the board; None where the board's type is not known."""
        if not self.real:
            return False
        return self.project.board.opens_port_resets if self.this_design and self.project is not None else None


def status_text(compared: Compared) -> str:
    """Return the status for people."""
    lines = (
        paragraph(text, first=label.ljust(_LABEL), then=" " * _LABEL)
        for label, texts in _told(compared)
        for label, text in zip((label, *[""] * len(texts)), texts, strict=False)
    )
    return "\n".join(lines) + "\n"


def _told(compared: Compared) -> Iterator[tuple[str, list[str]]]:
    status, target = compared.status, compared.target
    yield "board", [f"{status.identity.carries}, made with version {status.identity.version}"]
    if target is not None:
        yield "design", [_verdict(compared, target)]
    yield "phase", [status.phase.word]
    yield "fault shown", [_fault(status.fault)]
    yield "latest fault", [_fault(status.latest_fault)]
    row = RESET_ROWS[status.reset]
    yield "started", [f"{int(status.reset)}, {row.word}: {row.means}. To do: {row.remedy}.", _opened(compared)]
    if status.reset.on_lamp:
        yield "", ["The lamp winks that number in idle until the first press."]
    yield "errors", [f"{one.number} {one.text}" for one in status.errors] or ["none"]
    if status.bench_link:
        yield "bench", ["The bench link is fitted: take it out before the board goes back to the feeder."]
    for name, time_us in status.times_us.items():
        yield name, [f"{ms(time_us)}, as the dial stands"]
    if (volts := compared.supply_v) is not None and compared.project is not None:
        sense = compared.project.design.supply.sense
        bounds = "" if sense is None else f"; low below {sense.low_v:g} V, good from {sense.good_v:g} V on"
        yield "supply", [f"{volts:.1f} V{bounds}"]


def _verdict(compared: Compared, target: Target) -> str:
    if not compared.this_design:
        return (
            f"Another one. {target.design} as it stands has digest {target.digest}: build and flash it, or take the "
            "design file that belongs to the board. `wirecue diff` with the same port says what is otherwise."
        )
    if compared.status.identity.edited:
        return (
            "This one, but a number of its settings.h was edited after the build: it need not do what the design "
            "says. Put the changed numbers into the design file, build and flash it again."
        )
    return "This one, as it was built."


def _fault(fault: Fault) -> str:
    told = EXPLANATIONS.get(fault)
    return "none" if told is None else f"{int(fault)}, {fault.word}. {told.means} {told.remedy}"


def _opened(compared: Compared) -> str:
    resets = compared.opening_resets
    if resets is False:
        return "Opening the port did not reset this board."
    how = "has just reset this board" if resets else "resets many boards"
    return (
        f"Opening the port {how}, which by itself reads '{Reset.PIN.word}'. A cause from {int(FIRST_ON_LAMP)} "
        f"({FIRST_ON_LAMP.word}) on and the latest fault are kept until power-up all the same."
    )


def status_data(compared: Compared) -> dict[str, Any]:
    """Return the status as plain data, units in the names of the keys."""
    status, identity = compared.status, compared.status.identity
    row = RESET_ROWS[status.reset]
    return {
        "format": STATUS_FORMAT,
        "port": compared.port,
        "maker": identity.maker,
        "design": identity.design,
        "digest": identity.digest,
        "firmware": identity.version,
        "edited": identity.edited,
        "this_design": compared.this_design,
        "phase": {"number": int(status.phase), "word": status.phase.word},
        "fault": _fault_data(status.fault),
        "latest_fault": _fault_data(status.latest_fault),
        "reset": {
            "number": int(status.reset),
            "word": row.word,
            "means": row.means,
            "remedy": row.remedy,
            "on_lamp": status.reset.on_lamp,
        },
        "opening_resets": compared.opening_resets,
        "bench_link": status.bench_link,
        "errors": [{"number": one.number, "text": one.text} for one in status.errors],
        "counts": dict(status.counts),
        "times_us": dict(status.times_us),
        "supply_v": None if compared.supply_v is None else round(compared.supply_v, 2),
    }


def _fault_data(fault: Fault) -> dict[str, Any]:
    told = EXPLANATIONS.get(fault)
    return {
        "number": int(fault),
        "word": fault.word,
        "means": "" if told is None else told.means,
        "remedy": "" if told is None else told.remedy,
    }
