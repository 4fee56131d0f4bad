"""The generated C core and the Python model agree on every combination that the proof walks."""

from __future__ import annotations

import numpy as np
import pytest

from codegen.laptop import compile_core
from tests.conftest import ROOT
from timing.design.loading import parse_design
from timing.proof.combinations import combinations
from timing.proof.walk import Walk, walk
from timing.proof.world import world_of
from wirecue.boards import load_board

pytestmark = pytest.mark.debian("gcc")

CLOCK_MASK = 0xFFFFFFFF


def compare(core, walked) -> int:
    """Step every combination in C; return how many there were."""
    compared = 0
    for block in combinations(walked):
        count = len(block.outputs)
        states = np.repeat(core.pack_states([block.before]), count, axis=0)
        inputs = np.column_stack([block.inputs[name] for name in core.input_fields]).astype(np.uint32)
        now_us = np.full(count, block.now_us & CLOCK_MASK, np.uint32)
        outputs = core.step(states, np.ascontiguousarray(inputs), now_us)
        wanted = np.column_stack([block.after[name] for name in core.state_fields])
        wrong = np.flatnonzero((outputs != block.outputs) | (states != wanted).any(axis=1))
        if wrong.size:
            first = int(wrong[0])
            pytest.fail(
                f"from {block.before} at {block.now_us} with {dict(zip(core.input_fields, inputs[first], strict=True))}"
                f"\n model {block.outputs[first]} {dict(zip(core.state_fields, wanted[first], strict=True))}"
                f"\n C     {outputs[first]} {dict(zip(core.state_fields, states[first], strict=True))}"
            )
        compared += count
    return compared


def test_the_c_core_agrees_on_every_combination(design, board, version, cache):
    walked = walk(world_of(design))
    assert compare(compile_core(design, board, version, cache), walked) >= walked.total


def test_a_core_of_another_design_does_not_agree(design, board, version, cache):
    # Another postflow, purge limit or weld limit shows, wherever the design has it.
    limits = design.limits.model_copy(update={"purge_us": 31_000_000, "inch_us": 11_000_000, "weld_us": 60_000_000})
    other = design.model_copy(update={"limits": limits})
    with pytest.raises(pytest.fail.Exception, match="model"):
        compare(compile_core(other, board, version, cache), walk(world_of(design)))


def test_the_c_core_agrees_where_times_are_zero_or_as_short_as_a_stall(version, cache):
    text = (ROOT / "examples" / "spot_stitch.toml").read_text()
    for begins, line in (
        ("mode", 'mode = "switch"'),
        ("time", 'time = { from = "1 ms", to = "2 s", setting = "600 ms", off_switch = true }'),
        ("preflow", 'preflow = { from = "0 ms", to = "1 s", setting = "150 ms", off_switch = true }'),
        ("burnback", 'burnback = { from = "0 ms", to = "200 ms", setting = "60 ms" }'),
    ):
        text = text.replace(next(found for found in text.splitlines() if found.startswith(begins)), line, 1)
    design = parse_design(text)
    walked = walk(world_of(design))
    # Every seventh situation: the widest walk need not be gone to its end here.
    some = Walk(walked.world, dict(list(walked.edges.items())[::7]))
    assert compare(compile_core(design, load_board(design.board.type), version, cache), some) >= some.total
