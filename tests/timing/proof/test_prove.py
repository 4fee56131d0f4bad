"""What always holds, and that a table with one thing wrong does not get past."""

from __future__ import annotations

import itertools
import sys
from collections.abc import Callable
from functools import cache

import pytest

from tests.conftest import ROOT, gate_share
from tests.timing.proof.mutations import MUTATIONS, Mutation
from timing.design.design import Design
from timing.design.loading import load_design, parse_design
from timing.proof.prove import Verdict, prove
from timing.proof.rules import PROOF_RULES
from timing.sequence.core.engine import Timeline
from timing.sequence.core.filters import SupplyLevel
from timing.sequence.core.script import Switch
from timing.sequence.core.settings import specialise
from timing.sequence.core.table import Fault, Output, Phase
from timing.sequence.of_design import settings_of
from timing.sequence.script_text import parse_script, write_script
from timing.sequence.simulate import simulate

SPOT_STITCH = (ROOT / "examples" / "spot_stitch.toml").read_text()
SHOP = (ROOT / "examples" / "shop_two_step.toml").read_text()
FIELD = (ROOT / "examples" / "gasless_four_step.toml").read_text()


def with_(text: str, *changes: tuple[str, str]) -> str:
    for begins, line in changes:
        old = next(found for found in text.splitlines() if found.startswith(begins))
        text = text.replace(old, line, 1)
    return text


def test_every_rule_holds_on_every_example(example):
    proof = prove(load_design(example))
    assert [verdict.rule.name for verdict in proof.broken] == []
    assert [verdict.rule for verdict in proof.verdicts] == list(PROOF_RULES)
    assert all(verdict.combinations > 0 for verdict in proof.verdicts)


@pytest.mark.parametrize(
    "text",
    [
        pytest.param(with_(SPOT_STITCH, ("on_release", 'on_release = "complete"')), id="spots that complete"),
        pytest.param(
            with_(SPOT_STITCH, ("on_release", 'on_release = "complete"'), ("arc_start", ""), ("[arc_sensor]", ""))
            .replace('filter = "4 ms"', ""),
            id="spots that complete, without arc sensor",
        ),
        pytest.param(
            with_(
                SPOT_STITCH,
                ("mode", 'mode = "switch"'),
                ("preflow", 'preflow = "0 ms"'),
                ("burnback", 'burnback = { from = "0 ms", to = "100 ms", setting = "50 ms" }'),
                ("postflow", 'postflow = "0 ms"'),
            ),
            id="nothing but times that can be zero, and a mode switch beside spots",
        ),
        pytest.param(with_(FIELD, ("mode", 'mode = "four-step"')), id="four-step only"),
        pytest.param(with_(SHOP, ("weld", "")), id="two-step without weld limit"),
        pytest.param(
            with_(
                SPOT_STITCH,
                ("time", 'time = "1 ms"'),
                ("pause", 'pause = "1 ms"'),
                ("preflow", 'preflow = "0 ms"'),
                ("burnback", 'burnback = { from = "0 ms", to = "100 ms", setting = "50 ms" }'),
            ),
            id="times as short as a stall",
        ),
    ],
)  # fmt: skip
def test_every_rule_holds_on_designs_at_the_edge(text):
    assert [verdict.rule.name for verdict in prove(parse_design(text)).broken] == []


def test_two_proofs_of_one_design_are_the_same():
    design = parse_design(FIELD)
    assert prove(design) == prove(design)


@cache
def verdict_on(mutation: Mutation) -> Verdict:
    """Return what becomes of the rule that `mutation` is said to break."""
    design = mutation.design
    rule = next(rule for rule in PROOF_RULES if rule.name == mutation.rule)
    return prove(design, specialise(mutation.table, settings_of(design).fixed), [rule]).verdicts[0]


