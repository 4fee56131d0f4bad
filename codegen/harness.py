"""The bench harness: a folder that tests a board with this one design, and needs nothing of this project.

The model, the link and the cases are not written a second time: their modules are copied, only their imports are
turned to the folder's own.
"""

from __future__ import annotations

import json
import re
from importlib.resources import files

from codegen.rendering import environment, render
from timing.design.board import Board
from timing.design.design import Design
from timing.protocol.cautions import CAUTIONS
from timing.protocol.of_design import target_of
from timing.protocol.target import to_json

_TEMPLATES = "common/harness"
KIT = "kit"
"""Folder of the copied modules."""

MODULES = {
    "timing.design.roles": "roles",
    "timing.sequence.core.table": "table",
    "timing.sequence.core.settings": "settings",
    "timing.sequence.core.scan": "scan",
    "timing.sequence.core.filters": "filters",
    "timing.sequence.core.script": "script",
    "timing.sequence.core.engine": "engine",
    "timing.sequence.core.dial_scale": "scale",
    "timing.protocol.commands": "commands",
    "timing.protocol.errors": "link_errors",
    "timing.protocol.registers": "registers",
    "timing.protocol.levels": "levels",
    "timing.protocol.cautions": "cautions",
    "timing.protocol.target": "target",
    "bench.device_text": "device_text",
    "bench.errors": "bench_errors",
    "bench.lock": "lock",
    "bench.port": "port",
    "bench.message": "message",
    "bench.identity": "identity",
    "bench.link": "link",
    "bench.clock": "clock",
    "bench.tolerance": "tolerance",
    "bench.trace": "trace",
    "bench.compare": "compare",
    "bench.results": "results",
    "bench.panel": "panel",
    "bench.play": "play",
    "bench.cases": "cases",
    "bench.watch": "watch",
    "bench.run": "run",
    "bench.press": "press",
    "bench.closeness": "closeness",
    "bench.random_scripts": "random_scripts",
}
"""Modules that the harness carries, and what they are called there."""

_IMPORT = re.compile(r"^from ((?:timing|bench|codegen|wirecue)(?:\.\w+)*) import ", re.MULTILINE)


class UncarriedModuleError(LookupError):
    """A carried module imports one that is not carried. Keeps both names."""

    def __init__(self, module: str, wanted: str) -> None:
        super().__init__(module, wanted)
        self.module = module
        self.wanted = wanted

    def __str__(self) -> str:
        return f"{self.module} imports {self.wanted}, which the harness does not carry"


def harness_files(design: Design, board: Board, version: str) -> dict[str, str]:
    """Return the files of the harness folder, by relative name. Same design, board and version, same text.

    version: of this tool.
    """
    target = target_of(design, board)
    made = environment(_TEMPLATES)
    names = {"target": target, "board": board, "version": version, "cautions": CAUTIONS}
    texts = {name.removesuffix(".j2"): render(made, name, names) for name in made.list_templates()}
    texts["design.json"] = json.dumps(to_json(target), indent=2, sort_keys=True) + "\n"
    texts[f"{KIT}/__init__.py"] = f'"""Model and link, copied from wirecue {version}."""\n'
    texts |= {f"{KIT}/{name}.py": carried_source(module) for module, name in MODULES.items()}
    return texts


def carried_source(module: str) -> str:
    """Return the source of a carried module, its imports turned to the harness. Raises UncarriedModuleError."""

    def turned(match: re.Match[str]) -> str:
        if match[1] not in MODULES:
            raise UncarriedModuleError(module, match[1])
        return f"from .{MODULES[match[1]]} import "

    return _IMPORT.sub(turned, _source(module))


def _source(module: str) -> str:
    package, _, name = module.rpartition(".")
    return files(package).joinpath(f"{name}.py").read_text(encoding="utf-8")
