"""The 24 VAC winding: it sags under what is drawn, most while a coil pulls in."""

from __future__ import annotations

from dataclasses import dataclass, field

from bench.feeder_model.hidden import HiddenLine, HiddenLoad


@dataclass
class SaggingWinding:
    """Voltage of the winding as loads come and go; resistances alone, so that it follows at once."""

    line: HiddenLine
    volts: float = field(init=False)
    """RMS now."""
    sags: list[tuple[int, float]] = field(default_factory=list)
    """Every change: when, and RMS volts from there on."""
    _drawn_a: dict[str, float] = field(default_factory=dict)

    def __post_init__(self) -> None:
        self.volts = self.line.open_v

    def rms_v(self) -> float:
        """Return it, for a coupler that lies on it."""
        return self.volts

    def draw(self, at_us: int, role: str, load: HiddenLoad, fed: bool, acts: bool) -> bool:
        """Let a load draw what it does: nothing, its inrush until it acts, then what holds it. Tell whether it sags."""
        # A contact that bounces does not let the armature go that closed it.
        held = acts or self._drawn_a.get(role, 0.0) == load.hold_a
        self._drawn_a[role] = (load.hold_a if held else load.inrush_a) if fed and load.from_winding else 0.0
        volts = max(0.0, self.line.open_v - self.line.source_ohm * sum(self._drawn_a.values()))
        if volts == self.volts:
            return False
        self.volts = volts
        self.sags.append((at_us, volts))
        return True
