"""Percentiles are those of numpy, for any shape and any percent."""

from __future__ import annotations

import numpy as np
import pytest
from hypothesis import given
from hypothesis import strategies as st
from hypothesis.extra.numpy import array_shapes, arrays

from timing.elementwise import percentiles

FINITE = st.floats(-1e6, 1e6, width=32)


@given(
    arrays(np.float64, array_shapes(max_dims=2, max_side=12), elements=FINITE),
    st.lists(st.floats(0.0, 100.0), min_size=1, max_size=4),
)
def test_percentiles_are_those_of_a_reference_library(values: np.ndarray, percents: list[float]) -> None:
    assert percentiles(values, percents) == pytest.approx(np.percentile(values, percents, axis=-1), rel=1e-9, abs=1e-6)
