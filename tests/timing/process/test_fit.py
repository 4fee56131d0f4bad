from __future__ import annotations

from dataclasses import replace

import numpy as np
import pytest

from timing.process.case import BurnbackCase, run_likely
from timing.process.errors import ProcessError
from timing.process.fit import fit_machine
from timing.process.welds import TestWeld

SPREAD_OUT_S = (0.02, 0.05, 0.08, 0.12, 0.2)


def welds(
    case: BurnbackCase,
    coast_s: float,
    contactor_s: float,
    settings_s: tuple[float, ...],
    error_mm: float = 0.0,
    seed: int = 0,
) -> list[TestWeld]:
    """Test welds of a machine whose coast and drop-out are known, read with an error."""
    machine = replace(case, coast_s=coast_s, contactor_off=case.contactor_off.moved_to(contactor_s))
    random = np.random.default_rng(seed)
    left = np.array([rest.extension_mm for rest in run_likely(machine, np.sort(np.array(settings_s)))])
    return [
        TestWeld(float(setting), float(mm + error_mm * random.standard_normal()))
        for setting, mm in zip(np.sort(settings_s), left, strict=True)
    ]


@pytest.mark.parametrize(("coast", "contactor"), [(0.04, 0.015), (0.07, 0.03), (0.1, 0.05)])
def test_exact_welds_give_the_machine_back(case: BurnbackCase, coast: float, contactor: float) -> None:
    fit = fit_machine(case, welds(case, coast, contactor, SPREAD_OUT_S), rule_mm=0.02, hand_mm=0.0)
    assert fit.coast_s == pytest.approx(coast, abs=0.004)
    assert fit.contactor_off_s == pytest.approx(contactor, abs=0.006)
    assert fit.fits_well


def test_limits_hold_the_truth_about_as_often_as_they_say(case: BurnbackCase) -> None:
    """95 % limits over 20 machines' worth of reading errors: at most 4 misses (chance of more: 1 in 400)."""
    steady = replace(
        case,
        wire_off=replace(case.wire_off, min_s=case.wire_off.typical_s, max_s=case.wire_off.typical_s),
        contactor_off=replace(
            case.contactor_off, min_s=case.contactor_off.typical_s, max_s=case.contactor_off.typical_s
        ),
    )
    missed = 0
    for seed in range(20):
        made = welds(steady, 0.06, 0.02, (0.05, 0.12), 0.3, seed)
        limits = fit_machine(steady, made, rule_mm=0.3, hand_mm=0.0).coast_limits_s
        missed += not (limits.low or 0.0) <= 0.06 <= (limits.high or np.inf)
    assert missed <= 4


def test_two_welds_late_in_the_curve_cannot_tell_coast_from_drop_out(case: BurnbackCase) -> None:
    fit = fit_machine(case, welds(case, 0.05, 0.02, (0.15, 0.16)))
    assert not fit.told_apart
    assert "do not tell the two apart" in fit.sentence
    assert fit.coast_held_s == pytest.approx(0.05, abs=0.003)


def test_undecided_fit_leaves_the_contactor_as_it_was(case: BurnbackCase) -> None:
    fit = fit_machine(case, welds(case, 0.06, 0.02, (0.1, 0.12)))
    assert not fit.told_apart
    assert fit.applied(case).contactor_off == case.contactor_off
    assert set(fit.design_values(case)) == {"feeder.wire_drive.coast", "feeder.wire_drive.coast_measured"}


def test_decided_fit_writes_both_figures_with_units(case: BurnbackCase) -> None:
    exact = welds(case, 0.07, 0.03, SPREAD_OUT_S)
    fit = replace(fit_machine(case, exact, rule_mm=0.05, hand_mm=0.0), told_apart=True)
    values = fit.design_values(case)
    assert str(values["feeder.wire_drive.coast"]).endswith(" ms")
    delay = values["feeder.contactor.off_delay"]
    assert isinstance(delay, dict)
    assert list(delay) == ["min", "typical", "max"]
    assert fit.applied(case).coast_measured


def test_a_fitted_drop_out_is_written_without_what_the_suppression_adds(case: BurnbackCase) -> None:
    slow = replace(case, contactor_later_s=0.01)
    fit = replace(fit_machine(slow, welds(slow, 0.07, 0.03, SPREAD_OUT_S), rule_mm=0.05, hand_mm=0.0), told_apart=True)
    stated, plain = (fit.design_values(one)["feeder.contactor.off_delay"] for one in (slow, case))
    assert isinstance(stated, dict)
    assert isinstance(plain, dict)
    assert int(plain["typical"].split()[0]) - int(stated["typical"].split()[0]) == 10


def test_next_weld_narrows_the_limits_more_than_repeating_one(case: BurnbackCase) -> None:
    first = welds(case, 0.06, 0.03, (0.15, 0.17))
    fit = fit_machine(case, first)
    widths = []
    for setting in (fit.next_weld.burnback_s, 0.17):
        more = fit_machine(case, first + welds(case, 0.06, 0.03, (setting,)))
        assert more.coast_limits_s.high is not None
        widths.append(more.coast_limits_s.high - (more.coast_limits_s.low or 0.0))
    assert fit.next_weld.worth_making
    assert widths[0] < widths[1]


def test_fit_predicts_its_own_welds_in_the_order_given(case: BurnbackCase) -> None:
    made = welds(case, 0.07, 0.03, SPREAD_OUT_S)
    turned = list(reversed(made))
    fit = fit_machine(case, turned)
    assert fit.predicted_mm == pytest.approx([weld.extension_mm for weld in turned], abs=0.1)


def test_welds_that_contradict_each_other_are_named_so(case: BurnbackCase) -> None:
    fit = fit_machine(case, [TestWeld(0.1, 4.0), TestWeld(0.1, 11.0), TestWeld(0.12, 10.0)])
    assert not fit.fits_well
    assert "do not agree" in fit.sentence


@pytest.mark.parametrize(
    ("made", "words"),
    [
        ([], "0 test welds"),
        ([TestWeld(0.1, 8.0)], "1 test weld$"),
        ([TestWeld(0.1, 8.0), TestWeld(-0.1, 8.0)], "test weld 2: burnback"),
        ([TestWeld(0.1, 8.0), TestWeld(0.1, 40.0)], "test weld 2: 40 mm"),
        ([TestWeld(0.1, float("nan")), TestWeld(0.1, 4.0)], "test weld 1: nan mm"),
    ],
)
def test_welds_that_cannot_be_are_refused_by_number(case: BurnbackCase, made: list[TestWeld], words: str) -> None:
    with pytest.raises(ProcessError) as caught:
        fit_machine(case, made)
    assert words.rstrip("$") in caught.value.what


def test_a_rule_without_error_is_refused(case: BurnbackCase) -> None:
    with pytest.raises(ProcessError, match="rule"):
        fit_machine(case, welds(case, 0.05, 0.02, (0.1, 0.12)), rule_mm=0.0)
