"""The house: which room may know which, and names that mean one thing."""

from __future__ import annotations

import ast
from collections import defaultdict
from collections.abc import Iterator
from pathlib import Path

import pytest

from tests.conftest import ROOT

MAY_IMPORT = {
    "timing": {"timing"},
    "codegen": {"timing", "codegen"},
    "bench": {"timing", "bench"},
    "wirecue": {"timing", "codegen", "bench", "wirecue"},
}
"""Arrows run upwards."""


ALIKE = {"command", "report", "text_of", "fcntl"}
"""Names that several modules have because they mean the same: each command file has its command, its report as data and
its text; fcntl is None where the system has none."""


def modules(package: str) -> Iterator[tuple[Path, ast.Module]]:
    """Each module of a package, as text and tree."""
    for path in sorted((ROOT / package).rglob("*.py")):
        yield path, ast.parse(path.read_text(encoding="utf-8"))


def public_names(module: ast.Module) -> Iterator[str]:
    """The names that a module defines at its top level for others."""
    for node in module.body:
        match node:
            case ast.FunctionDef(name=name) | ast.ClassDef(name=name):
                yield from [name] * (not name.startswith("_"))
            case ast.Assign(targets=targets):
                yield from (one.id for one in targets if isinstance(one, ast.Name) and not one.id.startswith("_"))
            case ast.AnnAssign(target=ast.Name(id=name)):
                yield from [name] * (not name.startswith("_"))


@pytest.mark.parametrize("package", MAY_IMPORT)
def test_arrows_run_upwards(package):
    known = set(MAY_IMPORT) | {"tests", "tools", "benchmarks", "board_templates"}
    for path, module in modules(package):
        for node in ast.walk(module):
            names = [node.module or ""] if isinstance(node, ast.ImportFrom) and not node.level else []
            names += [one.name for one in node.names] if isinstance(node, ast.Import) else []
            for name in names:
                top = name.partition(".")[0]
                assert top not in known or top in MAY_IMPORT[package], f"{path}: imports {name}"


def test_errors_that_know_an_exit_code_have_one_base():
    for package in MAY_IMPORT:
        for path, module in modules(package):
            for node in ast.walk(module):
                if isinstance(node, ast.ClassDef) and "exit_code" in {
                    target.id for one in node.body if isinstance(one, ast.Assign) for target in one.targets
                }:
                    bases = {ast.unparse(base) for base in node.bases}
                    assert bases <= {
                        "WirecueError",
                        "BuildFolderError",
                        "BenchError",
                        "click.ClickException",
                        "Exception",
                    }
                    assert node.name == "WirecueError" or "Exception" not in bases, f"{path}: {node.name}"


def test_a_name_means_one_thing():
    places: dict[str, list[str]] = defaultdict(list)
    for package in MAY_IMPORT:
        for path, module in modules(package):
            for name in public_names(module):
                places[name].append(str(path.relative_to(ROOT)))
    twice = {name: where for name, where in places.items() if len(set(where)) > 1 and name not in ALIKE}
    assert twice == {}
