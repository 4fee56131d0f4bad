"""What a recorder needs beside the parts of its circuits."""

from __future__ import annotations

from timing.circuit.lists import PartRow
from timing.recorder.cautions import SIDES_APART_MM
from timing.recorder.netlist import RecorderWiring

GLANDS_SPARE = 1
"""Cable glands beside one for each pair of leads: for USB (choice)."""


def recorder_accessories(wiring: RecorderWiring) -> tuple[PartRow, ...]:
    """Return box, carrier and small parts."""
    cables = sum(bool(refs.leads or refs.switch) for refs in wiring.circuits.values())
    title = wiring.netlist.part(wiring.board).value
    return (
        _row(1, "closed box of plastic, some 150 x 110 x 60 mm", "keeps fingers and metal dust off both sides"),
        _row(1, f"screw-terminal carrier or socket strips for the {title}", "the board can be changed"),
        _row(
            1, f"circuit board with single pads, 2.54 mm; {SIDES_APART_MM:g} mm without copper between the two sides",
            "strips would join them",
        ),
        _row(cables + GLANDS_SPARE, "cable gland with strain relief", "no wire is held by its solder"),
        _row(1, "USB cable for the board", "to the laptop"),
        _row(2 * cables, "labels for leads, with the names of their terminals", "found again at the machine"),
    )  # fmt: skip


def _row(quantity: int, description: str, reason: str) -> PartRow:
    return PartRow(quantity, (), description, "", (reason,))
