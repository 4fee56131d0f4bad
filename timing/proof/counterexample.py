"""From passes that break a rule to a trigger script that shows it, with real times."""

from __future__ import annotations

import itertools
from collections.abc import Iterator, Sequence
from dataclasses import dataclass, field
from typing import Any, NamedTuple

from timing.proof.exploration import StateEdge, Walk
from timing.proof.monitor import Breach, Monitor, Search
from timing.proof.rules import LivenessRule, ProofRule
from timing.proof.state_space import NO_TIMER, StateSpace, times_of
from timing.proof.step import CONTACTOR, Answers, Model, Step, watch
from timing.sequence.core.engine import REST_US, Engine, Rig, Timeline, run_script
from timing.sequence.core.filters import SupplyLevel
from timing.sequence.core.script import Change, Dial, Script, Switch, What

_GAPS_US = (200_000, 20_000, 1_000, 1)
"""Distances between passes that are tried, the most readable first."""
_BREACHES_TRIED = 40
"""How many breaches are tried with each way of finding times for them."""


@dataclass(frozen=True)
class Counterexample:
    """A script that breaks a rule, and what happens."""

    script: Script
    settled: bool
    """True: it starts in idle; False: at power-up."""
    timeline: Timeline


def counterexample_to(walked: Walk, rule: ProofRule | LivenessRule, monitor: Monitor) -> Counterexample | None:
    """Return a script that breaks `rule` when it is played on the engine, or None where none is found.

    The shortest breach may need times that cannot be, such as a limit that is over before anything took as long. So
    the search goes only where real times can follow: first with one thing at a time, which is easier to follow, then
    with things that coincide. What it misses is what takes many rounds, such as stitches up to the weld limit: for
    that, scripts are tried that keep to the inputs and wait for the timers.
    """
    world = walked.world

    def in_time(passes: Breach) -> bool:
        return _has_causes(world, passes, 1, 99) and _at_us(world, passes, 1, waiting=False) is not None

    def plain(passes: Breach) -> bool:
        return _has_causes(world, passes, 1, 1) and in_time(passes)

    leveled = _with_levels(monitor)
    searches = (Search(walked, leveled, plain), Search(walked, leveled, in_time))
    tries = [(search, False) for search in searches] + [(Search(walked, monitor), True)]
    scripts = (
        (_script(world, breach, gap_us, waiting=waiting, lasting=isinstance(rule, LivenessRule)), breach.at_rest)
        for search, waiting in tries
        for breach in itertools.islice(search.breaches(), _BREACHES_TRIED)
        for gap_us in _GAPS_US
    )
    for script, settled in scripts:
        if script is not None and _shows(world, rule, script, settled=settled):
            return Counterexample(script, settled, run_script(world.rig, script, settled=settled))
    return None


def _with_levels(monitor: Monitor) -> Monitor:
    """Return `monitor` with ways kept apart that leave inputs standing differently: what may come next differs."""

    def observe(memory: Any, edge: StateEdge) -> tuple[Any, bool]:
        inner, levels = memory
        remembered, broken = monitor.observe(inner, edge)
        now = tuple(edge.answers.get(name, level) for name, level in zip(_LEVELS, levels, strict=True))
        return (remembered, now), broken

    level = (False,) * len(_LEVELS)
    return Monitor(tuple((situation, (memory, level)) for situation, memory in monitor.starts), observe)


_LEVELS = ("arc", "interlock_open", "supply_low", "supply_poor", "dial_fault")
"""Inputs whose state from pass to pass the sequence does not keep."""


def _has_causes(world: StateSpace, breach: Breach, least: int, most: int) -> bool:
    """Tell whether the last of the passes has so many causes. At power-up the first pass is that of a quiet panel."""
    at_power_up = len(breach.edges) == 1 and not breach.at_rest
    return least * (not at_power_up) <= _causes(world, breach) <= most * (not at_power_up)


def _causes(world: StateSpace, breach: Breach) -> int:
    """Return how many things make the last of the passes: contacts that change, and timers that have just run out.

    The engine makes a pass only where there is one.
    """
    seen = _inputs(world, breach)
    known = breach.edges[-2].to.over if len(breach.edges) > 1 else NO_TIMER
    over = breach.edges[-1].step.over
    contacts = sum(seen[-1][name] != seen[-2][name] for name in _CONTACTS)
    return contacts + sum(now and not before for now, before in zip(over, known, strict=True))


