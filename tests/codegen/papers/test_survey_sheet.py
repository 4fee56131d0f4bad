"""The blank survey: every question with room for its answer, whole on paper."""

from __future__ import annotations

import pytest

from codegen.papers.paper_html import paper_html
from codegen.papers.questions import topics
from codegen.papers.survey_sheet import survey_paper
from tests.codegen.papers.printing import ink_outside, print_html, text_of
from wirecue.boards import board_names, load_board

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
