"""Trigger scripts as text."""

from __future__ import annotations

import pytest
from hypothesis import given
from hypothesis import strategies as st

from tests.conftest import ROOT
from timing.design.loading import load_design
from timing.design.text_file import DesignFileError
from timing.sequence.core.engine import Engine
from timing.sequence.core.script import Change, Dial, Script, Switch
from timing.sequence.script_text import parse_script, words_of, write_script
from timing.sequence.simulate import rig_of


def test_times_stand_alone_or_count_from_the_step_before():
    script = parse_script("0 s press; +1.5 s release  # a weld\n 4 s purge press\n+250 ms purge release; 5 s end")
    assert script == Script(
        (
            Change(0, "trigger", 1),
            Change(1_500_000, "trigger", 0),
            Change(4_000_000, "purge", 1),
            Change(4_250_000, "purge", 0),
        ),
        5_000_000,
    )


def test_a_bounce_ends_in_the_state_it_announces():
    script = parse_script("10 ms press bounce 2 ms")
    assert [(change.at_us, change.value) for change in script.changes] == [
        (10_000, 1),
        (10_500, 0),
        (11_000, 1),
        (11_500, 0),
        (12_000, 1),
    ]


@pytest.mark.parametrize(
    ("text", "words"),
    [
        ("0 s press; 1 s relase", "was 'release' meant?"),
        ("press", "a time and what happens"),
        ("1 s press; 0.5 s release", "1 s or later"),
        ("1,5 s press", "a time and what happens"),
        ("5 kg press", "'kg' measures something else"),
        ("0 s dial spot far", "one number and one unit"),
        ("0 s arc on bounce 5 ms", "allowed"),
        ("9000 s press", "times up to 3600 s"),
    ],
)
def test_bad_steps_are_told_with_their_line(text, words):
    with pytest.raises(DesignFileError) as caught:
        parse_script("\n" + text, "steps.txt")
    assert words in str(caught.value)
    assert str(caught.value).startswith("steps.txt, line 2")


@given(st.text(alphabet="0123456789 +;.#\nmspreslauiongdbck,", max_size=60))
def test_any_text_is_a_script_or_a_refusal(text):
    try:
        parse_script(text)
    except DesignFileError:
        return


changes = st.builds(
    Change,
    st.integers(0, 10**9),
    st.sampled_from(["trigger", "purge", "inch", "interlock", "supply"]),
    st.integers(0, 1),
) | st.builds(Change, st.integers(0, 10**9), st.just(Dial("burnback")), st.integers(0, 10**6))


@given(st.lists(changes, max_size=8), st.none() | st.integers(0, 10**6))
def test_written_scripts_read_back(steps, rest_us):
    ordered = tuple(sorted(steps, key=lambda change: change.at_us))
    last_us = max((change.at_us for change in ordered), default=0)
    script = Script(ordered, None if rest_us is None else last_us + rest_us)
    assert parse_script(write_script(script)) == script


def test_what_a_step_moves_has_one_text_form():
    assert [str(Dial("burnback")), str(Switch("spot"))] == ["dial burnback", "switch spot"]
    assert words_of(Change(0, Dial("burnback"), 120_000)) == f"{Dial('burnback')} 120 ms"
    assert words_of(Change(0, Switch("spot"), 0)) == f"{Switch('spot')} off"


@pytest.mark.parametrize("what", ["dial burnback", "switch spot", "nonsense"])
def test_what_is_no_input_moves_nothing_and_is_told(what):
    engine = Engine(rig_of(load_design(ROOT / "examples" / "spot_stitch.toml")))
    engine.settle()
    with pytest.raises(ValueError, match=f"'{what}' is no input of the sequence"):
        engine.apply(Change(1_000, what, 1))


def test_the_selector_moves_two_contacts_at_once():
    spot, pause = Switch("spot"), Switch("pause")
    wanted = {"spot": (1, 0), "continuous": (0, 0), "stitch": (1, 1)}
    for position, values in wanted.items():
        script = parse_script(f"1 s selector {position}")
        assert script.changes == (Change(1_000_000, spot, values[0]), Change(1_000_000, pause, values[1]))
        assert parse_script(write_script(script)) == script
