"""What stands on the panel, and where its switches stand for each weld."""

from __future__ import annotations

import pytest

from tests.conftest import ROOT
from timing.design.features import features_of
from timing.design.front_panel import ControlKind, WeldMode, controls_of, switch_positions, weld_modes
from timing.design.loading import parse_design
from timing.design.text_file import DesignFileError
from timing.design.times import SELECTED

SPOT = (ROOT / "examples" / "spot_stitch.toml").read_text()
SELECTOR = f'{SPOT}\n[panel]\nselector = "three-position"\n'
EVERY_TIME = (
    SPOT.replace("purge = true", "purge = true\ninch = true")
    .replace('mode = "two-step"', 'mode = "switch"')
    .replace('preflow = "250 ms"', 'preflow = { setting = "250 ms", off_switch = true }')
)


def standing(design, weld, **kw):
    return [str(one) for one in switch_positions(design, weld, **kw)]


def test_each_weld_has_its_switch_positions_with_toggles_and_with_the_selector():
    toggles, selector = parse_design(SPOT), parse_design(SELECTOR)
    assert weld_modes(toggles) == weld_modes(selector) == tuple(WeldMode)
    assert [standing(toggles, weld) for weld in WeldMode] == [
        ["spot switch at OFF", "stitch switch at OFF"],
        ["spot switch at ON", "stitch switch at OFF"],
        ["spot switch at ON", "stitch switch at ON"],
    ]
    assert [standing(selector, weld) for weld in WeldMode] == [
        ["weld switch at CONTINUOUS"],
        ["weld switch at SPOT"],
        ["weld switch at STITCH"],
    ]


@pytest.mark.parametrize("text", [SPOT, SELECTOR, EVERY_TIME], ids=["toggles", "selector", "full"])
def test_every_contact_of_the_panel_belongs_to_one_control(text):
    design = parse_design(text)
    roles = [role for control in controls_of(design) for role in control.roles]
    assert len(roles) == len(set(roles))
    ours = ("four_step", "purge", "inch", "lamp")
    fitted = {role.key for role in features_of(design).roles if role.key in ours or role.key.endswith("_switch")}
    assert set(roles) == fitted


def test_the_selector_has_no_position_for_a_stitch_without_a_spot():
    (selector,) = [one for one in controls_of(parse_design(SELECTOR)) if one.key == "selector"]
    assert [one.label for one in selector.positions] == ["spot", "continuous", "stitch"]
    assert selector.roles == SELECTED
    with pytest.raises(ValueError, match="no position that closes"):
        selector.position({"pause_switch"})


def test_what_a_panel_cannot_do_is_refused():
    full = parse_design(EVERY_TIME)
    assert {one.key for one in controls_of(full) if one.kind is ControlKind.OFF_SWITCH} == {
        f"{name}_switch" for name in features_of(full).switched
    }
    assert "preflow switch at OFF" in standing(full, WeldMode.STITCH, off=("preflow",))
    with pytest.raises(ValueError, match="no switch of its own for preflow_switch"):
        switch_positions(parse_design(SPOT), WeldMode.SPOT, off=("preflow",))
    with pytest.raises(ValueError, match="no switch of its own for four_step"):
        switch_positions(parse_design(SPOT), WeldMode.SPOT, four_step=True)
    with pytest.raises(ValueError, match="this panel offers continuous, spot, stitch"):
        switch_positions(parse_design(SPOT), "seam")


def test_without_switches_there_is_one_way_to_weld():
    always = parse_design(SPOT.replace(", off_switch = true", ""))
    assert weld_modes(always) == (WeldMode.STITCH,)
    assert switch_positions(always, WeldMode.STITCH) == ()
    assert weld_modes(parse_design((ROOT / "examples" / "shop_two_step.toml").read_text())) == (WeldMode.CONTINUOUS,)


@pytest.mark.parametrize("gone", ["time", "pause"])
def test_a_selector_needs_both_functions_that_it_switches(gone):
    line = next(one for one in SELECTOR.splitlines() if one.startswith(f"{gone} = "))
    with pytest.raises(DesignFileError, match="without both switches that it stands for"):
        parse_design(SELECTOR.replace(line, line.replace(", off_switch = true", "")))
