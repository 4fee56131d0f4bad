"""Measured edges beside those of the model, which the measured trigger and buttons drive."""

from __future__ import annotations

from collections.abc import Iterable, Mapping, Sequence
from dataclasses import dataclass, replace

from bench.capture.capture import Capture, CaptureError
from bench.capture.mapping import OUTPUTS, Assigned
from bench.compare import EDGE_TOLERANCE, output_word
from timing.formatting import exact_ms
from timing.protocol.target import Target
from timing.sequence.core.dial_scale import TIME_FRACTION_BITS
from timing.sequence.core.engine import Edge, Rig, Timeline, run_script
from timing.sequence.core.script import Change, Dial, Script
from timing.sequence.core.table import Output


@dataclass(frozen=True)
class AnalyserPace:
    """How long a board takes for what the design calls a time: that share of it, and that much of a dial's step."""

    share: float
    steps: float

    def of(self, time_us: int) -> int:
        """Return a fixed time as this board takes it."""
        return round(time_us * self.share)


def paces(clock_tolerance_ppm: int) -> tuple[AnalyserPace, AnalyserPace]:
    """Return the fastest and the slowest board within the tolerance of its clock.

    A dial is read in whole counts: the time that it gives lies up to half a count from where the knob stands.
    """
    stray = clock_tolerance_ppm / 1e6
    return AnalyserPace(1 - stray, -0.5), AnalyserPace(1 + stray, 0.5)


def paced_rig(target: Target, pace: AnalyserPace, dials_us: Mapping[str, int]) -> Rig:
    """Return the target's rig with every time as a board of that pace takes it; `dials_us` stand in for the dials."""
    rig = target.rig
    settings, of = rig.settings, pace.of
    times_us = {**rig.times_us, **dials_us}
    return replace(
        rig,
        settings=replace(
            settings,
            open_us=of(settings.open_us),
            settle_us=of(settings.settle_us),
            purge_limit_us=of(settings.purge_limit_us),
            inch_limit_us=of(settings.inch_limit_us),
            weld_limit_us=None if settings.weld_limit_us is None else of(settings.weld_limit_us),
            arc_limit_us=None if settings.arc_limit_us is None else of(settings.arc_limit_us),
            arc_end_us=None if settings.arc_end_us is None else of(settings.arc_end_us),
            longest_us={name: of(time_us) for name, time_us in settings.longest_us.items()},
        ),
        filters_us={role: (of(filter_us), of(bridge_us)) for role, (filter_us, bridge_us) in rig.filters_us.items()},
        times_us={name: _time_us(target, pace, name, time_us) for name, time_us in times_us.items()},
        supply_filter_us=of(rig.supply_filter_us),
    )


def paced_script(target: Target, pace: AnalyserPace, script: Script) -> Script:
    """Return a script whose dials give times as a board of that pace takes them; its instants stay."""
    changes = tuple(
        replace(change, value=_time_us(target, pace, change.what.name, change.value))
        if isinstance(change.what, Dial)
        else change
        for change in script.changes
    )
    return Script(changes, script.end_us)


def _time_us(target: Target, pace: AnalyserPace, name: str, time_us: int) -> int:
    scale = target.scales.get(name)
    step_us = 0.0 if scale is None else scale.step_q4_us / (1 << TIME_FRACTION_BITS)
    return max(round(time_us * pace.share + pace.steps * step_us), 0)


NEAR_US = 500_000
"""An edge this far from where it is expected is called late or early; further, one is missing and one too many."""
EXACT = AnalyserPace(1.0, 0.0)


