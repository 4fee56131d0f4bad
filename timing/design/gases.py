"""Shielding gas as shops name it, '75/25' or 'straight CO2', to the groups of ISO 14175.

A name may be read in more than one way: 98/2 is sold with oxygen and with carbon dioxide. All readings are given, and
who asked decides, or asks again. Helium may stand for argon in any mixture of the groups M without another group
(ISO 14175:2008, note to table 2; from memory); its share is kept, since the arc takes more volts in it.
"""

from __future__ import annotations

import re
from collections.abc import Iterator, Sequence
from dataclasses import dataclass
from functools import lru_cache
from itertools import combinations, permutations

LEAST_PERCENT = 0.5
"""A part below this is an impurity, not a part of the mixture (published: ISO 14175:2008, seen quoted)."""
CO2_STEPS_PERCENT = (5.0, 15.0, 25.0, 50.0)
"""Carbon dioxide in argon: where one group ends and the next begins (published: ISO 14175:2008, seen quoted)."""
OXYGEN_STEPS_PERCENT = (3.0, 10.0, 15.0)
"""Oxygen in argon: where one group ends and the next begins (published: ISO 14175:2008, seen quoted)."""
GROUPS_BY_STEP = {
    (1, 0): "M12", (0, 1): "M13", (1, 1): "M14",
    (2, 0): "M20", (3, 0): "M21", (0, 2): "M22", (1, 2): "M23", (2, 1): "M24", (2, 2): "M25", (3, 1): "M26",
    (3, 2): "M27",
    (4, 0): "M31", (0, 3): "M32", (4, 2): "M33", (2, 3): "M34", (3, 3): "M34", (4, 3): "M35",
}  # fmt: skip
"""Steps of carbon dioxide and oxygen to the group (published: ISO 14175:2008, seen quoted)."""
MOST_HELIUM_PERCENT = 95.0
"""In argon, for I3 (published: ISO 14175:2008, seen quoted)."""
MOST_OXYGEN_IN_CO2_PERCENT = 30.0
"""For C2 (published: ISO 14175:2008, seen quoted)."""
USUAL_OXYGEN_PERCENT = 5.0
"""Two numbers without names: mixtures for wire hold no more oxygen than this (practice)."""

GAS_GROUPS = {
    "M12": "argon with up to 5 % carbon dioxide",
    "M13": "argon with up to 3 % oxygen",
    "M14": "argon with up to 5 % carbon dioxide and up to 3 % oxygen",
    "M20": "argon with 5 % to 15 % carbon dioxide",
    "M21": "argon with 15 % to 25 % carbon dioxide",
    "M22": "argon with 3 % to 10 % oxygen",
    "M23": "argon with up to 5 % carbon dioxide and 3 % to 10 % oxygen",
    "M24": "argon with 5 % to 15 % carbon dioxide and up to 3 % oxygen",
    "M25": "argon with 5 % to 15 % carbon dioxide and 3 % to 10 % oxygen",
    "M26": "argon with 15 % to 25 % carbon dioxide and up to 3 % oxygen",
    "M27": "argon with 15 % to 25 % carbon dioxide and 3 % to 10 % oxygen",
    "M31": "argon with 25 % to 50 % carbon dioxide",
    "M32": "argon with 10 % to 15 % oxygen",
    "M33": "argon with 25 % to 50 % carbon dioxide and up to 10 % oxygen",
    "M34": "argon with 5 % to 25 % carbon dioxide and 10 % to 15 % oxygen",
    "M35": "argon with 25 % to 50 % carbon dioxide and 10 % to 15 % oxygen",
    "C1": "carbon dioxide",
    "C2": "carbon dioxide with oxygen",
    "I1": "argon",
    "I2": "helium",
    "I3": "argon with helium",
}
"""Groups of ISO 14175 that wire is welded with, in words; their bounds stand above."""
INERT = ("I1", "I2", "I3")
OTHER_PARTS: dict[str, dict[str, float]] = {
    "C1": {"CO2": 100.0}, "C2": {"CO2": 85.0, "oxygen": 15.0},
    "I1": {"argon": 100.0}, "I2": {"helium": 100.0}, "I3": {"argon": 70.0, "helium": 30.0},
}  # fmt: skip
"""Parts of the gases that are no mixtures M, in percent, in the middle of their bounds or as sold (practice)."""

