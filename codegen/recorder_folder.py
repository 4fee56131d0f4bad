"""Everything that `wirecue recorder` makes, as one plan."""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import asdict
from typing import Any

from codegen.drawings.files import PARTS_HEAD, nets_csv, numbered, table_csv, wires_csv
from codegen.drawings.recorder_schematic import recorder_schematic
from codegen.drawings.recorder_uses import uses_sheet
from codegen.papers.blocks import paper_html, paper_pdf
from codegen.papers.disc_pages import DiscPaper, disc_files
from codegen.papers.recorder_sheet import recorder_paper
from codegen.plan import Plan
from codegen.recorder_papers import RecorderSource
from timing.circuit.lists import parts_list
from timing.protocol.recorder import RECORDER
from timing.recorder.adapters import Adapter
from timing.recorder.parts import recorder_accessories
from timing.recorder.presses import PressCircuit
from timing.recorder.uses import USES


def recorder_plan(source: RecorderSource, sketch: Mapping[str, str]) -> Plan:
    """Return all files of a recorder. sketch: its files, as `recorder_files` makes them."""
    paper = recorder_paper(source)
    texts = {f"{RECORDER}/{name}": text for name, text in sketch.items()}
    texts |= numbered("schematic", recorder_schematic(source.drawing))
    texts |= {f"{use}.svg": uses_sheet(source.drawing, use, source.uses[use]) for use in USES}
    texts |= {
        "parts.csv": recorder_parts_csv(source),
        "wires.csv": wires_csv(source.wiring.netlist),
        "nets.csv": nets_csv(source.wiring.netlist),
        "sheet.html": paper_html(paper),
    }
    files = {name: text.encode() for name, text in texts.items()} | disc_files(disc_paper(source))
    return Plan(files | {"sheet.pdf": paper_pdf(paper)})


def disc_paper(source: RecorderSource) -> DiscPaper:
    """Return what the page with disc and flag is made from."""
    design = source.project.design
    stamp = f"design {design.digest()}, wirecue {source.version}"
    return DiscPaper(design.name, stamp, source.disc, source.roll_mm, source.disc_wish.roll_mm is not None, source.flag)


def recorder_parts_csv(source: RecorderSource) -> str:
    """Return the parts list; what is no part of the circuits stands at its end without refs."""
    rows = (
        (str(row.quantity), " ".join(row.refs), row.description, row.value, "; ".join(row.reasons))
        for row in (*parts_list(source.wiring.netlist), *recorder_accessories(source.wiring))
    )
    return table_csv(PARTS_HEAD, rows)


def about_recorder(source: RecorderSource, digest: str) -> Mapping[str, Any]:
    """Return what the manifest says beside the files. digest: what the sketch answers for itself."""
    design = source.project.design
    return {
        "makes": RECORDER,
        "made_by": f"wirecue {source.version}",
        "for_design": design.name,
        "for_digest": design.digest(),
        "board": source.board.type,
        "sketch_digest": digest,
    }


def circuits_record(source: RecorderSource) -> dict[str, Any]:
    """Return the circuits as plain data: what each input is across, from what on it sees, and how late it is."""
    circuits = source.circuits
    return {
        "inputs": {key: _adapter_record(one) for key, one in circuits.adapters.items()},
        "left_out": dict(circuits.left_out),
        "presses": {key: _press_record(one) for key, one in circuits.presses.items()},
        "disc": asdict(source.disc)
        | {"mm_per_slot": source.disc.mm_per_slot(source.roll_mm), "roll_mm": source.roll_mm},
    }


def _adapter_record(one: Adapter) -> dict[str, Any]:
    return {
        "number": one.input.number,
        "kind": one.kind.value,
        "across": one.across,
        "seen_from_v": one.on_v,
        "not_up_to_v": one.off_v,
        "series_ohm": list(one.series_ohm),
        "heat_w": one.heat_w,
        "led_a": [one.low_a, one.high_a],
        "dark_us": one.dark_us,
        "bridge_us": one.bridge_us,
        "on_lag_us": list(one.lag.on_us),
        "off_lag_us": list(one.lag.off_us),
        "steady_on_lag_us": list(one.steady_lag.on_us),
        "steady_off_lag_us": list(one.steady_lag.off_us),
    }


def _press_record(one: PressCircuit) -> dict[str, Any]:
    return {
        "across": one.press.presses,
        "rating_v": one.rating_v,
        "sees_v": one.open_v,
        "on_lag_us": list(one.lag.on_us),
        "off_lag_us": list(one.lag.off_us),
    }
