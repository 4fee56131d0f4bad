"""The rules on made plates: silent before, then told which end of a dial is short; remedies say what they cost."""

from __future__ import annotations

import pytest

from tests.conftest import EXAMPLES, ROOT
from timing.checks.finding import Finding
from timing.checks.remedies import applied
from timing.design.loading import parse_design
from timing.project import Project
from wirecue.projects import load_board

SHOP = (ROOT / "examples" / "shop_two_step.toml").read_text()
SPOT = (ROOT / "examples" / "spot_stitch.toml").read_text()
MADE = "\n[panel]\nmade = true\n"
PREFLOW = '{ from = "0 ms", to = "1.5 s", setting = "300 ms" }'
BURNBACK = '{ from = "20 ms", to = "300 ms", setting = "130 ms" }'


def project_of(text: str) -> Project:
    design = parse_design(text)
    return Project(design, load_board(design.board.type))


def told(text: str) -> list[Finding]:
    return [one for one in project_of(text).findings if one.rule.startswith("plate-")]


@pytest.mark.parametrize("example", EXAMPLES, ids=lambda path: path.stem)
def test_the_dials_of_the_examples_serve_once_their_plates_are_made(example):
    assert told(example.read_text() + MADE) == []


def test_before_the_plates_are_made_nothing_is_said_of_them():
    narrow = SHOP.replace(PREFLOW, '{ from = "0 ms", to = "100 ms", setting = "100 ms" }')
    assert told(narrow) == []
    assert told(narrow + MADE) != []


@pytest.mark.parametrize(
    ("text", "rule", "key", "says"),
    [
        (
            SHOP.replace(BURNBACK, BURNBACK.replace("130", "300")),
            "plate-has-room",
            "times.burnback",
            "burnback is set to 300 ms, and its dial ends at 300 ms",
        ),
        (
            SHOP.replace(BURNBACK, BURNBACK.replace("130", "30")),
            "plate-has-room",
            "times.burnback",
            "burnback is set to 30 ms, and its dial begins at 20 ms",
        ),
        (
            SHOP.replace(PREFLOW, '{ from = "0 ms", to = "100 ms", setting = "100 ms" }'),
            "plate-covers-the-advice",
            "times.preflow",
            "preflow: its dial ends at 100 ms and the advised setting is 350 ms, 250 ms above it",
        ),
        (
            SPOT.replace('from = "200 ms", to = "2 s", setting', 'from = "700 ms", to = "2 s", setting').replace(
                '"450 ms", taper', '"1 s", taper'
            ),
            "plate-covers-the-advice",
            "spot.time",
            "spot: its dial begins at 700 ms and the advised setting is 350 ms, 350 ms below it",
        ),
    ],
)
def test_a_dial_that_is_short_is_told_once_with_the_end_and_by_how_much(text, rule, key, says):
    (finding,) = told(text + MADE)
    assert (finding.rule, finding.key, finding.text) == (rule, key, says)
    mended = applied(text + MADE, finding.remedies[0].changes)
    # The dial reaches then, and the plates count as made no more.
    assert not parse_design(mended).panel.made
    assert told(mended.replace("made = false", "made = true")) == []


def test_a_remedy_that_gives_a_dial_new_ends_says_what_that_costs_once_plates_are_made():
    short = SHOP.replace(BURNBACK, '{ from = "20 ms", to = "70 ms", setting = "60 ms" }')

    def remedies(text: str):
        found = [one for one in project_of(text).findings if one.key == "times.burnback" and one.remedies]
        return [remedy for finding in found for remedy in finding.remedies if remedy.changes]

    before, after = remedies(short), remedies(short + MADE)
    assert [len(one.changes) for one in after if "printed anew" in one.text] == [
        len(one.changes) + 1 for one in before if any(change.key.endswith((".from", ".to")) for change in one.changes)
    ]
    assert all("panel.made = false" in one.with_lines for one in after if "printed anew" in one.text)
    assert "printed anew" not in " ".join(one.text for one in before)
