"""A whole run over a real pseudo terminal, the hand on the trigger included."""

from __future__ import annotations

import pytest

from bench.cases import cases_of
from bench.errors import NotFittedError, WrongDesignError
from bench.run import BenchObserver, run_session
from bench.virtual.board import AheadClock, VirtualBoard
from bench.virtual.machine import Faults
from bench.virtual.serving import behind_pty
from timing.protocol.target import RAW_BIT
from timing.sequence.core.table import Output


def few_cases(target, *names):
    return [case for case in cases_of(target) if case.name in names]


def test_a_run_is_told_as_it_goes(shop):
    told = []
    observer = BenchObserver(
        found=lambda identity: told.append(identity.design),
        begins=lambda case: told.append(case.name),
        done=lambda result: told.append(result.passed),
    )
    board = VirtualBoard(shop, "1.0", AheadClock(3_001))
    with behind_pty(board) as name:
        report = run_session(name, shop, few_cases(shop, "purge", "inch"), observer, real=False)
    assert told == ["shop_two_step", "purge", True, "inch", True]
    assert report.passed
    assert (report.firmware, report.port, report.board) == ("1.0", name, "uno")
    assert board.machine.forced_contacts is None


def test_a_run_without_cases_does_not_pass(shop):
    with behind_pty(VirtualBoard(shop)) as name:
        assert not run_session(name, shop, [], real=False).passed


@pytest.mark.parametrize(
    ("board", "error"),
    [
        (lambda target: VirtualBoard(target, bench_link=False), NotFittedError),
        (lambda target: VirtualBoard(target, faults=Faults(digest="0" * 16)), WrongDesignError),
    ],
)
def test_the_wrong_board_is_refused_before_anything_is_forced(shop, board, error):
    virtual = board(shop)
    with behind_pty(virtual) as name, pytest.raises(error):
        run_session(name, shop, cases_of(shop), real=False)
    assert virtual.machine.forced_contacts is None


def pressed_by_hand(target, faults=None, hold_us=900_000, contact="trigger"):
    """Run the last step alone, with a hand that obeys."""
    board = VirtualBoard(target, clock=AheadClock(5_003), faults=faults or Faults())
    asked = []

    def hand(text):
        asked.append(text)
        board.move_contact(contact, True, 200_000)
        board.move_contact(contact, False, 200_000 + hold_us)

    with behind_pty(board) as name:
        report = run_session(name, target, [], BenchObserver(ask=hand), real=False)
    assert len(asked) == 1
    assert "press the real trigger" in asked[0]
    return report.results[-1]


def test_the_real_trigger_is_watched(shop):
    result = pressed_by_hand(shop)
    assert result.passed, result.troubles
    assert result.name == "press"
    # The trigger itself, four phases and back to idle, three outputs on and off.
    assert result.compared == 5 + 6


@pytest.mark.parametrize("name", ["spots", "gasless"])
def test_the_real_trigger_is_watched_on_other_designs(name, request):
    target = request.getfixturevalue(name)
    result = pressed_by_hand(target)
    assert result.passed, result.troubles
    assert result.compared > 6


def test_a_dead_output_shows_at_the_real_trigger(shop):
    result = pressed_by_hand(shop, Faults(dead=frozenset({Output.CONTACTOR})))
    assert any(trouble.startswith("contactor: comes on expected") for trouble in result.troubles)


def test_a_trigger_that_nobody_presses_is_told(shop):
    assert pressed_by_hand(shop, contact="purge").troubles == ("Nothing was pressed, or no weld came of it, in 60 s.",)


def test_a_board_that_is_not_at_rest_on_its_own_pins_is_told(gasless):
    board = VirtualBoard(gasless, clock=AheadClock(5_003))
    board.machine.pin_contacts &= ~RAW_BIT["interlock"]
    with behind_pty(board) as name:
        report = run_session(name, gasless, [], BenchObserver(ask=lambda _: None), real=False)
    assert report.results[-1].troubles == ("The board does not come to rest on its own pins: fault 1 (interlock).",)


def test_the_supply_is_held_good_while_the_24_v_plug_is_pulled(shop):
    board = VirtualBoard(shop, clock=AheadClock(5_003))
    board.machine.pin_counts[5] = 0

    def hand(_):
        board.move_contact("trigger", True, 200_000)
        board.move_contact("trigger", False, 1_500_000)

    with behind_pty(board) as name:
        report = run_session(name, shop, few_cases(shop, "weld"), BenchObserver(ask=hand), real=False)
    assert report.passed, [result.troubles for result in report.results]
