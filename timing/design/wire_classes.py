"""What a spool's label says, 'ER70S-6', 'E71T-11' or 'G 42 4 M21 3Si1', to the kinds of wire of a design.

The classes are those of AWS A5.9, A5.10, A5.18, A5.20, A5.22, A5.28, A5.29 and A5.36, and of ISO 14341, 14343, 17632,
17633 and 18273. A class says whether the wire is solid or tubular, of which metal, and for which gas it was classified,
or that it makes its own. All patterns are (remembered): no standard was at hand.
"""

from __future__ import annotations

import re
from collections.abc import Callable
from dataclasses import dataclass

MIXED = ("M12", "M13", "M14", "M20", "M21", "M22", "M23", "M24", "M25", "M26", "M27", "M31", "M32", "M33", "M34", "M35")
CARBON_DIOXIDE = ("C1", "C2")
ANY_GAS = (*MIXED, *CARBON_DIOXIDE, "I1", "I2", "I3")
INERT_GAS = ("I1", "I2", "I3")


@dataclass(frozen=True)
class WireReading:
    """A wire, as a label or a word tells it."""

    kind: str
    """Of timing.design.process.Wire."""
    gases: tuple[str, ...] = ANY_GAS
    """Gas groups that it was classified with; empty: it makes its own gas and takes none."""
    standard: str = ""
    """The standard that the class is of; empty for a plain word."""

    @property
    def self_shielded(self) -> bool:
        """True where no gas goes with it."""
        return not self.gases


_SELF_SHIELDED_T = ("3", "4", "6", "7", "8", "10", "11", "13", "14", "GS")
"""Usability designators of AWS A5.20 for wire without gas (remembered)."""
_GAS_T = ("1", "2", "5", "9", "12", "15", "16", "17")
"""Usability designators of tubular wire with gas, A5.20 and A5.36 (remembered)."""
_STAINLESS_T = {"1": CARBON_DIOXIDE, "3": (), "4": MIXED, "5": INERT_GAS}
"""Last digit of a class of AWS A5.22, with its gas (remembered)."""
_ISO_NO_GAS = {"N", "NO"}
"""Gas symbol of ISO 17632 and 17633 for wire without gas (remembered)."""
_LEAST_YIELD = 35
"""A first number from here on is a strength, one below it percent chromium (choice)."""

_BY_LETTER = {"C": CARBON_DIOXIDE, "M": MIXED}
_GAS_LETTER = r"^([CM])|([CM])(?:-?J|-?H\d+)*$"
"""The gas of a tubular wire: first after its usability (A5.20, A5.36) or last after its alloy (A5.29) (remembered)."""

Reader = Callable[[re.Match[str]], WireReading | None]


def _tubular_steel(match: re.Match[str]) -> WireReading | None:
    designator, after = match["use"], match["after"]
    if designator in _SELF_SHIELDED_T:
        return WireReading("self-shielded", (), "AWS A5.20")
    if designator not in _GAS_T:
        return None
    letter = re.search(_GAS_LETTER, after)
    both = letter is None or "/" in after
    gases = (*CARBON_DIOXIDE, *MIXED) if both or letter is None else _BY_LETTER[letter[1] or letter[2]]
    return WireReading("flux-cored", gases, "AWS A5.20")


def _stainless_tubular(match: re.Match[str]) -> WireReading | None:
    gases = _STAINLESS_T.get(match["gas"] or "")
    if gases is None:
        return None
    return WireReading("flux-cored" if gases else "self-shielded", gases, "AWS A5.22")


def _iso_solid(match: re.Match[str]) -> WireReading | None:
    if int(match["number"]) < _LEAST_YIELD:
        return WireReading("stainless-steel", (*MIXED, *INERT_GAS), "ISO 14343")
    return WireReading("mild-steel", _iso_gases(match["after"]) or ANY_GAS, "ISO 14341")


def _iso_tubular(match: re.Match[str]) -> WireReading | None:
    standard = "ISO 17632" if int(match["number"]) >= _LEAST_YIELD else "ISO 17633"
    if _ISO_NO_GAS & set(match["after"].split()):
        return WireReading("self-shielded", (), standard)
    return WireReading("flux-cored", _iso_gases(match["after"]) or (*CARBON_DIOXIDE, *MIXED), standard)


