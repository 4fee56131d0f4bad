"""What to measure next: what each reading that can still be taken would do to the band and to the share of good welds.

The draws of a burnback curve tell it. Each draw is a machine that the design may stand for; what an instrument would
show on it is worked out, error of the instrument included, and draws with like readings are taken together. Within
such a class the setting is chosen anew, as `wirecue advise` would once the reading is in the design; band and share of
good welds there, averaged over the classes, are what to expect. So a reading that only shifts the setting pays as well
as one that narrows the band. Taking the draws that are there in place of nested ones follows the partial expected
value of perfect information from one sample (M. Strong, J. E. Oakley, A. Brennan, Medical Decision Making 34, 2014,
311-326, abstract seen); each class chooses by one half of its draws and is judged by the other, so that luck is not
taken for knowledge.
"""

from __future__ import annotations

from collections.abc import Callable, Sequence
from dataclasses import dataclass, field
from functools import cached_property

import numpy as np

from timing.design.design import Design
from timing.elementwise import Floats, percentiles
from timing.formatting import percent_text
from timing.process.burnback import GOOD, BurnbackRun
from timing.process.burnback_curve import (
    BAND_PERCENT,
    NINE_OF_TEN,
    BurnbackCurve,
    best_setting,
    drawn_and_run,
    run_scatter,
)
from timing.process.case import COAST_SPREAD_MEASURED, BurnbackCase, Scatter, scatter
from timing.process.lattice import normal_places
from timing.process.source import LOAD_A_READ_SPREAD, LOAD_V_READ_SPREAD, OPEN_V_READ_SPREAD
from timing.process.variance_shares import class_count, first_order_share, total_shares
from timing.process.welds import RULE_MM

NAMED = 3
"""So many readings are named, those that pay most (choice)."""
PAYS_GOOD = 0.01
"""A reading pays that brings this share of good welds more (choice: draws tell no less)."""
PAYS_BAND = 0.05
"""Or that takes this share off the band (choice)."""
WELDS_TO_FIT = 3
"""Test welds that are fitted at once (choice)."""


@dataclass(frozen=True)
class InstrumentReading:
    """What an instrument shows on each of some machines, shape (draws,), and the standard deviation of its error."""

    shown: Floats
    error: Floats | float


@dataclass(frozen=True)
class ReadMachines:
    """The machines of some draws, each without what differs from weld to weld."""

    case: BurnbackCase
    known: Scatter
    setting_s: float
    weld_mm: float
    """Standard deviation of the wire end from weld to weld."""

    @cached_property
    def left_mm(self) -> Floats:
        """Extension that each leaves at the setting."""
        left: Floats = run_scatter(self.case, self.known, np.array([self.setting_s])).extension_mm[0]
        return left


def _relative(shown: object, share: float) -> InstrumentReading:
    values = np.asarray(shown, dtype=np.float64)
    return InstrumentReading(values, share * values)


@dataclass(frozen=True)
class Measurement:
    """Something that a workshop can measure."""

    name: str
    to_do: str
    how: str
    """With what."""
    minutes: int
    asked_by: str
    """What takes it down: a question of the survey, or a command."""
    keys: tuple[str, ...]
    """Where it stands in the design file."""
    tells: tuple[str, ...]
    """Causes of the band that it bears on, as case.scatter names them; none: all of the machine."""
    read: Callable[[ReadMachines], Sequence[InstrumentReading]] = field(repr=False)
    is_known: Callable[[Design], bool] = field(repr=False)


def _test_welds(machines: ReadMachines) -> Sequence[InstrumentReading]:
    return [InstrumentReading(machines.left_mm, float(np.hypot(machines.weld_mm, RULE_MM)) / WELDS_TO_FIT**0.5)]


