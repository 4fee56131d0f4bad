"""Runs of machines whose figures are known, as a recorder sees them, without any board."""

from random import Random

from timing.measure.cycle import MeasuringCycle
from timing.measure.repeats import SeenEdge, SeenRepeat
from timing.process.coast import Coast
from timing.recorder.disc import DISC_SLOTS
from timing.sequence.core.table import Output

LOOK_US = 16


def press_edges(cycle: MeasuringCycle, began_us: int = 1_000) -> list[SeenEdge]:
    """Return the press as the recorder read it back."""
    return [SeenEdge(began_us + at_us, cycle.line, on) for at_us, on in cycle.presses]


def pin_us(cycle: MeasuringCycle, output: Output, on: bool, began_us: int = 1_000) -> float:
    """Return when a pin goes on or off."""
    lag = cycle.pins[output, on]
    return began_us + cycle.presses[0 if lag.by_start else cycle.ends_at][0] + lag.after_us


def switched(
    cycle: MeasuringCycle, output: Output, coil: str, acts: str, lags_us: dict[tuple[str, bool], float]
) -> SeenRepeat:
    """Return one operation of a load: lags by ('relay' or 'works', on)."""
    edges = press_edges(cycle)
    for on in (True, False):
        coil_us = pin_us(cycle, output, on) + lags_us["relay", on]
        edges += [SeenEdge(round(coil_us), coil, on), SeenEdge(round(coil_us + lags_us["works", on]), acts, on)]
    return SeenRepeat(tuple(sorted(edges)))


def coasted(
    cycle: MeasuringCycle,
    random: Random,
    *,
    motor: str,
    coast_us: float,
    friction: float,
    turn_us: float,
    slots: int = DISC_SLOTS,
    tau_us: float = 40_000.0,
    off_us: float = 5_000.0,
    hidden_us: float = 0.0,
) -> SeenRepeat:
    """Return one run past a disc, slots uneven, 1 % off centre. hidden_us: how late the motor is seen to go."""
    import math

    edges = press_edges(cycle)
    on_us, let_go_us = pin_us(cycle, Output.WIRE, True) + 8_000, pin_us(cycle, Output.WIRE, False) + off_us
    coast = Coast.of(coast_us / 1e6, friction)
    edges += [SeenEdge(round(on_us), motor, True), SeenEdge(round(let_go_us + hidden_us), motor, False)]

    def place_us(at_us: float) -> float:
        """Run at an instant, as time at full speed."""
        under_us = min(at_us, let_go_us) - on_us
        run_us = under_us + tau_us * math.expm1(-under_us / tau_us)
        after_us = max(at_us - let_go_us, 0.0)
        return run_us + 1e6 * float(coast.run_s(after_us / 1e6))

    whole_us = place_us(let_go_us + 1e6 * float(coast.stop_s) + 1.0)
    start = random.random()
    edge = math.ceil(2 * slots * start)
    while True:
        slot, ends = divmod(edge, 2)
        shown = (slot + 0.45 * ends) / slots
        due_us = (shown - 0.01 * math.sin(2 * math.pi * shown) / (2 * math.pi) - start) * turn_us
        if due_us > whole_us:
            break
        if due_us > 0:
            low_us, high_us = on_us, let_go_us + 1e6 * float(coast.stop_s) + 1.0
            for _ in range(45):
                middle_us = (low_us + high_us) / 2
                low_us, high_us = (middle_us, high_us) if place_us(middle_us) < due_us else (low_us, middle_us)
            edges.append(SeenEdge(LOOK_US * math.ceil(high_us / LOOK_US), "disc", not ends))
        edge += 1
    return SeenRepeat(tuple(sorted(edges)))
