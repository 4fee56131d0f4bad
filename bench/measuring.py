"""Measures one quantity at the machine through a recorder: presses, lets go, and takes down what it saw each time.

Whatever happens, everything is let go at the end. A run is never longer than was said: it ends by the recorder's own
clock, the recorder lets go by itself when this computer is silent for a second, and what goes on though it was let go
stops the session.
"""

from __future__ import annotations

from collections.abc import Callable, Iterator, Mapping, Sequence
from dataclasses import dataclass
from random import Random

from bench.errors import BenchError
from bench.recorder.monitor import RecorderMonitor
from timing.measure.cycle import MeasuringCycle
from timing.measure.lag import line_words
from timing.measure.quantities import Quantity
from timing.measure.repeats import SeenEdge, SeenRepeat
from timing.protocol.recorder import RECORDER_INPUTS

SPREAD_US = 100_000
"""Runs differ by up to this, so that neither the line's phase nor the disc's place is the same each time (choice: five
whole periods of 50 Hz, six of 60 Hz, so that no phase is likelier than another)."""
LATE_US = 250_000
"""A press or a let-go that comes so much later than ordered ends the session: this computer is too slow for it
(choice)."""
HAND_PATIENCE_US = 180_000_000
"""How long a hand may take to the next pull of the trigger (choice)."""
HAND_RESTS_US = 1_500_000
"""A hand's run is over when nothing has moved for this long (choice)."""
REST_LOOK_US = 250_000
"""How long the supply is looked at before the press (choice: some thirty half-waves)."""


class LinesOnError(BenchError):
    """Lines are on that should be off."""

    def __init__(self, lines: Sequence[str]) -> None:
        super().__init__(*lines)
        self.lines = tuple(lines)

    @property
    def told(self) -> str:
        """The lines, for people."""
        return ", ".join(map(line_words, self.lines))


class StillRunningError(LinesOnError):
    """Something goes on though it was let go."""

    def __str__(self) -> str:
        return (
            f"{self.told} still on though everything was let go: switch the machine off at its own switch. Then look "
            "whether an adapter is crossed, or a contact has welded; nothing more is pressed."
        )


class NotAtRestError(LinesOnError):
    """Something is on before anything was pressed."""

    def __str__(self) -> str:
        return (
            f"{self.told} on before anything is pressed: somebody holds the trigger, an adapter hangs on what is "
            "always live, or a plug is crossed. Compare with the recorder's wiring, machine off."
        )


class TooSlowError(BenchError):
    """A press or a let-go came far too late."""

    def __init__(self, late_us: int) -> None:
        super().__init__(late_us)
        self.late_us = late_us

    def __str__(self) -> str:
        return (
            f"This computer was {self.late_us / 1000:.0f} ms late with a press or a let-go; everything was let go. "
            "Close what keeps it busy, use a port of its own and no hub, and measure again."
        )


class NobodyPulledError(BenchError):
    """No hand pulled the trigger."""

    def __str__(self) -> str:
        return "Nobody pulled the trigger for three minutes, or its input sees nothing: nothing was measured."


@dataclass(frozen=True)
class MeasuredRuns:
    """What came of the repeats of one quantity."""

    repeats: tuple[SeenRepeat, ...]
    lengths_mm: tuple[float | None, ...]


@dataclass(frozen=True)
class MeasuringObserver:
    """Is told how far it is, and asked for what hands measure."""

    begins: Callable[[int], None] = lambda _: None
    """Of each repeat, by its number from 1; may wait for a person who makes ready."""
    length_mm: Callable[[int], float | None] = lambda _: None
    """Returns the wire of a repeat, in mm; None where it was not measured."""


def measure_quantity(
    monitor: RecorderMonitor,
    quantity: Quantity,
    bridges_us: Mapping[str, int],
    repeats: int,
    observer: MeasuringObserver = MeasuringObserver(),
    seed: int = 0,
) -> MeasuredRuns:
    """Run one quantity and return what was seen. Raises BenchError; everything is let go then as well.

    bridges_us: how long each input's openings are bridged, by its key. seed: of what runs differ by.
    """
    for one in RECORDER_INPUTS:
        bridge_us = 0 if one.key == "supply" and not quantity.bridged else bridges_us.get(one.key, 0)
        monitor.set_bridge(one.key, bridge_us)
    return MeasuredRuns(*zip(*_runs(monitor, quantity, bridges_us, repeats, observer, Random(seed)), strict=True))


