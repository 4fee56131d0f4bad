"""The array type of this package: one float64 for each draw, or for each setting and draw."""

from __future__ import annotations

import numpy as np
from numpy.typing import NDArray

Floats = NDArray[np.float64]
Flags = NDArray[np.bool_]
Codes = NDArray[np.int8]
