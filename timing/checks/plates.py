"""Rules on dials whose plates are made: a range that is glued on must go on serving."""

from __future__ import annotations

from collections.abc import Iterable, Iterator
from dataclasses import replace

from timing.checks.finding import DesignEdit, Finding, Remedy, time_figure, warning
from timing.checks.process import likely_end_mm
from timing.checks.remedies import set_duration
from timing.design.times import TIME_KEYS, TimeSetting, time_limits_us
from timing.formatting import ms
from timing.once import once
from timing.process.errors import ProcessError
from timing.process.ranging import Shortfall, TimeAdvice, dial_mark_us, end_of_dial, shortfalls
from timing.project import Project

ROOM_MARKS = 2
"""Room that a remedy leaves beyond what is asked for, in steps of the dial (choice)."""
_SCALE = tuple(f"{key}.{end}" for key in TIME_KEYS.values() for end in ("from", "to"))


def plate_has_room(project: Project) -> Iterator[Finding]:
    """On a made panel no setting should sit at the end of its dial."""
    for name, own in _made_dials(project):
        end = end_of_dial(own)
        if not end or any(one.name == name and one.end == end for one in _short(project)):
            # Where even more is advised, that is what is told.
            continue
        end_us = own.low_us if end == "low" else own.high_us
        yield warning(
            "plate-has-room",
            TIME_KEYS[name],
            f"{name} is set to {ms(own.setting_us)}, and its dial {'begins' if end == 'low' else 'ends'} at "
            f"{ms(end_us)}",
            "there is no room to turn further, should the next weld ask for it, and the plate is made",
            _reaching(name, own, end, end_us),
            figures=(time_figure(name, own.setting_us), time_figure("end of the dial", end_us)),
        )


def plate_covers_the_advice(project: Project) -> Iterator[Finding]:
    """On a made panel each dial must reach what is advised; of burnback the rules on the wire's end tell."""
    dials = dict(_made_dials(project))
    for one in _short(project):
        yield warning(
            "plate-covers-the-advice",
            TIME_KEYS[one.name],
            f"{one.name}: {one.fact}",
            "what is advised cannot be set, and the plate is made",
            _reaching(one.name, dials[one.name], one.end, one.asks_us),
            figures=(time_figure("end of the dial", one.has_us), time_figure("advised", one.asks_us)),
        )


def with_new_plates(project: Project, findings: Iterable[Finding]) -> tuple[Finding, ...]:
    """Return findings whose remedies say so where they give a dial new ends and its plate is made."""
    if not project.design.panel.made:
        return tuple(findings)
    return tuple(
        replace(finding, remedies=tuple(_with_new_plate(remedy) for remedy in finding.remedies)) for finding in findings
    )


def _with_new_plate(remedy: Remedy) -> Remedy:
    if not any(change.key in _SCALE for change in remedy.changes):
        return remedy
    text = f"{remedy.text}; its plate must be printed anew and the board flashed again"
    return Remedy(text, (*remedy.changes, DesignEdit("panel.made", False)))


def _made_dials(project: Project) -> Iterator[tuple[str, TimeSetting]]:
    if project.design.panel.made:
        yield from ((name, own) for name, own in project.features.times.items() if own.dial)


@once
def _short(project: Project) -> tuple[Shortfall, ...]:
    dials = dict(_made_dials(project))
    times = [time for time in _advised(project) if time.name in dials] if dials else []
    return tuple(one for time in times for one in shortfalls(dials[time.name], time))


def _advised(project: Project) -> Iterator[TimeAdvice]:
    """Yield advice on all times but burnback, which takes a simulation."""
    # Late: a design whose plates are not made has no use for it.
    from timing.process.advice import rhythm_advice
    from timing.process.case import burnback_case
    from timing.process.gas_times import postflow_advice, preflow_advice

    design = project.design
    try:
        if not design.process.gasless:
            yield preflow_advice(design).time
            yield postflow_advice(design, likely_end_mm(design)).time
        yield from rhythm_advice(design, burnback_case(design)).times
    except ProcessError:
        # Where no arc can burn `arc-can-burn` tells of it.
        return


def _reaching(name: str, own: TimeSetting, end: str, asked_us: int) -> Remedy:
    """A dial that goes beyond what is asked for at that end, as far as a design may set."""
    room_us, key = round(ROOM_MARKS * dial_mark_us(own)), TIME_KEYS[name]
    least_us, most_us = time_limits_us(name)
    if end == "low":
        begins_us = max((asked_us - room_us) // 1000 * 1000, least_us)
        changes = (set_duration(f"{key}.from", begins_us),) if begins_us < own.low_us else ()
        return Remedy(f"a dial that begins at {ms(begins_us)}", changes)
    # A round end, as plates have.
    step_us = 10_000 if asked_us < 1_000_000 else 100_000
    ends_us = min(-(-(asked_us + room_us) // step_us) * step_us, most_us)
    changes = (set_duration(f"{key}.to", ends_us),) if ends_us > own.high_us else ()
    return Remedy(f"a dial that ends at {ms(ends_us)}", changes)
