"""The sketches of the examples stand in tests/golden/: what a change of table or template does to them is a diff."""

from __future__ import annotations

import pytest

from tools.write_golden import EXAMPLES, GOLDEN, golden_files


@pytest.mark.parametrize("example", EXAMPLES, ids=lambda path: path.stem)
def test_a_sketch_is_the_one_that_was_read_and_committed(example):
    folder = GOLDEN / example.stem
    committed = {path.name: path.read_text(encoding="utf-8") for path in folder.iterdir()}
    made = golden_files(example)
    assert sorted(made) == sorted(committed)
    for name, text in made.items():
        assert text == committed[name], f"{folder.name}/{name} differs: read the diff after `make golden`"


def test_no_sketch_is_left_of_an_example_that_is_gone():
    assert {path.name for path in GOLDEN.iterdir()} == {example.stem for example in EXAMPLES}
