"""The power source as its terminals show it: what was read of it, what is guessed, and what the two leave open.

While welding, the volts V and amperes I at the terminals are what burns the weld. They lie on the source's straight
line from the open-circuit voltage U0, V = U0 - s I, with its slope s. Readings are rarely complete, so the two
unknowns, V and the volts dropped inside the source, D = s I = U0 - V, are taken together:

    V    as read; else the usual load voltage, 14 V + 0.05 V/A (IEC 60974-1), since a machine that welds is set near it
    D    by the slope where it is stated; else by what slopes there are, 15 to 100 mV/A for 95 of 100 machines
    V+D  as the open-circuit voltage was read

Each is a spread, and what all of them say at once is drawn: D from its exact likelihood on a grid, V given D in closed
form. An open-circuit voltage together with a stated slope fixes V by itself, and nothing usual is mixed in. Two
sources with other slopes then burn the same weld, and part only once the wire stops: a steep one keeps its current up
while the arc grows, a stiff one lets it go out.
"""

from __future__ import annotations

import math
from dataclasses import dataclass, replace
from functools import cached_property

from timing.elementwise import Floats, Values
from timing.interpolation import interpolated
from timing.process.arc import Plant, settle
from timing.process.melting import WireConstants

USUAL_LOAD_V, USUAL_LOAD_V_PER_A = 14.0, 0.05
"""Load voltage that a MIG machine is usually set to, at no current and for each ampere more (published: IEC 60974-1,
conventional load voltage of gas-shielded metal arc welding, seen quoted in a handbook's chapter on sources)."""
USUAL_LOAD_SPREAD_V = 1.5
"""Standard deviation of what machines are set to around it (choice: the 19 V to 22 V between which short-circuit
transfer is run at one current, as two of them each way)."""
OPEN_V_READ_SPREAD = 0.02
"""Relative standard deviation of an open-circuit voltage as read: of the meter, and of a bank that charges to the
peaks with no load (practice)."""
LOAD_V_READ_SPREAD = 0.02
"""The same of volts read while welding, as the display jumps about (practice)."""
LOAD_A_READ_SPREAD = 0.05
"""The same of amperes read while welding, with a clamp meter or the machine's own (practice)."""
SLOPE_STATED_SPREAD = 0.20
"""The same of a slope that the design states (practice)."""
SLOPE_RANGE_V_PER_A = (0.015, 0.100)
"""Slopes of constant-voltage machines, leads included: 95 of 100 lie between (choice: from stiff electronic sources to
small tapped ones on one phase)."""
_NORMAL_95 = 1.96
SLOPE_USUAL_V_PER_A = math.sqrt(SLOPE_RANGE_V_PER_A[0] * SLOPE_RANGE_V_PER_A[1])
"""Middle of that range, by ratio (derived)."""
SLOPE_PRIOR_SPREAD = math.log(SLOPE_RANGE_V_PER_A[1] / SLOPE_RANGE_V_PER_A[0]) / (2 * _NORMAL_95)
"""Relative standard deviation of a slope of which nothing is known, lognormal (derived)."""
INDUCTANCE_SPREAD = 0.30
"""Relative standard deviation of the inductance of source and leads (practice)."""
MAINS_SPREAD = 0.10 / 3
"""The same of the mains, and of the open-circuit voltage with it, from one day to another: three of them are the 10 %
either way that a supply keeps within (published: EN 50160, supply voltage variations, seen quoted)."""
HOT_SLOPE = 0.16
"""What a hot source's slope has more than a cold one's (derived: copper gains 0.39 % for each of some 80 K, and half
of the slope is copper's)."""
RIPPLE_SHARES = {"one": (2, 2 / 3), "three": (6, 2 / 35)}
"""By the phases of a source, pulses of its rectifier in a cycle of the mains, and amplitude of their fundamental over
the mean voltage (exact: Fourier series of rectified sine, 2/(n^2 - 1) for n pulses)."""
GRID_PLACES, GRID_REACH = 161, 4.0
"""Places of the likelihood of D, and standard deviations that they reach each way (choice)."""


def ripple_of(phases: str | None, line_hz: float) -> tuple[float, float]:
    """Return amplitude over mean voltage, and frequency, of a rectifier's ripple; nothing where phases are not told."""
    if phases is None:
        return 0.0, 0.0
    pulses, share = RIPPLE_SHARES[phases]
    return share, pulses * line_hz


