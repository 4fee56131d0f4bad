"""The answer to `*IDN?` is read in one place, and nothing else passes."""

from __future__ import annotations

import pytest
from hypothesis import given
from hypothesis import strategies as st

from bench.message import AnswerError, Identity, read_identity

PLAIN = "wirecue,shop_two_step,0123456789abcdef,0.1.0"


def test_a_plain_identity_is_read():
    assert read_identity(PLAIN) == Identity("wirecue", "shop_two_step", "0123456789abcdef", "0.1.0")


def test_an_edited_one_keeps_the_digest_of_its_design():
    found = read_identity("wirecue,shop_two_step,0123456789abcdef-edited,0.1.0")
    assert found == Identity("wirecue", "shop_two_step", "0123456789abcdef", "0.1.0", edited=True)
    assert found.carries == "shop_two_step with digest 0123456789abcdef, edited in its settings.h"


@pytest.mark.parametrize(
    "text",
    [
        "",
        "wirecue,shop,0123456789abcdef",
        "wirecue,shop,0123456789abcdef,0.1,more",
        "ACME,shop,0123456789abcdef,0.1",
        "wirecue,shop,0123456789abcdeg,0.1",
        "wirecue,shop,0123456789abcdef-other,0.1",
        "wirecue,shop,0123456789abcdef-edited-edited,0.1",
        "wirecue,,0123456789abcdef,0.1",
        "wirecue,shop\x1b[2J,0123456789abcdef,0.1",
        "wirecue,shop,0123456789abcdef,0.1\x00",
        "wirecue,shop,0123456789abcdef,0.1\n",
        "wirecue,<b>shop</b>,0123456789abcdef,0.1",
        "wirecue," + "s" * 65 + ",0123456789abcdef,0.1",
    ],
)
def test_anything_else_is_no_identity(text):
    with pytest.raises(AnswerError):
        read_identity(text)


@given(st.text(max_size=80))
def test_no_text_breaks_it(text):
    try:
        found = read_identity(text)
    except AnswerError:
        return
    assert found.maker == "wirecue"
