"""The machine between the boards: nothing before its cause, and everything as late as the hidden machine says."""

from __future__ import annotations

from copy import deepcopy
from dataclasses import replace
from itertools import pairwise

import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from bench.feeder_model.hidden import FAR_SPREADS, DrawnLag, Switching
from bench.feeder_model.machines import hung_adapters, lamps, random_machine, usual_machine
from bench.feeder_model.model import FLAG_ADAPTERS, FeederModel
from tests.bench.feeder_model.conftest import project_named
from tests.conftest import SOAK
from tests.support.drawn_designs import designs, project_of
from timing.protocol.target import OUTPUT_BIT
from timing.protocol.target_of_design import target_of

FITTED = frozenset({"trigger", "purge", "arc", *OUTPUT_BIT})

seeds = st.integers(0, 10_000)
scripts = st.lists(
    st.tuples(st.integers(0, 400_000), st.sampled_from([*OUTPUT_BIT, "trigger", "purge"]), st.booleans()),
    min_size=1,
    max_size=25,
)


def told(model: FeederModel, at_us: int, what: str, on: bool) -> None:
    (model.output if what in OUTPUT_BIT else model.press)(at_us, what, on)


def a_weld(model: FeederModel, start_us: int = 100_000, weld_us: int = 1_000_000, burnback_us: int = 130_000):
    """Let the add-on make one weld; return every change up to well after it."""
    end_us = start_us + weld_us
    for role in OUTPUT_BIT:
        model.output(start_us, role, True)
    model.output(end_us, "wire_drive", False)
    model.output(end_us + burnback_us, "contactor", False)
    model.output(end_us + burnback_us, "gas_valve", False)
    return model.take(end_us + 2_000_000)


@settings(max_examples=15, deadline=None)
@given(seeds, scripts)
def test_changes_come_in_order_and_each_turns_its_line_over(seed, script):
    project = project_named("spot_stitch")
    model = FeederModel(random_machine(project, seed), FITTED, seed)
    at_us, found = 0, []
    for wait_us, what, on in script:
        at_us += wait_us
        found += model.take(at_us)
        assert all(change.at_us <= at_us for change in found)
        told(model, at_us, what, on)
        assert not [change for change in model.take(at_us) if change.at_us > at_us]
    found += model.take(at_us + 500_000)
    assert [change.at_us for change in found] == sorted(change.at_us for change in found)
    stands = dict.fromkeys(model.lines, False)
    for change in found:
        assert change.on is not stands[change.line]
        stands[change.line] = change.on
    assert stands == model.lines


@settings(max_examples=15, deadline=None)
@given(seeds, scripts)
def test_nothing_changes_before_it_is_announced_nor_however_it_is_asked(seed, script):
    """Asked event by event, a machine says the same as asked seldom."""
    project = project_named("shop_two_step")
    hidden = random_machine(project, seed)
    seldom, often = FeederModel(hidden, FITTED, seed), FeederModel(hidden, FITTED, seed)
    at_us, rare, single = 0, [], []
    for wait_us, what, on in [*script, (400_000, "trigger", False)]:
        at_us += wait_us
        while (next_us := often.next_us()) is not None and next_us <= at_us:
            assert often.take(next_us - 1) == []
            single += often.take(next_us)
        told(seldom, at_us, what, on)
        told(often, at_us, what, on)
        rare += seldom.take(at_us)
        single += often.take(at_us)
    assert rare == single


@settings(max_examples=15, deadline=None)
@given(seeds)
def test_every_lag_is_the_hidden_one(seed):
    """With contacts that do not bounce, each effect comes once, within the spread about the hidden mean."""
    project = project_named("shop_two_step")
    hidden = random_machine(project, seed)
    calm = {
        role: replace(load, relay=replace(load.relay, bounce_us=0), acts=replace(load.acts, bounce_us=0))
        for role, load in hidden.loads.items()
    }
    model = FeederModel(replace(hidden, loads=calm), FITTED, seed)
    a_weld(model)
    for role, load in calm.items():
        for cause, effect, how in (
            (f"pin.{role}", f"fed.{role}", load.relay),
            (f"fed.{role}", f"acts.{role}", load.acts),
        ):
            moves = zip(model.truth.moves(cause), model.truth.moves(effect), strict=True)
            for (caused_us, on), (at_us, followed) in moves:
                lag = how.on if on else how.off
                assert followed is on
                assert abs(at_us - caused_us - lag.mean_us) <= FAR_SPREADS * lag.spread_us + 1