@dataclass(frozen=True)
class EdgeCheck:
    """One edge of one output: expected, measured, or both. Times in microseconds from the first sample."""

    output: Output
    on: bool
    expected_us: int | None
    measured_us: int | None
    early_us: int = 0
    """How much earlier than expected it may come."""
    late_us: int = 0

    @property
    def error_us(self) -> int | None:
        """Return measured less expected, or None where either is missing."""
        return None if self.expected_us is None or self.measured_us is None else self.measured_us - self.expected_us

    @property
    def passed(self) -> bool:
        """True where it is there and in time."""
        return self.error_us is not None and -self.early_us <= self.error_us <= self.late_us

    @property
    def at_us(self) -> int:
        """Return where it stands in the order of things."""
        instants_us = (self.expected_us, self.measured_us)
        return min(instant_us for instant_us in instants_us if instant_us is not None)

    @property
    def what(self) -> str:
        """Return the edge in words: 'wire drive goes off'."""
        return f"{output_word(self.output)} {'comes on' if self.on else 'goes off'}"

    @property
    def trouble(self) -> str:
        """Return what is wrong with it as a sentence; empty where nothing is."""
        if self.passed:
            return ""
        if self.measured_us is None:
            return f"{self.what}: expected at {exact_ms(self.at_us)}, did not happen."
        if self.error_us is None:
            return f"{self.what} at {exact_ms(self.at_us)}, which is not expected."
        return (
            f"{self.what} at {exact_ms(self.measured_us)}, expected at {exact_ms(self.expected_us or 0)}: "
            f"{exact_ms(abs(self.error_us))} {'late' if self.error_us > 0 else 'early'} "
            f"(allowed {exact_ms(self.early_us)} early to {exact_ms(self.late_us)} late)."
        )

    @property
    def brief(self) -> str:
        """Return what is wrong with it in two or three words, for a picture."""
        if self.error_us is None:
            return "missing" if self.measured_us is None else "unexpected"
        return f"{exact_ms(abs(self.error_us))} {'late' if self.error_us > 0 else 'early'}"


@dataclass(frozen=True)
class CaptureCheck:
    """What holding a capture against a design came to."""

    capture: Capture
    assigned: tuple[Assigned, ...]
    dials_us: Mapping[str, int]
    """Where each dial was taken to stand at the start."""
    as_found: frozenset[str]
    """Dials whose time was read from the capture."""
    predicted: Timeline
    seen: Mapping[Output, tuple[Edge, ...]]
    edges: tuple[EdgeCheck, ...]
    """In order of time."""
    others: tuple[str, ...]
    """What else is wrong, a sentence each."""
    beyond: int
    """Edges expected so near the end of the capture, or after it, that they cannot be asked for."""

    @property
    def troubles(self) -> tuple[str, ...]:
        """Return everything that is wrong, a sentence each."""
        return (*self.others, *(edge.trouble for edge in self.edges if not edge.passed))

    @property
    def passed(self) -> bool:
        """True where nothing is wrong."""
        return not self.troubles


def check_capture(
    capture: Capture, target: Target, assigned: Sequence[Assigned], told: Script, *, as_found: bool = False
) -> CaptureCheck:
    """Compare a capture with the model.

    told: inputs that the capture does not show, dials among them. as_found: the dials that `told` leaves alone are
    taken as the capture shows them. Raises CaptureError where the capture cannot tell anything.
    """
    end_us = round(capture.end_ns / 1000)
    seen = {OUTPUTS[each.role]: _edges(each) for each in assigned if each.role in OUTPUTS}
    if not seen:
        raise CaptureError(capture.source, "no channel for any output", f"{_how_to_map(capture)}")
    shown = [change for each in assigned if each.role not in OUTPUTS for change in each.script_changes()]
    script = Script(_together(capture, shown, told, seen, target), end_us)
    open_dials = [name for name in target.scales if as_found and not _moves_dial(told, name)]
    dials_us = _found_dials(target, script, seen, open_dials)
    predicted = run_script(paced_rig(target, EXACT, dials_us), script)
    checks, beyond = _checks(target, script, dials_us, predicted, seen, capture)
    others = [
        f"The {output_word(OUTPUTS[each.role])} is on as the capture begins (channel {each.channel.name!r}, on when "
        f"{each.on_level}): begin with everything at rest, or turn the level with --map."
        for each in assigned
        if each.role in OUTPUTS and each.begins_on
    ]
    others += [
        _out_of_range(target, name, dials_us[name]) for name in open_dials if not _in_range(target, name, dials_us)
    ]
    if not checks and not others:
        raise CaptureError(
            capture.source, "no edge, neither expected nor measured", "a capture with a pull of the trigger"
        )
    stand_us = {name: dials_us.get(name, target.rig.times_us[name]) for name in target.scales}
    return CaptureCheck(
        capture, tuple(assigned), stand_us, frozenset(open_dials), predicted, seen, checks, tuple(others), beyond
    )


