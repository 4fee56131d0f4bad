from __future__ import annotations

import math
from collections.abc import Callable

import pytest
from hypothesis import given
from hypothesis import strategies as st

from timing.design.design import Design
from timing.process.errors import ProcessError
from timing.process.gas import GasPath, gas_path, gas_use, purge

PATH = GasPath(14.0, 0.1, 2.0, 0.05, 0.006)
FLAT = GasPath(14.0, 0.1, 0.35, 0.05, 0.006)

paths = st.builds(
    GasPath, st.floats(2, 40), st.floats(0.005, 3), st.floats(0, 10), st.floats(0.005, 0.5), st.floats(0.001, 0.05)
)


@given(path=paths, air_left=st.floats(0.001, 0.3))
def test_purge_lies_between_plug_flow_and_full_mixing(path: GasPath, air_left: float) -> None:
    found = purge(path, air_left)
    assert 0 < found.plug_s <= found.likely_s * (1 + 1e-9)
    assert found.likely_s <= found.mixed_s * (1 + 1e-9)
    assert purge(path, air_left, gun=False).likely_s <= found.likely_s


def test_purge_without_surge_is_volume_over_flow() -> None:
    found = purge(FLAT, 0.01)
    assert found.plug_s == pytest.approx(0.056 * 60 / 14)
    assert found.mixed_s == pytest.approx(0.056 * 60 / 14 * math.log(100))


@given(path=paths, open_s=st.floats(0, 20))
def test_time_to_deliver_is_the_inverse_of_what_is_delivered(path: GasPath, open_s: float) -> None:
    assert path.time_to_deliver_s(path.delivered_l(open_s)) == pytest.approx(open_s, abs=1e-6)


@given(path=paths)
def test_surge_gives_off_exactly_what_the_hose_held(path: GasPath) -> None:
    long_s = 50 * path.surge_tau_s
    assert path.delivered_l(long_s) - path.flow_l_s * long_s == pytest.approx(path.surge_l, rel=1e-6, abs=1e-12)
    if path.surge_l:
        peak = (path.delivered_l(path.surge_tau_s * 1e-6) / (path.surge_tau_s * 1e-6)) / path.flow_l_s
        assert peak == pytest.approx(path.surge_peak, rel=1e-3)


def test_higher_hose_pressure_wastes_more_and_purges_sooner() -> None:
    high = GasPath(14.0, 0.1, 4.0, 0.05, 0.006)
    assert high.surge_l > PATH.surge_l > FLAT.surge_l == 0
    assert purge(high).likely_s < purge(PATH).likely_s < purge(FLAT).likely_s
    assert FLAT.surge_settles_s == 0 < PATH.surge_settles_s


def test_gas_of_a_weld_adds_up() -> None:
    use = gas_use(PATH, 3.0, 2300.0)
    assert use.per_weld_l == pytest.approx(0.7 + use.surge_l)
    assert use.per_hundred_l == pytest.approx(100 * use.per_weld_l)
    assert use.welds_per_cylinder == math.floor(2300 / use.per_weld_l)
    assert gas_use(PATH, 3.0, None).welds_per_cylinder is None


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