_PARTS = ("argon", "helium", "CO2", "oxygen")
_PART_NAMES = {
    "argon": "argon", "ar": "argon",
    "helium": "helium", "he": "helium",
    "co2": "CO2", "co₂": "CO2", "carbon dioxide": "CO2", "carbondioxide": "CO2", "carbonic": "CO2",
    "oxygen": "oxygen", "o2": "oxygen", "o₂": "oxygen",
}  # fmt: skip
_LETTERS = {"ar": "argon", "a": "argon", "he": "helium", "c": "CO2", "o": "oxygen"}
# Compiled by `re` when a name is first read: most commands read none.
_TOKEN = (
    r"(?P<part>carbon ?dioxide|carbonic|argon|helium|oxygen|co2|co₂|o2|o₂|ar|he)(?![a-z])"
    r"|(?P<number>[0-9]{1,3}(?:\.[0-9]{1,2})?)"
    r"|(?P<three>tri-?mix|three-part)"
    r"|(?P<filler>straight|pure|plain|just|only|percent|with|and|plus|rest|balance|the|of|in|an?|mix(?:ture)?|gas"
    r"|blend|shielding|cylinder|bottle|[%/,;:&+.\s-])"
)
_SHORT = r"c[- ]?([0-9]{1,2})"
_DESIGNATION = r"(?:sg|[mci][1-3][0-9]?)-((?:ar|he|a|c|o)+)(?:-([0-9.]+(?:/[0-9.]+)*))?"
_NONE = {"none", "no", "no gas", "gasless", "without", "without gas", "0", "nothing", "self-shielded"}
_TRI_MIXES = ({"helium": 90.0, "argon": 7.5, "CO2": 2.5}, {"argon": 90.0, "CO2": 8.0, "oxygen": 2.0})
"""What is sold as tri-mix, for stainless and for plain steel (practice)."""


class GasNameError(ValueError):
    """A name that is no shielding gas. `hint` says what is missing."""

    def __init__(self, found: str, hint: str) -> None:
        super().__init__(found, hint)
        self.found, self.hint = found, hint


@dataclass(frozen=True)
class GasReading:
    """One way to read a name."""

    group: str
    """Of ISO 14175, or `none`."""
    parts: tuple[tuple[str, float], ...] = ()
    """Percent of each part, as it was named; empty where only the group was given."""

    @property
    def helium_percent(self) -> float:
        """Share of helium; 0 where only the group was given."""
        return dict(self.parts).get("helium", 0.0)

    @property
    def name(self) -> str:
        """The gas in words that can be read in this way alone: '98/2 argon oxygen'."""
        if not self.parts:
            return self.group
        if len(self.parts) == 1:
            return self.parts[0][0]
        return f"{'/'.join(f'{size:g}' for _, size in self.parts)} {' '.join(part for part, _ in self.parts)}"

    @property
    def words(self) -> str:
        """The gas for people: '98 % argon, 2 % oxygen'."""
        if not self.parts:
            return GAS_GROUPS.get(self.group, "no gas")
        return ", ".join(f"{size:g} % {part}" for part, size in self.parts)


