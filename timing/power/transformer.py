"""The control transformer as a source behind a resistance, from what was measured or from its rating."""

from __future__ import annotations

from dataclasses import dataclass

from timing.design.supply import Supply

_USUAL_REGULATION = ((10.0, 25.0), (30.0, 18.0), (60.0, 13.0), (120.0, 10.0), (300.0, 7.0), (float("inf"), 5.0))
"""Regulation of small laminated transformers: up to VA, percent (remembered: measuring replaces it, and a rule asks
for that)."""


@dataclass(frozen=True)
class Winding:
    """The 24 VAC winding at nominal line."""

    open_v: float
    """RMS with nothing drawn."""
    source_ohm: float
    measured: bool
    """True where both come from measurements."""

    def prospective_a(self, line: float = 1.0) -> float:
        """RMS current into a dead short, with the line at that multiple of nominal."""
        return self.open_v * line / self.source_ohm


def usual_regulation_percent(rating_va: float) -> float:
    """Return the usual regulation of a transformer of that rating, in percent of its loaded voltage."""
    return next(percent for limit, percent in _USUAL_REGULATION if rating_va <= limit)


def winding(supply: Supply) -> Winding:
    """Return the winding of a design's supply.

    Measured: ohm = (open - loaded) / current. Otherwise the rated voltage stands at the rated current, and
    regulation, (open - full load) / full load, gives the open voltage and the resistance.
    """
    if supply.measured_open_v is not None and supply.measured_loaded_v is not None and supply.measured_load_a:
        drop = max(supply.measured_open_v - supply.measured_loaded_v, 0.01)
        return Winding(supply.measured_open_v, drop / supply.measured_load_a, True)
    regulation = (supply.regulation_percent or usual_regulation_percent(supply.rating_va)) / 100.0
    rated_a = supply.rating_va / supply.nominal_v
    return Winding(supply.nominal_v * (1.0 + regulation), regulation * supply.nominal_v / rated_a, False)
