"""Answers as people give them: what is taken for what, and what is said to an answer that is none."""

from __future__ import annotations

import pytest
from hypothesis import given
from hypothesis import strategies as st

from timing.design.units import parse_quantity
from timing.survey.question import Question, ReplyError, UnclearReplyError
from timing.survey.replies import read_reply
from timing.survey.topics import topics

QUESTIONS = {question.key: question for topic in topics() for question in topic.questions}
MEASURES = [question for question in QUESTIONS.values() if question.kind == "measure"]
SPREADS = [question for question in QUESTIONS.values() if question.kind == "spread"]


@pytest.mark.parametrize(
    ("key", "text", "answer"),
    [
        ("supply.measured_open", "27.4", "27.4 V"),
        ("process.wire_diameter", ".9", ".9 mm"),
        ("process.wire_diameter", ".035 in", ".035 in"),
        ("process.wire_feed_speed", "200", "200 in/min"),
        ("process.wire_feed_speed", "5.1 m/min", "5.1 m/min"),
        ("process.wire_feed_speed", "85 mm/s", "85 mm/s"),
        ("process.wire_feed_speed", "200 ipm", "200 ipm"),
        ("process.gas_flow", "14", "14 L/min"),
        ("process.gas_flow", "30 ft3/h", "30 ft3/h"),
        ("process.gas_flow", "30 cfh", "30 cfh"),
        ("process.contact_tip_to_work", '1/2"', '1/2"'),
        ("process.contact_tip_to_work", "3/8 in", "3/8 in"),
        ("process.contact_tip_to_work", '1-1/2"', '1-1/2"'),
        ("feeder.gas_valve.on_delay", "15, 20, 30", "15 ms, 20 ms, 30 ms"),
        ("feeder.gas_valve.on_delay", "15 20 30", "15 ms, 20 ms, 30 ms"),
        ("feeder.gas_valve.on_delay", "0.015, 0.02, 0.03 s", "0.015 s, 0.02 s, 0.03 s"),
        ("feeder.gas_valve.on_delay", "20", "20 ms, 20 ms, 20 ms"),
        ("process.open_circuit_voltage", "not known", ""),
        ("trigger.leak", "none", ""),
    ],
)
def test_a_quantity_is_kept_as_it_was_typed_and_a_bare_number_in_the_unit_of_the_blank(key, text, answer):
    assert read_reply(QUESTIONS[key], text).answer == answer


@given(question=st.sampled_from(MEASURES + SPREADS), share=st.floats(0, 1))
def test_whatever_is_asked_a_bare_number_is_taken_in_the_unit_that_is_shown(question: Question, share: float):
    size = parse_quantity(f"1 {question.unit}", question.measure.unit)
    low, high = question.measure.low / size, question.measure.high / size
    number = f"{low + share * (high - low):.6f}"
    try:
        reply = read_reply(question, number)
    except ReplyError:
        # Rounded to six places it may lie just outside.
        assert share in (0, 1) or not low <= float(number) <= high
        return
    assert reply.answer.startswith(f"{number} {question.unit}")
    assert reply.taken == f"taken as {reply.answer}"


