"""Rule on the shielding gas: one that spoils the weld with this wire spoils it at every time."""

from __future__ import annotations

from collections.abc import Iterator

from timing.checks.finding import Finding, warning
from timing.project import Project

_ACTIVE = ("M12", "M20", "M21", "M22", "C1")
# Common practice, no source. By wire: gas groups that do not go with it, why, and what does.
UNSUITED = {
    "aluminium": (_ACTIVE, "oxygen and carbon dioxide burn aluminium: a black, porous bead", "I1 or I3"),
    "stainless-steel": (
        ("M21", "C1"),
        "the weld takes up carbon from so much carbon dioxide, and rusts",
        "M12, argon with a little carbon dioxide",
    ),
    "mild-steel": (("I1", "I3"), "in argon alone the arc on steel wanders and the bead stands narrow", "M20 or M21"),
}


def gas_suits_wire(project: Project) -> Iterator[Finding]:
    """The gas must suit the wire."""
    process = project.design.process
    groups, reason, better = UNSUITED.get(process.wire, ((), "", ""))
    if process.gas in groups:
        yield warning(
            "gas-suits-wire", "process.gas", f"the gas for {process.wire} wire is {process.gas}", reason, better
        )
