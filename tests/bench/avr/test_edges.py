"""The firmware's edges, executed as AVR code, are the model's."""

from __future__ import annotations

import itertools
import random

import pytest

from tests.conftest import EXAMPLES, SOAK, gate_share
from timing.sequence.core import filters
from timing.sequence.core.engine import Edge
from timing.sequence.core.script import Change, Dial, Script, Switch
from timing.sequence.core.table import Output, Phase
from timing.sequence.simulate import simulate

pytestmark = pytest.mark.debian("gcc", "avr-gcc", "arduino-core", "simavr")

SCRIPTS = 1_000 if SOAK else 70
SHORTEST_US, LONGEST_US = 300_000, 1_000_000
TOLERANCE_US = 250
BOOT_US = 700_000
CLOCK_RANGE = 1 << 32
# How much later than the model a board may see what happens at its pins: a pass, and a round of its converter.
PASS_US = 80
ROUND_US = 2_000
# How much earlier or later than usual a contact of the panel may count.
LOOK_US = filters.PANEL_LONGEST_US - filters.PANEL_USUAL_US + PASS_US


def random_script(rig, rng):
    """Return presses, buttons, switches and dials at random, dials at their fast ends; None where one is razor's edge.

    A script whose outcome hangs on the order of two events that are less than a pass apart tells nothing: the model
    decides them the one way and a board may decide them the other. Such a script changes when closings or openings
    come a pass later, or dials a round of the converter later.
    """
    contacts = ["trigger"] * 6 + [name for name in ("purge", "inch") if name in rig.target.fitted]
    contacts += ["four_step"] if "four_step" in rig.target.fitted else []
    contacts += [Switch(name) for name in rig.target.rig.switches if f"{name}_switch" in rig.target.fitted]
    standing = {name: int(isinstance(name, Switch)) for name in contacts}
    changes = [dial_change(rig, name, 0, rng) for name in rig.target.scales]
    at_us, end_us = 10_000, rng.randrange(SHORTEST_US, LONGEST_US + 1)
    while (at_us := at_us + rng.randrange(5_000, 140_000)) < end_us - 100_000:
        if rng.random() < 0.1 and rig.target.scales:
            changes.append(dial_change(rig, rng.choice(list(rig.target.scales)), at_us, rng))
        else:
            name = rng.choice(contacts)
            standing[name] = 1 - standing[name]
            changes.append(Change(at_us, name, standing[name]))
    if "arc" in rig.target.fitted:
        changes = with_arcs(rig, changes, end_us, rng)
    script = Script(tuple(changes), end_us)
    wanted = simulate(rig.design, script).edges
    delays = [
        (0, 0, ROUND_US, -LOOK_US),
        (PASS_US, PASS_US, 0, LOOK_US),
        (PASS_US, 0, ROUND_US, LOOK_US),
        (0, PASS_US, 0, -LOOK_US),
    ]
    alike = (simulate(rig.design, delayed(script, *each)).edges for each in delays)
    return script if all(agree(wanted, other, 2 * PASS_US + 1) for other in alike) else None


def with_arcs(rig, changes, end_us, rng):
    """Let arcs strike with the contactor, and go out with it or a little late; sometimes one comes on its own."""
    spans = list(simulate(rig.design, Script(tuple(changes), end_us)).on_spans_us(Output.CONTACTOR))
    if rng.random() < 0.2:
        alone_us = rng.randrange(end_us)
        spans.append((alone_us, alone_us + rng.randrange(100_000)))
    for on_us, off_us in spans:
        struck_us = on_us + rng.randrange(1_000, 80_000)
        out_us = off_us + rng.randrange(-20_000, 15_000)
        if struck_us < out_us < end_us:
            changes += [Change(struck_us, "arc", 1), Change(out_us, "arc", 0)]
    return sorted(changes, key=lambda change: change.at_us)


def dial_change(rig, name, at_us, rng):
    scale = rig.target.scales[name]
    counts = rng.randrange(scale.low_counts - 5, scale.low_counts + 60)
    return Change(at_us, Dial(name), scale.time_us(counts))


def delayed(script, closing_us, opening_us, dials_us, look_us):
    """Let closings, openings and dials come later, each by its own time, so that pulses get longer and shorter."""

    def later_us(change):
        if filters.is_looked_at(change.what):
            return look_us
        return dials_us if isinstance(change.what, Dial) else closing_us if change.value else opening_us

    moved = [Change(max(each.at_us + later_us(each), 0), each.what, each.value) for each in script.changes]
    return Script(tuple(sorted(moved, key=lambda change: change.at_us)), script.end_us)


def agree(some, others, tolerance_us):
    return len(some) == len(others) and all(
        (a.output, a.on) == (b.output, b.on) and abs(a.at_us - b.at_us) <= tolerance_us
        for a, b in zip(ordered(some), ordered(others), strict=True)
    )


def ordered(edges):
    return sorted(edges, key=lambda edge: (edge.output.value, edge.at_us))


def wired(rig, edges):
    return [edge for edge in edges if edge.output is not Output.GAS or "gas_valve" in rig.target.fitted]


def cues(rig, script, offset_us):
    return sorted(_cues(rig, script, offset_us), key=lambda cue: cue.cycle)


def _cues(rig, script, offset_us):
    for change in script.changes:
        dial = change.what if isinstance(change.what, Dial) else None
        counts = {dial.name: rig.target.scales[dial.name].counts_for(change.value)} if dial else {}
        yield rig.wiring.change(change, counts, offset_us)
    yield rig.end(offset_us + script.end_us)