@pytest.mark.parametrize(
    ("key", "text", "hint"),
    [
        ("process.wire_diameter", "0.035", "was '0.035 in' meant?"),
        ("process.contact_tip_to_work", "1/0", "a fraction goes with inches and feet, as in '3/8 in' or '1-1/2 in'"),
        ("process.contact_tip_to_work", "1/2", "was '1/2 in' meant?"),
        ("process.contact_tip_to_work", "half an inch", "one figure with its unit: was '1/2 inch' meant?"),
        ("process.contact_tip_to_work", "twelve mm", "one figure with its unit: was '12 mm' meant?"),
        ("process.contact_tip_to_work", "12 to 15 mm", "one figure with its unit: was '15 mm' meant?"),
        ("process.contact_tip_to_work", "don't know", "not known: left empty it stands for the usual answer, 12 mm"),
        ("process.wire_feed_speed", "wide open", "in figures, with the unit, such as '200 in/min'"),
        ("supply.measured_open", "about 27", "one figure with its unit: was '27 V' meant?"),
        (
            "supply.measured_open",
            "?",
            "this has to be found out: you can stop here, and your answers are kept until then",
        ),
        ("supply.measured_open", "27,4", "write a decimal point, not a comma"),
        ("process.wire", "E7018", "that is the class of a stick electrode; wire is ER70S-6, E71T-1C or the like"),
        ("process.wire", "plumbum", "copy the class from the spool's label, such as ER70S-6, or answer with its kind"),
        ("process.gas", "argon CO2", "how much of each? such as '75/25 argon CO2'"),
        ("process.gas", "none", "wire that is welded without gas is self-shielded: go back to the wire, and answer so"),
    ],
)
def test_words_and_slips_are_answered_with_what_to_type(key, text, hint):
    with pytest.raises(ReplyError) as refused:
        read_reply(QUESTIONS[key], text)
    assert refused.value.hint == hint


@pytest.mark.parametrize(
    ("text", "kind", "typed", "told"),
    [
        ("ER70S-6", "mild-steel", "ER70S-6", "ER70S-6 (AWS A5.18): solid steel wire"),
        ("5", "self-shielded", "", ""),
        ("G 42 4 M21 3Si1", "mild-steel", "G 42 4 M21 3Si1", "G 42 4 M21 3Si1 (ISO 14341): solid steel wire"),
        ("E71T-11", "self-shielded", "E71T-11", "no gas goes with it, and no gas valve is wired"),
        ("gasless", "self-shielded", "", "gasless: flux-cored wire that makes its own gas"),
    ],
)
def test_a_spools_label_tells_the_wire(text, kind, typed, told):
    reply = read_reply(QUESTIONS["process.wire"], text)
    assert (reply.answer, reply.typed) == (kind, typed)
    assert told in reply.taken


def test_what_is_sold_in_two_ways_is_asked_and_either_answer_is_read():
    question = QUESTIONS["process.gas"]
    with pytest.raises(UnclearReplyError) as unclear:
        read_reply(question, "98/2", {"process.wire": "stainless-steel"})
    groups = [read_reply(question, option.word).answer for option in unclear.value.options]
    assert groups == ["M12", "M13"]


def test_a_gas_that_the_wires_class_was_not_tested_with_is_told():
    before = {"process.wire": "flux-cored", "process.wire_class": "E71T-1C"}
    told = read_reply(QUESTIONS["process.gas"], "C25", before).taken
    assert "E71T-1C is classified with another gas (carbon dioxide" in told
    assert "classified" not in read_reply(QUESTIONS["process.gas"], "CO2", before).taken


def test_readings_of_the_power_source_must_go_together():
    open_v, volts, amperes = (
        f"{place}" for place in ("process.open_circuit_voltage", "process.load_voltage", "process.load_current")
    )
    with pytest.raises(ReplyError, match="23 V or less"):
        read_reply(QUESTIONS[volts], "25", {open_v: "23 V"})
    with pytest.raises(ReplyError, match="are 500 mV/A is not 1 mV/A to 200 mV/A"):
        read_reply(QUESTIONS[amperes], "20", {open_v: "29 V", volts: "19 V"})
    assert read_reply(QUESTIONS[amperes], "120", {open_v: "29 V", volts: "19 V"}).answer == "120 A"


@pytest.mark.parametrize("end", ["process.wire_feed_speed", "process.plate_thickness"])
def test_the_ends_of_a_range_lie_on_their_sides_of_the_usual_value(end):
    usual = {end: QUESTIONS[end].measure.example}
    for side, word in (("low", "or less"), ("high", "or more")):
        question = QUESTIONS[f"{end}_{side}"]
        assert read_reply(question, usual[end], usual).answer == usual[end]
        other = QUESTIONS[f"{end}_{'high' if side == 'low' else 'low'}"].measure.example
        with pytest.raises(ReplyError, match=word):
            read_reply(question, other, usual)
