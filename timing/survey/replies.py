"""What is answered, as people answer: bare numbers, fractions, classes of wire, gas as cylinders name it.

A bare number is taken in the unit that stands behind the blank. What is no answer gets a hint that says what to type
instead, as near to what was typed as can be made out.
"""

from __future__ import annotations

import re
from collections.abc import Callable, Mapping
from dataclasses import dataclass

from pydantic_core import PydanticCustomError

from timing.design.gases import GAS_GROUPS, GasNameError, GasReading, gas_readings
from timing.design.units import QuantityError, likely_meaning, parse_quantity, unit_named
from timing.design.wire_classes import wire_class, wire_reading
from timing.errors import meant
from timing.survey.process_questions import LOAD_A, LOAD_V, OPEN_V, source_slope_v_per_a
from timing.survey.question import (
    NO,
    NO_ANSWER,
    OVER_RANGE,
    SPREAD_PARTS,
    YES,
    Option,
    Question,
    ReplyError,
    UnclearReplyError,
    measure_of,
)

_BARE = re.compile(r"(?:[0-9]+(?:\.[0-9]+)?|\.[0-9]+|(?:[0-9]+[- ])?[0-9]+/[0-9]+)")
_NOT_KNOWN = re.compile(
    r"[?-]+|n/?a|none|nothing|no|not (?:known|measured|sure|there)|unknown|(?:i )?(?:do ?n[o']?t|dont|can ?n[o']?t) .*"
    r"|no idea|dunno|later|skip"
)
_NUMBER_WORDS = {
    "zero": "0", "half": "1/2", "quarter": "1/4", "one": "1", "two": "2", "three": "3", "four": "4", "five": "5",
    "six": "6", "seven": "7", "eight": "8", "nine": "9", "ten": "10", "eleven": "11", "twelve": "12", "thirteen": "13",
    "fourteen": "14", "fifteen": "15", "sixteen": "16", "eighteen": "18", "twenty": "20", "thirty": "30",
    "forty": "40", "fifty": "50", "hundred": "100",
}  # fmt: skip
_STICK = re.compile(r"E ?[0-9]{4,5}(?:-.*)?", re.IGNORECASE)


@dataclass(frozen=True)
class ReadReply:
    """An answer that does."""

    answer: str
    """In the form in which it is kept; empty where an optional question stays open."""
    typed: str = ""
    """What was typed, where the answer is only what it stands for."""
    taken: str = ""
    """What it was taken for, where that is worth a word."""


def read_reply(question: Question, text: str, answers: Mapping[str, str] | None = None) -> ReadReply:
    """Return what an answer says, after the earlier `answers`.

    Raises ReplyError for one that does not do, UnclearReplyError for one that stands for more than one thing.
    """
    given = text.strip() or question.usual
    nothing_conducts = question.unit.endswith("ohm") and given.lower() in OVER_RANGE
    if question.optional and (not given or nothing_conducts or _NOT_KNOWN.fullmatch(given.lower())):
        return ReadReply("")
    if not given:
        raise ReplyError(NO_ANSWER, question.allowed)
    before = answers or {}
    # Which gas may be meant depends on the wire; the others are read by themselves.
    reply = _read_gas(question, given, before) if question.kind == "gas" else _READERS[question.kind](question, given)
    _compare(question, reply.answer, before)
    return reply


def _compare(question: Question, answer: str, answers: Mapping[str, str]) -> None:
    """Hold an answer to the earlier ones that bound it. Raises ReplyError where it is beyond them."""
    back = "or go back to the earlier answer, if that one is wrong"
    least, most = answers.get(question.at_least, ""), answers.get(question.at_most, "")
    if least and _size(question, answer) < _size(question, least):
        raise ReplyError(repr(answer), f"{least} or more, as answered before", back)
    if most and _size(question, answer) > _size(question, most):
        raise ReplyError(repr(answer), f"{most} or less, as answered before", back)
    if question.key == LOAD_A:
        slope = source_slope_v_per_a({**answers, question.key: answer})
        bounds = measure_of("process.slope")
        if slope is not None and not bounds.low <= slope <= bounds.high:
            said = f"{answers[OPEN_V]} open and {answers[LOAD_V]} at {answer} are {1000 * slope:.0f} mV/A"
            raise ReplyError(said, f"{1000 * bounds.low:.0f} mV/A to {1000 * bounds.high:.0f} mV/A", back)


