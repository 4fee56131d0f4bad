"""Advice in words that terminal and page share."""

from __future__ import annotations

from typing import TYPE_CHECKING

from timing.design.units import format_duration

if TYPE_CHECKING:
    from timing.design.design import Design
    from timing.process.gas import GasUse
    from timing.process.ranging import TimeAdvice


def advised_spans(design: Design, time: TimeAdvice) -> tuple[str, str, str]:
    """Return the range that does, the dial that serves, and how the design's own setting stands to the advice.

    The last is empty where the design has no such time.
    """
    own = design.setting(time.name)
    stands = ""
    if own is not None:
        same = own.setting_us == time.setting_us
        stands = "as in the design" if same else f"the design has {format_duration(own.setting_us)}"
    return (
        f"{format_duration(time.low_us)} to {format_duration(time.high_us)} does",
        f"dial {format_duration(time.dial_from_us)} to {format_duration(time.dial_to_us)}",
        stands,
    )


def gas_words(gas: GasUse, weld_s: float) -> str:
    """Return what a weld of that length takes of gas, a hundred of them, and a cylinder's worth."""
    surge = "the hose's surge not counted" if gas.surge_l is None else f"of which {gas.surge_l:.2g} L surge"
    each = f"{gas.per_weld_l:.2g} L for a weld of {weld_s:.2g} s, {surge}"
    words = f"{each}; {gas.per_hundred_l:.0f} L for a hundred"
    welds = gas.welds_per_cylinder
    return words if welds is None else f"{words}; some {welds} welds from a full cylinder"
