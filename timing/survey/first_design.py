"""The design that a survey's answers make, before anybody has tried it.

What was not asked is filled in: usual parts, computed times, what the supply asks for. Values stand by their dotted key
as the design file writes them, each with its origin as a remark.
"""

from __future__ import annotations

from collections.abc import Iterable, Iterator, Mapping
from typing import Any

import tomlkit
from pydantic import BaseModel

from timing.checks.remedies import asked_for
from timing.design.board import FIVE_VOLT_LOGIC_V, Board
from timing.design.design import Design
from timing.design.features import features_of
from timing.design.loading import parse_design
from timing.design.origin import COMPUTED, FITTED, OWN, PROPOSED, RANGE, USUAL, with_origin
from timing.design.pinning import analog_pins, pin_names
from timing.design.section import field_at, section_in
from timing.design.times import TIME_KEYS
from timing.design.units import format_duration, parse_quantity
from timing.process.advice import advise
from timing.process.errors import ProcessError
from timing.process.ranging import TimeAdvice
from timing.project import Project
from timing.survey.interview import Interview
from timing.survey.process_questions import SELF_SHIELDED
from timing.survey.question import SPREAD_PARTS, YES, Question, measure_of
from timing.survey.topics import off_switch_key

FirstValue = str | bool | int | Mapping[str, Any]
DIALS_FIRST = ("burnback", "spot", "postflow", "preflow", "pause")
"""Which times get a dial where the board cannot measure them all (practice: what is turned most often)."""
WIDE_DIAL = 20
"""From this ratio of a dial's ends an audio taper gives the short times more of the turn (practice)."""
SPEED_RANGE = (0.6, 1.5)
"""Slowest and fastest wire over the usual speed, where they were not measured (practice)."""
Remarked = tuple[FirstValue, str]
"""A value with its origin."""


def design_text(name: str, interview: Interview, board: Board) -> str:
    """Return the design file that the answers make, a remark on every key. Raises DesignFileError for a bad name.

    board: the one that the answers name. What was not asked is filled in: times from the computation of wire, gas and
    arc, parts from that of the supply.
    """
    values: dict[str, Remarked] = {"format": (1, ""), "name": (name, "")}
    values |= {key: (value, OWN if own else USUAL) for key, value, own in _answers(interview)}
    values |= _remarked(RANGE, usual_range(interview.answers))
    values |= _remarked(FITTED, usual_parts(interview.answers))
    values |= _remarked(FITTED, usual_times(interview.answers))
    values |= _remarked(FITTED, fitting_build(parse_design(_text(values, interview), f"{name}.toml"), board))
    # Twice: postflow and pause depend on the spot time that the first round gives.
    for _ in range(2):
        values |= _remarked(COMPUTED, computed_times(parse_design(_text(values, interview), f"{name}.toml"), board))
    values |= _remarked(PROPOSED, supply_parts(parse_design(_text(values, interview), f"{name}.toml"), board))
    text = _text(values, interview)
    parse_design(text, f"{name}.toml")
    return text


def dials_told(text: str) -> Iterator[str]:
    """Yield sentences on which times of a design have a dial and which have none."""
    design = parse_design(text)
    settings = features_of(design).times
    dials = [name for name, setting in settings.items() if setting.dial]
    fixed = [
        f"{name} {format_duration(setting.setting_us)}"
        for name, setting in settings.items()
        if not setting.dial and setting.setting_us
    ]
    if not dials:
        yield "No time has a dial yet: no arc could be computed to say what it should span. `wirecue advise` says why."
        return
    yield f"Dials on the panel: {', '.join(dials)}."
    if fixed:
        yield (
            f"Fixed in the program: {', '.join(fixed)}. Each dial takes an analog pin, and the {design.board.type} has "
            "no more of them; `wirecue boards` lists boards that have."
        )


def _remarked(origin: str, values: Iterable[tuple[str, FirstValue]]) -> dict[str, Remarked]:
    return {key: (value, origin) for key, value in values}


