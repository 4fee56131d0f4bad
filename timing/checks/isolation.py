"""The rules on COMMON: what it is against chassis, and what parts it from the winding."""

from __future__ import annotations

from collections.abc import Iterator

from timing.checks.finding import DesignEdit, Figure, Finding, Remedy, Severity
from timing.checks.remedies import isolated, set_supply
from timing.circuit.preferred import rating_at_least
from timing.power.budget import common_potential
from timing.project import Project

TRANSFORMER_RATINGS_VA = (4.0, 6.0, 10.0, 16.0, 25.0, 40.0, 63.0, 100.0)
"""Small transformers on sale (practice)."""


def common_to_chassis(project: Project) -> Iterator[Finding]:
    """The rectifier does not isolate: say what COMMON is against chassis, and what a tie would do."""
    budget = project.budget
    supply = project.design.supply
    if budget.isolation.parts_common:
        yield _parted(project)
        return
    at = common_potential(budget)
    swings, how = ("swings", "through one diode") if supply.rectifier == "bridge" else ("can swing", "outright")
    what = "A bridge rectifier does not isolate." if supply.rectifier == "bridge" else "COMMON is one of its sides."
    figures = (
        Figure("lowest of COMMON against chassis", at.lowest_v, "V"),
        Figure("highest of COMMON against chassis", at.highest_v, "V"),
        Figure("peak current if tied", at.tied_peak_a, "A"),
        Figure("RMS current if tied", at.tied_rms_a, "A"),
    )
    if supply.grounded == "no":
        yield Finding(
            "supply.common-to-chassis",
            Severity.INFO,
            "supply.grounded",
            "The 24 VAC was measured to float; COMMON is joined to it through the rectifier and floats with it",
            f"{what} With one side of the 24 VAC grounded later, by a fault or by a cable, COMMON would swing "
            f"{at.swing} against chassis: keep USB, oscilloscope grounds and chassis off it in any case",
            figures,
        )
        return
    starts = (
        "One side of the 24 VAC is tied to chassis:"
        if supply.grounded == "yes"
        else "Whether the 24 VAC is tied to chassis was not measured, so it counts as tied:"
    )
    measure = Remedy(
        "Measure it cold: ohmmeter from each side of the secondary to chassis, above 1 Mohm it floats; then "
        'supply.grounded = "no"'
    )
    yield Finding(
        "supply.common-to-chassis",
        Severity.WARNING,
        "supply.grounded",
        f"{starts} COMMON {swings} {at.swing} against chassis",
        f"{what} Whatever ties COMMON to chassis, such as a USB cable to a grounded computer, the clip of an "
        f"oscilloscope or a bare wire that touches a metal box, shorts the winding {how}: {at.short}",
        figures,
        (
            *((measure,) if supply.grounded == "unknown" else ()),
            Remedy(
                "Never connect USB, an oscilloscope's ground or chassis to the add-on while its feeder plug is in; "
                "where the port must be used there, through a USB isolator"
            ),
            *isolated(budget),
        ),
    )


def _parted(project: Project) -> Finding:
    """COMMON does not touch the winding's circuit: nothing to fear from a tie, but what must not join them again."""
    apart = project.budget.isolation
    return Finding(
        "supply.common-to-chassis",
        Severity.INFO,
        "supply.isolation",
        f"COMMON is parted from the winding by {apart.parted_by}: a USB cable or a probe on it shorts nothing",
        "It floats, and must go on floating on the feeder's side: keep the two sides apart in the box, by 4 mm or more "
        "over a board and in the air (practice), and join no wire of one to the other",
    )


def keeps_apart(project: Project) -> Iterator[Finding]:
    """What parts COMMON from the winding must carry its load, and nothing may join the two again."""
    budget, supply = project.budget, project.design.supply
    if supply.isolation == "module" and supply.sense is not None:
        yield Finding(
            "supply.isolation-joined",
            Severity.ERROR,
            "supply.sense",
            "The divider of [supply.sense] joins the reservoir to the board, and with it both sides of the isolating "
            "module",
            "COMMON would be on the winding again, through the divider, and with the 24 VAC grounded the pin would "
            "meet its swing",
            (),
            (
                Remedy(
                    "Isolate with a second transformer, which leaves the reservoir to be measured",
                    (DesignEdit("supply.isolation", "transformer"),),
                ),
                Remedy("Leave [supply.sense] out: the board then does not see its supply fail"),
            ),
        )
    if budget.second_fuse is not None:
        drawn_a = max(float(corner.state.rectifier_rms_a) for corner in budget.settled)
        wanted_va = drawn_a * supply.isolation_output_v
        if wanted_va > supply.isolation_rating_va:
            better = rating_at_least(wanted_va, TRANSFORMER_RATINGS_VA)
            change = () if better is None else (set_supply("isolation_rating", better, "V*A"),)
            yield Finding(
                "supply.isolation-rating",
                Severity.ERROR,
                "supply.isolation_rating",
                f"The second transformer gives {wanted_va:.0f} VA and is rated {supply.isolation_rating_va:g} VA",
                "A rectifier draws its current in short pulses, which heat a small transformer more than the watts say",
                (Figure("drawn", wanted_va, "VA"), Figure("rating", supply.isolation_rating_va, "VA")),
                (Remedy(f"Fit one of {better:g} VA" if better else "Feed the add-on from the mains", change),),
            )
