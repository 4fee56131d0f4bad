"""The heat conduction of spots against closed solutions, within 3 %: thick and thin, at once and going on.

Point, line, disc: H. S. Carslaw and J. C. Jaeger, Conduction of Heat in Solids, second edition (1959), chapters 10
(sources) and 11 (melting). The formulas stand here as they follow from the kernel of an instantaneous point source,
Q / (rho C (4 pi a t)^(3/2)) exp(-R^2 / (4 a t)), doubled where the source lies on the face of a half space; no figure
is taken from our own code.
"""

from __future__ import annotations

import math
from dataclasses import replace
from typing import Any

import numpy as np
import pytest
from scipy import integrate, optimize, special

from timing.elementwise import Floats
from timing.process.cooling import METALS
from timing.process.heat_conduction import Stack, disc_w, heated, rings_mm

STEEL = METALS["mild-steel"]
NEVER_MELTS = replace(STEEL, melting_c=1e7)
K, C = STEEL.conductivity_w_per_mm_k, STEEL.heat_capacity_j_per_mm3_k
A = K / C
"""Diffusivity in mm2/s."""
WITHIN = 0.03


def end_of(stack: Stack, until_s: float, **heat: Any) -> Floats:
    """Rise of all cells of the first run at the end, in K."""
    *_, (_, enthalpy) = heated(stack, until_s, losses=False, **heat)
    return stack.rise_k(enthalpy)[0]


def thick(fine_mm: float = 0.25) -> Stack:
    """A half space, for as long as the heat has not come far: layers as fine as the rings where it matters."""
    layers = np.diff(rings_mm(fine_mm, 5.0, 45.0))
    return Stack(rings_mm(fine_mm, 5.0, 45.0), layers[None, :], NEVER_MELTS)


def thin(sheet_mm: float = 1.0) -> Stack:
    """A sheet through which heat has only sideways to go."""
    return Stack(rings_mm(0.25, 6.0, 60.0), np.full((1, 4), sheet_mm / 4), NEVER_MELTS)


def on_axis_cells(stack: Stack) -> Floats:
    """A watt into the innermost cell of the face, as near to a point as cells come."""
    cells = np.zeros(stack.shape)
    cells[0, 0, 0] = 1.0
    return cells


def face_depth_mm(stack: Stack) -> float:
    """How deep the middle of the first layer lies."""
    return float(stack.layers_mm[0, 0]) / 2


def test_point_of_heat_at_once_on_thick_plate() -> None:
    stack, heat_j, from_s, at_s = thick(0.2), 200.0, 0.15, 0.6
    edges = np.concatenate([[0.0], np.cumsum(stack.layers_mm[0])])
    square = ((edges[1:] + edges[:-1]) / 2)[:, None] ** 2 + stack.middles_mm**2

    def closed(age_s: float) -> Floats:
        return 2 * heat_j / (C * (4 * math.pi * A * age_s) ** 1.5) * np.exp(-square / (4 * A * age_s))

    # A point is smaller than any cell: the run begins with what it has become a tenth of a second later.
    got = end_of(stack, at_s - from_s, enthalpy_k=closed(from_s)[None])
    near = square < 4.0**2
    assert got[near] == pytest.approx(closed(at_s)[near], rel=WITHIN)


def test_point_of_heat_that_goes_on_on_thick_plate() -> None:
    stack, power_w, at_s = thick(), 500.0, 1.0
    got = end_of(stack, at_s, inside=power_w * on_axis_cells(stack))[0]
    far = np.hypot(stack.middles_mm, face_depth_mm(stack))
    closed = power_w / (2 * math.pi * K * far) * special.erfc(far / math.sqrt(4 * A * at_s))
    there = (stack.middles_mm > 1.0) & (stack.middles_mm < 4.0)
    assert got[there] == pytest.approx(closed[there], rel=WITHIN)


def test_line_of_heat_at_once_through_thin_sheet() -> None:
    stack, heat_j, from_s, at_s = thin(), 100.0, 0.1, 0.6

    def closed(age_s: float) -> Floats:
        return heat_j / (4 * math.pi * K * age_s) * np.exp(-(stack.middles_mm**2) / (4 * A * age_s))

    began = np.broadcast_to(closed(from_s), stack.shape)
    got = end_of(stack, at_s - from_s, enthalpy_k=began)
    near = stack.middles_mm < 4.0
    for layer in got:
        assert layer[near] == pytest.approx(closed(at_s)[near], rel=WITHIN)


def test_line_of_heat_that_goes_on_through_thin_sheet() -> None:
    stack, power_w, at_s = thin(), 300.0, 1.5
    cells = np.zeros(stack.shape)
    cells[0, :, 0] = power_w / 4
    got = end_of(stack, at_s, inside=cells)[0]
    closed = power_w / (4 * math.pi * K * 1.0) * special.exp1(stack.middles_mm**2 / (4 * A * at_s))
    there = (stack.middles_mm > 0.5) & (stack.middles_mm < 6.0)
    assert got[there] == pytest.approx(closed[there], rel=WITHIN)


