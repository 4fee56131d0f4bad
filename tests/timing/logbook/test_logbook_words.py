"""Entries in words: whatever a logbook holds is told, and nothing of it is lost."""

from __future__ import annotations

import pytest
from hypothesis import given
from hypothesis import strategies as st

from timing.logbook.entry import Entry, EntryKind, Logbook
from timing.logbook.words import entry_words, head_of, told_entries, when

AT = "2026-03-01T10:22:05+01:00"


@pytest.mark.parametrize(
    ("kind", "values", "head", "words"),
    [
        (EntryKind.WELD, {"burnback": "115 ms", "outcome": "frozen"}, "test weld", "frozen, burnback 115 ms"),
        (EntryKind.NOTE, {"text": "new liner"}, "note", "new liner"),
        (
            EntryKind.SETTING,
            {"key": "times.burnback.setting", "old": "130 ms", "new": "90 ms", "by": "fit --write"},
            "set",
            "times.burnback.setting: 130 ms -> 90 ms, by fit --write",
        ),
        (EntryKind.SETTING, {"key": "spot.time", "new": "0.6 s"}, "set", "spot.time: 0.6 s"),
        (EntryKind.BENCH, {"verdict": "passed", "cases": 31}, "bench test", "passed, cases 31"),
        (
            EntryKind.STEP,
            {"step": "gas", "outcome": "passed", "extension": 9.25, "holds_for": "6fee4d8d42e7", "digest": "35b4"},
            "commissioning",
            "gas, passed, extension 9.25",
        ),
        (
            EntryKind.FLASH,
            {"digest": "35b4daddaca72933", "edited": True},
            "flashed",
            "digest 35b4daddaca72933, edited yes",
        ),
    ],
)
def test_each_kind_reads_as_a_person_would_say_it(kind, values, head, words):
    entry = Entry(AT, kind, values)
    assert (head_of(entry), entry_words(entry)) == (head, words)


def test_the_time_is_the_one_on_the_clock_where_it_was_entered():
    assert when(Entry(AT, EntryKind.NOTE, {})) == "2026-03-01 10:22"


@given(
    st.sampled_from(EntryKind), st.dictionaries(st.text("abnewky_", min_size=1, max_size=4), st.integers(), max_size=5)
)
def test_every_value_is_told_under_its_name_or_in_its_place(kind, values):
    words = entry_words(Entry(AT, kind, values))
    assert head_of(Entry(AT, kind, values))
    for value in values.values():
        assert str(value) in words


WELD = {"burnback": "60 ms", "outcome": "free", "extension": "3/8 in", "distance": "12 mm", "wire": "mild-steel 0.9 mm"}


def test_test_welds_are_told_in_the_words_in_which_they_are_given_and_by_the_number_that_takes_one_back():
    entries = [WELD, {"left_out": 1}, {"text": "tip changed"}, {"burnback": "115 ms", "outcome": "frozen"}, {"odd": 1}]
    kinds = [EntryKind.WELD, EntryKind.WELD, EntryKind.NOTE, EntryKind.WELD, EntryKind.WELD]
    book = Logbook(tuple(Entry(AT, kind, values) for kind, values in zip(kinds, entries, strict=True)))
    assert [words for _, words in told_entries(book)] == [
        "1  60 ms: 3/8 in, 12 mm away, mild-steel 0.9 mm",
        "1 is left out from here on",
        "tip changed",
        "2  115 ms: frozen in the puddle",
        "3  odd 1",
    ]


ODD_WELDS = st.fixed_dictionaries(
    {},
    optional=dict.fromkeys(
        (*WELD, "speed", "ball", "mark", "left_out"), st.text(max_size=8) | st.integers() | st.booleans()
    ),
)


@given(ODD_WELDS)
def test_a_weld_that_is_none_is_told_all_the_same(values):
    ((_, words),) = told_entries(Logbook((Entry(AT, EntryKind.WELD, values),)))
    assert words


def test_a_table_that_was_set_as_a_whole_is_told_as_one():
    def set_key(key: str, by: str = "fit --write") -> Entry:
        return Entry(AT, EntryKind.SETTING, {"key": key, "new": "1", "by": by})

    band = [set_key(f"extension_left.{name}") for name in ("found_from", "low", "middle", "high", "good", "ball")]
    few = [set_key("times.burnback.from"), set_key("times.burnback.to"), set_key("name")]
    assert [words for _, words in told_entries(Logbook((*few, *band)))] == [
        *(entry_words(entry) for entry in few),
        "extension_left.found_from: 1, by fit --write; 5 more values of that table with it",
    ]
    another = set_key("extension_left.wire", by="a hand")
    assert len(list(told_entries(Logbook((*band[:5], another))))) == 6