def on_at(timeline: Timeline, at_us: int) -> set[Output]:
    """Return what is on once all edges of an instant are done."""
    return {
        output
        for output in Output
        if any(from_us <= at_us < to_us for from_us, to_us in timeline.on_spans_us(output))
    }  # fmt: skip


def instants(timeline: Timeline) -> list[int]:
    """Return every instant at which something may differ from before, up to the end."""
    changed = {edge.at_us for edge in timeline.edges} | {change.at_us for change in timeline.phases}
    return sorted(changed - {timeline.end_us})


def raw_at(timeline: Timeline, what: str, at_us: int, before: int = 0) -> int:
    """Return how the script has one input at an instant."""
    return [before, *(change.value for change in timeline.changes if change.what == what and change.at_us <= at_us)][-1]


G, W, K = Output.GAS, Output.WIRE, Output.CONTACTOR


def contactor_alone(timeline: Timeline) -> bool:
    return any(on_at(timeline, at_us) & {G, K} == {K} for at_us in instants(timeline))


def one_without_the_other(timeline: Timeline) -> bool:
    phase_at = {change.at_us: change.phase for change in timeline.phases}
    return any(
        len(on_at(timeline, at_us) & {W, K}) == 1 and phase_at.get(at_us) not in (Phase.BURNBACK, Phase.INCH)
        for at_us in phase_at
        if at_us < timeline.end_us
    )


def on_in_a_fault(timeline: Timeline) -> bool:
    """Something is on once the last fault has passed its filter: 20 ms for the supply at most."""
    falls = [c.at_us for c in timeline.changes if (c.what, c.value) in {("interlock", 0), ("supply", 0)}]
    return bool(on_at(timeline, falls[-1] + 20_000))


def on_before_open(timeline: Timeline) -> bool:
    """From the dip on the inch button was pressed until something was on."""
    dip_us = next(change.at_us for change in timeline.changes if change.what == "supply")
    last_us = max(edge.at_us for edge in timeline.edges if edge.on)
    held = [raw_at(timeline, button, last_us - 20_000) for button in ("trigger", "purge", "inch")]
    return last_us > dip_us and any(held)


def leaves_hold_off_early(timeline: Timeline) -> bool:
    """Hold-off ends less than 500 ms and 50 ms after its first pass, or after the last fault was gone."""
    idle_us = [change.at_us for change in timeline.phases if change.phase is Phase.IDLE and change.at_us][-1]
    held_us = [change.at_us for change in timeline.phases if change.phase is Phase.HOLD_OFF]
    gone_us = [c.at_us for c in timeline.changes if (c.what, c.value) in {("interlock", 1), ("supply", 1)}]
    # At power-up, with nothing changing, the engine's first pass is that at which the time could be over.
    first_us = 500_000 if held_us == [0] else 0
    return idle_us - max(*held_us, *gone_us, first_us) < 550_000


def starts(timeline: Timeline) -> list[int]:
    """Return the instants at which a weld starts."""
    wire = timeline.on_spans_us(W)
    return [from_us for from_us, _ in wire if K in on_at(timeline, from_us)]


def starts_on_a_broken_dial(timeline: Timeline) -> bool:
    return any(raw_at(timeline, "dial_fault", at_us) for at_us in starts(timeline))


def burnbacks(timeline: Timeline) -> list[tuple[int, int]]:
    """Return from when to when the contactor is on alone after each weld; where it is never alone, no time at all."""
    wire, contactor = timeline.on_spans_us(W), timeline.on_spans_us(K)
    return [(wire_off, off) for on, off in contactor for wire_on, wire_off in wire if on <= wire_on <= off]


def phase_pairs(timeline: Timeline) -> list[tuple[Phase, Phase]]:
    """Return each phase with the one that follows it."""
    return [(one.phase, other.phase) for one, other in itertools.pairwise(timeline.phases)]