@settings(max_examples=15, deadline=None)
@given(seeds)
def test_a_coil_counts_from_the_first_touch_of_a_bouncing_contact(seed):
    project = project_named("shop_two_step")
    hidden = usual_machine(project)
    load = hidden.loads["contactor"]
    exact = replace(load, acts=Switching(DrawnLag(20_000), DrawnLag(15_000)))
    model = FeederModel(replace(hidden, loads={**hidden.loads, "contactor": exact}), FITTED, seed)
    a_weld(model)
    fed, acts = model.truth.moves("fed.contactor"), model.truth.moves("acts.contactor")
    assert acts == [(fed[0][0] + 20_000, True), (fed[-1][0] + 15_000, False)]


@settings(max_examples=15, deadline=None)
@given(seeds)
def test_the_disc_adds_up_to_the_run_and_the_coast_is_the_hidden_one(seed):
    project = project_named("shop_two_step")
    hidden = random_machine(project, seed)
    model = FeederModel(hidden, FITTED, seed)
    a_weld(model, weld_us=2_000_000)
    begun = [at_us for at_us, on in model.truth.moves("disc") if on]
    disc, drive = hidden.disc, hidden.drive
    pitch_mm = disc.mm_per_turn / disc.slots
    # The slots of one turn add up to a turn, however the disc stands off its roll.
    turns = [
        model.truth.run_mm(later_us) - model.truth.run_mm(earlier_us)
        for earlier_us, later_us in zip(begun, begun[disc.slots :], strict=False)
    ]
    assert turns == pytest.approx([disc.mm_per_turn] * len(turns), abs=0.01)
    end_us = model.now_us
    most_mm = pitch_mm * (1.0 + disc.eccentricity * disc.slots)
    assert abs(len(begun) * pitch_mm - model.truth.run_mm(end_us)) <= most_mm
    let_go_us = model.truth.moves("acts.wire_drive")[-1][0]
    coast_mm = model.truth.run_mm(end_us) - model.truth.run_mm(let_go_us)
    speed = model.truth.speed_mm_s(let_go_us)
    assert speed == pytest.approx(drive.speed_mm_s, rel=1e-3)
    assert coast_mm == pytest.approx(drive.speed_mm_s * drive.coast_us / 1e6, rel=2e-3)


def test_the_wire_never_runs_back(project):
    model = FeederModel(usual_machine(project), FITTED, 5)
    for place in range(12):
        model.output(20_000 * place**2, "wire_drive", place % 2 == 0)
    model.take(4_000_000)
    runs = [model.truth.run_mm(at_us) for at_us in range(0, 4_000_000, 1_000)]
    assert all(later >= earlier for earlier, later in pairwise(runs))
    speeds = [model.truth.speed_mm_s(at_us) for at_us in range(0, 4_000_000, 1_000)]
    assert all(abs(later - earlier) < model.hidden.drive.speed_mm_s * 0.15 for earlier, later in pairwise(speeds))


def test_an_arc_needs_wire_and_voltage_and_outlives_the_contact():
    project = project_named("spot_stitch")
    model = FeederModel(usual_machine(project), FITTED, 2)
    a_weld(model)
    (struck_us, _), (out_us, _) = model.truth.moves("arc")
    assert model.truth.was_on("acts.contactor", struck_us)
    assert model.truth.run_mm(struck_us) > 0
    assert out_us > model.truth.moves("acts.contactor")[-1][0]


def test_no_arc_without_the_contactor():
    model = FeederModel(usual_machine(project_named("spot_stitch")), FITTED, 2)
    model.output(0, "wire_drive", True)
    model.take(2_000_000)
    assert model.truth.moves("arc") == []


