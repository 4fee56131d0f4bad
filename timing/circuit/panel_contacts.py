"""Buttons, switches and contacts that stand on the panel, as parts: each closes to board common.

The selector for spot and stitch is one switch of two poles. Its links make of it what two toggles are: a contact for
each function, closed while that function is on. So the board needs to know nothing of it.
"""

from __future__ import annotations

from dataclasses import dataclass, field

from timing.circuit.builder import CircuitBuilder
from timing.circuit.parts import PartKind
from timing.design.board import ROLES
from timing.design.design import Design
from timing.design.times import SELECTED
from timing.sequence.core.columns import TIME_NAMES


@dataclass(frozen=True)
class PanelContact:
    """What makes one contact of the panel."""

    kind: PartKind
    text: str
    """For the parts list."""


BUSH = "bush M6 or 1/4 in"
"""Of a toggle switch (practice)."""
PANEL_CONTACTS = {
    "purge": PanelContact(PartKind.PUSH_BUTTON, "push button, normally open"),
    "inch": PanelContact(PartKind.PUSH_BUTTON, "push button, normally open"),
    "interlock": PanelContact(PartKind.DRY_CONTACT, "dry (potential-free) contact of its own, closed when all is well"),
    "arc": PanelContact(
        PartKind.DRY_CONTACT,
        "dry (potential-free) contact of the current sensor, closed when the arc is established",
    ),
    "four_step": PanelContact(PartKind.SWITCH, "toggle switch, closed for four-step"),
    **{f"{name}_switch": PanelContact(PartKind.SWITCH, f"toggle switch, closed for {name}") for name in TIME_NAMES},
}
"""By role."""
SELECTOR_WAYS = ("COM", "SPOT", "STITCH")
"""Terminals of the selector once its links are in: both middles; both ends of one pole; of the other pole the end that
closes at STITCH."""
SELECTOR_LINKS = (
    "COM is both middle terminals, linked. SPOT is both end terminals of one pole, linked. STITCH is, of the other "
    "pole, the end that an ohmmeter finds closed to COM at STITCH; nothing on its other end."
)
SELECTOR_TEXT = f"toggle switch, two poles, on-off-on (off in the middle, every position stays), {BUSH}"
SELECTOR_TURNED = "It comes again and again: the selector's STITCH wire is on the wrong end of its pole."
"""What is wrong where SPOT and STITCH are interchanged; told with a spot, which shows it."""


@dataclass(frozen=True)
class PanelContacts:
    """The contacts of one design under construction: two of them may be one switch."""

    wiring: CircuitBuilder
    _selector: list[str] = field(default_factory=list)
    """Its ref, once it is there."""

    def join(self, role: str, net: str) -> None:
        """Add what makes the contact of a role, where it is not there yet, between `net` and board common."""
        build, common = self.wiring.build, self.wiring.common
        if not on_selector(self.wiring.design, role):
            made = PANEL_CONTACTS[role]
            build.two(self.wiring.add(made.kind, ROLES[role].meaning, made.text, ("1", "2"), "panel"), net, common)
            return
        if not self._selector:
            self._selector.append(
                self.wiring.add(
                    PartKind.SELECTOR, "weld selector", SELECTOR_TEXT, SELECTOR_WAYS, "panel", SELECTOR_LINKS
                )
            )  # fmt: skip
            build.join(common, f"{self._selector[0]}.{SELECTOR_WAYS[0]}")
        build.join(net, f"{self._selector[0]}.{SELECTOR_WAYS[1 + SELECTED.index(role)]}")


def on_selector(design: Design, role: str) -> bool:
    """Tell whether the contact of a role is one of the selector's."""
    return design.panel.has_selector and role in SELECTED
