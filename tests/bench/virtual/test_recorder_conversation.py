"""The virtual recorder answers as the firmware does: by the table, and to the last stamp whatever is done."""

from __future__ import annotations

from collections.abc import Callable, Sequence
from pathlib import Path

import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from bench.virtual.recorder_commands import RECORDER_HANDLERS
from tests.conftest import CACHE, SOAK, VERSION
from tests.support.recorder_core import CompiledRig, compiled_recorder
from tests.support.recorder_rigs import RecorderRig, VirtualRig
from tests.support.recorder_talk import CONVERSATIONS, WITHOUT_JUMPER, converse
from timing.protocol.commands import RECORDER_COMMANDS
from timing.protocol.recorder import LONGEST_BRIDGE_US, RECORDER_INPUTS, SAMPLE_US
from wirecue.projects import load_board


def test_every_command_has_its_handler_and_no_other():
    assert set(RECORDER_HANDLERS) == {command.name for command in RECORDER_COMMANDS}


@pytest.fixture(scope="module")
def library() -> Path:
    """The firmware's portable C, compiled for this machine."""
    return compiled_recorder(load_board("uno"), VERSION, CACHE)


@pytest.fixture(params=["virtual", pytest.param("compiled", marks=pytest.mark.debian("gcc"))])
def switched_on(request) -> Callable[[bool], RecorderRig]:
    """Switches a recorder on, with its jumper or without: the virtual one, or the firmware's C on this machine."""
    if request.param == "virtual":
        return VirtualRig
    library = request.getfixturevalue("library")
    return lambda jumper: CompiledRig(library, jumper)


@pytest.mark.parametrize("name", CONVERSATIONS)
def test_a_recorder_with_its_jumper(name, switched_on):
    converse(switched_on(True), CONVERSATIONS[name])


def test_a_recorder_without_its_jumper(switched_on):
    converse(switched_on(False), WITHOUT_JUMPER)


@pytest.mark.parametrize("step", ["INP:LIN? = 1", "press trigger", "TRAC:DATA? = 1,5,1", "INP:GAP? 1 = 9"])
def test_a_wrong_answer_is_found(step):
    with pytest.raises(AssertionError):
        converse(VirtualRig(), [step])


KEYS = st.sampled_from([*(one.key for one in RECORDER_INPUTS)])
DEEDS = st.one_of(
    st.tuples(st.just("move"), KEYS, st.booleans()),
    st.tuples(st.just("wait"), st.integers(1, 900)),
    st.tuples(st.just("bridge"), st.integers(1, 8), st.sampled_from([0, 16, 48, 5_000, 12_000])),
    st.tuples(
        st.just("ask"), st.sampled_from(["INP:LIN?", "TRAC:DATA?", "INP:DISC?", "INP:GAP? 1;GAP? 7", "TRAC:LOST?"])
    ),
    st.tuples(
        st.just("ask"), st.sampled_from(["OUTP:PRES 1", "OUTP:PRES 3", "OUTP:PRES 0", "*RST", "TRAC:CLE", "*STB?"])
    ),
)


def done(rig: RecorderRig, deeds: Sequence[tuple]) -> list[str]:
    """Do things with a recorder; return all that it answered, its whole trace behind it."""
    answers = []
    for what, *how in deeds:
        if what == "move":
            rig.move(*how)
        elif what == "wait":
            rig.wait(how[0] * SAMPLE_US)
        elif what == "bridge":
            rig.ask(f"INP:BRID {how[0]},{how[1]}")
        else:
            answers.append(rig.ask(how[0]))
    rig.wait(LONGEST_BRIDGE_US // SAMPLE_US * SAMPLE_US)
    while (answer := rig.ask("TRAC:DATA?")) != "0,0,0":
        answers.append(answer)
    return [*answers, rig.ask("INP:LIN?;:TRAC:LOST?;:INP:DISC?;:OUTP:PRES?")]


@pytest.mark.debian("gcc")
@settings(max_examples=600 if SOAK else 60, deadline=None)
@given(st.lists(DEEDS, max_size=60))
def test_whatever_is_done_the_virtual_one_and_the_firmware_say_the_same(library, deeds):
    compiled = CompiledRig(library)
    try:
        assert done(VirtualRig(), deeds) == done(compiled, deeds)
    finally:
        compiled.close()