_MEASUREMENTS = (
    Measurement(
        "open-circuit voltage",
        "measure the open-circuit voltage",
        "a meter",
        5,
        "wirecue survey",
        ("process.open_circuit_voltage",),
        ("slope of the power source",),
        lambda machines: [_relative(machines.known.plant.open_v, OPEN_V_READ_SPREAD)],
        lambda design: design.process.open_circuit_voltage_v is not None,
    ),
    Measurement(
        "volts while welding",
        "read the volts while welding",
        "a meter and a helper",
        5,
        "wirecue survey",
        ("process.load_voltage",),
        ("volts at the terminals", "slope of the power source"),
        lambda machines: [_relative(machines.known.point.voltage_v, LOAD_V_READ_SPREAD)],
        lambda design: design.process.load_voltage_v is not None,
    ),
    Measurement(
        "amperes while welding",
        "read the amperes while welding",
        "a clamp meter for dc and a helper",
        5,
        "wirecue survey",
        ("process.load_current",),
        ("melting constants", "wire feed speed"),
        lambda machines: [_relative(machines.known.point.current_a, LOAD_A_READ_SPREAD)],
        lambda design: design.process.load_current_a is not None,
    ),
    Measurement(
        "coast",
        "film the coast",
        "a phone in slow motion and a rule; or `wirecue measure` with a recorder",
        10,
        "wirecue survey",
        ("feeder.wire_drive.coast", "feeder.wire_drive.coast_measured"),
        ("coast",),
        lambda machines: [_relative(machines.known.release.coast_s, COAST_SPREAD_MEASURED)],
        lambda design: design.feeder.wire_drive.coast_measured,
    ),
    Measurement(
        "test welds",
        f"make {WELDS_TO_FIT} test welds and fit them",
        "scrap and a rule",
        15,
        "wirecue fit",
        ("feeder.wire_drive.coast", "feeder.wire_drive.coast_measured"),
        (),
        _test_welds,
        lambda design: design.feeder.wire_drive.coast_measured,
    ),
)


def measurements() -> tuple[Measurement, ...]:
    """Return all of them; instruments and minutes are common practice, errors stand beside what they are of."""
    return _MEASUREMENTS


@dataclass(frozen=True)
class Outlook:
    """What to expect of welds: how wide the band of the extension is, and which share ends good."""

    band_mm: float
    share_good: float


@dataclass(frozen=True)
class NextMeasurement:
    """A measurement that the design still lacks, and what to expect with it."""

    measurement: Measurement
    now: Outlook
    then: Outlook

    @property
    def pays(self) -> bool:
        """Whether it is worth the time."""
        better = self.then.share_good - self.now.share_good >= PAYS_GOOD
        return better or self.now.band_mm - self.then.band_mm >= PAYS_BAND * self.now.band_mm

    @property
    def worth(self) -> tuple[float, float]:
        """What it is ranked by: share of good welds first, in steps that draws tell apart, then the band."""
        steps = round((self.then.share_good - self.now.share_good) / PAYS_GOOD)
        return steps, self.now.band_mm - self.then.band_mm

    @property
    def sentence(self) -> str:
        """What to do, how long it takes, and what it is good for."""
        one, now, then = self.measurement, self.now, self.then
        band = f"the band shrinks from {now.band_mm:.1f} mm to {then.band_mm:.1f} mm"
        before, after = percent_text(now.share_good), percent_text(then.share_good)
        good = f", good welds go from {before} to {after}" if before != after else ""
        return f"{one.to_do} ({one.minutes} minutes, {one.how}): {band}{good}"


@dataclass(frozen=True)
class CauseShare:
    """What one cause has of the band."""

    name: str
    differs: str
    """"from machine to machine", which measuring ends, or "from weld to weld", which nothing does."""
    share_of_band: float
    """First-order share of the variance of the wire end."""
    share_of_band_total: float
    """The same with what it does together with other causes."""
    share_of_good: float
    """First-order share of the variance of whether a weld ends good."""
    if_known: Outlook
    """What to expect if it were known without error."""
    told_by: tuple[str, ...]
    """Names of the measurements that bear on it."""


@dataclass(frozen=True)
class WorthMeasuring:
    """What measuring is worth at the setting that a curve recommends."""

    now: Outlook
    proposals: tuple[NextMeasurement, ...]
    """Everything that can still be measured, what pays most first."""
    _drawn: Scatter = field(repr=False)
    _known: Scatter = field(repr=False)
    _run: BurnbackRun = field(repr=False)
    _best: int

    @property
    def sentences(self) -> tuple[str, ...]:
        """What pays most, one sentence each, and who takes it down."""
        if not self.paying:
            return ("Nothing that can be measured would help much: what is left differs from weld to weld.",)
        takers = sorted({f"`{one.measurement.asked_by}`" for one in self.paying}, reverse=True)
        named = tuple(f"{one.sentence[0].upper()}{one.sentence[1:]}." for one in self.paying)
        each = "" if len(named) == 1 else "What each brings by itself does not add up; "
        take = f"{' and '.join(takers)} {'takes' if len(takers) == 1 else 'take'} it down."
        return (*named, each + take)

    @property
    def paying(self) -> tuple[NextMeasurement, ...]:
        """Those to name."""
        return tuple(one for one in self.proposals if one.pays)[:NAMED]

    @cached_property
    def causes(self) -> tuple[CauseShare, ...]:
        """Share of every cause, largest first; what does not vary is left out."""
        left_mm, good = self._run.extension_mm[self._best], (self._run.outcome[self._best] == GOOD).astype(np.float64)
        varied = {name: np.asarray(values) for name, values in self._drawn.causes.items() if np.ptp(values) > 0}
        totals = total_shares(varied, left_mm)
        shares = [
            CauseShare(
                name,
                "from machine to machine" if np.ptp(self._known.causes[name]) > 0 else "from weld to weld",
                first_order_share(values, left_mm),
                totals[name],
                first_order_share(values, good),
                foreseen(values, self._run),
                tuple(one.name for one in measurements() if name in one.tells),
            )
            for name, values in varied.items()
        ]
        return tuple(sorted(shares, key=lambda one: -one.share_of_band))


