"""What follows from one thing alone, worked out once and kept for as long as that thing lives.

What follows from design and board together is kept by the project (`timing.project`), which is a value of its own. Of a
design the same is asked by simulation, proof, link and generator, which know no project; of a project the same drawing
by the paper that shows it and by the build that has it as a file. Neither changes, so each may have the answer that
another was given.
"""

from __future__ import annotations

import functools
import weakref
from collections.abc import Callable
from typing import Any, TypeVar

Source = TypeVar("Source")
Worked = TypeVar("Worked")

# By identity: designs are compared, and would be hashed, by their whole content. A copy is another design.
_kept: dict[int, dict[Callable[..., Any], Any]] = {}


def once(function: Callable[[Source], Worked]) -> Callable[[Source], Worked]:
    """Return `function` such that it works once for one object, which must not change, nor may what is returned."""

    @functools.wraps(function)
    def asked(source: Source) -> Worked:
        results = _kept.get(id(source))
        if results is None:
            results = _kept[id(source)] = {}
            weakref.finalize(source, _kept.pop, id(source), None)
        if function not in results:
            results[function] = function(source)
        return results[function]  # type: ignore[no-any-return]

    return asked