def _size(question: Question, text: str) -> float:
    return parse_quantity(text, question.measure.unit)


def _read_yes_no(question: Question, text: str) -> ReadReply:
    for word in (YES, NO):
        if word.startswith(text.lower()):
            return ReadReply(word)
    raise ReplyError(repr(text), question.allowed)


def _chosen(question: Question, text: str) -> str:
    """Return the option that a number, a word or its beginning stands for; empty where that is not clear."""
    words = [option.word for option in question.options]
    if text.isascii() and text.isdigit() and 1 <= int(text) <= len(words):
        return words[int(text) - 1]
    exact = [word for word in words if word.lower() == text.lower()]
    begun = exact or [word for word in words if word.lower().startswith(text.lower())]
    return begun[0] if len(begun) == 1 else ""


def _read_choice(question: Question, text: str) -> ReadReply:
    chosen = _chosen(question, text)
    if not chosen:
        raise ReplyError(repr(text), question.allowed, meant(text, [option.word for option in question.options]))
    return ReadReply(chosen)


def _read_wire(question: Question, text: str) -> ReadReply:
    chosen = _chosen(question, text)
    if chosen:
        return ReadReply(chosen)
    reading = wire_reading(text)
    if reading is None:
        hint = "copy the class from the spool's label, such as ER70S-6, or answer with its kind"
        if _STICK.fullmatch(text.strip()):
            hint = "that is the class of a stick electrode; wire is ER70S-6, E71T-1C or the like"
        elif text.upper().replace("-", "").startswith(("E71TG", "E70TG")):
            hint = (
                "this class leaves open whether the wire takes gas: see the spool, and answer flux-cored with gas, "
                "self-shielded without"
            )
        raise ReplyError(repr(text), question.allowed, hint)
    kind = next(option.meaning for option in question.options if option.word == reading.kind).partition(",")[0]
    gas = "; no gas goes with it, and no gas valve is wired" if reading.self_shielded else ""
    by = f" ({reading.standard})" if reading.standard else ""
    return ReadReply(reading.kind, text if reading.standard else "", f"{text}{by}: {kind}{gas}")


def _read_gas(question: Question, text: str, answers: Mapping[str, str]) -> ReadReply:
    wire = answers.get("process.wire", "")
    typed = _chosen(question, text) or text
    try:
        readings = gas_readings(typed, wire)
    except GasNameError as error:
        raise ReplyError(repr(text), question.allowed, error.hint) from None
    if len(readings) > 1:
        options = tuple(Option(one.name, f"{one.words}: {one.group} of ISO 14175") for one in readings)
        raise UnclearReplyError(repr(text), options)
    (reading,) = readings
    if reading.group == "none":
        hint = "wire that is welded without gas is self-shielded: go back to the wire, and answer so"
        raise ReplyError(repr(text), f"a gas, with {wire or 'this'} wire", hint)
    named = typed if reading.parts else ""
    return ReadReply(
        reading.group, named, f"{reading.words}: {reading.group} of ISO 14175{_classified(reading, answers)}"
    )


def _classified(reading: GasReading, answers: Mapping[str, str]) -> str:
    """Say where a wire is used with another gas than its class was tested with."""
    label = answers.get("process.wire_class", "")
    found = wire_class(label) if label else None
    if found is None or reading.group in found.gases:
        return ""
    gases = ", ".join(GAS_GROUPS[one] for one in found.gases[:2])
    return f". {label} is classified with another gas ({gases}{' and the like' if len(found.gases) > 2 else ''})"


