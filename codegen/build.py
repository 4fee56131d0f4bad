"""Everything that a build makes, as one plan."""

from __future__ import annotations

from collections.abc import Mapping
from concurrent.futures import ThreadPoolExecutor
from typing import Any

from codegen.charts.timeline import usual_timeline_svg
from codegen.compiled_core import CoreComparison
from codegen.drawings.files import drawing_files
from codegen.harness import harness_files
from codegen.papers.blocks import paper_html, paper_pdf
from codegen.papers.board_pages import BoardPaper, board_files
from codegen.papers.build_sheet import build_paper
from codegen.papers.dial_pages import plate_files
from codegen.papers.sheet import SheetSource
from codegen.plan import Plan
from timing.project import Project
from timing.proof.prove import COVERED, LEFT_OUT


def build_plan(
    project: Project, sketch: Mapping[str, str], version: str, source: str, board: BoardPaper | None = None
) -> Plan:
    """Return all files of a build.

    sketch: its files, as `sketch_files` makes them. version: of this tool. source: text of the design file, kept with
    the build as its record. board: of the circuit, where one was laid out.
    """
    design = project.design
    sheet = build_paper(SheetSource(project, version))
    # The typesetter is a process of its own; everything else is made meanwhile.
    with ThreadPoolExecutor(max_workers=1) as beside:
        sheet_pdf = beside.submit(paper_pdf, sheet)
        texts = {f"{design.name}.toml": source, "sheet.html": paper_html(sheet)}
        texts |= {f"{design.name}/{name}": text for name, text in sketch.items()}
        texts |= {f"bench/{name}": text for name, text in harness_files(project, version).items()}
        texts |= drawing_files(project)
        texts["timeline.svg"] = usual_timeline_svg(project)
        files = {name: text.encode() for name, text in texts.items()} | plate_files(project, version)
        files |= {} if board is None else board_files(board)
        return Plan(files | {"sheet.pdf": sheet_pdf.result()})


def about(project: Project, version: str, source: str, compared: CoreComparison) -> Mapping[str, Any]:
    """Return what the manifest says of a build beside its files.

    source: text of the design file, kept whole, so that what a board was flashed with can be told from the manifest.
    """
    design, proof = project.design, project.proof
    rules = {verdict.rule.name: verdict.combinations for verdict in proof.verdicts if verdict.holds}
    return {
        "made_by": f"wirecue {version}",
        "design": design.name,
        "digest": design.digest(),
        "board": project.board.type,
        "proof": {
            "covers": COVERED,
            "leaves_out": list(LEFT_OUT),
            "situations": proof.situations,
            "combinations": proof.combinations,
            "holds": rules,
        },
        "compiled_sequence": compared.as_data(),
        "design_file": source,
    }
