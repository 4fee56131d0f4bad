"""A build is a value whose names stay in their folder."""

from __future__ import annotations

import re

import pytest

from codegen.plan import Plan, PlanError


@pytest.mark.parametrize(
    ("names", "why"),
    [
        (["/etc/passwd"], "only names below"),
        (["\\server\\share"], "only names below"),
        (["C:/x"], "only names below"),
        (["../x"], "leaves the build's own folder"),
        (["a/../../x"], "leaves the build's own folder"),
        (["a//b"], "letters, digits"),
        ([""], "letters, digits"),
        (["a/"], "letters, digits"),
        (["a\nb"], "letters, digits"),
        (["näme"], "letters, digits"),
        (["dot."], "letters, digits"),
        (["nul.txt"], "device"),
        (["bench/CON"], "device"),
        (["a.txt", "A.TXT"], "'a.txt' is there already"),
        (["A.txt", "a.txt"], "'A.txt' is there already"),
        (["A.txt", "b.txt", "a.TXT"], "'A.txt' is there already"),
        (["a", "a/b"], "also the folder of 'a/b'"),
    ],
)
def test_names_that_leave_the_folder_or_collide_are_refused(names, why):
    with pytest.raises(PlanError, match=re.escape(why)):
        Plan(dict.fromkeys(names, b""))


def test_the_digest_depends_on_names_and_contents_and_on_nothing_else():
    plan = Plan({"b": b"2", "a": b"1"})
    assert plan.digest == Plan({"a": b"1", "b": b"2"}).digest
    assert list(plan.files) == ["a", "b"]
    others = [Plan({"a": b"1"}), Plan({"a": b"1", "b": b"3"}), Plan({"a": b"1", "c": b"2"}), Plan({"ab": b"12"})]
    assert len({plan.digest, *(other.digest for other in others)}) == 5
