"""Random trigger scripts for a design, for hypothesis."""

from __future__ import annotations

from hypothesis import strategies as st
from hypothesis.strategies import SearchStrategy

from bench.forcing import rig_as_forced
from bench.script_draws import GAPS_US, LONGEST_SCRIPT_US, MOST_STEPS, script_inputs, script_of
from timing.protocol.target import Target
from timing.sequence.core.engine import run_script
from timing.sequence.core.script import Script


def random_scripts(target: Target) -> SearchStrategy[Script]:
    """Return scripts of any inputs that the design has; all are brought to rest in the end."""
    step = st.tuples(st.sampled_from(GAPS_US), st.integers(0, 999), st.sampled_from(script_inputs(target)))
    scripts = st.lists(step, min_size=1, max_size=MOST_STEPS).map(lambda steps: script_of(target, steps))
    rig = rig_as_forced(target)
    return scripts.filter(lambda script: run_script(rig, script).end_us <= LONGEST_SCRIPT_US)