def contactor_without_press(filter_us: int, burnback_us: int) -> Callable[[Timeline], bool]:
    """A contactor that comes on with the trigger open for a filter time, or for the nth time after n - 1 presses; or
    one that is still on a burnback after the release."""

    def shows(timeline: Timeline) -> bool:
        on_us = [from_us for from_us, _ in timeline.on_spans_us(K)]
        presses = sum(change.what == "trigger" and change.value for change in timeline.changes)
        opened_us = max((c.at_us for c in timeline.changes if c.what == "trigger" and not c.value), default=None)
        late = opened_us is not None and K in on_at(timeline, opened_us + filter_us + burnback_us + 1_000)
        return late or len(on_us) > presses or any(not raw_at(timeline, "trigger", at - filter_us) for at in on_us)

    return shows


def fault_shown(timeline: Timeline, until_us: int = sys.maxsize) -> bool:
    limits = (Fault.WELD_LIMIT, Fault.ARC_START)
    return any(change.fault in limits for change in timeline.phases if change.at_us <= until_us)


def moved(timeline: Timeline, what: str) -> list[tuple[int, int]]:
    """Return the instants at which the script moves one input, and what to."""
    return [(change.at_us, change.value) for change in timeline.changes if change.what == what]


def idle_us(timeline: Timeline) -> int:
    """Return the instant at which the last hold-off ended."""
    return [
        after.at_us
        for before, after in itertools.pairwise(timeline.phases)
        if (before.phase, after.phase) == (Phase.HOLD_OFF, Phase.IDLE)
    ][-1]


def arc_is_on_from_before(timeline: Timeline, at_us: int) -> bool:
    """The arc sensor closed before an instant and has not opened since."""
    changes = [value for changed_us, value in moved(timeline, "arc") if changed_us < at_us]
    return bool(changes) and changes[-1] == 1 and not [at for at, value in moved(timeline, "arc") if at > at_us]


def overlooked_in(phase: Phase) -> Callable[[Timeline], bool]:
    """The arc sensor is closed to the end, in a phase with the contactor off."""
    return lambda t: t.phases[-1].phase is phase and moved(t, "arc")[-1][1] == 1 and K not in on_at(t, t.end_us - 1)


def contactor_on_us(timeline: Timeline) -> int:
    """Return for how long the contactor is on after the trigger was let go for good, at the least."""
    released_us = max(at_us for at_us, value in moved(timeline, "trigger") if not value)
    return max((to_us - released_us for _, to_us in timeline.on_spans_us(K)), default=0)


