"""Cautions, each at the place where it matters."""

from __future__ import annotations

from collections.abc import Sequence

from timing.circuit.parts import PlacedCaution
from timing.design.feeder import EXTRA_LOW_AC_V, EXTRA_LOW_DC_V
from timing.power.budget import Budget, common_potential
from timing.power.components import board_feed

DISCHARGE_V = 5.0
"""Voltage under which a capacitor counts as empty (choice)."""
ABOVE_EXTRA_LOW = (
    f"Above {EXTRA_LOW_AC_V:g} V ac or {EXTRA_LOW_DC_V:g} V dc: touching it can kill. This connector, its wires, "
    "contacts and varistors are for a licensed electrician: mains spacing, covers, a protective conductor on all "
    "metal, nothing else in the same sleeve."
)


INTERPOSED = (
    f"Above {EXTRA_LOW_AC_V:g} V ac or {EXTRA_LOW_DC_V:g} V dc: touching it can kill. The contactor's load, its wires "
    "and the protective conductor of the metal round it are for a licensed electrician, by local code; the contact as "
    "found is free of this circuit before it works a coil of the add-on."
)


def cautions(
    budget: Budget, sockets: Sequence[str], board_ref: str, contactors: Sequence[str] = ()
) -> tuple[PlacedCaution, ...]:
    """Return the cautions for a design's wiring; `sockets`, `board_ref` and `contactors` are the refs they hang on.

    A second socket is that of the circuits above extra-low voltage; contactors are those with such a load behind them.
    """
    supply = budget.supply
    placed = [
        PlacedCaution(
            "everywhere",
            "Disconnect the machine from the mains and lock the plug away; leave work on mains wiring to a licensed "
            "electrician. Local codes come before this sheet, and ANSI Z49.1, IEC 60974-1 and -5, IEC 60204-1 or NFPA "
            "79 where they apply.",
        ),
        PlacedCaution(
            "everywhere",
            "This timer is not a safety function. It must not replace or bypass an interlock, an emergency stop or a "
            "thermal cut-out.",
        ),
        PlacedCaution(
            "everywhere",
            "The welding circuit's open-circuit voltage can kill in damp. Closed box, strain relief on every cable, no "
            "wire of the add-on near wire, work or output terminals.",
        ),
        PlacedCaution("T1", f"Tap the secondary only. The primary side carries mains.{_fused_side(budget)}"),
        PlacedCaution(
            "F1", f"Use {budget.fuse.marking} and nothing larger: letter and rating; the wires are sized for it."
        ),
        PlacedCaution(
            "RESERVOIR+",
            f"Can stand at {budget.highest_v:.0f} V and holds its charge after switching off: wait, and measure under "
            f"{DISCHARGE_V:g} V before touching.",
        ),
        PlacedCaution("COMMON", _common(budget)),
        PlacedCaution(board_ref, f"{_usb(budget)} Opening the port resets many boards."),
        PlacedCaution(
            sockets[0],
            "Photograph and label every wire before cutting it. The bypass plug here puts the feeder back as found; "
            "try it before the add-on.",
        ),
        PlacedCaution(
            "FEEDER-SCREEN",
            "Screen to chassis at this end. Near a high-frequency starter use a metal box, screens all round, and a "
            "ferrite core on the cable at the box.",
        ),
        PlacedCaution(
            "FEEDER-TRIG-LIVE",
            "The gun's wires run beside the welding cable: twist them, and keep them apart from everything else in "
            "the box.",
        ),
    ]
    placed += [PlacedCaution(socket, ABOVE_EXTRA_LOW) for socket in sockets[1:]]
    placed += [PlacedCaution(contactor, INTERPOSED) for contactor in contactors]
    if budget.winding.open_v > 30.0 or supply.rating_va > 100.0:
        text = "More than 30 V or 100 VA: a short makes heat and sparks. Cover all terminals."
        placed.append(PlacedCaution("T1", text))
    return tuple(placed)


def _fused_side(budget: Budget) -> str:
    if budget.supply.grounded == "no":
        return ""
    return " A side on chassis must be B, so that F1 is in the other: a short through COMMON passes by a fuse in B."


def _common(budget: Budget) -> str:
    """What COMMON is, for its place in the drawings."""
    if budget.isolation.parts_common:
        return (
            f"COMMON is parted from the winding by {budget.isolation.parted_by}. No wire from one side to the other: "
            "none to the winding, its rectifier or chassis."
        )
    at, half_wave = common_potential(budget), budget.supply.rectifier == "half-wave"
    joined = "is side B of the winding" if half_wave else "is joined to the winding by the rectifier"
    known = {
        "no": "The 24 VAC was measured to float; a second tie would end that",
        "yes": f"With the 24 VAC grounded it stands at {at.swing} against chassis; a tie draws {at.short}",
        "unknown": f"The 24 VAC may be grounded: then it stands at {at.swing} against chassis; a tie draws {at.short}",
    }[budget.supply.grounded]
    return f"COMMON is not isolated: it {joined}. {known}. Never to chassis, work, or an oscilloscope's ground."


def _usb(budget: Budget) -> str:
    """When USB may be plugged in, for the place of the board."""
    feed = board_feed(budget.board, budget.design.circuits)
    if feed.terminal == budget.board.logic_terminal:
        return (
            f"USB only with the feeder plug (P1) pulled: the board is fed at {feed.terminal}, past its own regulator, "
            "and two supplies would fight. USB then feeds the relays too."
        )
    if budget.isolation.parts_common:
        return (
            f"USB only on the bench, closed box or feeder plug (P1) pulled: COMMON is parted from the winding by "
            f"{budget.isolation.parted_by}, and only while that is whole."
        )
    if budget.supply.grounded == "no":
        return "USB only on the bench with the feeder plug (P1) pulled, or through a USB isolator."
    return (
        "No USB with the feeder plug (P1) in: a grounded computer would short the winding through COMMON. On the "
        "bench P1 is pulled; in the machine only through a USB isolator."
    )
