"""Speed of what stands on the burnback curve: what to measure next with every cause's share, and the fit of test welds.

Run as a script it prints the figures as JSON.
"""

from __future__ import annotations

import itertools
import json

from benchmarks.examples import ROOT
from benchmarks.process_burnback import best_of
from timing.design.loading import parse_design
from timing.process.advice import design_curve
from timing.process.case import DRAWS, burnback_case, run_likely
from timing.process.fit import fit_machine
from timing.process.settable import Settable
from timing.process.welds import TestWeld
from timing.process.worth_measuring import worth_measuring

EXAMPLE = ROOT / "examples" / "shop_two_step.toml"
WELDS_S = (0.08, 0.12, 0.2)
"""Burnback of the test welds that are fitted; their wire ends are those of the likely machine."""


def run() -> dict[str, float]:
    """Time both, without the curve that they start from."""
    design = parse_design(EXAMPLE.read_text(encoding="utf-8"))
    case = burnback_case(design)
    welds = [TestWeld(rest.setting_s, rest.extension_mm) for rest in run_likely(case, WELDS_S)]
    # Another seed each time: a curve that is asked for twice is computed once.
    seeds = itertools.count()

    def curve_alone() -> int:
        seed = next(seeds)
        design_curve(design, DRAWS, seed)
        return seed

    def with_shares() -> None:
        seed = curve_alone()
        _ = worth_measuring(design, design_curve(design, DRAWS, seed), DRAWS, seed).causes

    alone_s, all_s = best_of(3, curve_alone), best_of(3, with_shares)
    return {
        "curve_s": alone_s,
        "sensitivities_s": all_s - alone_s,
        "fit_s": best_of(3, lambda: fit_machine(case, welds, Settable.fixed())),
    }


if __name__ == "__main__":
    print(json.dumps(run(), indent=2))