def test_no_arc_without_the_work_clamp_and_one_that_burns_goes_out():
    model = FeederModel(usual_machine(project_named("spot_stitch")), FITTED, 2)
    model.clamp(0, False)
    a_weld(model)
    assert model.truth.moves("arc") == []
    start_us = model.now_us
    model.clamp(start_us, True)
    for role in ("wire_drive", "contactor"):
        model.output(start_us, role, True)
    model.take(start_us + 1_000_000)
    assert [on for _, on in model.truth.moves("arc")] == [True]
    model.clamp(model.now_us, False)
    model.take(start_us + 2_000_000)
    assert model.truth.moves("arc")[1:] == [(start_us + 1_000_000, False)]


def test_the_welding_voltage_falls_as_the_wire_shorts_it_and_lasts_as_long_as_the_arc():
    hidden = usual_machine(project_named("spot_stitch"))
    model = FeederModel(hidden, FITTED, 2, {"main_contact": "welding_voltage"})
    a_weld(model)
    seen, truth = model.truth.moves("welding_voltage"), model.truth
    (struck_us, _), (out_us, _) = truth.moves("arc")
    assert truth.moves("acts.contactor")[-1][0] < out_us == seen[-1][0]
    shorted_us = struck_us - next(at_us for at_us, on in reversed(seen) if not on and at_us < struck_us)
    assert abs(shorted_us - hidden.arc.strikes.mean_us) <= FAR_SPREADS * hidden.arc.strikes.spread_us


@pytest.mark.parametrize("clamped", [True, False])
def test_a_capacitor_bank_keeps_the_welding_voltage_up_unless_an_arc_drains_it(clamped):
    hidden = usual_machine(project_named("spot_stitch"))
    model = FeederModel(replace(hidden, arc=replace(hidden.arc, holds_us=700_000)), FITTED, 2)
    model.clamp(0, clamped)
    a_weld(model)
    opened_us = model.truth.moves("acts.contactor")[-1][0]
    lasted_us = model.truth.moves("welding_voltage")[-1][0] - opened_us
    assert lasted_us < 10_000 if clamped else lasted_us == 700_000


def test_an_arc_that_is_not_fed_goes_out_by_itself():
    model = FeederModel(usual_machine(project_named("spot_stitch")), FITTED, 2)
    for role in ("wire_drive", "contactor"):
        model.output(0, role, True)
    model.output(1_000_000, "wire_drive", False)
    model.take(3_000_000)
    assert [on for _, on in model.truth.moves("arc")] == [True, False]


def test_the_dark_of_an_ac_coupler_grows_as_the_winding_sags():
    project = project_named("shop_two_step")
    model = FeederModel(usual_machine(project), FITTED, 3)
    changes = [one for one in a_weld(model) if one.line == "recorder.supply"]
    dark_us = {off.at_us: on.at_us - off.at_us for off, on in pairwise(changes) if not off.on}
    lowest_us = min(dict(model.truth.sags), key=model.truth.winding_v)
    sagging = [gap for at_us, gap in dark_us.items() if lowest_us <= at_us < lowest_us + 16_000]
    before = [gap for at_us, gap in dark_us.items() if at_us < 50_000]
    assert min(sagging) > max(before)
    half_wave_us = 1e6 / 2 / model.hidden.line.frequency_hz
    assert len(before) == pytest.approx(50_000 / half_wave_us, abs=1)


@pytest.mark.parametrize("relays", [False, True])
def test_lamps_show_the_outputs_and_nothing_else(relays):
    project = project_named("shop_two_step")
    model = FeederModel(lamps(project if relays else None), target_of(project).fitted, 1)
    changes = a_weld(model)
    assert {one.line for one in changes} == {f"recorder.{role}" for role in OUTPUT_BIT}
    first = {one.line: one.at_us for one in reversed(changes)}
    late_us = [at_us - 100_000 for at_us in first.values()]
    assert all((5_000 < each < 9_000) if relays else (0 < each < 60) for each in late_us)
    assert not any(model.lines.values())


