"""Memory of the sketch, for the checks: measured where a compiler is at hand, otherwise estimated."""

from __future__ import annotations

import contextlib
import os
from collections.abc import Callable, Iterator, Mapping
from concurrent.futures import ThreadPoolExecutor
from pathlib import Path

from codegen.toolchain import find_tools, footprint
from timing.project import Project


@contextlib.contextmanager
def measuring(project: Project, sketch: Mapping[str, str]) -> Iterator[Callable[[], Project]]:
    """Compile `sketch` beside what is done meanwhile; yield what waits for it.

    That gives `project` with the memory that the sketch takes as compiled here, where it can be, and raises
    codegen.toolchain.ToolchainError. Whoever leaves without asking ends the compiler. Compiled files are kept in the
    user's cache folder.
    """
    tools = find_tools()
    with ThreadPoolExecutor(max_workers=1) as beside:
        compiled = beside.submit(footprint, sketch, project.board, cache_folder(), tools)

        def measured() -> Project:
            memory = compiled.result()
            return project if memory is None else project.with_footprint(memory)

        try:
            yield measured
        finally:
            if tools is not None:
                tools.programs.end()


def cache_folder() -> Path:
    """Return the folder for things that can be made again."""
    base = os.environ.get("XDG_CACHE_HOME")
    return (Path(base) if base else Path.home() / ".cache") / "wirecue"
