"""Serial ports that are plugged in over USB, and what they say they are."""

from __future__ import annotations

import time
from collections.abc import Callable, Collection, Iterator
from dataclasses import dataclass
from typing import TYPE_CHECKING

from bench.errors import device_text

if TYPE_CHECKING:
    from serial.tools.list_ports_common import ListPortInfo


@dataclass(frozen=True)
class UsbPort:
    """One port."""

    name: str
    """As the operating system names it."""
    words: str
    """What the device says it is, fit to be shown; empty where it says nothing."""
    usb_id: str
    """Vendor and product, such as 2341:0043."""

    @property
    def told(self) -> str:
        """Name and words, for people."""
        return f"{self.name}  {self.words}" if self.words else self.name


def all_ports() -> list[ListPortInfo]:
    """Return every serial port of this machine, by name, those too that have nothing to do with USB."""
    # Late: to ask what is plugged in loads more of the system than a board made of software needs.
    from serial.tools.list_ports import comports

    return sorted(comports(), key=lambda port: port.device)


def usb_ports() -> tuple[UsbPort, ...]:
    """Return the ports that are plugged in now, by name.

    The ports that are built into a computer stand in its list whether anything is wired to them or not, and none of
    the boards is wired to such a one; who has an adapter there may still name it.
    """
    return tuple(
        UsbPort(
            port.device,
            "" if port.description in ("", "n/a", None) else device_text(port.description),
            f"{port.vid:04X}:{port.pid or 0:04X}",
        )
        for port in all_ports()
        if port.vid is not None
    )


LOOKS_EVERY_S = 0.1
"""How often it is looked whether a port has come or gone (choice)."""


def looks(patience_s: float) -> Iterator[None]:
    """Yield every now and then until the patience is over."""
    deadline_s = time.monotonic() + patience_s
    while time.monotonic() < deadline_s:
        yield
        time.sleep(LOOKS_EVERY_S)


def ports_that_come(
    before: Collection[str], patience_s: float, ports: Callable[[], tuple[UsbPort, ...]] = usb_ports
) -> list[UsbPort]:
    """Wait for ports that were not there before, or that go and come back; none where the patience is over first.

    before: names of those that were there.
    """
    still = set(before)
    for _ in looks(patience_s):
        now = {one.name: one for one in ports()}
        still &= now.keys()
        if come := [one for name, one in now.items() if name not in still]:
            return come
    return []
