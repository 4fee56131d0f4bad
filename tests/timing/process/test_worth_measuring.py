"""What a measurement is said to be worth, against what advice says once it has been made."""

from __future__ import annotations

from collections.abc import Callable

import numpy as np
import pytest

from timing.design.design import Design
from timing.design.section import field_at
from timing.process.advice import design_curve
from timing.process.burnback_curve import drawn_and_run
from timing.process.case import SEED, scatter
from timing.process.worth_measuring import WorthMeasuring, foreseen, measurements, worth_measuring

DRAWS = 2000
DesignOf = Callable[..., Design]
COAST_KNOWN = {'coast = "50 ms"': 'coast = "50 ms"\ncoast_measured = true'}


def worth_of(design: Design) -> WorthMeasuring:
    return worth_measuring(design, design_curve(design, DRAWS), DRAWS, SEED)


def names(worth: WorthMeasuring) -> set[str]:
    return {one.measurement.name for one in worth.proposals}


def test_what_a_reading_is_said_to_be_worth_is_what_advice_then_says(design_of: DesignOf) -> None:
    """On average: with the readings that low, usual and high machines show."""
    bare = design_of({"open_circuit_voltage": ""})
    worth = worth_of(bare)
    promised = next(one for one in worth.proposals if one.measurement.name == "open-circuit voltage")
    shown = scatter(design_curve(bare, DRAWS).case, DRAWS, weld=False).plant.open_v
    read = [
        design_curve(design_of({"open_circuit_voltage": f'"{volts:.2f} V"'}), DRAWS).best
        for volts in np.quantile(shown, (0.15, 0.5, 0.85))
    ]
    bands = [best.extension_mm.high - best.extension_mm.low for best in read]
    assert promised.then.band_mm == pytest.approx(np.mean(bands), rel=0.1)
    assert promised.then.share_good == pytest.approx(np.mean([best.chance_good for best in read]), abs=0.03)
    assert promised.then.band_mm < worth.now.band_mm


def test_to_know_the_machine_leaves_the_scatter_from_weld_to_weld(design_of: DesignOf) -> None:
    design = design_of()
    curve, worth = design_curve(design, DRAWS), worth_of(design)
    welds = next(one for one in worth.proposals if one.measurement.name == "test welds")
    weld = curve.best.extension_weld_to_weld_mm
    assert welds.then.band_mm == pytest.approx(weld.high - weld.low, rel=0.25)
    assert welds.then.band_mm < worth.now.band_mm
    assert welds.then.share_good > worth.now.share_good


def test_machines_are_the_same_with_and_without_what_differs_from_weld_to_weld(design_of: DesignOf) -> None:
    case = design_curve(design_of(), 100).case
    welds, machines = scatter(case, 100), scatter(case, 100, weld=False)
    for name in ("coast", "arc voltage", "melting constants", "slope of the power source"):
        assert np.array_equal(welds.causes[name], machines.causes[name]), name


def test_what_tells_nothing_is_worth_nothing(design_of: DesignOf) -> None:
    curve, worth = design_curve(design_of(), DRAWS), worth_of(design_of())
    _, run = drawn_and_run(curve.case, tuple(curve.settings_s.tolist()), DRAWS, SEED)
    none = foreseen(np.random.default_rng(3).normal(size=DRAWS), run)
    assert none.band_mm == pytest.approx(worth.now.band_mm, rel=0.05)
    assert -0.02 < none.share_good - worth.now.share_good < 0.005


def test_what_is_measured_is_not_proposed_again(design_of: DesignOf) -> None:
    assert "open-circuit voltage" not in names(worth_of(design_of()))
    assert "open-circuit voltage" in names(worth_of(design_of({"open_circuit_voltage": ""})))
    measured = worth_of(design_of(patterns=COAST_KNOWN))
    assert names(measured).isdisjoint({"coast", "test welds"})


def test_with_all_measured_it_says_that_welds_differ(design_of: DesignOf) -> None:
    worth = worth_of(design_of(patterns=COAST_KNOWN))
    assert worth.paying == ()
    assert "from weld to weld" in worth.sentences[0]


def test_what_pays_is_told_with_time_band_and_share(design_of: DesignOf) -> None:
    worth = worth_of(design_of({"open_circuit_voltage": ""}))
    assert 1 <= len(worth.paying) <= 3
    for one, sentence in zip(worth.paying, worth.sentences, strict=False):
        assert f"({one.measurement.minutes} minutes, " in sentence
        assert f"shrinks from {worth.now.band_mm:.1f} mm to {one.then.band_mm:.1f} mm" in sentence
    assert "`wirecue fit`" in worth.sentences[-1]


def test_every_cause_has_its_shares_and_what_measures_it(design_of: DesignOf) -> None:
    causes = {one.name: one for one in worth_of(design_of()).causes}
    assert causes["coast"].told_by == ("coast",)
    assert causes["coast"].differs == "from machine to machine"
    assert causes["distance the gun is held at"].differs == "from weld to weld"
    assert 0.8 < sum(one.share_of_band_total for one in causes.values()) < 1.2
    assert list(causes) == sorted(causes, key=lambda name: -causes[name].share_of_band)


def test_measurements_name_causes_and_keys_that_there_are(design_of: DesignOf) -> None:
    causes = scatter(design_curve(design_of(), 100).case, 100).causes
    for one in measurements():
        assert set(one.tells) <= set(causes), one.name
        assert all(field_at(Design, key.split(".")) for key in one.keys), one.name
