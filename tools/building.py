"""The page on the two ways to build the circuits, with what each asks of a pair of hands for every example."""

from __future__ import annotations

from timing.circuit.modules import WAYS, ways_of_building
from timing.design.loading import load_design
from timing.project import Project
from tools.pictures import ROOT
from wirecue.projects import load_board

PAGE = ROOT / "docs" / "building.md"
_TEXT = """<!-- Made from the examples by `make docs`. Do not edit. -->
# Two ways to build it

The circuit is the same either way: rectifier, reservoir and regulator for the supply, an optocoupler for the trigger, a
relay for each load. `wirecue build` draws it on three sheets, with wiring drawing, wire list and parts list for your
own design. The first sheet of the example:

![Schematic, first sheet of three: the supply from the 24 VAC to the rail, and the trigger sense](schematic.svg)

`circuits.build` in the design file chooses how it is made. Drawings, lists and sheets follow from it; times and budget,
too.

## Ready-made modules

**`"modules"`**: ready-made modules, wired from screw to screw, and a small carrier board for the loose parts: rectifier
and reservoir, the trigger's optocoupler, the resistors of dials and supply sense. The parts list says what to look for:
coil voltage and current, active level, how the inputs are lit, contact rating, input rating of the regulator.

- Coils are of 5 V, some 70 mA each, fed by the regulator; a board of 5 V logic is fed with the same, past its own
  regulator. The 24 VAC budget counts it.
- A plain diode lies across each coil, so that the load lets go later. Simulation, checks and advice count it.
- Most modules pull in when their input is low. Their inputs are dark while a pin floats, so they need no resistor;
  `board.on_level` must agree, and `circuits.relay_active` has that checked for the module in hand.
- Inputs lit from 5 V may never go dark on a board of 3.3 V: inputs with a supply of their own
  (`circuits.relay_inputs = "apart"`), or an active-high module.
- The usual regulator module ends at 40 V, and the reservoir can stand at more with a high line and nothing drawn.
- Nobody states creepage or insulation on such modules: nothing above extra-low voltage goes on one.
- No capacitors at the wipers of the dials: keep their wires short, screened, and inside the metal box.

## One board, soldered

**`"board"`**: every part soldered on one circuit board, each with its rating; the relays with zener and diode, the
contacts with what wets them. It takes patience and a smaller box. `wirecue layout DESIGN --pdf board.pdf` lays it out
on strip board: both sides at full size, what goes into which hole, and the order to work in.

![The example on strip board, side of the parts: feeder's side left of the barrier, logic right](strip-board.svg)

The feeder's side lies left of the barrier at which every strip is cut, the logic right of it; couplers and relays stand
across. Loads at mains level stay off it.

## What each asks of your hands

What each asks of a pair of hands, as `wirecue parts` counts it: a connection is a row of the wire list. In the box:
wires with a module at an end, and joints of loose parts. Wires to plug and panel, and those in the feeder, are the same
either way.

| example | built of | modules | loose parts | wires | joints | **in the box** | plug and panel | in the feeder |
|---|---|---|---|---|---|---|---|---|
"""


def page() -> str:
    """Return docs/building.md."""
    return _TEXT + "".join(_rows())


def _rows() -> list[str]:
    rows = []
    for path in sorted((ROOT / "examples").glob("*.toml")):
        design = load_design(path)
        ways = ways_of_building(Project(design, load_board(design.board.type)))
        for way in WAYS:
            work = ways[way]
            name = f"{path.stem}, as in its file" if way == design.circuits.build else path.stem
            figures = (
                work.modules, work.loose_parts, work.between_modules, work.joints, f"**{work.in_box}**",
                work.cable_and_panel, work.in_feeder,
            )  # fmt: skip
            rows.append(f"| {name} | `{way}` | {' | '.join(map(str, figures))} |\n")
    return rows
