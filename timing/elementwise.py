"""Elementary functions for one number or for an array of them, so that a formula is written once for both.

One number is computed with `math`: some twenty times quicker than an array of one, and numpy need not be loaded.
"""

from __future__ import annotations

import math
from collections.abc import Callable, Sequence
from dataclasses import dataclass
from functools import cache
from operator import not_
from typing import TYPE_CHECKING, Any

if TYPE_CHECKING:
    import numpy as np
    from numpy.typing import NDArray

    Floats = NDArray[np.float64]
    Codes = NDArray[np.int8]
    Values = float | Floats
    Truths = bool | NDArray[np.bool_]
else:
    # Types alone; loading numpy for them would cost every start-up.
    Floats = Codes = Values = Truths = Any


@dataclass(frozen=True)
class Elementwise:
    """The functions, all for numbers or all for arrays."""

    exp: Callable[..., Any]
    expm1: Callable[..., Any]
    log1p: Callable[..., Any]
    asinh: Callable[..., Any]
    sinh: Callable[..., Any]
    sin: Callable[..., Any]
    sign: Callable[..., Any]
    maximum: Callable[..., Any]
    minimum: Callable[..., Any]
    where: Callable[[Any, Any, Any], Any]
    logical_not: Callable[[Any], Any]
    any: Callable[[Any], Any]
    """Whether one at least is true, or not zero."""
    largest: Callable[[Any], Any]


FLOATS = Elementwise(
    exp=math.exp,
    expm1=math.expm1,
    log1p=math.log1p,
    asinh=math.asinh,
    sinh=math.sinh,
    sin=math.sin,
    sign=lambda value: float((value > 0) - (value < 0)),
    maximum=max,
    minimum=min,
    where=lambda holds, this, other: this if holds else other,
    logical_not=not_,
    any=bool,
    largest=float,
)
"""For one number."""


@cache
def arrays() -> Elementwise:
    """Return the functions for arrays."""
    # Loaded where arrays are met: start-up of what computes with single numbers shall not wait for it.
    import numpy as np

    return Elementwise(
        exp=np.exp,
        expm1=np.expm1,
        log1p=np.log1p,
        asinh=np.arcsinh,
        sinh=np.sinh,
        sin=np.sin,
        sign=np.sign,
        maximum=np.maximum,
        minimum=np.minimum,
        where=np.where,
        logical_not=np.logical_not,
        any=np.any,
        largest=np.max,
    )


def elementwise(*values: object) -> Elementwise:
    """Return the functions for numbers where all of `values` are single numbers, else those for arrays."""
    for value in values:
        if not isinstance(value, (float, int)):
            return arrays()
    return FLOATS


def percentiles(values: Floats, percents: Sequence[float]) -> Floats:
    """Return percentiles of `values` along the last axis, one row each; between two values in a straight line.

    The same as numpy.percentile, which loads the whole of numpy.ma.
    """
    # As everywhere here: who computes with one number shall not wait for numpy.
    import numpy as np

    count = values.shape[-1]
    places = [percent / 100.0 * (count - 1) for percent in percents]
    below = [min(int(place), count - 1) for place in places]
    above = [min(place + 1, count - 1) for place in below]
    ordered = np.partition(values, sorted({*below, *above}), axis=-1)
    return np.array(
        [
            ordered[..., low] + (ordered[..., high] - ordered[..., low]) * (place - low)
            for place, low, high in zip(places, below, above, strict=True)
        ]
    )