SHOWS: dict[str, Callable[[Timeline], bool]] = {
    "weld without gas": contactor_alone,
    "burnback without gas": contactor_alone,
    "contactor on in postflow": one_without_the_other,
    "wire runs ahead in preflow": one_without_the_other,
    "low supply overlooked in a weld": on_in_a_fault,
    "interlock overlooked in burnback": on_in_a_fault,
    "idle goes round and round": lambda t: t.phases[-1].fault is Fault.STATE,
    "hold-off ends with a button pressed": on_before_open,
    "hold-off overlooks the inch button": on_before_open,
    "open only for a moment": leaves_hold_off_early,
    "a second dip does not count": leaves_hold_off_early,
    "open counts before the supply has settled": leaves_hold_off_early,
    "a held trigger welds again after postflow": contactor_without_press(12_000, 55_000),
    "a release does not take the press back": contactor_without_press(25_000, 130_000),
    "preflow runs on without the trigger": contactor_without_press(25_000, 130_000),
    "a stitch after the release": contactor_without_press(12_000, 55_000),
    "a press in postflow, a dial broken": starts_on_a_broken_dial,
    "stitches go on with a broken dial": starts_on_a_broken_dial,
    "purge without limit": lambda t: t.end_us - t.phases[-1].at_us > 30_000_000 and t.phases[-1].phase is Phase.PURGE,
    "stitches without weld limit": lambda t: (
        on_at(t, starts(t)[0] + 90_000_000) == {G} and not fault_shown(t, starts(t)[0] + 90_000_000)
    ),
    "no arc-start limit": lambda t: W in on_at(t, starts(t)[0] + 2_000_000) and not fault_shown(t),
    "a press lengthens burnback": lambda t: sum(c.what == "trigger" for c in t.changes) >= 3,
    "each stitch starts the weld limit anew": lambda t: Phase.PAUSE in [change.phase for change in t.phases],
    "the mode switch counts in preflow": lambda t: [c.value for c in t.changes if c.what == "four_step"] == [1, 0],
    "stitch is latched in the middle": lambda t: (Switch("pause"), 0) in [(c.what, c.value) for c in t.changes],
    "a release is not heard": lambda t: W in on_at(t, t.end_us - 1) and not raw_at(t, "trigger", t.end_us - 100_000),
    "a release does not end a spot": lambda t: (
        W in on_at(t, t.end_us - 1) and not raw_at(t, "trigger", t.end_us - 100_000)
    ),
    "a second press is not heard": lambda t: (
        W in on_at(t, t.end_us - 1) and sum(c.what == "trigger" and c.value for c in t.changes) == 2
    ),
    "inch runs on": lambda t: on_at(t, t.end_us - 1) == {W} and not raw_at(t, "inch", t.end_us - 100_000),
    "purge runs on": lambda t: on_at(t, t.end_us - 1) == {G} and not raw_at(t, "purge", t.end_us - 100_000),
    "the arc of the weld before counts": lambda t: (
        len(starts(t)) > 1 and all(at_us < starts(t)[-1] for at_us, on in moved(t, "arc") if on)
    ),
    "pause comes before its time": lambda t: min(to_us - from_us for from_us, to_us in burnbacks(t)) < 55_000,
    "a spot ends in postflow": lambda t: (Phase.WELD, Phase.POSTFLOW) in phase_pairs(t),
    "no burnback at all": lambda t: min(to_us - from_us for from_us, to_us in burnbacks(t)) < 130_000,
    "gas stops with the release": lambda t: t.on_spans_us(G)[-1][1] - t.on_spans_us(K)[-1][1] < 1_000_000,
    "the weld limit counts from another weld": lambda t: bool(starts(t)),
    "burnback never ends": lambda t: t.phases[-1].phase is Phase.BURNBACK,
    "stitches go on after a limit": lambda t: fault_shown(t) and t.phases[-1].phase is Phase.WELD,
    "a press in postflow after a limit": lambda t: fault_shown(t) and t.phases[-1].phase is Phase.WELD,
    "a limit that is not shown": lambda t: t.phases[-1].phase is Phase.BURNBACK and not fault_shown(t),
    "a supply between low and good is good enough": lambda t: (
        moved(t, "supply")[-1][1] == SupplyLevel.BETWEEN and t.phases[-1].phase is Phase.IDLE
    ),
    "hold-off ends while an arc stays": lambda t: idle_us(t) - moved(t, "arc")[-1][0] < 500_000,
    "stitches go on after the press that stopped a spot": lambda t: (
        [value for _, value in moved(t, "trigger")] == [1, 0, 1] and len(starts(t)) == 2
    ),
    "the spot dial counts again when the arc comes": lambda t: (
        t.on_spans_us(W)[0][1] - moved(t, "arc")[0][0] < 10_000 and [v for _, v in moved(t, "trigger")] == [1]
    ),
    "an inch latches the mode": lambda t: {change.what for change in t.changes} == {"four_step", "inch"},
    "a press in postflow latches nothing": lambda t: (
        moved(t, "four_step")[-1][0] > starts(t)[0] and t.phases[-2].phase is Phase.POSTFLOW
    ),
    "a sensor that is stuck closed counts": lambda t: arc_is_on_from_before(t, starts(t)[-1]),
    "an open sensor counts from the weld before": lambda t: arc_is_on_from_before(t, starts(t)[-1]),
    "an arc that stays is overlooked in idle": overlooked_in(Phase.IDLE),
    "an arc that stays is overlooked in a purge": overlooked_in(Phase.PURGE),
    "an arc that stays is not shown": lambda t: (
        (t.phases[-2].phase, t.phases[-1].phase, t.phases[-1].fault) == (Phase.POSTFLOW, Phase.HOLD_OFF, Fault.NONE)
    ),
    "a press does not end a completing spot": lambda t: (
        [value for _, value in moved(t, "trigger")] == [1, 0, 1] and W in on_at(t, t.end_us - 1)
    ),
    "a spot completes that was never struck": lambda t: (
        not moved(t, "arc") and not raw_at(t, "trigger", t.end_us - 100_000) and W in on_at(t, t.end_us - 1)
    ),
    "burnback counts from the release": lambda t: t.phases[-1].phase is Phase.BURNBACK,
    "burnback lasts as long as postflow": lambda t: contactor_on_us(t) > 25_000,
    "a spot completes that should end": lambda t: contactor_on_us(t) > 12_000 + 55_000 and t.end_us < 1_000_000,
    "postflow never ends": lambda t: t.end_us - t.phases[-1].at_us > 60_000_000 and on_at(t, t.end_us - 1) == {G},
    "four-step without weld limit": lambda t: W in on_at(t, t.end_us - 1) and t.end_us > 240_000_000,
}
"""What each mutation's script must show, judged from the edges of its timeline alone."""