def _read_measure(question: Question, text: str) -> ReadReply:
    written = _with_unit(question, text, question.unit)
    taken = f"taken as {written}" if written != text.strip() else ""
    return ReadReply(written, taken=taken)


def _with_unit(question: Question, text: str, unit: str) -> str:
    """Return a quantity as it is kept: as typed, with `unit` behind a bare number. Raises ReplyError."""
    bare = _BARE.fullmatch(text.strip()) is not None
    written = f"{text.strip()} {unit}" if bare else text.strip()
    measure = question.measure
    try:
        measure.read(written)
    except PydanticCustomError as error:
        context = error.context or {}
        hint = context["hint"] if bare else _quantity_hint(question, text) or context["hint"]
        if bare:
            hint = likely_meaning(written, measure.unit, measure.low, measure.high) or hint
        taken = f" (a bare number is taken in {unit})" if bare else ""
        raise ReplyError(f"{context['found']}{taken}", question.allowed, hint) from None
    return written


def _quantity_hint(question: Question, text: str) -> str:
    """Say what to type where words or two figures stand for a quantity; empty where nothing can be made out."""
    plain = text.strip().lower()
    if _NOT_KNOWN.fullmatch(plain):
        if question.usual:
            return f"not known: left empty it stands for the usual answer, {question.usual}"
        return "this has to be found out: you can stop here, and your answers are kept until then"
    if re.search(r"[0-9],[0-9]", plain):
        return "write a decimal point, not a comma"
    words = re.findall(r"[a-z%/°]+|[0-9]+(?:\.[0-9]+)?(?:/[0-9]+)?", plain)
    numbers = [_NUMBER_WORDS.get(word, word) for word in words if word in _NUMBER_WORDS or word[:1].isdigit()]
    units = [word for word in words if word not in _NUMBER_WORDS and _measures(question, word)]
    if not numbers or (len(words) == 2 and plain[:1].isdigit() and not units):
        return "" if numbers else f"in figures, with the unit, such as {question.measure.example!r}"
    candidate = f"{numbers[-1]} {units[-1] if units else question.unit}"
    try:
        question.measure.read(candidate)
    except PydanticCustomError:
        return f"one figure with its unit, such as {question.measure.example!r}"
    return f"one figure with its unit: was {candidate!r} meant?"


def _measures(question: Question, word: str) -> bool:
    if unit_named(word) is None:
        return False
    try:
        parse_quantity(f"1 {word}", question.measure.unit)
    except QuantityError:
        return False
    return True


def _read_spread(question: Question, text: str) -> ReadReply:
    apart = r"\s+" if re.fullmatch(r"[0-9.]+\s+[0-9.]+\s+[0-9.]+", text.strip()) else r"[,;]"
    parts = [part.strip() for part in re.split(apart, text) if part.strip()]
    if len(parts) == 1:
        parts *= len(SPREAD_PARTS)
    if len(parts) != len(SPREAD_PARTS):
        raise ReplyError(f"{len(parts)} figures", question.allowed)
    # '15, 20, 30 ms': the unit that stands last is meant for all.
    last = re.search(r"[A-Za-zµ]+$", parts[-1])
    unit = last[0] if last and all(_BARE.fullmatch(part) for part in parts[:-1]) else question.unit
    written = [_with_unit(question, part, unit) for part in parts]
    sizes = [_size(question, part) for part in written]
    if sizes != sorted(sizes):
        raise ReplyError(repr(text), "shortest, usual and longest in rising order")
    answer = ", ".join(written)
    return ReadReply(answer, taken=f"taken as {answer}" if written != parts else "")


_READERS: dict[str, Callable[[Question, str], ReadReply]] = {
    "yes-no": _read_yes_no,
    "choice": _read_choice,
    "wire": _read_wire,
    "measure": _read_measure,
    "spread": _read_spread,
}
