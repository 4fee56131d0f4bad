"""From edges to figures: what is known goes in, and comes out within its limits; what is wrong is told in words."""

from dataclasses import replace
from random import Random

import pytest

from tests.conftest import EXAMPLES, gate_share
from tests.timing.measure.machines import coasted, pin_us, press_edges, switched
from timing.measure.dips import dip_shares
from timing.measure.found import measured
from timing.measure.quantities import measuring_plan, motor_line
from timing.measure.repeats import SeenEdge, SeenRepeat
from timing.recorder.disc import DISC_SLOTS
from timing.sequence.core.table import Output
from wirecue.projects import load_project

SPOT, SHOP = (next(one for one in EXAMPLES if one.stem == stem) for stem in ("spot_stitch", "shop_two_step"))


@pytest.fixture(scope="module")
def spot():
    return load_project(SPOT)


@pytest.fixture(scope="module")
def contactor(spot):
    return measuring_plan(spot).quantity("contactor")


def _operations(quantity, count=10, seed=1, **lags_ms):
    random = Random(seed)
    usual = {"relay_on": 7.0, "relay_off": 3.5, "works_on": 20.0, "works_off": 9.0} | lags_ms
    return [
        switched(
            quantity.cycle,
            Output.CONTACTOR,
            "contactor",
            "main_contact",
            {(key[:5], key.endswith("on")): random.gauss(1000 * one, 200) for key, one in usual.items()},
        )
        for _ in range(count)
    ]


def test_lags_come_back_and_go_into_the_design(spot, contactor):
    found = measured(spot, contactor, _operations(contactor))
    for key, lag_us in {"relay_off": 3_500, "works_on": 20_000, "works_off": 9_000, "whole_off": 12_500}.items():
        estimate = found.figure(key).estimate
        assert abs(estimate.mean - lag_us) < 500, key
        assert estimate.low - 150 <= lag_us <= estimate.high + 150, key
    values = found.values["feeder.contactor.off_delay"]
    assert float(values["min"].split()[0]) < float(values["typical"].split()[0]) < float(values["max"].split()[0])
    assert (found.trouble, found.left_out) == ((), ())


def test_a_missed_press_and_a_contact_that_did_not_make_are_told_and_left_out(spot, contactor):
    repeats = _operations(contactor)
    repeats[2] = repeats[2].only({"contactor", "main_contact"})
    repeats[5] = repeats[5].only({"press_trigger", "contactor"})
    repeats[7] = _operations(contactor, 1, works_on=60.0)[0]
    found = measured(spot, contactor, repeats)
    assert [one[:9] for one in found.left_out] == ["repeat 3:", "repeat 6:", "repeat 8:", "repeat 8:"]
    assert "not pressed as ordered" in found.left_out[0]
    assert "main_contact never came on" in found.left_out[1]
    assert found.figure("works_on").estimate.count == 7
    assert found.values


@pytest.mark.parametrize(
    ("spoil", "words"),
    [
        (lambda one: one.only({"press_trigger", "main_contact"}), "never shows voltage"),
        (lambda one: one.only({"press_trigger", "contactor"}), "never comes on"),
        (lambda one: replace(one, at_start=frozenset({"main_contact"})), "shows voltage all the time"),
        (
            lambda one: replace(one, edges=tuple(sorted((SeenEdge(2_000, "contactor", True), *one.edges)))),
            "before the add-on can have switched it",
        ),
    ],
)
def test_what_never_moves_or_moves_too_soon_is_told_with_what_is_likely_wrong(spot, contactor, spoil, words):
    found = measured(spot, contactor, [spoil(one) for one in _operations(contactor)])
    assert any(words in text for text in found.trouble), found.trouble
    assert found.values == {}


def test_a_dial_that_was_left_where_it_stood_is_no_lag(spot, contactor):
    found = measured(spot, contactor, _operations(contactor, relay_off=80.0))
    assert any("does every dial stand as told" in text for text in found.trouble)
    assert found.values == {}


def test_a_weld_that_ends_by_itself_is_told(spot):
    quantity = measuring_plan(spot).quantity("wire_drive")
    off_us = round(pin_us(quantity.cycle, Output.WIRE, False)) - 200_000
    edges = [SeenEdge(off_us - 100_000, "motor", True), SeenEdge(off_us, "motor", False)]
    coil = [SeenEdge(off_us - 110_000, "wire_drive", True), SeenEdge(off_us - 5_000, "wire_drive", False)]
    repeat = SeenRepeat(tuple(sorted([*press_edges(quantity.cycle), *edges, *coil])))
    found = measured(spot, quantity, [repeat] * 6)
    assert "before it was let go" in found.left_out[0]
    assert found.trouble


