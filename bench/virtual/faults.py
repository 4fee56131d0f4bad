"""What can be made wrong with a virtual board, so that tests show that the bench finds it."""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass, field

from timing.protocol.resets import Reset
from timing.sequence.core.table import Output


@dataclass(frozen=True)
class Faults:
    """Nothing is wrong by default."""

    dead: frozenset[Output] = frozenset()
    """Outputs that never come on."""
    stuck: frozenset[Output] = frozenset()
    """Outputs that are always on."""
    swapped: tuple[Output, Output] | None = None
    """Two outputs wired crosswise."""
    stretched_us: Mapping[str, int] = field(default_factory=dict)
    """Times, by name, that last this much longer than they should."""
    slow_filter_us: int = 0
    """The trigger's filter takes this much longer."""
    digest: str | None = None
    """The board carries this design instead."""
    keeps: int | None = None
    """Its receive buffer keeps this many characters of what comes in at once; more are lost. None: any number, as over
    USB, where the host waits."""
    reset: Reset = Reset.POWER_UP
    """Why it says that it started."""
    edited: bool = False
    """A number of its settings.h was changed after the build."""
    mute: bool = False
    """It never answers."""
    noisy: bool = False
    """It answers noise."""
    clock_stands: bool = False
    """Its clock is frozen."""

    def on_pins(self, outputs: int) -> int:
        """Return what the pins show when the sequence commands `outputs`."""
        if self.swapped is not None:
            first, second = (output.value for output in self.swapped)
            kept = outputs & ~(first | second)
            outputs = kept | second * bool(outputs & first) | first * bool(outputs & second)
        for output in self.dead:
            outputs &= ~output.value
        for output in self.stuck:
            outputs |= output.value
        return outputs


NO_FAULTS = Faults()
