"""Rounds in a graph, and instants that keep their distances; compared with SciPy."""

from __future__ import annotations

import numpy as np
from hypothesis import given
from hypothesis import strategies as st
from scipy.optimize import linprog
from scipy.sparse import csr_array
from scipy.sparse.csgraph import connected_components

from timing.proof.counterexample import Apart, earliest_us
from timing.proof.monitor import strongly_connected_components

PLACES = 8
graphs = st.lists(st.tuples(st.integers(0, PLACES - 1), st.integers(0, PLACES - 1)), max_size=24)


@given(graphs)
def test_rounds_are_the_strongly_connected_parts_with_an_edge_inside(edges):
    graph = {place: {to for came, to in edges if came == place} for place in range(PLACES)}
    matrix = np.zeros((PLACES, PLACES))
    for came, to in edges:
        matrix[came, to] = 1
    _, labels = connected_components(csr_array(matrix), directed=True, connection="strong")
    parts = [{place for place in range(PLACES) if labels[place] == label} for label in set(labels)]
    wanted = [part for part in parts if len(part) > 1 or any(place in graph[place] for place in part)]
    assert sorted(map(sorted, strongly_connected_components(graph))) == sorted(map(sorted, wanted))


COUNT = 5
distances = st.lists(
    st.builds(Apart, st.integers(0, COUNT), st.integers(0, COUNT), st.integers(-60, 60)), max_size=12
)  # fmt: skip


@given(distances)
def test_instants_are_the_earliest_that_keep_all_distances(apart):
    found = earliest_us(COUNT, apart)
    # t[earlier] - t[later] <= -least, t[0] = 0, all others from 0 up: a linear programme.
    bounds = [(0, 0), *[(0, None)] * COUNT]
    rows = [[(at == one.earlier) - (at == one.later) for at in range(COUNT + 1)] for one in apart]
    limits = [-one.least_us for one in apart]
    best = linprog(np.ones(COUNT + 1), A_ub=rows or None, b_ub=limits or None, bounds=bounds)
    if best.status == 2:
        assert found is None
    else:
        assert found is not None
        np.testing.assert_allclose(found, best.x[1:], atol=1e-6)
