"""What is said of the power source: what its figures rest on, and what its bank does to the arc."""

from __future__ import annotations

from collections.abc import Iterator

from timing.formatting import in_ms
from timing.process.case import BurnbackCase, run_likely


def source_notes(case: BurnbackCase, setting_s: float) -> Iterator[str]:
    """Yield sentences on the source of a case; the bank's at a burnback setting. Raises ProcessError."""
    read, load_v = case.source.readings, float(case.operating_point().voltage_v)
    if read.load_v is None:
        if read.open_v is None:
            yield f"Volts were not read; {load_v:.1f} V at the terminals is assumed, as usual for this current."
        elif read.slope_v_per_a is None:
            yield (
                f"Only the open-circuit voltage was read; {load_v:.1f} V at the terminals and a slope of "
                f"{1000 * case.slope_v_per_a:.0f} mV/A are what goes best with it."
            )
        else:
            yield "Volts while welding were not read; they follow from the slope as it is stated."
    if case.source.capacitance_f:
        (rest,) = run_likely(case, [setting_s])
        longer_s = rest.arc_out_s - setting_s - case.contactor_off.typical_s
        if longer_s > 0:
            yield (
                f"The capacitor bank keeps the arc burning for {in_ms(longer_s)} after the contactor has let go: that "
                "is counted, and no dial shortens it."
            )
