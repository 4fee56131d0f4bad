"""Symptoms: what a person sees leads to its causes, ranked by the design's own figures."""

from __future__ import annotations

import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from tests.conftest import EXAMPLES, gate_share
from tests.support.drawn_designs import designs
from timing.symptoms.evidence import Evidence
from timing.symptoms.symptom import Standing
from timing.symptoms.table import SYMPTOMS, UnknownSymptomError, diagnosis, meant_by, symptoms_of
from wirecue.projects import load_project, parse_project

SAID = {
    "it sticks": "sticks",
    "stuck in the puddle": "sticks",
    "burns into the tip": "tip",
    "the wire is welded to the tip": "tip",
    "ball too big": "ball",
    "porous start": "porous-start",
    "porous crater": "porous-crater",
    "wire runs on": "runs-on",
    "valve chatters": "chatters",
    "board resets": "resets",
    "nothing happens": "no-start",
    "starts on its own": "self-start",
    "the fuse blew, blown fuse": "fuse",
    "the board does not answer": "silent",
    "upload fails": "silent",
    "lamp code 4": "lamp-4",
    "the lamp blinks 2 times": "lamp-2",
    "it goes dark 5 times": "winks-5",
    "LAMP-3": "lamp-3",
    "light flashes three times": "lamp-3",
    "lamp 4 winks": "winks-4",
    "gas stays on": "gas-runs-on",
    "welds are full of holes": "porous-start",
    "holes at the end": "porous-crater",
    "it won't start": "no-start",
}


@pytest.fixture(scope="module")
def shop():
    return load_project(next(path for path in EXAMPLES if "shop" in path.stem))


@pytest.mark.parametrize(("words", "key"), SAID.items())
def test_words_of_the_workshop_find_their_symptom(shop, words, key):
    assert meant_by(words, symptoms_of(shop))[0].key == key


def test_words_that_fit_nothing_are_answered_with_what_there_is(shop):
    with pytest.raises(UnknownSymptomError, match="The wire sticks"):
        meant_by("purple", symptoms_of(shop))


@pytest.mark.parametrize("words", ["lamp blinks 12", "lamp winks 2", "flashes nine times"])
def test_a_number_that_the_lamp_of_this_design_cannot_show_is_no_other_number(shop, words):
    with pytest.raises(UnknownSymptomError):
        meant_by(words, symptoms_of(shop))


@given(st.text(max_size=60))
@settings(max_examples=200)
def test_any_words_are_answered(words):
    try:
        assert meant_by(words, SYMPTOMS)
    except UnknownSymptomError as error:
        told = str(error)
    else:
        told = "known"
    assert told


def first(project, key):
    """The likeliest cause of a symptom in a project."""
    symptom = next(one for one in symptoms_of(project) if one.key == key)
    return diagnosis(symptom, Evidence(project)).causes[0]


@pytest.mark.parametrize(
    ("key", "old", "new", "cause"),
    gate_share(
        [
            ("sticks", 'setting = "130 ms"', 'setting = "60 ms"', "Burnback is too short"),
            ("ball", 'setting = "130 ms"', 'setting = "180 ms"', "Burnback is longer than it need be"),
            ("porous-start", 'setting = "300 ms"', 'setting = "50 ms"', "Preflow is too short"),
            ("porous-start", 'gas_flow = "14 L/min"', 'gas_flow = "3 L/min"', "Preflow is too short|Too little gas"),
            ("porous-crater", 'setting = "2 s"', 'setting = "600 ms"', "Postflow is too short"),
            ("chatters", 'filter = "25 ms"', 'filter = "2 ms"', "between half-waves"),
            ("runs-on", 'mode = "two-step"', 'mode = "switch"', "four-step"),
        ],
        2,
    ),
)
def test_the_cause_that_the_figures_show_comes_first(key, old, new, cause):
    import re

    text = next(path for path in EXAMPLES if "shop" in path.stem).read_text()
    assert old in text
    found = first(parse_project(text.replace(old, new, 1), "shop"), key)
    assert re.search(cause, found.text)
    assert found.standing is Standing.LIKELY


@pytest.mark.parametrize("example", gate_share(EXAMPLES, 3, first=0), ids=lambda path: path.stem)
def test_every_symptom_of_every_example_has_causes_in_whole_sentences(example):
    project = load_project(example)
    evidence = Evidence(project)
    for symptom in symptoms_of(project):
        causes = diagnosis(symptom, evidence).causes
        assert causes
        assert [one.standing for one in causes] == sorted(one.standing for one in causes)
        for cause in causes:
            for text in (cause.text, cause.check, cause.remedy, cause.figures):
                assert not text or (text[-1] in ".?" and text == text.strip() and "  " not in text), text
            assert all((cause.text, cause.check, cause.remedy))


@given(designs())
@settings(max_examples=8)
def test_any_design_has_an_answer_to_each_of_its_symptoms(text):
    project = parse_project(text, "drawn")
    evidence = Evidence(project)
    for symptom in symptoms_of(project):
        assert diagnosis(symptom, evidence).causes


def test_lamp_codes_are_those_that_the_design_can_show(example):
    from timing.sequence.faults import faults_of

    project = load_project(example)
    codes = [one.key for one in symptoms_of(project) if one.key.startswith("lamp-")]
    assert codes == [f"lamp-{int(fault)}" for fault in faults_of(project.table)]


def test_gasless_wire_is_told_nothing_of_gas_times():
    project = load_project(next(path for path in EXAMPLES if "gasless" in path.stem))
    assert {"no-gas", "gas-runs-on"}.isdisjoint(one.key for one in symptoms_of(project))
    evidence = Evidence(project)
    for symptom in symptoms_of(project):
        assert not any("flow is too short" in cause.text for cause in diagnosis(symptom, evidence).causes)