def _text(values: Mapping[str, Remarked], interview: Interview) -> str:
    tables: dict[str, list[str]] = {"": []}
    for key, (value, origin) in values.items():
        table, _, short = key.rpartition(".")
        tables.setdefault(table, []).append(_line(key, short, value, origin))
    parts = [_heading(interview)]
    for table in sorted(tables, key=_place):
        head = f"[{table}]\n" if table else ""
        parts.append(head + "".join(tables[table]))
    return "\n".join(parts)


def _heading(interview: Interview) -> str:
    told = {one.key: one.ask for one in interview.questions if one.key.startswith("survey.")}
    lines = ["Written by `wirecue survey`. What the design has no key for:"]
    lines += [f"  {told[key]} {answer}" for key, answer in interview.answers.items() if key in told]
    lines += [f"To do first: {what}" for what in interview.to_do]
    return "".join(f"# {line}\n" for line in lines)


def _line(key: str, short: str, value: FirstValue, origin: str) -> str:
    found = field_at(Design, key.split("."))
    remark = None if found is None else found.description
    told = with_origin(remark or "", origin)
    return f"{short} = {_toml(value)}" + (f"  # {told}\n" if told else "\n")


def _toml(value: FirstValue) -> str:
    if isinstance(value, Mapping):
        return "{ " + ", ".join(f"{key} = {_toml(part)}" for key, part in value.items()) + " }"
    return str(tomlkit.item(value).as_string())


def _place(table: str) -> list[int]:
    """Where a table stands in the schema, its own keys before the tables in it."""
    model: type[BaseModel] | None = Design
    place = []
    for step in table.split(".") if table else []:
        fields = [] if model is None else list(model.model_fields.values())
        place.append([field.alias for field in fields].index(step))
        model = section_in(fields[place[-1]].annotation)
    return place


def _answers(interview: Interview) -> Iterator[tuple[str, FirstValue, bool]]:
    """Yield key, value and whether somebody said so, for each answer that goes into the design."""
    answers = interview.answers
    for question in interview.questions:
        answer = answers.get(question.key, "")
        if answer and not question.key.startswith("survey."):
            typed = answers.get(question.typed_key, "")
            own = question.kind in ("choice", "yes-no") or (typed or answer) != question.usual
            yield question.key, _value(question, answer), own
            if typed:
                yield question.typed_key, typed, own
    yield from ((key, value, True) for key, value in _implied(answers))


def _value(question: Question, answer: str) -> FirstValue:
    if question.kind == "yes-no":
        return answer == YES
    if question.kind == "spread":
        return dict(zip(SPREAD_PARTS, answer.split(", "), strict=True))
    return answer


def _implied(answers: Mapping[str, str]) -> Iterator[tuple[str, FirstValue]]:
    """What follows from answers that are not values of the design themselves."""
    if answers["process.wire"] == SELF_SHIELDED:
        yield "process.gas", "none"
    # An interposing relay's coil is on the 24 VAC, wherever the contactor behind it gets its own current from.
    on_winding = answers["survey.contactor_place"] == "feeder" or answers.get("survey.contactor_interposed") == YES
    yield "feeder.contactor.coil.fed_from", "control" if on_winding else "elsewhere"
    yield "feeder.wire_drive.coil.fed_from", answers["survey.wire_drive_place"]
    yield "feeder.as_found.supply_from", "cable" if answers["survey.feeder_power"] == "24vac" else "transformer"
    if answers["survey.drive_and_contactor"] == "can-be-parted":
        yield "feeder.as_found.one_relay", True


def usual_range(answers: Mapping[str, str]) -> Iterator[tuple[str, FirstValue]]:
    """Yield ends for the wire feed speed where none were given, in the unit of the usual one."""
    usual = answers["process.wire_feed_speed"]
    speed, measure = parse_quantity(usual, "mm/s"), measure_of("process.wire_feed_speed")
    unit = next((one for one in ("in/min", "ipm", "m/min") if usual.endswith(one)), "mm/s")
    for end, times in zip(("low", "high"), SPEED_RANGE, strict=True):
        key = f"process.wire_feed_speed_{end}"
        wanted = speed * times / parse_quantity(f"1 {unit}", "mm/s")
        text = f"{float(f'{wanted:.2g}'):g} {unit}"
        # Where a design cannot say it, the usual speed is the end of the range.
        if not answers.get(key) and measure.low <= parse_quantity(text, "mm/s") <= measure.high:
            yield key, text


