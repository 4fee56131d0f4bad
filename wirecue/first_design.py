"""What goes into a design before anybody has tried it: usual parts, computed times, what the supply asks for.

Values stand by their dotted key as the design file writes them.
"""

from __future__ import annotations

from collections.abc import Iterator, Mapping
from typing import Any

from codegen.papers.question import YES
from timing.checks.remedy_text import asked_for
from timing.design.board import Board
from timing.design.design import Design
from timing.design.pinning import analog_pins, pin_names
from timing.design.times import TIME_KEYS
from timing.design.units import format_duration
from timing.power.report import report
from timing.process.advice import TimeAdvice, advise
from timing.process.errors import ProcessError

Value = str | bool | int | Mapping[str, Any]
DIALS_FIRST = ("burnback", "spot", "postflow", "preflow", "pause")
"""Which times get a dial where the board cannot measure them all (practice: what is turned most often)."""
WIDE_DIAL = 20
"""From this ratio of a dial's ends an audio taper gives the short times more of the turn (practice)."""


def usual_parts(answers: Mapping[str, str]) -> Iterator[tuple[str, Value]]:
    """Yield parts of the add-on to begin with."""
    yield "trigger.filter", "25 ms" if answers["trigger.sense"] == "ac" else "12 ms"
    yield "supply.reservoir", "1000 uF"
    yield "supply.regulator_input_max", "60 V"


def usual_times(answers: Mapping[str, str]) -> Iterator[tuple[str, Value]]:
    """Yield times to begin with, where none can be computed."""
    gasless = answers["process.wire"] == "self-shielded" or answers.get("process.gas") == "none"
    yield "times.preflow", "0 ms" if gasless else "300 ms"
    yield "times.burnback", "100 ms"
    yield "times.postflow", "0 ms" if gasless else "1 s"
    if answers["survey.spot"] == YES:
        yield "spot.time", {"setting": "1 s", "off_switch": True}
    if answers.get("survey.stitch") == YES:
        yield "stitch.pause", {"setting": "500 ms", "off_switch": True}


def computed_times(design: Design, board: Board) -> Iterator[tuple[str, Value]]:
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


def _time(time: TimeAdvice, dial: bool, off_switch: bool) -> Value:
    setting = format_duration(time.setting_us)
    ends = {"from": format_duration(time.dial_from_us), "to": format_duration(time.dial_to_us)} if dial else {}
    wide = time.dial_to_us >= WIDE_DIAL * time.dial_from_us > 0
    taper = {"taper": "audio"} if dial and wide else {}
    switch = {"off_switch": True} if off_switch else {}
    parts = {**ends, "setting": setting, **taper, **switch}
    return parts if len(parts) > 1 else setting


def supply_parts(design: Design, board: Board) -> Iterator[tuple[str, Value]]:
    """Yield what the supply asks for: the first remedy of each error, and a divider by which the board measures it."""
    yield from ((change.key, change.value) for change in asked_for(report(design, board)))
