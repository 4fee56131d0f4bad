"""The look over a design file before it is parsed agrees with the parser on what it lets through."""

from __future__ import annotations

import tomllib

import pytest
import tomlkit
from hypothesis import given
from hypothesis import strategies as st

from tests.conftest import EXAMPLES
from timing.design.loading import DEEPEST, LONGEST_WORD, MOST_KEYS, OutOfProportionError, line_of, lines_of_keys

WORDS = st.text('ab-_19 ."\\é', max_size=3)
SCALARS = st.one_of(
    st.integers(-(10**20), 10**20),
    st.booleans(),
    st.text("a\"'\\#[]{}=,.\n\té", max_size=12),
    st.dates(),
    st.floats(allow_nan=False, allow_infinity=False),
)
VALUES = st.recursive(
    SCALARS, lambda inner: st.lists(inner, max_size=3) | st.dictionaries(WORDS, inner, max_size=3), max_leaves=8
)
LAYOUTS = ("{} = {}", '{}={} # a = [ " ', "{}   =   {}")
STRINGS = ('"""\n[a]\nx = 1 """', "'''a = 1\n'''''", '""" \\""" = """', '""""quoted"""""', "'#'", '"\\"]"', "''", '""')


def paths(data: object, path: tuple[str, ...] = ()) -> set[tuple[str, ...]]:
    """Return the paths of all keys, those in lists left aside."""
    if not isinstance(data, dict):
        return set()
    return {found for key, value in data.items() for found in ((*path, key), *paths(value, (*path, key)))}


@given(st.dictionaries(WORDS, VALUES, max_size=6))
def test_every_key_that_the_parser_finds_is_found_on_its_line(data):
    text = tomlkit.dumps(data)
    lines = lines_of_keys(text)
    assert paths(tomllib.loads(text)) <= set(lines)
    rows = text.splitlines()
    for path, line in lines.items():
        assert path[-1].replace("\\", "\\\\").replace('"', '\\"') in rows[line - 1]


@given(st.data())
def test_keys_are_found_in_every_way_of_writing_them(data):
    rows, expected = [], {}
    for number in range(data.draw(st.integers(1, 5))):
        table = data.draw(st.sampled_from(["", f"[t{number}]", f"[ t{number} . 'sub' ]", f"[[t{number}]]"]))
        place = tuple(part.strip(" '") for part in table.strip("[]").split(".") if part)
        if not table and number:
            continue
        rows += [table] if table else []
        for index in range(data.draw(st.integers(1, 4))):
            key = data.draw(st.sampled_from([f"k{index}", f"k{index}.x", f'k{index} . "y"', f"'k{index}'"]))
            value = data.draw(
                st.sampled_from(["1", "1.5e3", "[1,\n 2, # ] =\n]", "{ a = 1, b.c = [ { d = 2 } ] }", *STRINGS])
            )
            path = (*place, *(part.strip(" '\"") for part in key.split(".")))
            line = "\n".join(rows).count("\n") + (2 if rows else 1)
            expected[path] = line
            if value.startswith("{"):
                expected |= {(*path, "a"): line, (*path, "b", "c"): line}
            rows.append(
                data.draw(st.sampled_from(LAYOUTS)).format(key, value) if "\n" not in value else f"{key} = {value}"
            )
    text = "\n".join(rows)
    tomllib.loads(text)
    lines = lines_of_keys(text)
    for path, line in expected.items():
        assert lines[path] == line, (text, path)


@given(st.text("a=.,[]{}\"'\\#\n 1", max_size=60))
def test_text_that_is_no_toml_is_looked_over_as_well(text):
    lines = lines_of_keys(text)
    assert all(1 <= line <= text.count("\n") + 1 for line in lines.values())


def test_a_key_that_is_missing_is_told_by_the_table_around_it():
    lines = lines_of_keys("a = 1\n[b]\nc = { d = 1 }\n")
    assert [line_of(lines, path) for path in (("a",), ("b", "x"), ("b", "c", "e", 3), ("x",))] == [1, 2, 3, None]


@pytest.mark.parametrize("path", EXAMPLES, ids=lambda path: path.stem)
def test_the_examples_are_far_within_the_bounds(path):
    lines = lines_of_keys(path.read_text())
    assert len(lines) < MOST_KEYS / 3
    assert max(map(len, lines)) <= DEEPEST / 2


def nested(depth: int) -> str:
    return f"a = {'[' * depth}{']' * depth}"


@pytest.mark.parametrize(
    ("within", "beyond", "found"),
    [
        (nested(DEEPEST), nested(DEEPEST + 1), "in one another"),
        (f"[{'.'.join('a' * DEEPEST)}]", f"[{'.'.join('a' * (DEEPEST + 1))}]", "in one another"),
        (f"{'.'.join('a' * DEEPEST)} = 1", f"{'.'.join('a' * (DEEPEST + 1))} = 1", "in one another"),
        (f"[a.a]\n{'.'.join('b' * (DEEPEST - 2))}=1", f"[a.a]\n{'.'.join('b' * (DEEPEST - 1))}=1", "in one another"),
        (f"a = {'1' * LONGEST_WORD}", f"a = {'1' * (LONGEST_WORD + 1)}", "a number or word of 101 characters"),
        (f"{'a' * LONGEST_WORD} = 1", f"{'a' * (LONGEST_WORD + 1)} = 1", "a key or word of 101 characters"),
        (
            "".join(f"a{number} = 1\n" for number in range(MOST_KEYS)),
            "".join(f"a{number} = 1\n" for number in range(MOST_KEYS + 1)),
            f"more than {MOST_KEYS} keys",
        ),
        (f'a = "{"1" * 5_000}"', f"a = '''\n'''\na = {'1' * 5_000}", "a number or word of 5000 characters"),
    ],
)
def test_text_beyond_all_proportion_is_refused(within, beyond, found):
    tomllib.loads(within)
    lines_of_keys(within)
    with pytest.raises(OutOfProportionError, match=found) as caught:
        lines_of_keys(beyond)
    assert caught.value.line == beyond.rstrip("\n").count("\n") + 1
