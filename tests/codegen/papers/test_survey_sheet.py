"""The blank survey: every question with room for its answer, whole on paper."""

from __future__ import annotations

import pytest

from codegen.papers.blocks import paper_html
from codegen.papers.survey_sheet import survey_paper
from tests.support.printing import ink_outside, print_html, text_of
from timing.survey.topics import topics
from wirecue.projects import board_names, load_board

BOARDS = tuple(load_board(name) for name in board_names())


@pytest.mark.parametrize("paper", ["A4", "letter"])
def test_printed_it_asks_everything(paper, tmp_path):
    pdf = print_html(paper_html(survey_paper(BOARDS, "1")), paper, tmp_path)
    printed = " ".join(text_of(pdf).split())
    for topic in topics(BOARDS):
        assert topic.title in printed
        for question in topic.questions:
            assert question.ask in printed
            assert all(option.rules_out in printed for option in question.options)
    assert ink_outside(pdf, 10) == []


def test_the_cautions_come_before_the_first_question():
    html = paper_html(survey_paper(BOARDS, "1"))
    first = html.index(topics(BOARDS)[0].title)
    for words in ("disconnect feeder and power source", "can kill in damp", "not a safety function", "IEC 60974-1"):
        assert 0 < html.index(words) < first


def how(key):
    return next(one.how for topic in topics(BOARDS) for one in topic.questions if one.key == key)


def test_no_reading_needs_a_third_hand_or_a_hand_where_the_voltage_is():
    for topic in topics(BOARDS):
        for question in topic.questions:
            assert "hands behind" not in question.how
            # Whoever holds the trigger reads from leads that were clipped on before.
            if "trigger held" in question.how:
                assert "while it is off" in question.how
    flow = how("process.gas_flow")
    assert "by the machine's own purge" in flow
    assert "Never the trigger with a hand at the nozzle" in flow
    assert "No oscilloscope in a live machine: the clip of its probe is grounded" in how("feeder.contactor.on_delay")


def test_contacts_that_the_board_listens_to_must_be_dry_and_its_dc_loads_rated():
    assert "a dry (potential-free) contact of its own" in how("interlock.fitted")
    kinds = [one for topic in topics(BOARDS) for one in topic.questions if one.key.endswith("coil.kind")]
    assert len(kinds) == 3
    for question in kinds:
        (dc,) = (option for option in question.options if option.word == "dc")
        assert f"{question.key.removesuffix('.coil.kind')}.contact_dc" in dc.to_do


def test_the_cautions_of_gas_rolls_wire_and_alteration_are_on_the_sheet():
    html = paper_html(survey_paper(BOARDS, "1"))
    for words in ("in a closed room", "Cylinder: chained upright", "Drive rolls pinch", "Wire jumps out of the tip",
                  "This alters a machine", "IEC 60974-4", "COMMON is not, the rectifier joins it"):  # fmt: skip
        assert words in html
