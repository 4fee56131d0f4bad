"""Edges as text for the logbook, and back."""

import pytest
from hypothesis import given
from hypothesis import strategies as st

from timing.logbook.text import LONGEST_ENTRY
from timing.measure.repeats import (
    LINE_LETTERS,
    RepeatTextError,
    SeenEdge,
    SeenRepeat,
    fitting,
    repeats_of_text,
    repeats_text,
)

_lines = st.sampled_from(list(LINE_LETTERS))
_edges = st.lists(st.builds(SeenEdge, st.integers(0, 10**7), _lines, st.booleans()), max_size=30)
_repeats = st.lists(
    st.builds(
        lambda edges, started, gaps: SeenRepeat(tuple(sorted(edges)), started, gaps),
        _edges,
        st.frozensets(_lines),
        st.dictionaries(_lines, st.integers(0, 65_535)),
    ),
    min_size=1,
    max_size=6,
)


@given(_repeats)
def test_what_was_seen_comes_back_from_the_logbook_but_for_when_it_began(repeats):
    again = repeats_of_text(repeats_text(repeats))
    for before, after in zip(repeats, again, strict=True):
        began_us = before.edges[0].at_us if before.edges else 0
        assert [(edge.at_us - began_us, edge.line, edge.on) for edge in before.edges] == [
            (edge.at_us, edge.line, edge.on) for edge in after.edges
        ]
        assert (before.at_start, dict(before.gaps_us)) == (after.at_start, dict(after.gaps_us))


def test_more_edges_than_an_entry_holds_are_cut_by_whole_repeats():
    edges = tuple(SeenEdge(16 * place, "disc", place % 2 == 0) for place in range(900))
    kept = fitting([SeenRepeat(edges)] * 10)
    assert 0 < len(kept) < 10
    assert len(repeats_text(kept)) < LONGEST_ENTRY - 3_000


@pytest.mark.parametrize("text", ["", "nothing", "g+1", ":x+1", ":g+1 ;", ":g+1; :g*2", "|g999999:"])
def test_edges_that_somebody_changed_by_hand_are_refused_with_words(text):
    with pytest.raises(RepeatTextError, match="holds no edges of a recorder"):
        repeats_of_text(text)