def _edges(each: Assigned) -> tuple[Edge, ...]:
    return tuple(Edge(at_us, OUTPUTS[each.role], on) for at_us, on in each.changes_us())


def _how_to_map(capture: Capture) -> str:
    names = list(capture.channels)
    example = f"--map trigger={names[0]} --map contactor={names[-1]}"
    return f"channels named after what they show, or {example}; this one has {', '.join(names)}"


def _together(
    capture: Capture, shown: Sequence[Change], told: Script, seen: Mapping[Output, tuple[Edge, ...]], target: Target
) -> tuple[Change, ...]:
    """Return what the capture shows and what the user tells, in order; the latter moved where no trigger is shown."""
    both = {change.what for change in shown} & {change.what for change in told.changes}
    if both:
        raise CaptureError(capture.source, f"'{both.pop()}' in the capture and in the script", "one of the two")
    drives = ("trigger", "purge", "inch")
    if any(change.what in drives for change in shown):
        changes = [*shown, *told.changes]
    elif any(change.what in drives for change in told.changes):
        shift_us = _shift_us(told, seen, target)
        changes = [*shown, *(replace(change, at_us=max(change.at_us + shift_us, 0)) for change in told.changes)]
    else:
        raise CaptureError(
            capture.source, "nothing that starts a sequence: neither trigger nor button moves", _how_to_map(capture)
        )
    return tuple(sorted(changes, key=lambda change: change.at_us))


def _shift_us(told: Script, seen: Mapping[Output, tuple[Edge, ...]], target: Target) -> int:
    """Return by how much the script must come later so that the first edges of the outputs fall together."""
    measured_us = [edge.at_us for edges in seen.values() for edge in edges]
    expected_us = [edge.at_us for edge in run_script(target.rig, told).edges if edge.output in seen]
    return min(measured_us) - min(expected_us) if measured_us and expected_us else 0


def _moves_dial(told: Script, name: str) -> bool:
    return any(change.what == Dial(name) for change in told.changes)


def _found_dials(
    target: Target, script: Script, seen: Mapping[Output, tuple[Edge, ...]], names: Iterable[str]
) -> dict[str, int]:
    """Return the time of each dial as the measured edges have it: each from the first edge that moves with it."""
    found: dict[str, int] = {}
    left = list(names)
    # A shorter dial than the design's setting has its edge in the capture; the setting's may lie beyond its end.
    slack_us = sum(scale.high_us for scale in target.scales.values())
    script = replace(script, end_us=(script.end_us or 0) + slack_us)
    while left:
        base = run_script(paced_rig(target, EXACT, found), script)
        moves = {name: _first_moved(target, script, found, name, base, seen) for name in left}
        known = {name: pair for name, pair in moves.items() if pair is not None}
        if not known:
            break
        # The earliest first: later edges move with it, too.
        name = min(known, key=lambda each: known[each][0])
        expected_us, measured_us = known[name]
        found[name] = max(found.get(name, target.rig.times_us[name]) + measured_us - expected_us, 0)
        left.remove(name)
    return {name: target.rig.times_us[name] for name in left} | found


def _first_moved(
    target: Target,
    script: Script,
    found: Mapping[str, int],
    name: str,
    base: Timeline,
    seen: Mapping[Output, tuple[Edge, ...]],
) -> tuple[int, int] | None:
    """Return the first edge that moves with a dial: where it is expected, and where it was measured."""
    probe_us = 1_000
    longer = dict(found) | {name: target.rig.times_us[name] + probe_us}
    moved = run_script(paced_rig(target, EXACT, longer), script)
    pairs = []
    for output, measured in seen.items():
        for one, other, there in zip(base.edges_of(output), moved.edges_of(output), measured, strict=False):
            if one.at_us != other.at_us and one.on == there.on:
                pairs.append((one.at_us, there.at_us))
    return min(pairs, default=None)


