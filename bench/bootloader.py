"""Bootloaders, asked for a sign of life: which one answers on a port, and how a board that speaks USB is sent to its.

The uploader itself would ask a silent board for a minute; these questions take two seconds, and write nothing.
"""

from __future__ import annotations

import contextlib
import time
from collections.abc import Callable

import serial

from bench.errors import PortFailedError, PortMissingError
from bench.link import READ_AT_ONCE
from bench.port import Transport, open_port, require_present
from bench.usb_ports import UsbPort, looks, ports_that_come, usb_ports
from timing.design.board import Bootloader

STARTS_S = 0.2
"""How long a chip is left alone after a reset (practice: it starts 65 ms late, and half a question misleads it)."""
LISTENS_S = 1.0
"""How long it is asked then: those bootloaders wait for about a second (published: their sources)."""
LOW_S = 0.05
"""How long the reset line is held (practice: several times what its capacitor needs)."""
TOUCH_BAUD = 1200
"""A port that is closed at this speed sends a board with USB of its own to its bootloader (published: the core)."""
COMES_BACK_S = 8.0
"""Longest wait for such a board's other port; its bootloader gives up after as long (practice)."""
SETTLES_S = 0.5
"""How long a port that just came up is left alone: until it may be opened (practice)."""

_SIGNS = {"arduino": (b"0 ", b"\x14\x10"), "wiring": (b"\x1b\x01\x00\x01\x0e\x01\x14", b"AVRISP")}
"""By protocol: the question that begins a talk, and what is in its answer (published: the bootloaders' sources)."""


def answers(port: str, loader: Bootloader) -> bool:
    """Reset the board on a port and tell whether that bootloader answers. Raises BenchError where it cannot be asked.

    A bootloader that speaks over USB of its own is not asked here: its port is a sign of its own.
    """
    opened = open_port(port, loader.baud)
    try:
        return _asked(opened, *_SIGNS[loader.protocol])
    except (serial.SerialException, OSError) as error:
        raise PortFailedError(port, str(error.args[-1] if error.args else error).rstrip(".")) from None
    finally:
        opened.close()


def _asked(opened: Transport, question: bytes, sign: bytes) -> bool:
    _reset(opened)
    time.sleep(STARTS_S)
    opened.read(min(opened.in_waiting, READ_AT_ONCE))
    deadline_s = time.monotonic() + LISTENS_S
    heard = b""
    while time.monotonic() < deadline_s:
        opened.write(question)
        # What comes first is waited for, as long as the port waits for anything.
        heard += opened.read(1)
        heard = (heard + opened.read(min(opened.in_waiting, READ_AT_ONCE)))[-READ_AT_ONCE:]
        if sign in heard:
            return True
    return False


def _reset(opened: Transport) -> None:
    """Pull the board's reset line through the port's control lines; opening it has done so on most systems."""
    assert isinstance(opened, serial.SerialBase)
    # A port without such lines, as that of a board of software, has reset it when it was opened.
    with contextlib.suppress(OSError):
        opened.dtr = opened.rts = False
        time.sleep(LOW_S)
        opened.dtr = opened.rts = True


def sent_to_bootloader(
    port: str,
    board_ids: tuple[str, ...],
    ports: Callable[[], tuple[UsbPort, ...]] = usb_ports,
    patience_s: float = COMES_BACK_S,
) -> str | None:
    """Send a board with USB of its own to its bootloader; return the port that this has, None where none comes.

    board_ids: vendor and product of such boards. Raises BenchError where the port cannot be opened.
    """
    before = {one.name for one in ports()}
    opened = open_port(port, TOUCH_BAUD)
    assert isinstance(opened, serial.SerialBase)
    with contextlib.suppress(OSError):
        opened.dtr = False
    opened.close()
    come = ports_that_come(before, patience_s, ports)
    if not come:
        return None
    time.sleep(SETTLES_S)
    return next((one.name for one in come if one.usb_id in board_ids), come[0].name)


def plugged_in_again(port: str, patience_s: float) -> bool:
    """Wait until a port goes and comes back; False where it does not within the patience."""
    gone = False
    for _ in looks(patience_s):
        try:
            require_present(port)
        except PortMissingError:
            gone = True
        else:
            if gone:
                return True
    return False


def wait_for_port(port: str, patience_s: float = COMES_BACK_S) -> None:
    """Wait until a board with USB of its own has its sketch's port again, or the patience is over."""
    for _ in looks(patience_s):
        with contextlib.suppress(PortMissingError):
            require_present(port)
            return
