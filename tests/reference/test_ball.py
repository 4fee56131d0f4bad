"""The ball on the wire's end against sizes and rates published for wires that an arc melts."""

from __future__ import annotations

import math

import numpy as np
import pytest

from timing.process.ball import ALUMINIUM_TENSION_N_PER_M, WireMelt
from timing.process.melting import melting_rate_mm_s, wire_constants

SHORT_ARCS = [(0.6, 90.0), (0.8, 60.0), (0.8, 120.0), (0.9, 50.0), (0.9, 85.0), (0.9, 130.0), (1.2, 40.0), (1.2, 75.0)]
"""Wires in mm and wire feed speeds in mm/s of short-circuit transfer, from the lowest currents to the highest."""


def touching_mm(melt: WireMelt, feed_mm_s: float, share: float) -> tuple[float, float]:
    """Wire that melts from one short circuit to the next, and the drop's diameter at the touch, by a plain simulation.

    A wire fed evenly melts at that rate with `share` more while the arc burns, to make up for the shorts; the gap
    starts at one wire diameter.
    """
    step_s, gap_mm, hanging_mm = 1e-5, melt.diameter_mm, 0.0
    while True:
        melted_mm = feed_mm_s * (1 + share) * step_s
        gap_mm += melted_mm - feed_mm_s * step_s
        after_mm = float(melt.next_hanging_mm(hanging_mm, melted_mm, gap_mm, 0.0))
        if after_mm < hanging_mm:
            return hanging_mm, float(melt.ball_mm(hanging_mm))
        hanging_mm = after_mm


@pytest.mark.parametrize(("wire_mm", "feed_mm_s"), SHORT_ARCS)
@pytest.mark.parametrize("share", [0.0, 0.1, 0.2])
def test_drops_of_short_circuit_transfer_are_one_to_two_wire_diameters_wide(
    wire_mm: float, feed_mm_s: float, share: float
) -> None:
    """Measured with a high-speed camera: random, between 1 and 2 times the wire, widest just before the short circuit.

    Z. Zhu, W. Wu, Q. Chen, Random nature of droplet size and its origins in short circuit CO2 arc welding, Science and
    Technology of Welding and Joining 2005, doi 10.1179/174329305x48356 (abstract, seen).
    """
    _, drop_mm = touching_mm(WireMelt.of(wire_constants("mild-steel", wire_mm)), feed_mm_s, share)
    assert 1.0 <= drop_mm / wire_mm <= 2.0


@pytest.mark.parametrize(("wire_mm", "feed_mm_s"), SHORT_ARCS)
def test_short_circuits_come_as_often_as_published(wire_mm: float, feed_mm_s: float) -> None:
    """20 to over 200 a second, the more the faster the wire.

    Gas metal arc transfer modes, part 1: short-circuiting and globular (a national welding bureau's article, seen:
    up to 200); a textbook's chapter 21 on gas metal arc welding, wires of 0.030 to 0.045 in (seen: 20 to over 200).
    """
    melted_mm, _ = touching_mm(WireMelt.of(wire_constants("mild-steel", wire_mm)), feed_mm_s, 0.1)
    assert 20 <= feed_mm_s * 1.1 / melted_mm <= 200


@pytest.mark.parametrize("wire_mm", [0.025, 0.6, 0.9, 1.6])
def test_a_melting_end_first_drops_until_it_is_half_a_ball_and_then_draws_back(wire_mm: float) -> None:
    """Computed with moving boundaries for bonding wires: the gap to the other electrode first shrinks, then grows.

    Melting of a wire anode followed by solidification: a three-phase moving interface problem, Journal of Heat
    Transfer 2003, doi 10.1115/1.1576811 (abstract, seen): the end drops until the melt's radius is the wire's.
    """
    melt = WireMelt(wire_mm, 1.0, 1e-6, 1e-3)
    melted_mm = np.linspace(0, 6 * wire_mm, 60_001)
    length_mm = melt.length_mm(melted_mm)
    lowest = int((length_mm - melted_mm).argmax())
    assert float(length_mm[lowest]) == pytest.approx(wire_mm / 2, rel=1e-3)
    assert np.diff((length_mm - melted_mm)[lowest:]).max() <= 0


def test_no_ball_of_a_burnback_is_as_large_as_the_drops_that_fall_from_aluminium_wire() -> None:
    """At 30 A, with nothing but its weight to pull it, a drop falls about once a second from 1/16 in aluminium wire.

    J. C. Amson, Lorentz force in the molten tip of an arc electrode, British Journal of Applied Physics 16 (1965)
    1169, introduction (seen): 1 a second at 30 A, wire fed at 1.2 cm/s. The static balance lets drops hang on longer.
    """
    wire = wire_constants("aluminium", 25.4 / 16)
    seen_mm = 12.0
    melt = WireMelt.of(wire, ALUMINIUM_TENSION_N_PER_M)
    assert float(melting_rate_mm_s(30.0, 10.0, wire.alpha_mm_per_a_s, wire.beta_per_a2_s)) == pytest.approx(12, rel=0.1)
    assert seen_mm < float(melt.longest_hanging_mm(30.0))
    # What melts of a usual extension in a burnback: its whole two thirds at the most.
    assert float(melt.ball_mm(8.0)) < float(melt.ball_mm(seen_mm)) < 4 * melt.diameter_mm


def test_the_magnetic_force_is_that_of_a_current_which_spreads_from_the_wire_over_the_drop() -> None:
    """Amson's force, worked out anew: Maxwell's stress over the drop's surface, for an arc on its lower half.

    With the current inside a circle of radius r about the axis as i(r), the field there is mu0 i / (2 pi r); its
    pressure B^2 / (2 mu0), summed over what a surface shows to the axis, pulls the drop away from the wire. Above the
    arc's edge all of the current flows inside; on the arc it enters evenly by area.
    """
    for ball_mm, half_angle in ((2.4, 90.0), (3.6, 90.0), (3.6, 120.0), (3.6, 150.0), (4.8, 90.0)):
        force_n = _maxwell_n(ball_mm / 2, 0.6, math.radians(half_angle), 100.0)
        held, torn = (WireMelt(1.2, 1.0, 0.0, force_n * share) for share in (1.06, 0.94))
        melted_mm = held.melted_mm(ball_mm)
        assert (bool(held.falls(melted_mm, 100.0)), bool(torn.falls(melted_mm, 100.0))) == (False, True)


def _maxwell_n(ball_radius_mm: float, wire_radius_mm: float, half_angle: float, current_a: float) -> float:
    """Net axial force in newtons on a spherical drop, away from the wire."""
    mu0 = 4e-7 * math.pi
    neck = math.pi - math.asin(wire_radius_mm / ball_radius_mm)
    angles = (np.arange(200_000) + 0.5) / 200_000 * neck
    inside = np.where(angles < half_angle, (1 - np.cos(angles)) / (1 - math.cos(half_angle)), 1.0)
    # B^2 / (2 mu0) times the ring's area seen along the axis, 2 pi R^2 sin cos; lengths cancel.
    rings = mu0 * current_a**2 / (4 * math.pi) * inside**2 / np.sin(angles) * np.cos(angles)
    surface_n = -float(rings.sum() * neck / angles.size)
    # Across the neck, which the current fills evenly, the same stress is mu0 I^2 / (16 pi).
    return surface_n + mu0 * current_a**2 / (16 * math.pi)