def usual_load_voltage_v(current_a: float) -> float:
    """Voltage that a MIG machine is usually set to for a current."""
    return USUAL_LOAD_V + USUAL_LOAD_V_PER_A * current_a


@dataclass(frozen=True)
class SourceReadings:
    """What was read of a power source, at one setting of it; None where it was not."""

    open_v: float | None = None
    load_v: float | None = None
    load_a: float | None = None
    slope_v_per_a: float | None = None
    """As the design states it; readings of all the others make it."""


@dataclass(frozen=True)
class PowerSource:
    """A power source, and the weld at which it was read, or is set to suit."""

    readings: SourceReadings
    usual_v: float
    """Usual load voltage at this current and with this gas."""
    current_a: float
    """Likely current of the weld at which it was read."""
    feed_mm_s: float
    """Wire feed speed that it is set for."""
    distance_mm: float
    """Contact-tip-to-work distance at which it was read."""
    inductance_h: float
    capacitance_f: float = 0.0
    """Bank behind the rectifier; 0: none."""
    ripple_share: float = 0.0
    """Amplitude of the ripple over the open-circuit voltage, with nothing that smooths."""
    ripple_hz: float = 0.0
    turned_v: float = 0.0
    """Load volts turned up since it was read, to suit another wire feed speed."""
    turned_ratio: float = 1.0
    """Current there over the current at which it was read: the drop goes with it."""

    @cached_property
    def _volts(self) -> tuple[float, float]:
        """Load voltage before the open-circuit voltage is looked at, and one over its variance."""
        read = self.readings
        if read.load_v is not None:
            return read.load_v, (LOAD_V_READ_SPREAD * read.load_v) ** -2
        if read.open_v is not None and read.slope_v_per_a is not None:
            return 0.0, 0.0
        return self.usual_v, USUAL_LOAD_SPREAD_V**-2

    @cached_property
    def _open(self) -> tuple[float, float]:
        """Open-circuit voltage as read, and one over its variance; nothing where it was not."""
        open_v = self.readings.open_v
        return (0.0, 0.0) if open_v is None else (open_v, (OPEN_V_READ_SPREAD * open_v) ** -2)

    @cached_property
    def drops(self) -> tuple[list[float], list[float]]:
        """Logarithms of the volts dropped inside the source, rising, and the share of all likelihood below each."""
        stated = self.readings.slope_v_per_a
        spread = SLOPE_PRIOR_SPREAD if stated is None else SLOPE_STATED_SPREAD
        middle = math.log((stated or SLOPE_USUAL_V_PER_A) * self.current_a)
        (load_v, load_weight), (open_v, open_weight) = self._volts, self._open
        both = load_weight * open_weight / (load_weight + open_weight) if load_weight and open_weight else 0.0
        step = 2 * GRID_REACH / (GRID_PLACES - 1)
        places = [-GRID_REACH + number * step for number in range(GRID_PLACES)]
        logs = [middle + spread * place for place in places]
        misfits = [
            place**2 + both * (open_v - load_v - math.exp(log)) ** 2 for place, log in zip(places, logs, strict=True)
        ]
        least = min(misfits)
        below, shares = 0.0, []
        for misfit in misfits:
            weight = math.exp((least - misfit) / 2)
            shares.append(below + weight / 2)
            below += weight
        return logs, [share / below for share in shares]

    def load_v(self, drop_v: Values, place: Values = 0.0) -> Values:
        """Load voltage that goes with a drop, `place` standard deviations off its mean; as read, before any turning."""
        (held_v, load_weight), (open_v, open_weight) = self._volts, self._open
        weight = load_weight + open_weight
        mean_v: Values = (load_weight * held_v + open_weight * (open_v - drop_v)) / weight
        load_v: Values = mean_v + place * weight**-0.5
        return load_v

    @cached_property
    def likely(self) -> tuple[float, float]:
        """Likely load voltage and drop, as the machine is set now."""
        logs, shares = self.drops
        drop_v = math.exp(interpolated(0.5, shares, logs))
        return float(self.load_v(drop_v)) + self.turned_v, drop_v * self.turned_ratio

    def drawn(self, volts: Floats, drops: Floats) -> tuple[Floats, Floats]:
        """Return load voltage and drop of machines, as set now, from their places in standard deviations."""
        # Draws are arrays; what computes with single numbers alone shall not wait for numpy.
        import numpy as np

        from timing.process.lattice import normal_share

        logs, shares = self.drops
        drop_v = np.exp(np.interp(normal_share(drops), shares, logs))
        return np.asarray(self.load_v(drop_v, volts)) + self.turned_v, drop_v * self.turned_ratio

    def turned(self, feed_mm_s: float, from_a: float, to_a: float) -> PowerSource:
        """The same, set for another wire feed speed along the usual line; the current goes from one to the other."""
        return replace(
            self,
            feed_mm_s=feed_mm_s,
            turned_v=self.turned_v + USUAL_LOAD_V_PER_A * (to_a - from_a),
            turned_ratio=self.turned_ratio * to_a / from_a,
        )

    @property
    def ripple_v(self) -> float:
        """Amplitude of the ripple behind the bank, if any; 0 where none is counted.

        A bank that the rectifier tops up once a pulse, and the arc empties meanwhile, makes a sawtooth: it has 1/pi of
        its height as fundamental, and no more than there is without the bank.
        """
        if not self.ripple_hz:
            return 0.0
        bare_v = self.ripple_share * sum(self.likely)
        if not self.capacitance_f:
            return bare_v
        return min(bare_v, self.current_a / (math.pi * self.ripple_hz * self.capacitance_f))

    @property
    def slope_known(self) -> bool:
        """Whether the slope is stated, or follows from readings."""
        read = self.readings
        return read.slope_v_per_a is not None or (read.open_v is not None and read.load_v is not None)


