"""How a number of a command is read: IEEE 488.2, 7.7.2 (decimal) and 7.7.4 (hexadecimal, octal, binary), as a table."""

from __future__ import annotations

PARTS = (
    "NUMBER_BAD",
    "NUMBER_START",
    "NUMBER_SIGNED",
    "NUMBER_POINT",
    "NUMBER_WHOLE",
    "NUMBER_FRACTION",
    "NUMBER_GAP",
    "EXPONENT_START",
    "EXPONENT_SIGNED",
    "EXPONENT_DIGITS",
    "NUMBER_END",
)
"""Where in a decimal number a character can stand."""

_NEXT = {
    "blank": {
        "NUMBER_START": "NUMBER_START",
        "NUMBER_WHOLE": "NUMBER_GAP",
        "NUMBER_FRACTION": "NUMBER_GAP",
        "NUMBER_GAP": "NUMBER_GAP",
        "EXPONENT_START": "EXPONENT_START",
        "EXPONENT_DIGITS": "NUMBER_END",
        "NUMBER_END": "NUMBER_END",
    },
    "digit": {
        "NUMBER_START": "NUMBER_WHOLE",
        "NUMBER_SIGNED": "NUMBER_WHOLE",
        "NUMBER_POINT": "NUMBER_FRACTION",
        "NUMBER_WHOLE": "NUMBER_WHOLE",
        "NUMBER_FRACTION": "NUMBER_FRACTION",
        "EXPONENT_START": "EXPONENT_DIGITS",
        "EXPONENT_SIGNED": "EXPONENT_DIGITS",
        "EXPONENT_DIGITS": "EXPONENT_DIGITS",
    },
    "sign": {"NUMBER_START": "NUMBER_SIGNED", "EXPONENT_START": "EXPONENT_SIGNED"},
    "point": {
        "NUMBER_START": "NUMBER_POINT",
        "NUMBER_SIGNED": "NUMBER_POINT",
        "NUMBER_WHOLE": "NUMBER_FRACTION",
    },
    "exponent": {
        "NUMBER_WHOLE": "EXPONENT_START",
        "NUMBER_FRACTION": "EXPONENT_START",
        "NUMBER_GAP": "EXPONENT_START",
    },
    "radix": {"NUMBER_START": "RADIX"},
}

NEXT_PARTS = {kind: tuple(after.get(part, "NUMBER_BAD") for part in PARTS) for kind, after in _NEXT.items()}
"""By what a character is: where the next one stands, for each of PARTS in which this one can."""