@pytest.mark.parametrize(("coast_ms", "friction"), gate_share([(25.0, 0.15), (12.0, 0.3), (60.0, 0.5)], 3))
def test_a_braked_coast_finer_than_a_slot_is_found(spot, coast_ms, friction):
    quantity, random = measuring_plan(spot).quantity("coast"), Random(7)
    repeats = [
        coasted(quantity.cycle, random, motor="motor", coast_us=1000 * coast_ms, friction=friction, turn_us=1e6)
        for _ in range(10)
    ]
    estimate = measured(spot, quantity, repeats).figure("coast").estimate
    assert abs(estimate.mean - 1000 * coast_ms) < 800
    assert estimate.low - 100 <= 1000 * coast_ms <= estimate.high + 100
    assert estimate.half_width < 2_000


def test_a_motor_without_a_brake_is_found_to_let_go_by_the_disc():
    shop = load_project(SHOP)
    quantity, random = measuring_plan(shop).quantity("coast"), Random(2)
    repeats = [
        coasted(
            quantity.cycle,
            random,
            motor=motor_line(shop),
            coast_us=70_000,
            friction=4.0,
            turn_us=1.2e6,
            off_us=random.gauss(6_000, 200),
            hidden_us=90_000,
        )
        for _ in range(6)
    ]
    found = measured(shop, quantity, repeats)
    assert abs(found.figure("coast").estimate.mean - 70_000) < 1_000
    assert abs(found.figure("whole_off").estimate.mean - 6_000) < 1_000
    assert found.values["feeder.wire_drive.coast_measured"] is True


def test_wire_speed_comes_from_turns_and_a_rule(spot):
    quantity, random = measuring_plan(spot).quantity("wire_speed"), Random(3)
    repeats = [
        coasted(quantity.cycle, random, motor="motor", coast_us=25_000, friction=0.2, turn_us=0.9e6) for _ in range(5)
    ]
    mm_a_turn = 90.0
    lengths_mm = [mm_a_turn * len(one.of("disc")) / (2 * DISC_SLOTS) + random.uniform(-0.5, 0.5) for one in repeats]
    found = measured(spot, quantity, repeats, lengths_mm)
    speed = found.figure("wire_feed_speed").estimate
    assert speed.low <= 100.0 <= speed.high
    assert found.values["process.wire_feed_speed"].endswith("m/min")
    assert "runs with a length" in measured(spot, quantity, repeats).trouble[0]


def test_dips_follow_from_dark_times(spot):
    import math

    quantity, hz, share = measuring_plan(spot).quantity("supply"), 50.0, 0.8
    edges, at_us = press_edges(quantity.cycle, 400_000), 5_000
    end_us = pin_us(quantity.cycle, Output.GAS, False, 400_000)
    rest = math.asin(0.3) / (math.pi * hz) * 1e6
    while at_us < end_us + 500_000:
        dips = 420_000 < at_us < 400_000 + quantity.cycle.presses[1][0]
        gap_us = math.asin(0.3 / (share if dips else 1.0)) / (math.pi * hz) * 1e6
        edges += [
            SeenEdge(round(at_us - gap_us / 2), "supply", False),
            SeenEdge(round(at_us + gap_us / 2), "supply", True),
        ]
        at_us += 10_000
    lowest, holding = dip_shares(SeenRepeat(tuple(sorted(edges))), quantity.cycle, hz)
    assert lowest == pytest.approx(share, abs=0.01)
    assert holding == pytest.approx(share, abs=0.01)
    assert rest > 0


@pytest.mark.parametrize("path", EXAMPLES, ids=lambda path: path.stem)
def test_every_machine_says_what_to_do_and_runs_no_longer_than_its_limits(path):
    project = load_project(path)
    plan = measuring_plan(project)
    assert {"contactor", "wire_drive", "coast"} <= {one.key for one in plan.quantities}
    limit_us = project.design.limits.arc_start_us or project.design.limits.weld_us or 10**9
    for one in plan.quantities:
        assert one.do
        assert one.cautions
        if one.cycle is not None:
            assert one.cycle.wire_us < limit_us
            assert one.cycle.presses[-1][1] is False