def fed_by(plant: Plant, load_v: Values, drop_v: Values, distance_mm: Values) -> Plant:
    """Return the plant with the source that gives it `load_v` at `distance_mm` and drops `drop_v` inside itself.

    Open-circuit voltage and slope follow from the current that settles there; the plant's own are not looked at.
    """
    held = settle(replace(plant, open_v=load_v, slope_ohm=0.0 * drop_v, distance_mm=distance_mm))
    return replace(plant, open_v=load_v + drop_v, slope_ohm=drop_v / held.current_a)


@dataclass(frozen=True)
class CurrentAgreement:
    """How far a current that was read, and the wire that it must have melted, correct each other.

    To first order, in logarithms: a relative change of the wire feed speed, of alpha or of beta moves the current by
    1/(1 + q), -p/(1 + q), -q/(1 + q), with p the share of the wire that the arc melts, and q what its resistance does.
    The rest is the usual way to condition normal quantities on a reading (derived).
    """

    arc_share: float
    alpha_spread: float
    beta_spread: float
    feed_spread: float

    @staticmethod
    def of(wire: WireConstants, current_a: float, extension_mm: float, feed_spread: float) -> CurrentAgreement:
        """For a wire at a current."""
        resistive = wire.beta_per_a2_s * extension_mm * current_a
        share = wire.alpha_mm_per_a_s / (wire.alpha_mm_per_a_s + resistive)
        return CurrentAgreement(share, wire.material.alpha_spread, wire.material.beta_spread, feed_spread)

    @property
    def _melting(self) -> tuple[float, float]:
        """Covariances of alpha and of beta with what they melt."""
        return self.arc_share * self.alpha_spread**2, (1 - self.arc_share) * self.beta_spread**2

    @property
    def _melting_variance(self) -> float:
        alpha, beta = self._melting
        return self.arc_share * alpha + (1 - self.arc_share) * beta

    def likely_factors(self, read_over_computed: float) -> tuple[float, float]:
        """Return factors on alpha and beta that bring the likely current to what reading and melting say together."""
        steepness, melting = 2 - self.arc_share, self._melting_variance
        variance = (melting + self.feed_spread**2) / steepness**2
        wanted = math.log(read_over_computed) * variance / (variance + LOAD_A_READ_SPREAD**2)
        alpha, beta = (-wanted * steepness * one / melting for one in self._melting)
        return math.exp(alpha), math.exp(beta)

    def agreed(self, alpha: Floats, beta: Floats, feed: Floats, error: Floats) -> tuple[Floats, Floats, Floats]:
        """Return logarithms of alpha, beta and wire feed speed round their likely values, made to agree.

        `error`: that of the reading, in standard deviations.
        """
        steepness = 2 - self.arc_share
        variance = (self._melting_variance + self.feed_spread**2) / steepness**2
        current = (feed - self.arc_share * alpha - (1 - self.arc_share) * beta) / steepness
        off = (error * LOAD_A_READ_SPREAD - current) / (variance + LOAD_A_READ_SPREAD**2) / steepness
        by_alpha, by_beta = self._melting
        return alpha - by_alpha * off, beta - by_beta * off, feed + self.feed_spread**2 * off
