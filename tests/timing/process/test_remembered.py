"""Values that are only remembered do not decide: with others, what is advised stays in the range advised before."""

from __future__ import annotations

from collections.abc import Callable
from dataclasses import replace

import pytest

from tests.conftest import ROOT
from timing.design.design import Design
from timing.design.loading import parse_design
from timing.process import arc, case, cooling, melting
from timing.process import case as scatter
from timing.process.advice import Advice, advise

DRAWS = 500
PAUSE_SHARE = 0.3
"""The pause's range begins at its setting, and it follows the square of the current: it may move by this share."""
ALUMINIUM = {
    "wire": '"aluminium"',
    "gas": '"I1"',
    "wire_diameter": '"1.2 mm"',
    "wire_feed_speed": '"300 in/min"',
    "wire_feed_speed_low": '"250 in/min"',
    "wire_feed_speed_high": '"350 in/min"',
    "contact_tip_to_work": '"15 mm"',
    "open_circuit_voltage": '"26 V"',
    "plate_thickness": '"3 mm"',
    "plate_thickness_high": '"4 mm"',
}


def stays(first: Advice, other: Advice) -> list[str]:
    """Return what left its range."""
    ranges = {time.name: (time.low_us, time.high_us) for time in first.times}
    for pause_us in (time.setting_us for time in first.times if time.name == "pause"):
        ranges["pause"] = round((1 - PAUSE_SHARE) * pause_us), round((1 + PAUSE_SHARE) * pause_us)
    return [
        f"{time.name} {time.setting_us / 1000:g} ms, advised was {ranges[time.name]}"
        for time in other.times
        if not ranges[time.name][0] <= time.setting_us <= ranges[time.name][1]
    ]


@pytest.mark.parametrize("share", [0.9, 1.1])
@pytest.mark.parametrize("constant", ["alpha_mm_per_a_s", "beta_per_a2_s"])
def test_melting_constants_of_aluminium(
    design_of: Callable[..., Design], monkeypatch: pytest.MonkeyPatch, constant: str, share: float
) -> None:
    design = design_of(ALUMINIUM)
    first = advise(design, DRAWS)
    wire = design.process.wire
    material = melting.MATERIALS[wire]
    changed = replace(material, **{constant: getattr(material, constant) * share})
    monkeypatch.setitem(melting.MATERIALS, wire, changed)
    assert stays(first, advise(design, DRAWS)) == []


@pytest.mark.parametrize(
    ("constant", "values"),
    [("fall_v", (14.7, 16.7)), ("resistance_ohm", (0.0176, 0.0264)), ("gradient_v_per_mm", (0.84, 1.56))],
)
def test_arc_constants(
    design_of: Callable[..., Design], monkeypatch: pytest.MonkeyPatch, constant: str, values: tuple[float, ...]
) -> None:
    first = advise(design_of(), DRAWS)
    constants = arc.ARCS["M21"]
    for value in values:
        monkeypatch.setitem(arc.ARCS, "M21", replace(constants, **{constant: value}))
        assert stays(first, advise(design_of(), DRAWS)) == []


@pytest.fixture
def shop() -> Design:
    """A seam whose postflow waits for the crater."""
    return parse_design((ROOT / "examples" / "shop_two_step.toml").read_text(encoding="utf-8"))


def with_heat_capacity(monkeypatch: pytest.MonkeyPatch, share: float) -> None:
    steel = cooling.METALS["mild-steel"]
    changed = replace(steel, heat_capacity_j_per_mm3_k=steel.heat_capacity_j_per_mm3_k * share)
    monkeypatch.setitem(cooling.METALS, "mild-steel", changed)


@pytest.mark.parametrize("share", [0.85, 1.15])
def test_heat_capacity_of_hot_steel(shop: Design, monkeypatch: pytest.MonkeyPatch, share: float) -> None:
    first = advise(shop, DRAWS)
    with_heat_capacity(monkeypatch, share)
    second = advise(shop, DRAWS)
    assert second.times != first.times
    assert stays(first, second) == []


@pytest.mark.parametrize("amperes", [8.0, 25.0])
def test_current_at_which_the_model_ends_an_arc(
    design_of: Callable[..., Design], monkeypatch: pytest.MonkeyPatch, amperes: float
) -> None:
    first = advise(design_of(), DRAWS)
    for module in (arc, case):
        monkeypatch.setattr(module, "ARC_OUT_A", amperes)
    assert scatter.ARC_OUT_SPREAD_A == arc.ARC_OUT_SPREAD_A
    second = advise(design_of(), DRAWS)
    assert [time.setting_us for time in second.times] == [time.setting_us for time in first.times]


def test_a_constant_that_decides_would_be_found(shop: Design, monkeypatch: pytest.MonkeyPatch) -> None:
    first = advise(shop, DRAWS)
    with_heat_capacity(monkeypatch, 2.0)
    assert stays(first, advise(shop, DRAWS)) != []