def _shows(world: StateSpace, rule: ProofRule | LivenessRule, script: Script, *, settled: bool) -> bool:
    return breaks(rule, steps_of(world.rig, script, settled=settled), settled=settled)


def _script(world: StateSpace, breach: Breach, gap_us: int, *, waiting: bool, lasting: bool) -> Script | None:
    at_us = _at_us(world, breach, gap_us, waiting=waiting)
    if at_us is None:
        return None
    changes = sorted(_changes(world, _inputs(world, breach), at_us), key=lambda change: change.at_us)
    return Script(tuple(changes), at_us[-1] + (_everything_over_us(world) if lasting else REST_US))


def _at_us(world: StateSpace, breach: Breach, gap_us: int, *, waiting: bool) -> list[int] | None:
    """Return the instants of the passes, or None where they cannot be had.

    A timer that is over has just run out, and one that is not has not. With `waiting` it has run out some time, and
    may have run out before.
    """
    at_once = [] if breach.at_rest else [Apart(0, 1, 0), Apart(1, 0, 0)]
    apart = [
        *at_once,
        *(Apart(index, index + 1, gap_us) for index in range(len(at_once) // 2, len(breach.edges))),
        *_contacts_apart(world, _inputs(world, breach)),
        *_timers_apart(world, breach, waiting),
    ]
    return earliest_us(len(breach.edges), apart)


def _inputs(world: StateSpace, breach: Breach) -> list[Answers]:
    """Return what each pass sees, after what is seen to begin with; what was not asked stays as it was."""
    switched_on = {name: values[0] for name, values in world.choices.items()}
    settings = {f"{name}_us": setting.setting_us for name, setting in times_of(world).items()}
    seen = [{**switched_on, **settings, "supply": SupplyLevel.GOOD}]
    for edge in breach.edges:
        now = {**seen[-1], **edge.answers}
        seen.append({**now, "supply": _supply_level(now)})
    return seen


def _supply_level(seen: Answers) -> SupplyLevel:
    """Return where the supply stands for what the sequence sees of it."""
    if seen["supply_low"]:
        return SupplyLevel.LOW
    return SupplyLevel.BETWEEN if seen["supply_poor"] else SupplyLevel.GOOD


def _moves(seen: list[Answers], name: str) -> list[int]:
    """Return the passes, counted from 1, that see `name` change."""
    return [index for index in range(1, len(seen)) if seen[index][name] != seen[index - 1][name]]


def _delay_us(world: StateSpace, name: str, value: int) -> int:
    """Return how long after a change a pass sees it."""
    if name == "supply":
        return world.rig.supply_filter_us if value == SupplyLevel.LOW else 0
    return world.rig.filters_us.get(name, (0, 0))[0]


def _contacts_apart(world: StateSpace, seen: list[Answers]) -> Iterator[Apart]:
    for name in (*world.rig.filters_us, "supply"):
        before = 0
        for index in _moves(seen, name):
            yield Apart(before, index, _delay_us(world, name, seen[index][name]) + (1 if before else 0))
            before = index


def _timers_apart(world: StateSpace, breach: Breach, waiting: bool) -> Iterator[Apart]:
    settings = world.rig.settings
    phase_since, weld_since, contactor_on = 0, 0, 0
    duration_us, known = settings.settle_us, NO_TIMER
    for index, edge in enumerate(breach.edges, 1):
        step = edge.step
        cares = world.cares.get(step.before.phase, NO_TIMER)
        timers = (
            (phase_since, duration_us),
            (weld_since, settings.weld_limit_us or 0),
            (phase_since, settings.arc_limit_us or 0),
            (contactor_on, settings.arc_end_us or 0),
        )
        for (since, limit_us), cared, over, was_over in zip(timers, cares, step.over, known, strict=True):
            if cared and not was_over:
                yield from _timer_apart(since, index, limit_us, over, waiting)
        if step.before.since_us != step.after.since_us:
            phase_since = index
        # A time that goes on, though it counts anew, stays what it was.
        if step.before.duration_us != step.after.duration_us:
            duration_us = step.after.duration_us
        if step.outputs_before & CONTACTOR:
            contactor_on = index
        if step.before.weld_since_us != step.after.weld_since_us:
            weld_since = index
        known = edge.to.over


def _timer_apart(since: int, index: int, limit_us: int, over: bool, waiting: bool) -> Iterator[Apart]:
    if over:
        yield Apart(since, index, limit_us)
        if not waiting:
            yield Apart(index, since, -limit_us)
    elif not waiting:
        yield Apart(index, since, 1 - limit_us)


def _changes(world: StateSpace, seen: list[Answers], at_us: list[int]) -> Iterator[Change]:
    for name in (name for name in seen[0] if name not in ("supply_low", "supply_poor")):
        for index in _moves(seen, name):
            value = seen[index][name]
            if name in _CONTACTS:
                what, closed = _CONTACTS[name]
                yield Change(at_us[index - 1] - _delay_us(world, name, value), what, value if closed else 1 - value)
            else:
                # Panel settings are looked at when a pass needs them: any instant since the pass before will do.
                before_us = at_us[index - 2] if index > 1 else 0
                yield _panel_change(world, name, value, (before_us + at_us[index - 1]) // 2)


_CONTACTS = {
    "trigger": ("trigger", True),
    "purge": ("purge", True),
    "inch": ("inch", True),
    "arc": ("arc", True),
    "interlock_open": ("interlock", False),
    "supply": ("supply", True),
    "dial_fault": ("dial_fault", True),
}
"""What scripts call each input, and whether they mean the same by 1."""
_SWITCHES: dict[str, What] = {"four_step": "four_step", "spot": Switch("spot"), "stitch": Switch("pause")}


def _panel_change(world: StateSpace, name: str, value: int, at_us: int) -> Change:
    if name in _SWITCHES:
        return Change(at_us, _SWITCHES[name], value)
    time = name.removesuffix("_us")
    setting = times_of(world)[time]
    if setting.off_switch and (value == 0 or not setting.dial):
        return Change(at_us, Switch(time), int(value > 0))
    return Change(at_us, Dial(time), value)


def _everything_over_us(world: StateSpace) -> int:
    """Return a time within which, on a sound table, every phase of a weld has ended."""
    settings = world.rig.settings
    limits = (settings.weld_limit_us, settings.arc_limit_us, settings.purge_limit_us, settings.inch_limit_us)
    return sum(limit or 0 for limit in limits) + sum(setting.high_us for setting in times_of(world).values())


@dataclass
class _WatchedEngine(Engine):
    """An engine that remembers its passes."""

    steps: list[Step] = field(default_factory=list)

    def _pass(self) -> None:
        model = Model(self.rig.table, self.rig.settings)
        self.steps.append(watch(model, self.state.copy(), self._inputs(), self.now_us))
        super()._pass()


def steps_of(rig: Rig, script: Script, *, settled: bool) -> list[Step]:
    """Return every pass of `script` on `rig`, up to the script's end."""
    engine = _WatchedEngine(rig)
    if settled:
        engine.settle()
    else:
        engine.power_up(change for change in script.changes if change.at_us <= 0)
    for change in script.changes:
        engine.apply(change)
    engine.run_until(script.end_us or engine.now_us)
    return engine.steps


def breaks(rule: ProofRule | LivenessRule, steps: list[Step], *, settled: bool) -> bool:
    """Tell whether `steps` break `rule`; for what must come about in the end, whether they end without it."""
    if isinstance(rule, LivenessRule):
        return bool(steps) and steps[-1].seen.all_open and steps[-1].outputs != 0
    memory = rule.at_rest if settled else rule.at_power_up
    for step in steps:
        memory, broken = rule.observe(memory, step)
        if broken:
            return True
    return False


class Apart(NamedTuple):
    """Instant `later` lies at least `least_us` after instant `earlier`; negative: at most so much before it.

    Instants are numbered from 1; 0 is the beginning.
    """

    earlier: int
    later: int
    least_us: int


def earliest_us(count: int, apart: Sequence[Apart]) -> list[int] | None:
    """Return the earliest instants 1 ... `count` that keep all distances, or None where none do.

    Longest paths by R. Bellman, On a routing problem, Quart. Appl. Math. 16 (1958).
    """
    at_us = [0] * (count + 1)
    for _ in range(count + 1):
        moved = False
        for earlier, later, least_us in apart:
            if at_us[later] < at_us[earlier] + least_us:
                at_us[later] = at_us[earlier] + least_us
                moved = True
        if not moved:
            return at_us[1:] if at_us[0] == 0 else None
    return None