def test_even_disc_on_thick_plate() -> None:
    """Under the middle of a disc of even flux q on a half space, at a depth z (Carslaw and Jaeger, 10.5).

    2 q sqrt(a t) / k (ierfc(z / 2 sqrt(a t)) - ierfc(sqrt(z^2 + r^2) / 2 sqrt(a t))).
    """
    stack, flux, radius_mm, at_s = thick(0.2), 20.0, 2.0, 0.8
    inside = stack.radii_mm[1:] < radius_mm + 1e-9
    got = end_of(stack, at_s, disc=np.where(inside, flux * stack.ring_mm2, 0.0)[None, :])[:, 0]

    def ierfc(x: Floats) -> Floats:
        return np.exp(-(x**2)) / math.sqrt(math.pi) - x * special.erfc(x)

    edges = np.concatenate([[0.0], np.cumsum(stack.layers_mm[0])])
    depth = (edges[1:] + edges[:-1]) / 2
    way = 2 * math.sqrt(A * at_s)
    closed = flux * way / K * (ierfc(depth / way) - ierfc(np.hypot(depth, radius_mm) / way))
    near = depth < 2.5
    assert got[near] == pytest.approx(closed[near], rel=WITHIN)


@pytest.mark.parametrize("sheet_mm", [0.8, 3.0])
def test_gaussian_disc_on_a_sheet_with_images_of_its_far_side(sheet_mm: float) -> None:
    """A Gaussian disc widens as sqrt(s^2 + 2 a t); the far side, which lets nothing through, adds its images."""
    power_w, spread_mm, at_s, layers = 200.0, 1.2, 0.5, 8
    stack = Stack(rings_mm(0.2, 5.0, 45.0), np.full((1, layers), sheet_mm / layers), NEVER_MELTS)
    got = end_of(stack, at_s, disc=disc_w(stack.radii_mm, np.array([power_w]), np.array([spread_mm])))[:, 0]

    def rise(depth_mm: float) -> float:
        def kernel(root: float) -> float:
            # The square root of time as variable takes the pole at nothing away.
            age = root * root
            wide = spread_mm**2 + 2 * A * age
            images = sum(
                math.exp(-((depth_mm - 2 * number * sheet_mm) ** 2) / (4 * A * age)) for number in range(-12, 13)
            )
            return images / (wide * math.pi * math.sqrt(4 * math.pi * A)) * 2

        return power_w / C * integrate.quad(kernel, 1e-6, math.sqrt(at_s))[0]

    depths = (np.arange(layers) + 0.5) * sheet_mm / layers
    assert got == pytest.approx([rise(float(depth)) for depth in depths], rel=WITHIN)


def test_front_between_molten_and_cold_metal_goes_as_far_as_neumann_says() -> None:
    """Molten metal at T1 on cold metal at T0: the front goes 2 L sqrt(a t) into it (Carslaw and Jaeger, 11.2).

    With equal properties, and F the latent heat over the heat capacity:
    ((T1 - Tm) / (1 + erf L) - (Tm - T0) / erfc L) exp(-L^2) = sqrt(pi) F L.
    """
    layer_mm, each_side, at_s, over_k = 0.1, 70, 0.3, 2600.0
    stack = Stack(np.array([0.0, 10.0, 20.0]), np.full((1, 2 * each_side), layer_mm), STEEL)
    melting_k, fusion_k = stack.melting_rise_k, stack.fusion_k
    began = np.zeros(stack.shape)
    began[:, :each_side] = melting_k + over_k + fusion_k
    *_, (_, enthalpy) = heated(stack, at_s, enthalpy_k=began, losses=False)
    front_mm = (float(stack.molten(enthalpy)[0, :, 0].sum()) - each_side) * layer_mm

    def balance(front: float) -> float:
        drives = over_k / (1 + math.erf(front)) - melting_k / math.erfc(front)
        return drives * math.exp(-(front**2)) - math.sqrt(math.pi) * fusion_k * front

    closed = 2 * optimize.brentq(balance, -2.0, 2.0) * math.sqrt(A * at_s)
    assert abs(closed) > 3 * layer_mm
    assert front_mm == pytest.approx(closed, rel=WITHIN)


def test_no_heat_is_lost_or_made_in_melting() -> None:
    stack = Stack(rings_mm(0.3, 6.0, 45.0), np.full((1, 10), 0.16), STEEL, 5, 1e-3, 4.0)
    power_w, at_s = 900.0, 1.2
    *_, (_, enthalpy) = heated(
        stack, at_s, disc=disc_w(stack.radii_mm, np.array([power_w]), np.array([1.2])), losses=False
    )
    held_j = float((enthalpy[0] * C * stack.ring_mm2 * stack.layers_mm[0][:, None]).sum())
    # The disc goes on beyond the last ring.
    assert held_j == pytest.approx(power_w * at_s, rel=1e-6)
    assert stack.molten(enthalpy).max() == 1.0
