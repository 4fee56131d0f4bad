"""What the page begins with: a new design under a name of the person's own, a file of the folder, a survey."""

from __future__ import annotations

import asyncio

import pytest

from tests.conftest import EXAMPLES
from timing.design.text_file import DesignFileError
from wirecue.design_names import TakenNameError
from wirecue.page.desk import Desk
from wirecue.page.files import Folder
from wirecue.page.start import offered_examples
from wirecue.projects import example_text

SHOP = example_text("shop_two_step")


@pytest.fixture
def desk(tmp_path) -> Desk:
    (tmp_path / "theirs.toml").write_text(SHOP)
    return Desk(Folder(tmp_path))


def text(name: str) -> str:
    return SHOP.replace("shop_two_step", name)


def test_a_new_design_is_written_and_in_work(desk):
    desk.begin("mine.toml", text)
    assert (desk.shared.document.name, desk.shared.document.dirty) == ("mine.toml", False)
    assert (desk.folder.root / "mine.toml").read_text() == text("mine")
    assert desk.shared.project.design.name == "mine"


@pytest.mark.parametrize(
    ("typed", "words"),
    [
        ("theirs", "theirs.toml is there already"),
        ("THEIRS", "perhaps 'theirs'"),
        ("con", "this one is a device on some"),
        ("../out", "a small letter, then small letters, digits and _"),
        ("sub/mine", "a small letter, then"),
        ("", "a small letter, then"),
        ("a" * 40, "31 at most"),
    ],
)
def test_a_name_that_will_not_do_is_refused_in_words_and_nothing_is_written(desk, typed, words):
    with pytest.raises((TakenNameError, DesignFileError), match=words.replace("(", r"\(")):
        desk.begin(typed, text)
    assert [path.name for path in desk.folder.root.rglob("*")] == ["theirs.toml"]
    assert (desk.folder.root / "theirs.toml").read_text() == SHOP
    assert desk.shared is None


def test_another_design_goes_into_work_in_the_same_place_and_undo_leads_back(desk):
    async def begin_another() -> None:
        desk.open("theirs.toml")
        shared = desk.shared
        desk.begin("mine", text)
        assert desk.shared is shared
        assert shared.document.name == "mine.toml"
        shared.document.undo()
        assert shared.document.name == "theirs.toml"

    asyncio.run(begin_another())


def test_surveys_that_were_stopped_are_offered_by_their_names(desk):
    for name in ("b_feeder", "a_feeder", "No Name", "x'y"):
        (desk.folder.root / f"{name}.survey.json").write_text("{}")
    assert desk.stopped_surveys() == ["a_feeder", "b_feeder"]
    walk = desk.survey("a_feeder")
    assert desk.survey("a_feeder") is walk
    walk.take({"survey.feeder_power": "24vac"})
    assert desk.survey("a_feeder") is walk
    # What the terminal answered meanwhile is not overwritten by what the page remembers.
    walk.kept.write_text('{"survey.feeder_power": "transformer"}')
    assert desk.survey("a_feeder").typed == {"survey.feeder_power": "transformer"}


def test_every_example_is_offered_with_its_own_words_and_picture():
    offered = {example.name: example for example in offered_examples()}
    assert set(offered) == {path.stem for path in EXAMPLES}
    assert all(example.title and example.notes and "<svg" in example.picture for example in offered.values())
    assert ">gas<" not in offered["gasless_four_step"].picture
    assert ">gas<" in offered["spot_stitch"].picture
