"""Text that came from a device: one narrow alphabet, before it reaches a terminal, a page or a file."""

from __future__ import annotations

LONGEST_TEXT = 256
"""Characters of a device's text that are kept."""
LONGEST_QUOTE = 60
"""Characters of it that a sentence quotes."""


def device_text(raw: bytes | str, longest: int = LONGEST_TEXT) -> str:
    """Return what a device said in printable ASCII: anything else as its number, `longest` characters at most.

    What comes back unchanged was fit to be shown as it stood: no line end, no NUL, nothing that a terminal obeys.
    """
    text = raw.decode("latin-1") if isinstance(raw, bytes) else raw
    fit = "".join(letter if " " <= letter <= "~" else f"<{ord(letter):02x}>" for letter in text[: longest + 1])
    return fit if len(fit) <= longest else fit[: longest - 3] + "..."


def quoted(raw: bytes | str) -> str:
    """Return a device's text as a sentence quotes it."""
    return f"'{device_text(raw, LONGEST_QUOTE)}'"
