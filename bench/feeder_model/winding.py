"""The 24 VAC winding: it sags under what is drawn, most while a coil pulls in."""

from __future__ import annotations

from dataclasses import dataclass, field

from bench.feeder_model.hidden import HiddenLine, HiddenLoad


@dataclass
class SaggingWinding:
    """Voltage of the winding as loads come and go; resistances alone, so that it follows at once."""

    line: HiddenLine
    drawn_a: dict[str, float] = field(default_factory=dict)
    sags: list[tuple[int, float]] = field(default_factory=list)
    """Every change: when, and RMS volts from there on."""

    @property
    def volts(self) -> float:
        """RMS now."""
        return max(0.0, self.line.open_v - self.line.source_ohm * sum(self.drawn_a.values()))

    def draw(self, at_us: int, role: str, load: HiddenLoad, fed: bool, acts: bool) -> None:
        """Let a load draw what it does: nothing, its inrush until it acts, then what holds it."""
        before_v = self.volts
        # A contact that bounces does not let the armature go that closed it.
        held = acts or self.drawn_a.get(role, 0.0) == load.hold_a
        self.drawn_a[role] = (load.hold_a if held else load.inrush_a) if fed and load.from_winding else 0.0
        if self.volts != before_v:
            self.sags.append((at_us, self.volts))
