"""The test cases of a design, made from what it has."""

from __future__ import annotations

from dataclasses import dataclass
from functools import partial

from bench.fault_cases import FAULT_CASES
from bench.forcing import rig_as_forced
from bench.script_writer import MARGIN_US, NamedWriter, NotOfferedError, ScriptWriter
from bench.work_cases import WORK_CASES
from timing.protocol.target import Target
from timing.sequence.core.engine import run_script
from timing.sequence.core.script import Script, Switch

LONGEST_CASE_US = 30_000_000
"""Longer cases, such as a weld limit of minutes, are left out unless asked for."""


@dataclass(frozen=True)
class Case:
    """One named test."""

    name: str
    title: str
    script: Script
    lasts_us: int
    """How long it takes on the board's clock, by the model."""


def cases_of(target: Target, longest_us: int = LONGEST_CASE_US) -> list[Case]:
    """Return the cases that the design has, none longer than `longest_us`, in a fixed order."""
    return [case for case in _all_cases(target) if case.lasts_us <= longest_us]


def left_out(target: Target, longest_us: int = LONGEST_CASE_US) -> list[Case]:
    """Return the cases that `cases_of` leaves out for their length."""
    return [case for case in _all_cases(target) if case.lasts_us > longest_us]


def _all_cases(target: Target) -> list[Case]:
    rig, cases = rig_as_forced(target), []
    for name, title, write in (*WORK_CASES, *FAULT_CASES, *_dial_cases(target), *_switch_cases(target)):
        script = ScriptWriter(target)
        try:
            write(script)
        except NotOfferedError:
            continue
        written = script.written()
        cases.append(Case(name, title, written, run_script(rig, written).end_us))
    return cases


def _dial_cases(target: Target) -> list[NamedWriter]:
    return [
        (f"dial-{name}-{end}", f"{name} dial at its {end} end", partial(_dial_end, name, end == "high"))
        for name in target.scales
        for end in ("low", "high")
    ]


def _switch_cases(target: Target) -> list[NamedWriter]:
    return [
        (f"{name}-off", f"{name} switched off", partial(_switch_off, name))
        for name in ("preflow", "burnback", "postflow")
        if f"{name}_switch" in target.fitted
    ]


def _dial_end(name: str, high: bool, script: ScriptWriter) -> None:
    four_step = False
    if name == "pause":
        script.choose(spot=True, stitch=True)
    elif name == "spot":
        script.spot_alone()
    else:
        four_step = script.any_way()
    scale = script.target.scales[name]
    script.dial(name, scale.high_us if high else scale.low_us)
    if name == "spot":
        script.start_weld()
        script.spot_over()
        script.wait(MARGIN_US)
        script.release()
    elif name == "pause":
        script.start_weld()
        script.spot_over()
        script.next_stitch()
        script.wait(script.times_us["spot"] // 2)
        script.end_weld()
    else:
        script.whole_weld(four_step)


def _switch_off(name: str, script: ScriptWriter) -> None:
    script.require(f"{name}_switch")
    four_step = script.any_way()
    script.set(Switch(name), 0)
    script.times_us[name] = 0
    script.whole_weld(four_step)
