"""The walk leaves nothing out: compared with brute force, and with what runs of the engine visit."""

from __future__ import annotations

import itertools
from dataclasses import astuple
from functools import cache

import pytest
from hypothesis import given
from hypothesis import strategies as st

from tests.conftest import EXAMPLES, ROOT, gate_share
from tests.support.finer_passes import finer
from timing.design.loading import load_design
from timing.proof.counterexample import steps_of
from timing.proof.exploration import INPUT_FIELDS, NOT_ASKED, STATE_FIELDS, Figures, StateEdge, Walk, figures, walk
from timing.proof.state_space import KEPT_FIELDS, NOW_US, AbstractState, Outcome, StateSpace, state_space_of
from timing.proof.step import Over, all_ways
from timing.sequence.core.scan import Inputs, State, step
from timing.sequence.core.script import Change, Dial, Script, Switch
from timing.sequence.simulate import rig_of

NAMES = [path.stem for path in EXAMPLES]


@cache
def world(name: str) -> StateSpace:
    return state_space_of(load_design(ROOT / "examples" / f"{name}.toml"))


@cache
def walked(name: str) -> Walk:
    return walk(world(name))


def brute_force(world: StateSpace) -> tuple[set, int]:
    """Take every pass with every combination of inputs, by the plain interpreter; return situations and passes."""
    all_inputs = [
        Inputs(**dict(zip(world.choices, values, strict=True))) for values in itertools.product(*world.choices.values())
    ]
    found, passes = set(), 0
    waiting = [world.at_rest(), world.power_up(), *world.corrupt()]
    while waiting:
        situation = waiting.pop()
        if situation in found:
            continue
        found.add(situation)
        for outcome, inputs in itertools.product(world.outcomes(situation), all_inputs):
            state = world.state(situation, outcome)
            step(world.rig.table, world.rig.settings, state, inputs, NOW_US)
            waiting.append(world.situation(state, timers(world, state)))
            passes += 1
    return found, passes


def timers(world: StateSpace, state: State) -> Over:
    """Return which timers have run out at the end of a pass."""
    settings = world.rig.settings

    def over(since_us: int, limit_us: int | None) -> bool:
        return limit_us is not None and NOW_US - since_us >= limit_us

    return Over(
        over(state.since_us, state.duration_us),
        over(state.weld_since_us, settings.weld_limit_us),
        over(state.since_us, settings.arc_limit_us),
        over(state.contactor_on_us, settings.arc_end_us),
    )


class AllLive(StateSpace):
    """A world that tells situations apart by every flag, whether it can matter or not."""

    @property
    def live(self) -> dict[int, tuple[bool, ...]]:
        return {phase: (True,) * len(KEPT_FIELDS) for phase in self.rig.table}


@pytest.mark.parametrize("name", ["gasless_four_step", "shop_two_step"])
def test_what_cannot_matter_does_not_matter(name):
    """Walked with every flag kept apart, the same situations come about, and the same passes from each of them."""
    here = walked(name)
    whole = walk(AllLive(here.world.design, here.world.rig))
    assert len(whole.edges) > len(here.edges)
    found: dict[AbstractState, list[set]] = {}
    for situation, edges in whole.edges.items():
        state = here.world.state(situation, Outcome(None, False, False, False))
        told = [
            (edge.outcome, frozenset(edge.answers.items()), edge.step.path, edge.step.outputs, masked(here.world, edge))
            for edge in edges
        ]
        found.setdefault(here.world.situation(state, situation.over), []).append(set(told))
    assert found.keys() == here.edges.keys()
    for situation, edges in here.edges.items():
        wanted = {(e.outcome, frozenset(e.answers.items()), e.step.path, e.step.outputs, e.to) for e in edges}
        assert all(told == wanted for told in found[situation])


def masked(world: StateSpace, edge: StateEdge) -> AbstractState:
    return world.situation(edge.step.after, edge.step.over_after)


@pytest.mark.parametrize("name", ["gasless_four_step", "shop_two_step"])
def test_asking_only_what_matters_finds_what_brute_force_finds(name):
    situations, passes = brute_force(world(name))
    assert set(walked(name).edges) == situations
    assert walked(name).total == passes


@pytest.mark.parametrize("name", NAMES)
def test_the_ways_of_a_situation_exclude_each_other_and_cover_all_inputs(name):
    here = walked(name)
    for situation, edges in here.edges.items():
        covered = 0
        for edge in edges:
            weight = 1
            for field, values in here.world.choices.items():
                weight *= 1 if field in edge.answers else len(values)
            covered += weight
        assert covered == here.combinations(situation)