def longer(text: str, **times_us: int) -> Design:
    """Return a design whose times are longer than a file may say."""
    design = parse_design(text)
    if "burnback" in times_us:
        dial = design.times.burnback.model_copy(update={"to_us": times_us["burnback"]})
        return design.model_copy(update={"times": design.times.model_copy(update={"burnback": dial})})
    assert design.spot is not None
    dial = design.spot.time.model_copy(update={"to_us": times_us["spot"]})
    return design.model_copy(update={"spot": design.spot.model_copy(update={"time": dial})})


COMPLETING = with_(SPOT_STITCH, ("on_release", 'on_release = "complete"'))


@pytest.mark.parametrize(
    ("design", "broken"),
    [
        (longer(SHOP, burnback=2_000_000), []),
        (longer(SHOP, burnback=2_000_001), ["contactor-off-when-open"]),
        (longer(COMPLETING, spot=10_000_000), []),
        (longer(COMPLETING, spot=10_000_001), ["completing-spots-end"]),
        (longer(SPOT_STITCH, spot=60_000_000), []),
    ],
)
def test_times_with_the_trigger_open_are_bounded(design, broken):
    rules = [rule for rule in PROOF_RULES if rule.name in ("contactor-off-when-open", "completing-spots-end")]
    assert [verdict.rule.name for verdict in prove(design, rules=rules).broken] == broken


@pytest.mark.parametrize("mutation", gate_share(MUTATIONS, 2), ids=lambda mutation: mutation.what)
def test_a_wrong_table_is_caught_with_a_script_that_shows_it(mutation):
    verdict = verdict_on(mutation)
    assert not verdict.holds
    assert verdict.phases
    shown = verdict.counterexample
    assert shown is not None
    assert parse_script(write_script(shown.script)) == shown.script
    assert SHOWS[mutation.what](shown.timeline), write_script(shown.script)


def test_each_rule_has_a_mutation():
    assert {mutation.rule for mutation in MUTATIONS} == {rule.name for rule in PROOF_RULES}
    assert {mutation.what for mutation in MUTATIONS} == set(SHOWS)


@pytest.mark.parametrize("mutation", MUTATIONS[::5], ids=lambda mutation: mutation.what)
def test_a_script_changes_only_what_the_design_has(mutation):
    design = mutation.design
    shown = verdict_on(mutation).counterexample
    assert shown is not None
    # Raises where the script moves what is not there; on the sound table it runs to its end all the same.
    assert simulate(design, shown.script, settled=shown.settled).end_us == shown.timeline.end_us