def worth_measuring(design: Design, curve: BurnbackCurve, draws: int, seed: int) -> WorthMeasuring:
    """Return what measuring is worth at the setting that `curve` recommends; `draws` and `seed`: those of the curve."""
    settings_s = tuple(curve.settings_s.tolist())
    drawn, run = drawn_and_run(curve.case, settings_s, draws, seed)
    best = int((curve.settings_s == curve.best.setting_s).argmax())
    weld = curve.best.extension_weld_to_weld_mm
    weld_mm = (weld.high - weld.low) / (2 * NINE_OF_TEN)
    known = scatter(curve.case, draws, seed, weld=False)
    machines = ReadMachines(curve.case, known, curve.best.setting_s, weld_mm)
    band = curve.best.extension_mm
    now = Outlook(band.high - band.low, curve.best.chance_good)

    def then(one: Measurement) -> Outlook:
        told = foreseen(_expected_mm(one.read(machines), run.extension_mm[best], seed), run)
        # Then as now, something is given up for the other wire feed speeds.
        return _no_worse(now, Outlook(told.band_mm, told.share_good - curve.best.given_up))

    proposals = [NextMeasurement(one, now, then(one)) for one in measurements() if not one.is_known(design)]
    return WorthMeasuring(
        now, tuple(sorted(proposals, key=lambda one: one.worth, reverse=True)), drawn, known, run, best
    )


def _no_worse(now: Outlook, then: Outlook) -> Outlook:
    """To know more does no harm on average, whatever the classes' chance says."""
    return Outlook(min(now.band_mm, then.band_mm), max(now.share_good, then.share_good))


def _expected_mm(readings: Sequence[InstrumentReading], left_mm: Floats, seed: int) -> Floats:
    """What readings, each with an error of its own, let expect of the extension: a polynomial of the second degree."""
    columns = [np.ones(len(left_mm))]
    for number, reading in enumerate(readings):
        spread = float(np.std(reading.shown)) or 1.0
        shown = reading.shown + reading.error * normal_places(len(left_mm), seed + number + 1)
        place = (shown - float(np.mean(reading.shown))) / spread
        columns += [place * other for other in columns[1 : 1 + number]] + [place, place**2]
    basis = np.column_stack(columns)
    gram = basis.T @ basis + 1e-9 * len(left_mm) * np.eye(basis.shape[1])
    expected: Floats = basis @ np.linalg.solve(gram, basis.T @ left_mm)
    return expected


def foreseen(index: Floats, run: BurnbackRun) -> Outlook:
    """Return what to expect where the draws of like `index` are told apart, each class with the setting that suits it.

    `index` has the shape (draws,), `run` (settings, draws).
    """
    draws, classes = len(index), class_count(len(index))
    half = draws // (2 * classes)
    if half < 2:
        classes, half = 1, draws // 2
    # Neighbours go to the one half and the other by turns.
    members = np.argsort(index, kind="stable")[: 2 * classes * half].reshape(classes, half, 2)
    good = (run.outcome == GOOD)[:, members].mean(axis=2)
    bands, shares = [], []
    for number in range(classes):
        first, other = good[:, number, 0], good[:, number, 1]
        shares += [other[best_setting(first)], first[best_setting(other)]]
        setting = best_setting((first + other) / 2)
        low, high = percentiles(run.extension_mm[setting, members[number].ravel()], BAND_PERCENT)
        bands.append(float(high - low))
    return Outlook(float(np.mean(bands)), float(np.mean(shares)))
