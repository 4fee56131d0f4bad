"""Serial ports that are plugged in over USB, and what they say they are."""

from __future__ import annotations

from dataclasses import dataclass

from bench.errors import device_text


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


def usb_ports() -> tuple[UsbPort, ...]:
    """Return the ports that are plugged in now, by name."""
    # Late: what only reads a design shall not wait for it.
    from serial.tools import list_ports

    return tuple(
        UsbPort(
            port.device,
            "" if port.description in ("", "n/a", None) else device_text(port.description),
            f"{port.vid:04X}:{port.pid or 0:04X}",
        )
        for port in sorted(list_ports.comports(), key=lambda port: port.device)
        if port.vid is not None
    )
