"""How the wire slows down once its drive has let go: a motor that brakes itself, dry friction, or both.

A permanent-magnet motor with its armature shorted is a generator on a short circuit: the braking torque goes with the
speed, (K^2 / R) w. Dry friction of gears, liner and wire does not depend on the speed. The equation of motion of an
inertia under both, J dw/dt = -b w - T, is of the first order with constant coefficients (MIT 2.004, Dynamics and
Control II, fall 2007, lecture 2, treats viscous friction, dry friction, and both). From full speed v0:

    v(t) = v0 ((1 + k) exp(-t / tau) - k)     until it reaches 0, at tau ln(1 + 1/k)

with tau = J / b and k = T / (b w0), the even deceleration over the motor's initial one: k = 0 dies away exponentially,
a large k stops evenly. The run-on is stated as time at full speed, coast = tau (1 - k ln(1 + 1/k)), because that is
what a rule beside the wire tells; tau follows from it and from k.

A motor that runs at the share x of its stall torque brakes with (1 - x) of its stall torque when it is shorted, while
its load goes on pulling with x: k = x / (1 - x). Whatever the shape, the motor alone is the same, so that without its
brake it coasts the longer (`USUAL_COAST_US` in timing.design.feeder).
"""

from __future__ import annotations

from dataclasses import dataclass

from timing.elementwise import Values, elementwise

LEAST_FRICTION, MOST_FRICTION = 1e-9, 1e4
"""Less counts as a purely exponential coast, more as a purely even one: beyond, no shape is told apart and digits are
lost (measured: by a test)."""
LONG_COAST_S = 0.1
"""A coast longer than this is that of a motor without a working brake (practice)."""
LONG_BURNBACK_S = 0.5
"""Burnback dials of wire feeders end well below this (practice)."""
SHORTEST_COAST_S = 1e-9
"""A wire that stops at once is given this coast, so that nothing is divided by zero (choice)."""


@dataclass(frozen=True)
class UsualFriction:
    """What `k` is before anything is known of a motor: lognormal."""

    median: float
    spread: float
    """Standard deviation of its logarithm."""


FRICTION_BRAKED = UsualFriction(0.25, 0.6)
"""Friction over the shorted motor's braking. Feed motors run at 10 to 30 % of their stall torque (practice), and so
k = 0.1 to 0.4; a brake resistor in place of the short, and a liner that drags, raise it: 0.08 to 0.8 in 95 %
(derived)."""
FRICTION_UNBRAKED = UsualFriction(4.0, 0.9)
"""The same with the armature open: gears and liner stop it evenly, grease and brushes a little as the speed goes, so
that friction is 0.7 to 23 times the rest in 95 % (practice)."""


def usual_friction(braked: bool) -> UsualFriction:
    """Return how a wire with or without a brake slows down, as long as nobody knows better."""
    return FRICTION_BRAKED if braked else FRICTION_UNBRAKED


@dataclass(frozen=True)
class Coast:
    """A coast as it is computed with: all numbers, or arrays of one shape."""

    friction: Values
    """k, within LEAST_FRICTION and MOST_FRICTION."""
    stop_s: Values
    """From the drive's letting go to standstill."""
    minus_rate_hz: Values
    """-1 / tau."""
    reach_s: Values
    """(1 + k) tau."""

    @staticmethod
    def of(coast_s: Values, friction: Values) -> Coast:
        """Return the coast that runs on by `coast_s` at full speed, in seconds, with that `friction`."""
        do = elementwise(coast_s, friction)
        k = do.minimum(do.maximum(friction, LEAST_FRICTION), MOST_FRICTION)
        constants = do.log1p(1 / k)
        tau_s = do.maximum(coast_s, SHORTEST_COAST_S) / (1 - k * constants)
        return Coast(k, tau_s * constants, -1 / tau_s, (1 + k) * tau_s)

    def run_s(self, coasting_s: Values) -> Values:
        """Return the wire's run after `coasting_s`, as time at full speed, in seconds (infinity for all of it)."""
        do = elementwise(coasting_s, self.stop_s)
        slowing_s = do.minimum(coasting_s, self.stop_s)
        run_s: Values = -self.reach_s * do.expm1(slowing_s * self.minus_rate_hz) - self.friction * slowing_s
        return run_s

    def speed_share(self, coasting_s: Values) -> Values:
        """Return the speed left after `coasting_s` from the drive's letting go, over full speed."""
        do = elementwise(coasting_s, self.stop_s)
        slowing_s = do.minimum(do.maximum(coasting_s, 0.0), self.stop_s)
        share: Values = do.maximum((1 + self.friction) * do.exp(slowing_s * self.minus_rate_hz) - self.friction, 0.0)
        return share

    def rest_s(self, still_s: float) -> float:
        """Return when a single wire has less than `still_s` of its run, as time at full speed, still to come."""
        whole_s, low_s, high_s = self.run_s(float("inf")), 0.0, float(self.stop_s)
        for _ in range(50):
            middle_s = (low_s + high_s) / 2
            low_s, high_s = (low_s, middle_s) if whole_s - self.run_s(middle_s) < still_s else (middle_s, high_s)
        return high_s
