"""A build as one file to download."""

from __future__ import annotations

import io
import zipfile

from codegen.build import about, build_plan, compared_sequence
from codegen.plan import Plan
from codegen.writing import MANIFEST, manifest
from timing.checks.finding import Severity
from timing.checks.run import check
from timing.project import Project
from timing.proof.prove import prove
from wirecue import __version__

# The earliest date that a zip file can hold: same design, same bytes.
_NO_DATE = (1980, 1, 1, 0, 0, 0)


class BrokenRulesError(Exception):
    """The design breaks rules and is not built. Keeps a sentence for each."""

    exit_code = 1

    def __init__(self, broken: list[str]) -> None:
        super().__init__(broken)
        self.broken = broken

    def __str__(self) -> str:
        return f"This design must not be built yet: {'; '.join(self.broken)}."


def built_zip(project: Project, text: str) -> bytes:
    """Return the whole build of a design as a zip file; `text` is its design file.

    The same design gives the same bytes. Raises BrokenRulesError; CoreDiffersError and ToolchainError as
    `codegen.compiled_core.compare_core` does.
    """
    errors = [finding.says for finding in check(project) if finding.severity is Severity.ERROR]
    if errors:
        raise BrokenRulesError(errors)
    design, board = project.design, project.board
    proof = prove(design)
    if not proof.holds:
        raise BrokenRulesError([verdict.rule.sentence for verdict in proof.broken])
    plan = build_plan(design, board, __version__, text)
    compared = compared_sequence(plan, design, proof)
    return zipped(plan, f"{design.name}_build", manifest(plan, about(design, board, __version__, proof, compared)))


def zipped(plan: Plan, folder: str, manifest: bytes) -> bytes:
    """Return the files of a plan and its manifest, below one folder, as a zip file."""
    files = {**plan.files, MANIFEST: manifest}
    packed = io.BytesIO()
    with zipfile.ZipFile(packed, "w", zipfile.ZIP_DEFLATED) as archive:
        for name, content in sorted(files.items()):
            entry = zipfile.ZipInfo(f"{folder}/{name}", _NO_DATE)
            entry.compress_type = zipfile.ZIP_DEFLATED
            entry.external_attr = 0o644 << 16
            archive.writestr(entry, content)
    return packed.getvalue()
