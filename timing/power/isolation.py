"""What parts COMMON from the winding, and what a second transformer does to what the rectifier sees."""

from __future__ import annotations

from dataclasses import dataclass, replace

from timing.design.supply import Supply
from timing.power.components import usual_regulation_percent
from timing.power.rectifier import SteadyState

MAGNETISING_SHARE = 0.15
"""Magnetising current of a small transformer over its rated current (practice)."""
MAGNETISING_SURGE = 12.0
"""Peak of its current when switched on at the worst instant, over its rated current (practice)."""
MAGNETISING_A2S_S = 0.02
"""Its square lasts as long as this, taken over the cycles in which it dies away (practice)."""


@dataclass(frozen=True)
class Isolation:
    """How COMMON is parted from the winding. A second transformer is seen from its secondary."""

    kind: str
    """none, module or transformer."""
    ratio: float
    """Secondary over primary voltage with nothing drawn; 1 without a second transformer."""
    ohm: float
    """Resistance of that transformer, seen from its secondary; 0 without one."""
    rated_a: float
    """Rated current of its primary; 0 without one."""

    @property
    def parts_common(self) -> bool:
        """True where COMMON does not touch the winding's circuit."""
        return self.kind != "none"

    @property
    def parted_by(self) -> str:
        """What parts them, in words; empty where nothing does."""
        return {"module": "the isolating module", "transformer": "the second transformer"}.get(self.kind, "")

    def fuse_a(self, rectifier_a: float) -> float:
        """Return the current in the fuse for a current into the rectifier; both RMS."""
        lagging_a = MAGNETISING_SHARE * self.rated_a
        return float(((self.ratio * rectifier_a) ** 2 + lagging_a**2) ** 0.5)

    def fuse_a2s(self, rectifier_a2s: float) -> float:
        """Return what switching on asks of the fuse, for what it sends into the rectifier."""
        return self.ratio**2 * rectifier_a2s + (MAGNETISING_SURGE * self.rated_a) ** 2 * MAGNETISING_A2S_S

    def seen_from_winding(self, state: SteadyState) -> SteadyState:
        """Return a state of the circuit on the secondary with the winding's own volts and amperes."""
        if self.ratio == 1.0:
            return state
        return replace(
            state,
            winding_rms_a=state.winding_rms_a * self.ratio,
            winding_peak_a=state.winding_peak_a * self.ratio,
            winding_rms_v=state.winding_rms_v / self.ratio,
        )


def isolation(supply: Supply) -> Isolation:
    """Return what a design has between COMMON and the winding."""
    if supply.isolation != "transformer":
        return Isolation(supply.isolation, 1.0, 0.0, 0.0)
    regulation = usual_regulation_percent(supply.isolation_rating_va) / 100.0
    return Isolation(
        "transformer",
        supply.isolation_output_v * (1.0 + regulation) / supply.nominal_v,
        regulation * supply.isolation_output_v**2 / supply.isolation_rating_va,
        supply.isolation_rating_va / supply.nominal_v,
    )