def _runs(
    monitor: RecorderMonitor,
    quantity: Quantity,
    bridges_us: Mapping[str, int],
    repeats: int,
    observer: MeasuringObserver,
    random: Random,
) -> Iterator[tuple[SeenRepeat, float | None]]:
    if quantity.cycle is None:
        for number in range(1, repeats + 1):
            observer.begins(number)
            yield _by_hand(monitor, quantity, bridges_us), None
        return
    with monitor.pressing():
        for number in range(1, repeats + 1):
            observer.begins(number)
            seen = _pressed(monitor, quantity, quantity.cycle, bridges_us, random)
            yield seen, observer.length_mm(number) if quantity.asks_length else None


def _pressed(
    monitor: RecorderMonitor,
    quantity: Quantity,
    cycle: MeasuringCycle,
    bridges_us: Mapping[str, int],
    random: Random,
) -> SeenRepeat:
    """Press as the cycle has it, once."""
    calm = _calm(quantity)
    _forget_gaps(monitor, quantity, bridges_us)
    begin_us = monitor.start() + random.randrange(SPREAD_US) + (0 if quantity.bridged else REST_LOOK_US)
    if on := sorted(monitor.at_start & calm):
        raise NotAtRestError(on)
    monitor.poll_until(begin_us)
    later_us = random.randrange(SPREAD_US)
    for place, (at_us, closes) in enumerate(cycle.presses):
        due_us = begin_us + at_us + (later_us if place >= cycle.ends_at else 0)
        monitor.poll_until(due_us)
        if monitor.latest_us > due_us + LATE_US:
            raise TooSlowError(monitor.latest_us - due_us)
        monitor.press(*((cycle.key,) if closes else ()))
    monitor.poll_until(begin_us + later_us + cycle.lasts_us)
    if quantity.bridged:
        monitor.drain()
    if on := sorted(monitor.lines() & calm):
        raise StillRunningError(on)
    return _seen(monitor, quantity, bridges_us, cycle.line)


def _by_hand(monitor: RecorderMonitor, quantity: Quantity, bridges_us: Mapping[str, int]) -> SeenRepeat:
    """Wait until a hand has pulled the trigger and all is at rest again."""
    _forget_gaps(monitor, quantity, bridges_us)
    give_up_us = monitor.start() + HAND_PATIENCE_US
    calm = _calm(quantity)
    while monitor.poll() < give_up_us:
        latest_us = max((edge.at_us for edge in monitor.edges if edge.line in calm), default=None)
        if latest_us is not None and monitor.latest_us > latest_us + HAND_RESTS_US and not monitor.lines() & calm:
            monitor.drain()
            return _seen(monitor, quantity, bridges_us, "press_trigger")
    raise NobodyPulledError


def _calm(quantity: Quantity) -> frozenset[str]:
    """Return the inputs that are off while nothing happens: a disc may stand with a slot in the light."""
    return frozenset(quantity.watches) - {"disc", "supply"}


def _forget_gaps(monitor: RecorderMonitor, quantity: Quantity, bridges_us: Mapping[str, int]) -> None:
    for key in _bridged(quantity, bridges_us):
        monitor.gap_us(key)


def _bridged(quantity: Quantity, bridges_us: Mapping[str, int]) -> tuple[str, ...]:
    return tuple(key for key in quantity.watches if bridges_us.get(key) and (quantity.bridged or key != "supply"))


def _seen(monitor: RecorderMonitor, quantity: Quantity, bridges_us: Mapping[str, int], press_line: str) -> SeenRepeat:
    """Return what the watch took down. A run whose records were lost, or whose press lapsed, has no press in it."""
    gaps_us = {key: monitor.gap_us(key) for key in _bridged(quantity, bridges_us)}
    edges = tuple(SeenEdge(edge.at_us, edge.line, edge.on) for edge in monitor.edges)
    whole = not monitor.lost() and not monitor.lapsed
    lines = frozenset({*quantity.watches, *((press_line,) if whole else ())})
    return SeenRepeat(edges, monitor.at_start, gaps_us).only(lines)
