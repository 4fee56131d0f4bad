"""Cautions of the recorder, each at the place where it matters."""

from __future__ import annotations

from collections.abc import Mapping

from timing.circuit.parts import PlacedCaution
from timing.recorder.adapters import WELDING_HIGHEST_V, AdapterKind
from timing.recorder.fitting import RecorderCircuits

SIDES_APART_MM = 6.0
"""Between the two sides, over the board and in the air: what the legs of a coupler leave, and more than the 4 mm that
the add-on keeps (practice)."""
LAPTOP_SIDE = (
    "Two sides: the laptop's (board, USB, COMMON, LOGIC, pins) and the machine's (every terminal block, its leads, its "
    f"battery). {SIDES_APART_MM:g} mm between them over the board and in the air, nothing across but couplers and "
    "relays. The machine's circuits are apart from each other as well: an empty pole between two blocks."
)
NOT_ABOVE = (
    "Only circuits within extra-low voltage (50 V ac, 60 V dc) and the welding output. Mains, and coils above it, are "
    "for a licensed electrician; no lead of the recorder goes there. Local codes come first."
)
LEADS_ON_WHILE_OFF = (
    "Clip leads on and off only while machine and power source are disconnected from the mains and their capacitors "
    "measured empty. Close what can be closed; then switch on, and touch nothing but the laptop."
)
NO_HIGH_FREQUENCY = "Never with a high-frequency start: its kilovolts go through couplers, and through you."
WELDING_LEADS = (
    f"The welding output can kill in damp: up to {WELDING_HIGHEST_V:g} V. Leads go on at the power source's own "
    "terminals with everything off, fuse at each clip, and nobody holds a clip while it is on."
)
OWN_BATTERY = (
    "This battery and everything on it may stand at the potential of the drive roll or the welding cable: touch "
    "neither while the machine is on. Never one battery for two loops."
)
PRESSES_FOR_REAL = (
    "A press starts the machine: wire runs and is live, gas flows. Gun clear of everything, work clamp off, hands off "
    "drive rolls; the jumper out again when you are done. Only with the add-on in, never with the bypass plug: there "
    "the trigger may work coils, and a photo-relay that burns can stay closed."
)
BOARD_TO_LAPTOP = (
    "USB goes here, and to no other board of the machine while the machine is on. A laptop on its battery, charger "
    "unplugged, is one thing less that can be grounded."
)


def recorder_cautions(
    circuits: RecorderCircuits, terminals: Mapping[str, str], board: str
) -> tuple[PlacedCaution, ...]:
    """Return the cautions for the recorder's circuits; terminals: the terminal block of each circuit, by its key."""
    placed = [PlacedCaution("everywhere", text) for text in (LAPTOP_SIDE, NOT_ABOVE, LEADS_ON_WHILE_OFF)]
    placed += [PlacedCaution("everywhere", NO_HIGH_FREQUENCY), PlacedCaution(board, BOARD_TO_LAPTOP)]
    for key, adapter in circuits.adapters.items():
        if adapter.kind is AdapterKind.WELDING:
            placed.append(PlacedCaution(terminals[key], WELDING_LEADS))
        elif adapter.kind.from_battery:
            placed.append(PlacedCaution(terminals[key], OWN_BATTERY))
    placed += [PlacedCaution(terminals[f"press_{key}"], PRESSES_FOR_REAL) for key in circuits.presses]
    return tuple(placed)
