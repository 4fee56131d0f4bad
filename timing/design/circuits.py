"""[circuits]: how the add-on's circuits are built, and what is known of ready-made modules."""

from __future__ import annotations

from typing import Literal

from pydantic import Field

from timing.design.board import Level
from timing.design.section import Section

MODULE_RAIL_V = 5.0
"""Relay modules are taken with coils for this: what a board's 5 V side can be fed with too (practice)."""
MODULE_COIL_A = 0.070
"""What a coil for that takes, with the lamp of its channel (practice)."""
MODULE_INPUT_A = 0.005
"""Most that an input of a module takes from a pin or a contact; the parts list asks for no more (practice: an
optocoupler's LED behind 1 kohm)."""


class Circuits(Section):
    """How the circuits round the board are built."""

    build: Literal["modules", "board"] = Field(
        "modules",
        description="modules: ready-made relay, regulator and input modules, the board on a screw-terminal carrier, "
        "the few loose parts on a small one; board: every part soldered on one circuit board.",
    )
    relay_active: Level | None = Field(
        None,
        description="Level at its input with which the relay module in hand pulls in, as tried on the bench; left out: "
        "the parts list asks for one that suits board.on_level.",
    )
    relay_inputs: Literal["shared", "apart"] = Field(
        "shared",
        description="Supply of the relay module's inputs. shared: that of its coils; apart: a terminal of its own, its "
        "jumper to the coils' supply pulled, fed with the board's logic voltage.",
    )
