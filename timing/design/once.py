"""What follows from a design alone, worked out once and kept for as long as the design lives.

What follows from design and board together is kept by the project (`timing.project`), which is a value of its own. Of a
design the same is asked by simulation, proof, link and generator, which know no project; a design does not change, so
each of them may have the answer that another was given.
"""

from __future__ import annotations

import functools
import weakref
from collections.abc import Callable
from typing import TYPE_CHECKING, Any, TypeVar

if TYPE_CHECKING:
    from timing.design.design import Design

Worked = TypeVar("Worked")

# By identity: designs are compared, and would be hashed, by their whole content. A copy is another design.
_kept: dict[int, dict[Callable[..., Any], Any]] = {}


def once(function: Callable[[Design], Worked]) -> Callable[[Design], Worked]:
    """Return `function` such that it is asked once of a design. What it returns must not be changed by anybody."""

    @functools.wraps(function)
    def asked(design: Design) -> Worked:
        results = _kept.get(id(design))
        if results is None:
            results = _kept[id(design)] = {}
            weakref.finalize(design, _kept.pop, id(design), None)
        if function not in results:
            results[function] = function(design)
        return results[function]  # type: ignore[no-any-return]

    return asked