def test_every_way_of_answering_is_gone_once():
    choices = {"a": (0, 1), "b": (0, 1, 2), "c": (5, 6)}

    def run(questions):
        # b decides only where a is 1, c only where b is 2.
        return questions.a and (questions.b, questions.c if questions.b == 2 else None)

    ways = list(all_ways(run, choices, {}))
    assert [answers for answers, _ in ways] == [
        {"a": 0},
        {"a": 1, "b": 0},
        {"a": 1, "b": 2, "c": 5},
        {"a": 1, "b": 2, "c": 6},
        {"a": 1, "b": 1},
    ]
    assert [result for _, result in ways][2:4] == [(2, 5), (2, 6)]


MOVES = ["trigger", "trigger", "trigger", "purge", "inch", "arc", "interlock", "supply", "four_step", "dial_fault"]
GAPS_US = [1, 1_000, 15_000, 26_000, 60_000, 300_000, 650_000, 2_000_000, 100_000_000]


@st.composite
def scripts(draw: st.DrawFn, name: str) -> Script:
    rig = rig_of(world(name).design)
    dialled = [Dial(time) for time in rig.times_us if world(name).design.setting(time).dial]
    switched = [Switch(time) for time in rig.times_us if world(name).design.setting(time).off_switch]
    fitted = [what for what in MOVES if what in FITTED[name]]
    at_us, changes = 0, []
    for _ in range(draw(st.integers(1, 25))):
        at_us += draw(st.sampled_from(GAPS_US))
        what = draw(st.sampled_from([*fitted, *fitted, *dialled, *switched]))
        if isinstance(what, Dial):
            setting = world(name).design.setting(what.name)
            value = draw(st.sampled_from([setting.low_us, setting.setting_us, setting.high_us]))
        else:
            value = draw(st.integers(0, 2 if what == "supply" else 1))
        changes.append(Change(at_us, what, value))
    return Script(tuple(changes), at_us + 5_000_000)


def _fitted(name: str) -> set[str]:
    """Return what the script may move: contacts that the walk has a choice for."""
    called = {"interlock_open": "interlock", "supply_low": "supply", "supply_poor": "supply"}
    return {called.get(what, what) for what, values in world(name).choices.items() if len(values) > 1}


FITTED = {name: _fitted(name) for name in NAMES}


@pytest.mark.parametrize("name", gate_share(NAMES, 3, first=1))
@given(data=st.data(), settled=st.booleans())
def test_what_a_run_of_the_engine_visits_was_walked(name, data, settled):
    visited = {situation.kept for situation in walked(name).edges}
    for passed in steps_of(world(name).rig, data.draw(scripts(name)), settled=settled):
        assert world(name).kept_of(passed.after) in visited


@pytest.mark.parametrize("name", gate_share(NAMES, 3, first=2))
@given(data=st.data())
def test_each_pass_of_a_run_is_a_pass_of_the_walk(name, data):
    here = walked(name)
    walked_passes = {
        (situation.kept, edge.step.over.time, edge.step.path, edge.step.outputs)
        for situation, edges in here.edges.items()
        for edge in edges
    }
    for passed in steps_of(here.world.rig, data.draw(scripts(name)), settled=True):
        cared = here.world.cares[passed.before.phase].time
        kept = here.world.kept_of(passed.before)
        assert (kept, cared and passed.over.time, passed.path, passed.outputs) in walked_passes


def as_state(before: Figures) -> State:
    """The state before the pass, instants unwrapped."""
    values = {field: int(value) for field, value in zip(STATE_FIELDS, before, strict=True)}
    for field in ("since_us", "weld_since_us", "contactor_on_us"):
        values[field] = NOW_US - (NOW_US - values[field]) % 2**32
    return State(**values)


@pytest.mark.parametrize("name", NAMES)
@pytest.mark.parametrize("finely", [False, True], ids=["as walked", "finer"])
def test_every_pass_is_handed_out_in_figures(name, finely):
    """Any combination of the inputs that a pass does not ask for gives what the figures say."""
    here = finer(walked(name)) if finely else walked(name)
    rig, count = here.world.rig, 0
    choices = [here.world.choices[name] for name in INPUT_FIELDS]
    for block in figures(here):
        count += block.combinations
        for row in range(0, len(block.outputs), 7):
            asked = block.inputs[row]
            ways = [values if one == NOT_ASKED else (int(one),) for one, values in zip(asked, choices, strict=True)]
            every = list(itertools.product(*ways))
            inputs = Inputs(**dict(zip(INPUT_FIELDS, every[row * 31 % len(every)], strict=True)))
            state = as_state(block.before[row])
            assert step(rig.table, rig.settings, state, inputs, NOW_US) == block.outputs[row]
            assert [int(value) % 2**32 for value in astuple(state)] == block.after[row].tolist()
    assert finely or count == here.total
