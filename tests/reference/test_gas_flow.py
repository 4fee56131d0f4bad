"""Flow of gas through an opening against a textbook's example and printed tables; the hose's surge against scipy.

The right-hand side of the surge is written here anew, in kilograms, pascals and seconds, with openings of a size.
"""

from __future__ import annotations

import math

import numpy as np
import pytest
from scipy.integrate import solve_ivp
from scipy.optimize import brentq

from timing.process.gas import FLOWING_BAR, GasPath, Hose
from timing.process.orifice import critical_pressure_ratio, flow_function, heat_ratio

AIR_J_PER_KG_K = 8314 / 28.97


def mass_flow_kg_s(area_m2: float, before_pa: float, behind_pa: float, before_k: float) -> float:
    return area_m2 * before_pa * flow_function(behind_pa / before_pa, 1.4) / math.sqrt(AIR_J_PER_KG_K * before_k)


def test_a_converging_nozzle_passes_what_the_textbook_works_out() -> None:
    """M. J. Moran, H. N. Shapiro, Fundamentals of Engineering Thermodynamics, 8th edition, example 9.14 (seen quoted).

    Air, 1.0 MPa and 360 K at rest, exit of 0.001 m2: choked below 528 kPa; 2.13 kg/s against 500 kPa, 1.79 kg/s
    against 784 kPa.
    """
    assert critical_pressure_ratio(1.4) == pytest.approx(0.528, abs=5e-4)
    assert mass_flow_kg_s(1e-3, 1e6, 500e3, 360) == pytest.approx(2.13, abs=5e-3)
    assert mass_flow_kg_s(1e-3, 1e6, 784e3, 360) == pytest.approx(1.79, abs=5e-3)


@pytest.mark.parametrize(
    ("pressure_ratio", "area_ratio"),
    [
        (0.9930, 5.8218),
        (0.9725, 2.9635),
        (0.8430, 1.3398),
        (0.7840, 1.1882),
        (0.6430, 1.0305),
        (0.5913, 1.0089),
        (0.5283, 1.0),
    ],
)
def test_the_share_of_choked_flow_is_that_of_printed_tables(pressure_ratio: float, area_ratio: float) -> None:
    """C. Matthews, Aeronautical Engineer's Data Book, table A4.1: p/p0 and A/A*, isentropic, g = 7/5 (seen).

    The same mass passes both sections, so that A*/A is the flow of each square millimetre over the choked one.
    """
    share = flow_function(pressure_ratio, 1.4) / flow_function(0.0, 1.4)
    # Near rest four digits of p/p0 are few.
    assert share == pytest.approx(1 / area_ratio, rel=2e-4 + 5e-5 / (1 - pressure_ratio))


def test_mixtures_lie_between_their_parts() -> None:
    assert heat_ratio({"argon": 100}) == pytest.approx(1.67)
    assert 1.30 < heat_ratio({"argon": 50, "CO2": 50}) < heat_ratio({"argon": 82, "CO2": 18}) < 1.67


def by_scipy(path: GasPath, times_s: np.ndarray) -> np.ndarray:
    """Litres let out by each time, by solve_ivp, from a hose between two nozzles at 293 K."""
    assert path.hose is not None
    air_pa, gas_j_per_kg_k, kelvin, heats = 101325.0, 240.0, 293.0, path.hose.heats
    rest_pa, flowing_pa = path.hose.bar * 1e5 + air_pa, FLOWING_BAR * 1e5

    def kg_s(area_m2: float, before_pa: float, behind_pa: float) -> float:
        if before_pa <= behind_pa:
            return 0.0
        mach = math.sqrt(2 / (heats - 1) * ((before_pa / behind_pa) ** ((heats - 1) / heats) - 1))
        mach = min(mach, 1.0)
        throat_k = kelvin / (1 + (heats - 1) / 2 * mach**2)
        throat_pa = before_pa * (throat_k / kelvin) ** (heats / (heats - 1))
        speed = mach * math.sqrt(heats * gas_j_per_kg_k * throat_k)
        return throat_pa / (gas_j_per_kg_k * throat_k) * area_m2 * speed

    set_kg_s = path.flow_l_s * 1e-3 * air_pa / (gas_j_per_kg_k * kelvin)
    into_m2 = brentq(lambda area: kg_s(area, rest_pa, flowing_pa) - set_kg_s, 1e-12, 1e-2, xtol=1e-16)
    out_m2 = brentq(lambda area: kg_s(area, flowing_pa, air_pa) - set_kg_s, 1e-12, 1e-2, xtol=1e-16)
    volume_m3 = path.hose.volume_l * 1e-3

    def slopes(_t: float, state: np.ndarray) -> list[float]:
        out = kg_s(out_m2, float(state[0]), air_pa)
        rise = (kg_s(into_m2, rest_pa, float(state[0])) - out) * gas_j_per_kg_k * kelvin / volume_m3
        return [rise, out]

    solved = solve_ivp(
        slopes, (0, float(times_s[-1])), (rest_pa, 0.0), "LSODA", rtol=1e-8, atol=(1.0, 1e-10), t_eval=times_s
    )
    litres: np.ndarray = solved.y[1] * gas_j_per_kg_k * kelvin / air_pa * 1e3
    return litres


@pytest.mark.parametrize(
    ("flow_l_min", "hose_l", "bar", "parts"),
    [
        (14.0, 0.094, 2.0, {"argon": 82, "CO2": 18}),
        (10.0, 0.3, 3.5, {"argon": 100}),
        (20.0, 0.05, 0.7, {"CO2": 100}),
        (8.0, 0.5, 0.45, {"argon": 98, "oxygen": 2}),
    ],
)
def test_the_surge_of_a_hose_is_that_of_an_integrator(
    flow_l_min: float, hose_l: float, bar: float, parts: dict[str, float]
) -> None:
    path = GasPath(flow_l_min, Hose(hose_l, bar, heat_ratio(parts)), 0.05, 0.006)
    times_s = np.linspace(0, 20, 401)
    truth = by_scipy(path, times_s)
    found = np.array([path.delivered_l(time_s) for time_s in times_s])
    surge_l = truth[-1] - path.flow_l_s * times_s[-1]
    assert path.surge_l == pytest.approx(surge_l, rel=0.01)
    assert np.abs(found - truth).max() < 0.01 * surge_l
