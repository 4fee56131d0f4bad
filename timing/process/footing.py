"""What advice stands on, in words: what its figures mean, what they hold for, and where each input comes from."""

from __future__ import annotations

from collections.abc import Iterator
from dataclasses import dataclass
from typing import Literal, get_args

from timing.design.design import Design
from timing.design.process import Wire
from timing.marks import Mark
from timing.process.burnback_curve import BurnbackCurve
from timing.process.case import BurnbackCase
from timing.process.melting import DIAMETER_RANGE_MM

Footing = Literal["yours"] | Mark
FOOTING_WORDS: dict[Footing, str] = {
    "yours": "from you",
    "published": "published",
    "measured": "measured by this project",
    "exact": "exact",
    "derived": "derived from others",
    "practice": "common practice",
    "choice": "this project's choice",
    "remembered": "remembered, not looked up",
}
"""In the order in which they are told, the surest first."""


@dataclass(frozen=True)
class Input:
    """One input of the computation, and what it stands on."""

    name: str
    footing: Footing


def inputs(design: Design, case: BurnbackCase) -> tuple[Input, ...]:
    """Return what the wire end is computed from; what the design states counts as measured by whoever wrote it."""
    return tuple(_inputs(design, case))


def _inputs(design: Design, case: BurnbackCase) -> Iterator[Input]:
    process, drive = design.process, design.feeder.wire_drive
    stated = process.model_fields_set
    yield Input("wire and gas", "yours")
    yield Input("wire feed speed", "yours")
    yield Input("distance to the work", "yours")
    yield Input("drop-out of drive and contactor", "yours")
    open_v, slope = process.open_circuit_voltage_v is not None, process.slope_v_per_a is not None
    followed: Footing = "derived" if open_v and slope else "published"
    yield Input("volts while welding", "yours" if process.load_voltage_v is not None else followed)
    yield Input("amperes while welding", "yours" if process.load_current_a is not None else "derived")
    yield Input("open-circuit voltage", "yours" if open_v else "derived")
    yield Input("slope of the power source", "yours" if case.source.slope_known else "choice")
    yield Input("inductance", "yours" if "inductance_h" in stated else "practice")
    yield Input("coast", "yours" if drive.coast_us is not None else "practice")
    yield Input("melting of the wire", case.wire.material.mark)
    yield Input("arc voltage", case.arc.mark)
    yield Input("spread from hand and machines", "practice")


def footing_words(design: Design, curve: BurnbackCurve) -> tuple[str, ...]:
    """Return in a few sentences how to read the figures, what they hold for, and what they stand on."""
    weld = curve.best.extension_weld_to_weld_mm
    low_mm, high_mm = DIAMETER_RANGE_MM
    wires = ", ".join(get_args(Wire))
    return (
        "One figure alone is the middle: half of all welds lie above, half below. Volts and amperes are means over "
        "many drops.",
        "Nine times in ten counts the welds of all machines like yours together. Yours may be an odd one, and none of "
        f"its welds within. Once it is measured, only weld-to-weld scatter is left: {weld.low:.0f} mm to "
        f"{weld.high:.0f} mm.",
        f"All this holds for a constant-voltage power source, not pulsed, and wire of {low_mm:g} mm to {high_mm:g} mm "
        f"({wires}).",
        f"Inputs {'; '.join(_by_footing(inputs(design, curve.case)))}.",
    )


def _by_footing(all_of_them: tuple[Input, ...]) -> Iterator[str]:
    for footing, words in FOOTING_WORDS.items():
        names = [one.name for one in all_of_them if one.footing == footing]
        if names:
            yield f"{words}: {', '.join(names)}"