def _iso_gases(symbols: str) -> tuple[str, ...]:
    for symbol in symbols.split():
        if symbol in ANY_GAS:
            return (symbol,)
        if symbol in _BY_LETTER:
            return _BY_LETTER[symbol]
    return ()


def _always(kind: str, gases: tuple[str, ...], standard: str) -> Reader:
    return lambda _: WireReading(kind, gases, standard)


_CLASSES: tuple[tuple[str, Reader], ...] = (
    (r"ER\d{2,3}S-?[A-Z0-9].*", _always("mild-steel", ANY_GAS, "AWS A5.18")),
    (r"E\d{2,3}C-?[A-Z0-9]+?C(-?H\d+)?", _always("flux-cored", CARBON_DIOXIDE, "AWS A5.18")),
    (r"E\d{2,3}C-?[A-Z0-9]+?M?(-?H\d+)?", _always("flux-cored", MIXED, "AWS A5.18")),
    (r"E(2\d{3}|[34]\d{2})[A-Z]*T[01]?-?(?P<gas>\d)?.*", _stainless_tubular),
    (r"E\d{2,3}T-?(?P<use>GS|\d{1,2})-?(?P<after>.*)", _tubular_steel),
    (r"EC(2\d{3}|[34]\d{2})[A-Z]*.*", _always("flux-cored", (*MIXED, *INERT_GAS), "AWS A5.22")),
    (r"ER(22|25)\d{2}[A-Z]*.*", _always("stainless-steel", (*MIXED, *INERT_GAS), "AWS A5.9")),
    (r"ER[34]\d{2}([A-Z].*)?", _always("stainless-steel", (*MIXED, *INERT_GAS), "AWS A5.9")),
    (r"(ER|R)[1245]\d{3}[A-Z]?", _always("aluminium", INERT_GAS, "AWS A5.10")),
    (r"S ?AL ?\d{4}.*", _always("aluminium", INERT_GAS, "ISO 18273")),
    (r"G ?(?P<number>\d{2})A? (?P<after>.+)", _iso_solid),
    (r"T ?(?P<number>\d{2})T?\d? (?P<after>.+)", _iso_tubular),
)
"""Classes in the order in which they are tried; `re` compiles and keeps a pattern when a label is first read."""

_WORDS = (
    (("self-shielded", "self shielded", "selfshielded", "gasless", "no gas", "without gas"), "self-shielded"),
    (("flux", "cored", "metal core", "tubular", "dual shield"), "flux-cored"),
    (("stainless", "inox", "308", "309", "316"), "stainless-steel"),
    (("aluminium", "aluminum", "alu", "4043", "5356", "4047", "5183"), "aluminium"),
    (("mild", "steel", "solid", "hard wire", "hardwire", "70s", "g3si", "g4si", "carbon"), "mild-steel"),
)
"""Plain words, the telling ones first: 'gasless flux core' is self-shielded."""


def wire_class(text: str) -> WireReading | None:
    """Return what a class of AWS or ISO says of the wire; None for what is no class known here."""
    plain = re.sub(r"\s+", " ", text.strip().upper())
    plain = re.sub(r"^(AWS |ASME |SFA |EN |ISO |A?5\.\d+[/ :-]+|\d{5}(-[AB])?[ :-]+)+", "", plain)
    for pattern, reader in _CLASSES:
        for spelled in (plain, plain.replace(" ", "")):
            match = re.fullmatch(pattern, spelled)
            found = None if match is None else reader(match)
            if found is not None:
                return found
    return None


def wire_reading(text: str) -> WireReading | None:
    """Return the wire that a class or a plain word stands for; None where it tells nothing, or not which."""
    found = wire_class(text)
    if found is not None:
        return found
    plain = text.strip().lower()
    for words, kind in _WORDS:
        if any(re.search(rf"(?<![a-z0-9]){re.escape(word)}", plain) for word in words):
            return WireReading(kind, () if kind == "self-shielded" else ANY_GAS)
    return None
