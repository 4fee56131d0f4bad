"""The bench harness: a folder that tests a board with this one design, and needs nothing of this project.

The model, the link and the cases are not written a second time: the harness carries their modules as they are, under
the names that they have here. What it carries is the sequence's core, and whatever its own test asks for by an import.
"""

from __future__ import annotations

import ast
import json
from collections.abc import Iterator
from importlib.resources import files
from importlib.util import resolve_name

from codegen.rendering import environment, render
from timing.project import Project
from timing.protocol.target import CAUTIONS, to_json
from timing.protocol.target_of_design import target_of

_TEMPLATES = "common/harness"
KIT = "kit"
"""Folder of the carried modules; the harness's pytest.ini puts it first where Python looks for modules."""
CORE = "timing.sequence.core"
"""The package that is carried whole."""
_OURS = ("timing", "codegen", "bench", "wirecue")
_CARRIED_ROOMS = (CORE, "timing.errors", "timing.formatting", "timing.protocol", "timing.system", "bench")


class UncarriedModuleError(LookupError):
    """A carried module imports one that knows more than the link and the sequence. Keeps both names."""

    def __init__(self, module: str, wanted: str) -> None:
        super().__init__(module, wanted)
        self.module = module
        self.wanted = wanted

    def __str__(self) -> str:
        return f"{self.module} imports {self.wanted}, which the harness does not carry"


def harness_files(project: Project, version: str) -> dict[str, str]:
    """Return the files of the harness folder, by relative name. Same project and version, same text.

    version: of this tool. Raises UncarriedModuleError.
    """
    target = target_of(project)
    made = environment(_TEMPLATES)
    names = {"target": target, "board": project.board, "version": version, "cautions": CAUTIONS}
    texts = {name.removesuffix(".j2"): render(made, name, names) for name in made.list_templates()}
    scripts = {name: text for name, text in texts.items() if name.endswith(".py")}
    texts["design.json"] = json.dumps(to_json(target), indent=2, sort_keys=True) + "\n"
    return texts | {f"{KIT}/{name}": text for name, text in carried(scripts).items()}


def carried(scripts: dict[str, str]) -> dict[str, str]:
    """Return the modules that `scripts` need, by relative path, as they are: the core, and what is imported.

    scripts: Python sources by name. Raises UncarriedModuleError.
    """
    found: dict[str, str] = {}
    asked = [*((CORE, name) for name in _core_modules()), *_asked(scripts)]
    while asked:
        by, module = asked.pop()
        if not any(module == room or module.startswith(f"{room}.") for room in _CARRIED_ROOMS):
            raise UncarriedModuleError(by, module)
        for path in (*_packages_above(module), _path_of(module)):
            if path not in found:
                found[path] = _source(path)
                asked += _asked({_name_of(path): found[path]})
    return dict(sorted(found.items()))


def _core_modules() -> Iterator[str]:
    names = sorted(entry.name for entry in files(CORE).iterdir())
    yield from (f"{CORE}.{name.removesuffix('.py')}" for name in names if name.endswith(".py"))


def _asked(sources: dict[str, str]) -> list[tuple[str, str]]:
    """Name each of our modules that a source imports, with the source that does."""
    return [(name, module) for name, text in sources.items() for module in _imported(name, text)]


def _imported(name: str, text: str) -> Iterator[str]:
    for node in ast.walk(ast.parse(text)):
        if isinstance(node, ast.Import):
            modules = [alias.name for alias in node.names]
        elif isinstance(node, ast.ImportFrom):
            above = resolve_name("." * node.level + (node.module or ""), name.rpartition(".")[0])
            # What is imported from a package may be a module of it.
            modules = [f"{above}.{a.name}" if _is_module(f"{above}.{a.name}") else above for a in node.names]
        else:
            continue
        yield from (module for module in modules if module.partition(".")[0] in _OURS)


def _is_module(name: str) -> bool:
    package, _, inside = _path_of(name).partition("/")
    return package in _OURS and files(package).joinpath(inside).is_file()


def _packages_above(module: str) -> Iterator[str]:
    parts = module.split(".")[:-1]
    yield from ("/".join((*parts[:length], "__init__.py")) for length in range(1, len(parts) + 1))


def _path_of(module: str) -> str:
    return module.replace(".", "/") + ".py"


def _name_of(path: str) -> str:
    return path.removesuffix(".py").replace("/", ".")


def _source(path: str) -> str:
    package, _, inside = path.partition("/")
    return files(package).joinpath(inside).read_text(encoding="utf-8")
