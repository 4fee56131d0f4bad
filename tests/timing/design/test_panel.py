"""[panel]: plates that are glued on change what may move, and not which board it is."""

from __future__ import annotations

from tests.timing.conftest import SHOP
from timing.design.loading import parse_design

MADE = f"{SHOP}\n[panel]\nmade = true\n"


def test_made_plates_make_no_other_board():
    bare, made = parse_design(SHOP), parse_design(MADE)
    assert (bare.panel.made, made.panel.made) == (False, True)
    assert bare != made
    assert bare.digest() == made.digest()