def _in_range(target: Target, name: str, dials_us: Mapping[str, int]) -> bool:
    scale = target.scales[name]
    slack_us = scale.step_q4_us / (1 << TIME_FRACTION_BITS) + EDGE_TOLERANCE.late_us
    slack_us += scale.high_us * target.clock_tolerance_ppm / 1e6
    return scale.low_us - slack_us <= dials_us[name] <= scale.high_us + slack_us


def _out_of_range(target: Target, name: str, found_us: int) -> str:
    scale = target.scales[name]
    covers = f"{exact_ms(scale.low_us)} to {exact_ms(scale.high_us)}"
    return f"The {name} time comes out as {exact_ms(found_us)}; its dial covers {covers}."


def _checks(
    target: Target,
    script: Script,
    dials_us: dict[str, int],
    predicted: Timeline,
    seen: Mapping[Output, tuple[Edge, ...]],
    capture: Capture,
) -> tuple[tuple[EdgeCheck, ...], int]:
    end_us = script.end_us or 0
    # The sample that shows the trigger, and the one that shows the edge.
    samples_us = -(-2 * capture.step_ns // 1000)
    early_us, late_us = EDGE_TOLERANCE.early_us + samples_us, EDGE_TOLERANCE.late_us + samples_us
    fast, slow = (
        run_script(paced_rig(target, pace, dials_us), paced_script(target, pace, script))
        for pace in paces(target.clock_tolerance_ppm)
    )
    checks: list[EdgeCheck] = []
    beyond = 0
    for output, measured in seen.items():
        expected = []
        for edge, first_us, last_us in _windows(predicted, fast, slow, output, target.clock_tolerance_ppm):
            check = EdgeCheck(
                output,
                edge.on,
                edge.at_us,
                None,
                round(edge.at_us - first_us + early_us),
                round(last_us - edge.at_us + late_us),
            )
            if edge.at_us + check.late_us > end_us:
                beyond += 1
            expected.append(check)
        checks += [
            check
            for check in _paired(expected, measured)
            if check.measured_us is not None or check.at_us + check.late_us <= end_us
        ]
    return tuple(sorted(checks, key=lambda check: check.at_us)), beyond


def _windows(
    predicted: Timeline, fast: Timeline, slow: Timeline, output: Output, clock_tolerance_ppm: int
) -> list[tuple[Edge, float, float]]:
    """Return each expected edge with the earliest and latest instant that the board's clock allows."""
    edges, firsts, lasts = predicted.edges_of(output), fast.edges_of(output), slow.edges_of(output)
    if len(edges) == len(firsts) == len(lasts):
        return [
            (edge, min(edge.at_us, first.at_us), max(edge.at_us, last.at_us))
            for edge, first, last in zip(edges, firsts, lasts, strict=True)
        ]
    # The clock decides which of two things comes first: no edge may then be further off than its share of the time.
    stray = clock_tolerance_ppm / 1e6
    return [(edge, edge.at_us * (1 - stray), edge.at_us * (1 + stray)) for edge in edges]


def _paired(expected: Sequence[EdgeCheck], measured: Sequence[Edge]) -> list[EdgeCheck]:
    """Pair expected and measured edges of one output: first those in time, then the nearest of the rest."""
    left, checks = list(measured), []
    waiting = []
    for check in expected:
        fits = next(
            (edge for edge in left if replace(check, measured_us=edge.at_us).passed and edge.on == check.on), None
        )
        if fits is None:
            waiting.append(check)
        else:
            left.remove(fits)
            checks.append(replace(check, measured_us=fits.at_us))
    for check in waiting:
        near = [edge for edge in left if edge.on == check.on and abs(edge.at_us - check.at_us) <= NEAR_US]
        nearest = min(near, key=lambda edge: abs(edge.at_us - check.at_us), default=None)
        if nearest is not None:
            left.remove(nearest)
        checks.append(replace(check, measured_us=None if nearest is None else nearest.at_us))
    return checks + [EdgeCheck(edge.output, edge.on, None, edge.at_us) for edge in left]