def group_of(parts: dict[str, float]) -> str | None:
    """Return the group of a mixture, from percents by part; None where it has none here."""
    argon, helium, co2, oxygen = (parts.get(part, 0.0) for part in _PARTS)
    noble = argon + helium
    if noble < LEAST_PERCENT:
        if oxygen < LEAST_PERCENT:
            return "C1" if co2 else None
        return "C2" if co2 and oxygen <= MOST_OXYGEN_IN_CO2_PERCENT else None
    if max(co2, oxygen) < LEAST_PERCENT:
        if min(argon, helium) < LEAST_PERCENT:
            return "I1" if argon > helium else "I2"
        return "I3" if helium <= MOST_HELIUM_PERCENT else None
    steps = _step(co2, CO2_STEPS_PERCENT), _step(oxygen, OXYGEN_STEPS_PERCENT)
    return None if None in steps else GROUPS_BY_STEP.get((steps[0] or 0, steps[1] or 0))


def gas_parts(group: str, mixture: str | None = None) -> dict[str, float]:
    """Return percents of a gas by part: as its mixture names them, else from the middle of its group's bounds."""
    readings = () if mixture is None else gas_readings(mixture)
    named = next((dict(one.parts) for one in readings if one.group == group and one.parts), None)
    if named is not None or group in OTHER_PARTS:
        return named or OTHER_PARTS[group]
    co2_step, oxygen_step = next(steps for steps, one in GROUPS_BY_STEP.items() if one == group)
    co2, oxygen = _middle(co2_step, CO2_STEPS_PERCENT), _middle(oxygen_step, OXYGEN_STEPS_PERCENT)
    return {"argon": 100 - co2 - oxygen, "CO2": co2, "oxygen": oxygen}


def _middle(step: int, ends: Sequence[float]) -> float:
    return 0.0 if not step else ((LEAST_PERCENT, *ends)[step - 1] + ends[step - 1]) / 2


def _step(percent: float, ends: Sequence[float]) -> int | None:
    if percent < LEAST_PERCENT:
        return 0
    return next((number for number, end in enumerate(ends, start=1) if percent <= end), None)


@lru_cache(maxsize=64)
def gas_readings(text: str, wire: str = "") -> tuple[GasReading, ...]:
    """Return all ways to read a name, the likeliest first; `wire`, of timing.design.process, rules some out.

    Raises GasNameError for what is none.
    """
    plain = " ".join(text.strip().lower().replace("iso 14175", "").strip(" -:").split())
    if plain in _NONE:
        return (GasReading("none"),)
    if plain.upper() in GAS_GROUPS and plain != "c2":
        return (GasReading(plain.upper()),)
    short, designation = re.fullmatch(_SHORT, plain), re.fullmatch(_DESIGNATION, plain)
    if short:
        mixture = _reading({"argon": 100.0 - int(short[1]), "CO2": float(short[1])})
        found = [*mixture, *([GasReading("C2")] if plain == "c2" else [])]
    elif designation:
        found = list(_designated(designation[1], designation[2] or ""))
    else:
        found = list(dict.fromkeys(_described(plain, wire)))
    if not found:
        raise GasNameError(repr(text), "no gas for wire is mixed so (ISO 14175); look at the cylinder's label again")
    return tuple(found)


def _reading(parts: dict[str, float]) -> Iterator[GasReading]:
    group = group_of(parts)
    if group is not None:
        yield GasReading(group, tuple((part, size) for part, size in parts.items() if size))


def _designated(letters: str, numbers: str) -> Iterator[GasReading]:
    """Read 'ArC-25' and 'HeAC-7.5/2.5': the rest first, then a number for each other part."""
    named = [_LETTERS[one] for one in re.findall("ar|he|a|c|o", letters)]
    sizes = [float(one) for one in numbers.split("/") if re.fullmatch(r"[0-9]+(?:\.[0-9]+)?", one)]
    if len(sizes) == len(named) - 1 and len(set(named)) == len(named):
        yield from _reading({named[0]: 100 - sum(sizes), **dict(zip(named[1:], sizes, strict=True))})


