"""Two readings of one table: the plain interpreter and the `transitions` machine never differ."""

from __future__ import annotations

import json

import pytest
from click.testing import CliRunner
from hypothesis import given, settings
from hypothesis import strategies as st

from bench.random_scripts import random_scripts
from tests.conftest import ROOT
from timing.design.loading import load_design
from timing.project import Project
from timing.protocol.target_of_design import target_of
from timing.sequence.core.engine import run_script
from timing.sequence.core.scan import Inputs, start, step
from timing.sequence.core.settings import Settings
from timing.sequence.core.table import TABLE, Phase
from timing.sequence.script_text import parse_script
from timing.sequence.simulate import rig_of, simulate, usual_script
from timing.sequence.transitions_engine import ReferenceMachine, TransitionsScan
from wirecue.commands.simulate import command
from wirecue.projects import load_board

times = st.sampled_from([0, 1_000, 5_000, 40_000])
inputs = st.builds(
    Inputs,
    **dict.fromkeys(
        ("trigger", "purge", "inch", "arc", "four_step", "spot", "stitch"),
        st.booleans(),
    ),
    **dict.fromkeys(
        ("interlock_open", "supply_low", "supply_poor", "dial_fault"), st.sampled_from([False] * 9 + [True])
    ),
    **dict.fromkeys(("preflow_us", "burnback_us", "postflow_us", "pause_us"), times),
    spot_us=st.sampled_from([1_000, 5_000, 40_000]),
)


def constants_with(arc_us: tuple[int | None, int | None], **others: object) -> Settings:
    return Settings(arc_limit_us=arc_us[0], arc_end_us=arc_us[1], **others)


constants = st.builds(
    constants_with,
    open_us=st.just(5_000),
    settle_us=st.just(10_000),
    purge_limit_us=st.just(50_000),
    inch_limit_us=st.just(50_000),
    weld_limit_us=st.sampled_from([None, 60_000]),
    arc_us=st.sampled_from([(None, None), (20_000, 8_000), (20_000, 0)]),
    completes=st.booleans(),
    fixed=st.just({}),
)
passes = st.lists(st.tuples(inputs, st.sampled_from([50, 500, 5_000, 30_000])), max_size=60)


@given(constants, passes)
@settings(max_examples=100, deadline=None)
def test_both_interpreters_agree_on_every_pass(constants, passes):
    plain = start(constants)
    # A settled board with open contacts, so that most sequences get somewhere.
    plain.phase, plain.trigger_was, plain.purge_was, plain.inch_was = 1, False, False, False
    reference = ReferenceMachine(TABLE, constants, plain.copy())
    now_us = 0
    for seen, ahead_us in passes:
        now_us += ahead_us
        assert step(TABLE, constants, plain, seen, now_us) == reference.step(seen, now_us)
        assert plain == reference.state


@pytest.mark.parametrize("settled", [True, False])
def test_the_usual_script_gives_the_same_timeline(example, settled):
    design = load_design(example)
    script = usual_script(design, settled=settled)
    plain = simulate(design, script, settled=settled)
    assert len(plain.phases) >= 4
    assert simulate(design, script, settled=settled, scan=TransitionsScan()) == plain


@pytest.mark.parametrize("name", ["shop_two_step", "spot_stitch", "gasless_four_step"])
def test_random_scripts_give_the_same_timeline(name):
    design = load_design(ROOT / "examples" / f"{name}.toml")
    rig, scan = rig_of(design), TransitionsScan()

    @given(random_scripts(target_of(Project(design, load_board(design.board.type)))), st.booleans())
    @settings(max_examples=25, deadline=None)
    def agree(script, settled):
        assert run_script(rig, script, settled=settled, scan=scan) == run_script(rig, script, settled=settled)

    agree()


def test_a_reset_in_the_middle_of_a_weld_is_taken_up():
    design = load_design(ROOT / "examples" / "shop_two_step.toml")
    script = parse_script("100 ms press; +1 s reset; +1 s release; +3 s press; +1 s release")
    plain = simulate(design, script)
    assert [change.phase for change in plain.phases].count(Phase.HOLD_OFF) == 1
    assert simulate(design, script, scan=TransitionsScan()) == plain


def test_the_command_shows_the_same_by_either_engine():
    example = str(ROOT / "examples" / "spot_stitch.toml")
    said = [
        CliRunner().invoke(command, [example, "--json", "-", "--engine", engine]) for engine in ("plain", "transitions")
    ]
    assert [result.exit_code for result in said] == [0, 0]
    assert said[0].output == said[1].output
    assert json.loads(said[0].stdout)


def test_one_that_reads_the_table_otherwise_would_be_told(monkeypatch):
    design = load_design(ROOT / "examples" / "shop_two_step.toml")
    script = usual_script(design)
    monkeypatch.setattr(ReferenceMachine, "_do", lambda *_: None)
    assert simulate(design, script, scan=TransitionsScan()) != simulate(design, script)
