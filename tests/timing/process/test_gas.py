from __future__ import annotations

import math
from collections.abc import Callable
from itertools import pairwise

import pytest
from hypothesis import given
from hypothesis import strategies as st

from timing.design.design import Design
from timing.process.errors import ProcessError
from timing.process.gas import FLOWING_BAR, GasPath, Hose, gas_path, gas_use, hose_surge, purge

PATH = GasPath(14.0, Hose(0.1, 2.0, 1.6), 0.05, 0.006)
FLAT = GasPath(14.0, Hose(0.1, 0.35, 1.6), 0.05, 0.006)
UNSTATED = GasPath(14.0, None, 0.05, 0.006)

hoses = st.builds(Hose, st.floats(0.005, 3), st.floats(0, 10), st.floats(1.3, 1.67))
paths = st.builds(GasPath, st.floats(2, 40), st.none() | hoses, st.floats(0.005, 0.5), st.floats(0.001, 0.05))


@given(path=paths, air_left=st.floats(0.001, 0.3))
def test_purge_lies_between_plug_flow_and_full_mixing(path: GasPath, air_left: float) -> None:
    found = purge(path, air_left)
    assert 0 < found.plug_s <= found.likely_s * (1 + 1e-9)
    assert found.likely_s <= found.mixed_s * (1 + 1e-9)
    assert purge(path, air_left, gun=False).likely_s <= found.likely_s


@pytest.mark.parametrize("path", [FLAT, UNSTATED], ids=["no pressure", "no hose"])
def test_purge_without_surge_is_volume_over_flow(path: GasPath) -> None:
    found = purge(path, 0.01)
    assert found.plug_s == pytest.approx(0.056 * 60 / 14)
    assert found.mixed_s == pytest.approx(0.056 * 60 / 14 * math.log(100))


@given(path=paths, open_s=st.floats(0, 20))
def test_time_to_deliver_is_the_inverse_of_what_is_delivered(path: GasPath, open_s: float) -> None:
    assert path.time_to_deliver_s(path.delivered_l(open_s)) == pytest.approx(open_s, abs=1e-6)


@given(path=paths)
def test_surge_is_what_the_hose_held_less_what_the_regulator_held_back(path: GasPath) -> None:
    """Boyle bounds it: the regulator feeds no more than the set flow until the hose has come down to its pressure."""
    held_l = 0.0 if path.hose is None else path.hose.volume_l * max(path.hose.rest_bar - FLOWING_BAR, 0.0) / 1.01325
    assert 0 <= path.surge_l <= held_l * 1.001 + 1e-9
    assert path.surge_peak >= 1
    assert path.delivered_l(1e4) - path.flow_l_s * 1e4 == pytest.approx(path.surge_l, abs=1e-6)


@given(hose=hoses, flow_l_min=st.floats(2, 40))
def test_flow_of_a_surge_only_ever_falls_and_ends_at_the_set_flow(hose: Hose, flow_l_min: float) -> None:
    shares = hose_surge(hose, flow_l_min / 60).flow_share
    assert all(later <= sooner for sooner, later in pairwise(shares))
    assert shares[-1] == pytest.approx(1.0, abs=0.02)


def test_beyond_the_critical_ratio_the_flow_goes_with_the_pressure_and_below_it_falls_off_faster() -> None:
    hose = PATH.hose
    assert hose is not None
    assert hose.out_share(6.0) / hose.out_share(3.0) == pytest.approx(2.0)
    assert hose.out_share(1.6) / hose.out_share(1.1) > 1.6 / 1.1
    assert hose.in_share(hose.rest_bar) == 0
    assert hose.in_share(FLOWING_BAR) == pytest.approx(1.0)


def test_higher_hose_pressure_wastes_more_and_purges_sooner() -> None:
    high = GasPath(14.0, Hose(0.1, 4.0, 1.6), 0.05, 0.006)
    assert high.surge_l > PATH.surge_l > FLAT.surge_l == 0
    assert purge(high).likely_s < purge(PATH).likely_s < purge(FLAT).likely_s
    assert FLAT.surge_settles_s == 0 < PATH.surge_settles_s


def test_gas_of_a_weld_adds_up() -> None:
    use = gas_use(PATH, 3.0, 2300.0)
    assert use.surge_l is not None
    assert use.per_weld_l == pytest.approx(0.7 + use.surge_l)
    assert use.per_hundred_l == pytest.approx(100 * use.per_weld_l)
    assert use.welds_per_cylinder == math.floor(2300 / use.per_weld_l)
    assert gas_use(PATH, 3.0, None).welds_per_cylinder is None
    assert gas_use(UNSTATED, 3.0, None).surge_l is None


@pytest.mark.parametrize("air_left", [0.0, 1.0, -0.1, float("nan")])
def test_share_of_air_that_is_none_is_refused(air_left: float) -> None:
    with pytest.raises(ProcessError, match="of the air left"):
        purge(PATH, air_left)


def test_gasless_wire_has_no_gas_path(gasless_design: Design) -> None:
    with pytest.raises(ProcessError, match="without gas"):
        gas_path(gasless_design.process)


def test_gas_path_volumes_come_from_bore_and_length(design_of: Callable[..., Design]) -> None:
    path = gas_path(design_of({"gun_length": '"4 m"', "gun_bore": '"5 mm"'}).process)
    assert path.gun_l == pytest.approx(math.pi / 4 * 25 * 4000 / 1e6)


def test_a_hose_counts_where_its_length_and_pressure_are_stated(design_of: Callable[..., Design]) -> None:
    half = gas_path(design_of({"gas_hose_length": '"4 m"'}).process)
    whole = gas_path(design_of({"gas_hose_length": '"4 m"', "gas_hose_pressure": '"2 bar"'}).process)
    assert half.hose is None
    assert whole.hose is not None
    assert whole.hose.volume_l == pytest.approx(math.pi / 4 * 6.3**2 * 4000 / 1e6)
    assert 1.5 < whole.hose.heats < 1.67
