"""What moves on the panel: a setting, a scale, a dial that comes or goes, and which of them asks for a new plate."""

from __future__ import annotations

from itertools import permutations

import pytest

from tests.timing.conftest import SHOP
from timing.design.loading import parse_design
from timing.design.moves import panel_moves, plates_to_print
from timing.design.times import TIME_KEYS

BURNBACK = 'burnback = { from = "20 ms", to = "300 ms", setting = "90 ms" }'
STANDS = {
    "as it is": BURNBACK,
    "turned": BURNBACK.replace("90 ms", "115 ms"),
    "longer": BURNBACK.replace("300 ms", "400 ms"),
    "audio": BURNBACK.replace(" }", ', taper = "audio" }'),
    "switched": BURNBACK.replace(" }", ", off_switch = true }"),
    "fixed": 'burnback = "90 ms"',
    "fixed longer": 'burnback = "115 ms"',
}
SAYS = {
    ("as it is", "turned"): "burnback: turn its dial from 90 ms to 115 ms",
    ("as it is", "longer"): "burnback: a dial from 20 ms to 400 ms, not 20 ms to 300 ms, set to 90 ms",
    ("fixed", "turned"): "burnback: a dial from 20 ms to 300 ms, new, set to 115 ms",
    ("turned", "fixed"): "burnback: fixed at 90 ms, not 115 ms; its dial and plate come off",
    ("fixed", "fixed longer"): "burnback: fixed at 115 ms, not 90 ms",
    ("as it is", "switched"): "burnback: its switch is fitted",
    ("switched", "as it is"): "burnback: its switch is left out",
}


def design(stands: str):
    assert BURNBACK in SHOP
    return parse_design(SHOP.replace(BURNBACK, STANDS[stands]))


def test_nothing_moves_between_a_design_and_itself():
    assert all(panel_moves(design(one), design(one)) == () for one in STANDS)


@pytest.mark.parametrize(("before", "after"), [*permutations(STANDS, 2)])
def test_whatever_differs_is_one_move_and_a_plate_is_new_where_its_scale_is(before: str, after: str):
    old, new = design(before).times.burnback, design(after).times.burnback
    (move,) = panel_moves(design(before), design(after))
    assert move.name == "burnback"
    assert move.reset == (old.setting_us != new.setting_us)
    scale = ("from_us", "to_us", "taper")
    assert move.new_plate == (new.dial and any(getattr(old, one) != getattr(new, one) for one in scale))
    assert plates_to_print([move]) == (("burnback",) if move.new_plate else ())
    assert move.sentence == SAYS.get((before, after), move.sentence)


def test_a_time_that_comes_or_goes_is_a_move_too():
    spot = SHOP + '\n[spot]\ntime = { from = "200 ms", to = "2 s", setting = "600 ms" }\n'
    with_spot = parse_design(spot)
    (came,), (went,) = panel_moves(parse_design(SHOP), with_spot), panel_moves(with_spot, parse_design(SHOP))
    assert (came.new_plate, went.new_plate) == (True, False)
    assert came.sentence == "spot: a dial from 200 ms to 2 s, new, set to 600 ms"
    assert went.sentence == "spot: the design has none any more; its dial and plate come off"
    assert came.name in TIME_KEYS