def _described(plain: str, wire: str) -> Iterator[GasReading]:
    parts, sizes, three = _taken_apart(plain)
    if three and not sizes:
        yield from (one for mix in _TRI_MIXES if set(parts) <= set(mix) for one in _reading(mix))
        return
    if not sizes and len(parts) == 1:
        yield from _reading({parts[0]: 100.0})
        return
    if not sizes:
        raise GasNameError(repr(plain), "how much of each? such as '75/25 argon CO2'")
    if len(sizes) == 1 and not parts:
        raise GasNameError(repr(plain), "a number of which gas? such as '25 % CO2 in argon', or C25")
    if len(sizes) >= max(len(parts), 2) and abs(sum(sizes) - 100) > LEAST_PERCENT:
        raise GasNameError(repr(plain), f"the parts make {sum(sizes):g} %; all of them together are 100 %")
    if len(sizes) == len(parts):
        if sizes == [100.0] or len(sizes) > 1:
            in_order = list(_reading(dict(zip(parts, sizes, strict=True))))
            yield from in_order or _in_any_order(parts, sizes)
            return
        unnamed = [rest for rest in _PARTS if rest not in parts]
        mixtures = (one for rest in unnamed for one in _with_rest(rest, parts, sizes))
        yield from (one for one in mixtures if _is_guessed(one, wire))
    elif len(sizes) == len(parts) - 1:
        for rest in parts:
            yield from _with_rest(rest, [part for part in parts if part != rest], sizes)
    else:
        yield from _unnamed(parts, sizes, wire)


def _taken_apart(plain: str) -> tuple[list[str], list[float], bool]:
    reads = re.compile(_TOKEN)
    parts, sizes, three, at = [], [], False, 0
    while at < len(plain):
        token = reads.match(plain, at)
        if token is None:
            raise GasNameError(repr(plain), "name the parts: argon, CO2, oxygen, helium; such as '75/25 argon CO2'")
        if token["part"]:
            parts.append(_PART_NAMES[token["part"]])
        elif token["number"]:
            sizes.append(float(token["number"]))
        three = three or token["three"] is not None
        at = token.end()
    if not (parts or sizes or three):
        raise GasNameError(repr(plain), "name the parts: argon, CO2, oxygen, helium; such as '75/25 argon CO2'")
    if len(set(parts)) < len(parts):
        raise GasNameError(repr(plain), "each part once, such as '75/25 argon CO2'")
    return parts, sizes, three


def _in_any_order(parts: Sequence[str], sizes: Sequence[float]) -> Iterator[GasReading]:
    for order in permutations(sizes):
        yield from _reading(dict(zip(parts, order, strict=True)))


def _with_rest(rest: str, parts: Sequence[str], sizes: Sequence[float]) -> Iterator[GasReading]:
    left = 100 - sum(sizes)
    if left > 0:
        named = {rest: left, **dict(zip(parts, sizes, strict=True))}
        yield from _reading(dict(sorted(named.items(), key=lambda item: -item[1])))


def _unnamed(parts: Sequence[str], sizes: Sequence[float], wire: str) -> Iterator[GasReading]:
    """Numbers with too few names: every mixture that is sold so, for the wire."""
    for chosen in combinations(_PARTS, len(sizes)):
        if set(parts) <= set(chosen):
            for order in permutations(sizes):
                mixture = dict(sorted(zip(chosen, order, strict=True), key=lambda item: -item[1]))
                yield from (one for one in _reading(mixture) if _is_guessed(one, wire))


def _is_guessed(reading: GasReading, wire: str) -> bool:
    """Tell whether a mixture that nobody named may be meant: what is sold for the wire (practice)."""
    parts = dict(reading.parts)
    co2, oxygen = parts.get("CO2", 0.0), parts.get("oxygen", 0.0)
    if "argon" not in parts or (oxygen and "helium" in parts) or oxygen > USUAL_OXYGEN_PERCENT:
        return False
    if "CO2" in parts and not min(parts["argon"], parts.get("helium", 100.0)) >= co2 >= oxygen:
        return False
    # Aluminium takes inert gas and steel does not.
    return not wire or (reading.group in INERT) == (wire == "aluminium")
