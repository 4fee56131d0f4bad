"""Speed of spots without a hole: the curve with its band, and what the rules of `check` compute of it.

Run as a script it prints the figures as JSON.
"""

from __future__ import annotations

import itertools
import json
from dataclasses import replace

from benchmarks.examples import ROOT
from benchmarks.process_burnback import best_of
from timing.design.loading import parse_design
from timing.process.arc_spot import quick_spot_curve, spot_curve, spot_heat, spot_work
from timing.process.case import burnback_case
from timing.process.spot import spot_sheet_mm

EXAMPLE = ROOT / "examples" / "spot_stitch.toml"
DIAL_END_S, WANTED_MM = 2.0, 4.0


def run() -> dict[str, float]:
    """Time both, to the end of the example's dial."""
    design = parse_design(EXAMPLE.read_text(encoding="utf-8"))
    heat, work = spot_heat(burnback_case(design)), spot_work(design, spot_sheet_mm(design))
    # A little more heat each time: a curve that is asked for twice is computed once.
    more_w = itertools.count()

    def whole() -> None:
        spot_curve(replace(heat, arc_w=heat.arc_w + 0.1 * next(more_w)), work, WANTED_MM, DIAL_END_S)

    def quick() -> None:
        quick_spot_curve(replace(heat, arc_w=heat.arc_w + 0.1 * next(more_w)), work, WANTED_MM, DIAL_END_S)

    return {"spot_curve_s": best_of(3, whole), "quick_spot_curve_s": best_of(3, quick)}


if __name__ == "__main__":
    print(json.dumps(run(), indent=2))