def test_lamps_need_no_adapter_for_what_the_bench_has_not():
    model = FeederModel(lamps(), FITTED, 1, FLAG_ADAPTERS)
    assert model.next_us() is None


def test_a_press_closes_what_is_fitted():
    model = FeederModel(lamps(), frozenset({"trigger"}), 1)
    model.press(10, "trigger", True)
    model.press(10, "purge", True)
    assert [one.line for one in model.take(10_000)] == ["board.trigger"]


def test_a_button_on_ac_is_sensed_as_pulses():
    project = project_named("shop_two_step")
    model = FeederModel(usual_machine(project), target_of(project).fitted, 1)
    model.press(10, "trigger", True)
    changes = [one for one in model.take(500_000) if one.line == "board.trigger"]
    assert len(changes) == pytest.approx(4 * 60 * 0.5, abs=3)


def test_adapters_may_be_hung_elsewhere_between_two_measurements():
    project = project_named("spot_stitch")
    model = FeederModel(usual_machine(project), FITTED, 1, {})
    model.take(100_000)
    assert model.lines["recorder.supply"] is False
    model.hang(100_000, {"gas_valve": "contactor", "sensor": "flag"})
    changes = a_weld(model, start_us=200_000)
    assert {one.line for one in changes} >= {"recorder.gas_valve", "recorder.sensor"}
    assert not [one for one in changes if one.line == "recorder.contactor"]


def test_what_has_passed_is_not_changed():
    model = FeederModel(lamps(), FITTED)
    model.take(1_000)
    for change in (model.output, model.press):
        with pytest.raises(ValueError, match="lies before 1000 us"):
            change(999, "trigger", True)
    with pytest.raises(KeyError):
        model.output(1_000, "trigger", True)


def test_one_seed_is_one_machine(project):
    assert random_machine(project, 4) == random_machine(project, 4)
    assert random_machine(project, 4) != random_machine(project, 5)
    runs = []
    for _ in range(2):
        model = FeederModel(random_machine(project, 4), FITTED, 9)
        model.output(0, "contactor", True)
        runs.append(model.take(300_000))
    assert runs[0] == runs[1]


@settings(max_examples=10, deadline=None)
@given(seeds, st.integers(0, 1_500_000))
def test_a_copy_goes_on_alike_and_for_itself(seed, parted_us):
    """Runs are tried from one state on: what happens to a copy is nothing to the machine."""
    model = FeederModel(random_machine(project_named("shop_two_step"), seed), FITTED, seed)
    for role in OUTPUT_BIT:
        model.output(100_000, role, True)
    model.take(100_000 + parted_us)
    twin = deepcopy(model)
    twin.output(twin.now_us, "wire_drive", False)
    runs = []
    for one in (twin, model):
        if one is model:
            assert model.truth.moves("pin.wire_drive") == [(100_000, True)]
            model.output(model.now_us, "wire_drive", False)
        runs.append((one.take(3_000_000), one.truth.run_mm(3_000_000), one.truth.sags, one.lines))
    assert runs[0] == runs[1]


@settings(max_examples=40 if SOAK else 8, deadline=None)
@given(designs(interposed=True), seeds)
def test_any_design_has_its_machines(text, seed):
    """Whatever switches whatever: a weld goes through the usual machine and through one that nobody knows."""
    project = project_of(text)
    for hidden in (usual_machine(project), random_machine(project, seed)):
        model = FeederModel(hidden, FITTED, seed, hung_adapters(project))
        start_us = 100_000
        for role in hidden.loads:
            model.output(start_us, role, True)
        model.take(start_us + 1_000_000)
        for role in hidden.loads:
            assert model.truth.was_on(f"acts.{role}", model.now_us)
            model.output(model.now_us, role, False)
        model.take(start_us + 3_000_000)
        assert not any(model.truth.was_on(f"acts.{role}", model.now_us) for role in hidden.loads)
        assert not model.truth.was_on("turning", model.now_us)
        dark = {line for line, on in model.lines.items() if on} - {"recorder.supply", "recorder.disc"}
        assert dark == set()