def usual_parts(answers: Mapping[str, str]) -> Iterator[tuple[str, FirstValue]]:
    """Yield parts of the add-on to begin with."""
    yield "trigger.filter", "25 ms" if answers["trigger.sense"] == "ac" else "12 ms"
    yield "supply.reservoir", "1000 uF"
    yield "supply.regulator_input_max", "60 V"


def fitting_build(design: Design, board: Board) -> Iterator[tuple[str, FirstValue]]:
    """Yield what the way of building brings with it.

    Most modules pull in when their input is low, and rest while it floats. None may carry what is above extra-low
    voltage.
    """
    if design.circuits.build != "modules":
        return
    loads = (design.feeder.gas_valve, design.feeder.wire_drive, design.feeder.contactor)
    if any(load is not None and load.coil.above_extra_low for load in loads):
        yield "circuits.build", "board"
        return
    yield "board.on_level", dict.fromkeys(("gas_valve", "wire_drive", "contactor"), "low")
    if board.logic_v < FIVE_VOLT_LOGIC_V:
        yield "circuits.relay_inputs", "apart"


def usual_times(answers: Mapping[str, str]) -> Iterator[tuple[str, FirstValue]]:
    """Yield times to begin with, where none can be computed."""
    gasless = answers["process.wire"] == SELF_SHIELDED

    def switched(name: str, setting: str) -> FirstValue:
        if answers.get("panel.selector") == "three-position" and name in ("spot", "pause"):
            return {"setting": setting, "off_switch": True}
        return {"setting": setting, "off_switch": True} if answers.get(off_switch_key(name)) == YES else setting

    yield "times.preflow", "0 ms" if gasless else switched("preflow", "300 ms")
    yield "times.burnback", switched("burnback", "100 ms")
    yield "times.postflow", "0 ms" if gasless else switched("postflow", "1 s")
    if answers["survey.spot"] == YES:
        yield "spot.time", switched("spot", "1 s")
    if answers.get("survey.stitch") == YES:
        yield "stitch.pause", switched("pause", "500 ms")


def computed_times(design: Design, board: Board) -> Iterator[tuple[str, FirstValue]]:
    """Yield the times that wire, gas and arc ask for, on dials as far as the board can measure them.

    One pin is kept for measuring the supply. Nothing is yielded where the process cannot be computed.
    """
    try:
        advised = {time.name: time for time in advise(design).times}
    except ProcessError:
        return
    dials = [name for name in DIALS_FIRST if name in advised][: len(analog_pins(design, board)) - 1]
    pins = pin_names(design, board)
    for name, time in advised.items():
        if design.setting(name) is not None:
            yield TIME_KEYS[name], _time(time, name in dials, pins.get(f"{name}_switch") is not None)


def _time(time: TimeAdvice, dial: bool, off_switch: bool) -> FirstValue:
    setting = format_duration(time.setting_us)
    ends = {"from": format_duration(time.dial_from_us), "to": format_duration(time.dial_to_us)} if dial else {}
    wide = time.dial_to_us >= WIDE_DIAL * time.dial_from_us > 0
    taper = {"taper": "audio"} if dial and wide else {}
    switch = {"off_switch": True} if off_switch else {}
    parts = {**ends, "setting": setting, **taper, **switch}
    return parts if len(parts) > 1 else setting


def supply_parts(design: Design, board: Board) -> Iterator[tuple[str, FirstValue]]:
    """Yield what the supply asks for: the first remedy of each error, and a divider by which the board measures it."""
    yield from ((change.key, change.value) for change in asked_for(Project(design, board)))
