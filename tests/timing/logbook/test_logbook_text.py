"""A logbook's text: every entry comes back, and a bad line takes no other with it."""

from __future__ import annotations

import pytest
from hypothesis import given
from hypothesis import strategies as st

from timing.logbook.entry import Entry, EntryKind, Logbook
from timing.logbook.text import heading, is_logbook, line_of_entry, read_logbook_text

KEYS = st.text("abcxyz_-09", min_size=1, max_size=8)
VALUES = st.one_of(
    st.text(st.characters(codec="utf-8")),
    st.booleans(),
    st.integers(-(2**63), 2**63 - 1),
    st.floats(allow_nan=False, allow_infinity=False),
)
ENTRIES = st.builds(
    Entry,
    st.datetimes(timezones=st.timezones())
    .map(lambda at: at.replace(microsecond=0, second=0).isoformat())
    .filter(lambda at: len(at) == 25),
    st.sampled_from(EntryKind),
    st.dictionaries(KEYS, VALUES, max_size=4),
)


@given(st.lists(ENTRIES, max_size=4))
def test_what_is_written_is_read_again(entries):
    text = heading("shop") + "".join(f"{line_of_entry(entry)}\n" for entry in entries)
    assert is_logbook(text)
    assert read_logbook_text(text) == Logbook(tuple(entries))


@given(st.lists(ENTRIES, min_size=2, max_size=3), st.data())
def test_a_torn_last_line_costs_itself_alone(entries, data):
    *whole, last = map(line_of_entry, entries)
    torn = last[: data.draw(st.integers(1, len(last) - 1))]
    found = read_logbook_text(heading("shop") + "".join(f"{line}\n" for line in whole) + torn)
    assert found.entries == tuple(entries[:-1])
    assert [line.number for line in found.unread] == [len(entries) + 1]


@pytest.mark.parametrize(
    ("line", "why"),
    [
        ("yesterday", "in braces"),
        ("2026-03-01T10:22:05 note {}", "offset"),
        ("yesterday note {}", "no time"),
        ("2026-03-01T10:22:05+01:00 dream {}", "none of build"),
        ("2026-03-01T10:22:05+01:00 note { text = }", "key = value"),
        ("2026-03-01T10:22:05+01:00 note 7", "no text, number"),
        ("2026-03-01T10:22:05+01:00 note { text = [1] }", "no text, number"),
        ("2026-03-01T10:22:05+01:00 note {}\rx = 1", "key = value"),
        ("2026-03-01T10:22:05+01:00 note " + "[" * 5000, "key = value"),
        ("2026-03-01T10:22:05+01:00 note { text = " + "1" * 5000 + " }", "key = value"),
        ("2026-03-01T10:22:05+01:00 note { text = 0x" + "f" * 5000 + " }", "no text, number"),
        ("2026-03-01T10:22:05+01:00 note { text = '" + "x" * 20_000 + "' }", "20000 at most"),
    ],
)
def test_a_bad_line_is_told_with_its_number(line, why):
    good = Entry("2026-03-01T10:22:05+01:00", EntryKind.NOTE, {"text": "new liner"})
    found = read_logbook_text(f"{heading('shop')}{line}\n{line_of_entry(good)}\n")
    assert found.entries == (good,)
    assert [(one.number, one.text) for one in found.unread] == [(2, line)]
    assert why in found.unread[0].why


def test_a_mark_that_an_editor_puts_before_the_text_is_no_part_of_it():
    text = f"\ufeff{heading('shop')}2026-03-01T10:22:05+01:00 note {{}}\n"
    assert is_logbook(text)
    book = read_logbook_text(text)
    assert (len(book.entries), book.unread) == (1, ())


def test_a_key_with_a_dot_is_refused():
    with pytest.raises(ValueError, match=r"times\.burnback"):
        line_of_entry(Entry("2026-03-01T10:22:05+01:00", EntryKind.SETTING, {"times.burnback": "90 ms"}))
