"""The table as one design sees it does the same as the whole table, with less."""

from __future__ import annotations

from hypothesis import given
from hypothesis import strategies as st

from tests.conftest import EXAMPLES
from timing.design.loading import load_design
from timing.sequence.core.columns import Condition
from timing.sequence.core.scan import Inputs, State, step
from timing.sequence.core.settings import specialise
from timing.sequence.core.table import TABLE, Guard, Phase
from timing.sequence.simulate import rig_of

RIGS = [rig_of(load_design(path)) for path in EXAMPLES]


def weld_exits(fixed: dict[Condition, bool]) -> list[tuple[Guard, ...]]:
    return [way.when for way in specialise(TABLE, fixed)[Phase.WELD].transitions if way.to is Phase.BURNBACK]


def test_a_question_that_decides_nothing_is_not_asked():
    fixed = dict.fromkeys((Condition.FOUR_STEP, Condition.COMPLETES, Condition.WELD_LIMIT_OVER), False)
    fixed[Condition.ARC_ESTABLISHED] = True
    assert weld_exits(fixed) == [
        (Guard(Condition.TRIGGER_CLOSED, wanted=False),),
        (Guard(Condition.SPOT), Guard(Condition.TIME_OVER)),
    ]


def test_phases_that_cannot_be_entered_are_left_out():
    gasless = next(rig for rig in RIGS if "spot" not in rig.times_us and rig.four_step is not None)
    assert Phase.PAUSE not in gasless.table
    assert Phase.WELD in gasless.table


booleans = st.booleans()


@given(
    st.sampled_from(RIGS),
    st.sampled_from(list(Phase)),
    st.lists(booleans, min_size=23, max_size=23),
    st.sampled_from([0, 10_000, 10**9]),
)
def test_the_specialised_table_does_the_same_as_the_whole(rig, phase, bits, now_us):
    fixed, settings = rig.settings.fixed, rig.settings
    if phase not in rig.table:
        return
    draw = iter(bits)

    def free(condition: Condition) -> bool:
        return fixed.get(condition, next(draw))

    inputs = Inputs(
        trigger=free(Condition.TRIGGER_CLOSED),
        purge=free(Condition.PURGE_CLOSED),
        inch=free(Condition.INCH_CLOSED),
        arc=free(Condition.ARC_SEEN),
        interlock_open=free(Condition.INTERLOCK_OPEN),
        supply_low=free(Condition.SUPPLY_LOW),
        supply_poor=free(Condition.SUPPLY_POOR),
        dial_fault=free(Condition.DIAL_FAULT),
        four_step=free(Condition.FOUR_STEP),
        spot=free(Condition.SPOT),
        stitch=free(Condition.STITCH),
        preflow_us=5_000,
        spot_us=5_000,
        burnback_us=5_000,
        postflow_us=5_000,
        pause_us=5_000,
    )
    state = State(
        phase=phase,
        duration_us=5_000,
        four_step=free(Condition.FOUR_STEP),
        spot=free(Condition.SPOT),
        stitch=free(Condition.STITCH),
        arc_established=free(Condition.ARC_ESTABLISHED),
        arc_seen_open=free(Condition.ARC_SEEN_OPEN),
        let_go=free(Condition.LET_GO),
        pressed_again=next(draw),
        limited=free(Condition.LIMITED),
        settled=next(draw),
        trigger_was=next(draw),
    )
    whole, own = state.copy(), state.copy()
    assert step(TABLE, settings, whole, inputs, now_us) == step(rig.table, settings, own, inputs, now_us)
    assert whole == own
