"""Names that a system keeps for itself: a file of such a name cannot be made there, or is a device."""

from __future__ import annotations

import sys

_DEVICES = frozenset(
    {"con", "prn", "aux", "nul", "conin$", "conout$", *(f"{port}{n}" for port in ("com", "lpt") for n in range(10))}
)
"""Published: Windows' "Naming Files, Paths, and Namespaces"; any capitals, with any ending."""
_NOT_IN_NAMES = '<>:"|?*'


def is_device_name(name: str) -> bool:
    """Tell whether a file of this name, without its folder, is a device on Windows whatever its ending."""
    return name.partition(".")[0].rstrip(" ").lower() in _DEVICES


def refused_name(name: str) -> str | None:
    """Return in words why this system takes no file of that name, given without its folder; None where it does."""
    if sys.platform != "win32":
        return None
    if is_device_name(name):
        return "a name that Windows keeps for a device"
    if name.endswith((".", " ")):
        return "a name that ends with a dot or a space, which Windows drops"
    if any(one in _NOT_IN_NAMES or ord(one) < 32 for one in name):
        return f"a name with one of {_NOT_IN_NAMES} in it, which Windows does not take"
    return None