def zero_phases(rig):
    """Phases that a pass goes straight through, so that no timeline shows them."""
    return {phase for phase in Phase if rig.target.rig.times_us.get(phase.word) == 0}


def errors_us(wanted, got):
    return [b.at_us - a.at_us for a, b in zip(ordered(wanted), ordered(got), strict=True)]


def check(rig, boot, scripts, offsets_us):
    runs = rig.simulator.run_each(
        boot, [list(cues(rig, script, offset_us)) for script, offset_us in zip(scripts, offsets_us, strict=True)]
    )
    worst_us = edges = 0
    for script, offset_us, events in zip(scripts, offsets_us, runs, strict=True):
        wanted = wired(rig, simulate(rig.design, script).edges)
        got = rig.wiring.edges(events, offset_us)
        assert agree(wanted, got, TOLERANCE_US), f"{script}\nmodel {wanted}\nboard {got}"
        edges += len(got)
        worst_us = max([worst_us, *map(abs, errors_us(wanted, got))])
    return edges, worst_us


def some_scripts(rig, seed, count):
    rng = random.Random(seed)
    found = []
    while len(found) < count:
        script = random_script(rig, rng)
        if script is not None:
            found.append(script)
    return found


@pytest.mark.parametrize("example", gate_share(EXAMPLES, 3, first=0), ids=lambda path: path.stem)
def test_edges_of_random_scripts_are_those_of_the_model(rig):
    scripts = some_scripts(rig, 1, SCRIPTS)
    rng = random.Random(2)
    # Scripts begin anywhere within a pass.
    offsets_us = [BOOT_US + rng.randrange(1, 1_000) for _ in scripts]
    edges, worst_us = check(rig, rig.boot(), scripts, offsets_us)
    print(f"{rig.design.name}: {edges} edges, the worst {worst_us} us off")
    # Scripts that never get anywhere would agree, too.
    assert edges > 4 * SCRIPTS
    phases = {change.phase for script in scripts for change in simulate(rig.design, script).phases}
    assert phases >= {Phase.IDLE, Phase.WELD, Phase.BURNBACK, Phase.POSTFLOW} - zero_phases(rig)


def chopped(rig, script, rng):
    """Let the trigger conduct in pulses, as an ac circuit does behind its optocoupler, some of them missing."""
    line_us = round(1_000_000 / rig.design.supply.line_frequency_hz)
    period_us = line_us if rig.design.trigger.optocoupler == "single" else line_us // 2
    presses = [change for change in script.changes if change.what == "trigger"] + [Change(script.end_us, "trigger", 0)]
    changes = [change for change in script.changes if change.what != "trigger"]
    for press, release in itertools.pairwise(presses):
        if press.value:
            for at_us in range(press.at_us + rng.randrange(period_us), release.at_us - line_us // 2, period_us):
                if rng.random() < 0.95:
                    changes += [Change(at_us, "trigger", 1), Change(at_us + line_us // 3, "trigger", 0)]
    return Script(tuple(sorted(changes, key=lambda change: change.at_us)), script.end_us)


def test_edges_behind_an_ac_sense_are_those_of_the_model(ac_rig):
    rig = ac_rig
    rng = random.Random(5)
    scripts = [chopped(rig, script, rng) for script in some_scripts(rig, 6, 8)]
    edges, _ = check(rig, rig.boot(), scripts, [BOOT_US + 1] * len(scripts))
    assert edges > 10


def timer_cues(rig, clock_us, at_us):
    """Preset the core's counters, from which micros() and millis() are computed, so that the clock shows `clock_us`.

    The core counts overflows of a timer that ticks every 4 us and overflows after 256 ticks.
    """
    places = rig.symbols()
    overflows = (clock_us // 1_024).to_bytes(4, "little")
    millis = (((clock_us // 1_000) - CLOCK_RANGE // 1_000) % CLOCK_RANGE).to_bytes(4, "little")
    return [
        rig.wiring.memory(places["timer0_overflow_count"], overflows, at_us),
        rig.wiring.memory(places["timer0_millis"], millis, at_us),
    ]


@pytest.mark.parametrize("before_us", [150_000, 400_000])
def test_edges_stay_right_while_both_clocks_wrap_in_mid_weld(rig, before_us):
    scripts = some_scripts(rig, before_us, 10)
    boot = rig.wiring.quiet(rig.counts())
    # Set at power-up, so that hold-off runs on the same clock; both counters wrap `before_us` into the script.
    boot += timer_cues(rig, CLOCK_RANGE - BOOT_US - before_us + 1_000, 1_000)
    boot.append(rig.wiring.contact("trigger", False, BOOT_US))
    edges, _ = check(rig, boot, scripts, [BOOT_US + 1] * len(scripts))
    assert edges > 20


def test_a_script_that_is_shifted_by_more_than_the_tolerance_is_told_apart():
    edge = Edge(1_000, Output.GAS, True)
    assert agree([edge], [Edge(1_250, Output.GAS, True)], TOLERANCE_US)
    assert not agree([edge], [Edge(1_251, Output.GAS, True)], TOLERANCE_US)
    assert not agree([edge], [Edge(1_000, Output.WIRE, True)], TOLERANCE_US)
    assert not agree([edge], [], TOLERANCE_US)
