"""Which pins a design's roles land on."""

from __future__ import annotations

import re
from itertools import combinations

import pytest

from tests.conftest import ROOT
from timing.design.board import Kind
from timing.design.loading import parse_design
from timing.design.pinning import analog_pins, needed_roles, pin_names
from timing.sequence.core.columns import TIME_NAMES
from wirecue.projects import board_names, load_board

SPOT = (ROOT / "examples" / "spot_stitch.toml").read_text()
BOARDS = [load_board(name) for name in board_names()]


def with_dials(dials, sense=True, pins=""):
    """The example with just these times on dials."""
    text = SPOT
    for name in TIME_NAMES:
        key = {"spot": "time"}.get(name, name)
        value = '{ from = "100 ms", to = "1 s", setting = "300 ms" }' if name in dials else '"300 ms"'
        text = re.sub(rf"(?m)^{key} = .*$", f"{key} = {value}", text)
    text = re.sub(r"(?m)^pins = .*$", "", text)
    if not sense:
        text = re.sub(r"(?m)^sense = \{.*$", "", text)
    return parse_design(re.sub(r"(?m)^type = .*$", lambda found: f"{found[0]}\n{pins}", text))


SUBSETS = [subset for count in range(6) for subset in combinations(TIME_NAMES, count)]


@pytest.mark.parametrize("board", BOARDS, ids=lambda board: board.type)
def test_every_dial_gets_a_pin_of_its_own_as_long_as_there_are_any(board):
    for sense in (False, True):
        for dials in SUBSETS:
            design = with_dials(dials, sense)
            names = pin_names(design, board)
            placed = [name for name in names.values() if name is not None]
            assert len(placed) == len(set(placed))
            wanting = [role for role in needed_roles(design) if role.kind is Kind.ANALOG]
            assert len(wanting) == len(dials) + sense
            lost = [role for role in wanting if names[role.key] is None]
            assert len(lost) == max(0, len(wanting) - len(analog_pins(design, board)))


def test_the_designs_own_word_comes_first():
    board = load_board("pico")
    names = pin_names(with_dials(("preflow", "burnback"), False, 'pins = { burnback_dial = "GP26" }'), board)
    assert (names["burnback_dial"], names["preflow_dial"]) == ("GP26", "GP27")


@pytest.mark.parametrize(
    ("board", "pins"),
    [
        ("uno", 'pins = { postflow_dial = "A5" }'),
        ("pico", 'pins = { preflow_dial = "GP28" }'),
        ("pico", 'pins = { trigger = "GP28" }'),
        ("nano", 'pins = { purge = "D9" }'),
    ],
)
def test_a_usual_pin_that_the_design_gave_away_is_not_claimed_twice(board, pins):
    design = with_dials(("preflow",) if board == "pico" else ("postflow",), True, pins)
    names = pin_names(design, load_board(board))
    assert None not in names.values()
    assert len(set(names.values())) == len(names)


def test_a_contact_without_a_usual_pin_gets_a_free_one_that_is_pulled_up():
    for board in BOARDS:
        bare = board.model_copy(update={"usual_pins": {k: v for k, v in board.usual_pins.items() if k != "arc"}})
        names = pin_names(with_dials(()), bare)
        pin = bare.pin(names["arc"])
        assert pin is not None
        assert pin.pull_up
        assert not pin.reserved
        assert list(names.values()).count(pin.name) == 1


def test_a_contact_on_a_pin_that_can_measure_takes_it_from_the_dials():
    board = load_board("pico")
    design = with_dials(("preflow",), True, 'pins = { purge = "GP26" }')
    assert analog_pins(design, board) == ("GP27", "GP28")
    assert pin_names(design, board)["preflow_dial"] == "GP27"
