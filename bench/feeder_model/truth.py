"""What really happened, for whoever judges a measurement."""

from __future__ import annotations

from bisect import bisect_right
from collections.abc import Mapping, Sequence
from dataclasses import dataclass

from bench.feeder_model.agenda import OnOff
from bench.feeder_model.drive import WireRun


@dataclass(frozen=True)
class Truth:
    """Everything hidden, with its instants. Grows as the machine runs."""

    signals: Mapping[str, OnOff]
    """By name. 'pin.ROLE' -> 'fed.ROLE' (voltage at the load) -> 'acts.ROLE' (gas valve open, motor fed, main contact);
    'press.KEY' -> 'pressed.KEY'; 'motor' (voltage that its coupler sees), 'turning', 'disc' (slot in the barrier),
    'arc', 'arc_sensor' (the add-on's), 'reed' (the recorder's), 'flag'."""
    sags: Sequence[tuple[int, float]]
    """Changes of the winding's RMS voltage."""
    open_v: float
    drive: WireRun | None

    def moves(self, name: str) -> Sequence[tuple[int, bool]]:
        """Return every change of a signal: when, and to what. Raises KeyError."""
        return self.signals[name].moves

    def was_on(self, name: str, at_us: int) -> bool:
        """Tell how a signal stood at an instant. Raises KeyError."""
        signal = self.signals[name]
        place = bisect_right(signal.moves, at_us, key=lambda move: move[0])
        return signal.moves[place - 1][1] if place else not signal.moves[0][1] if signal.moves else signal.on

    def run_mm(self, at_us: int) -> float:
        """Return the wire's run since power-up."""
        return 0.0 if self.drive is None else self.drive.at(at_us).run_mm(at_us)

    def speed_mm_s(self, at_us: int) -> float:
        """Return the wire's speed."""
        return 0.0 if self.drive is None else self.drive.at(at_us).speed_share(at_us) * self.drive.hidden.speed_mm_s

    def winding_v(self, at_us: int) -> float:
        """Return the winding's RMS voltage."""
        place = bisect_right(self.sags, at_us, key=lambda sag: sag[0])
        return self.sags[place - 1][1] if place else self.open_v
