from __future__ import annotations

from collections.abc import Callable

import pytest

from timing.design.design import Design
from timing.process.gas_times import postflow_advice, preflow_advice

HOSE = {"gas_hose_length": '"3 m"', "gas_hose_pressure": '"2 bar"'}
ALUMINIUM = {
    "wire": '"aluminium"',
    "gas": '"I1"',
    "wire_diameter": '"1.2 mm"',
    "wire_feed_speed": '"8 m/min"',
    "wire_feed_speed_low": '"6 m/min"',
    "wire_feed_speed_high": '"12 m/min"',
    "open_circuit_voltage": '"26 V"',
    "contact_tip_to_work": '"15 mm"',
}


def test_a_surge_shortens_the_preflow_only_where_the_hose_is_stated(design_of: Callable[..., Design]) -> None:
    guessed, stated = preflow_advice(design_of({})), preflow_advice(design_of(HOSE))
    assert guessed.time.setting_us >= stated.time.setting_us + 100_000
    assert any("does not state the hose" in reason for reason in guessed.time.reasons)
    assert any("The hose lets" in reason for reason in stated.time.reasons)


def test_postflow_of_aluminium_is_that_of_the_speed_it_is_welded_at(design_of: Callable[..., Design]) -> None:
    design, plate = design_of(ALUMINIUM), {"plate_thickness_mm": None}

    def seam(**changes: float | None) -> Design:
        process = design.process.model_copy(update={**plate, **changes})
        return design.model_copy(update={"process": process, "spot": None, "stitch": None})

    usual = postflow_advice(seam(), 8.0).time
    crawling = postflow_advice(seam(travel_speed_mm_s=6.0), 8.0).time
    assert 500_000 <= usual.setting_us <= 2_500_000 < crawling.setting_us
    assert usual.dial_to_us <= 6_000_000


@pytest.mark.parametrize(("wire", "gas"), [("mild-steel", "M21"), ("stainless-steel", "M13")])
def test_travel_left_out_is_that_of_the_wire(design_of: Callable[..., Design], wire: str, gas: str) -> None:
    left_out = {"wire": f'"{wire}"', "gas": f'"{gas}"'}
    stated = left_out | {"travel_speed": '"6 mm/s"'}
    assert postflow_advice(design_of(left_out), 8.0).time == postflow_advice(design_of(stated), 8.0).time
