"""The design in work: every change leaves a valid design, can be taken back, and keeps the file's comments."""

from __future__ import annotations

import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from tests.conftest import EXAMPLES
from timing.design.loading import parse_design
from timing.design.text_file import DesignFileError
from wirecue.page.document import Document, KeyChange, as_dial, as_fixed

TEXTS = {path.stem: path.read_text() for path in EXAMPLES}
SHOP = TEXTS["shop_two_step"]
MOVES = ("coast", "filter", "open", "undo", "redo")
COMMENTED = SHOP.replace('coast = "50 ms"', 'coast = "50 ms"  # by ear')


def document(text: str = SHOP) -> Document:
    return Document(text, "mine.toml")


def test_a_value_is_taken_over_and_comments_stay():
    doc = document(COMMENTED)
    doc.set_values({"feeder.wire_drive.coast": "60 ms"})
    assert doc.text == COMMENTED.replace('coast = "50 ms"', 'coast = "60 ms"')
    assert doc.project.design.feeder.wire_drive.coast_us == 60_000
    assert doc.dirty


def test_what_is_no_design_is_refused_and_changes_nothing():
    doc = document()
    with pytest.raises(DesignFileError, match="a setting outside its dial"):
        doc.set_values({"times.burnback.setting": "2 s"})
    with pytest.raises(DesignFileError):
        doc.replace_text("format = 1")
    with pytest.raises(DesignFileError, match="was 'uno' meant"):
        doc.set_values({"board.type": "unno"})
    assert (doc.text, doc.revision, doc.undo_what, doc.dirty) == (SHOP, 1, "", False)


def test_undo_and_redo_walk_through_the_steps():
    doc = document()
    doc.set_values({"times.burnback.setting": "110 ms"})
    middle = doc.text
    doc.set_values({"process.gas_flow": "12 L/min"})
    last = doc.text
    assert doc.undo_what == "process.gas_flow = 12 L/min"
    doc.undo()
    assert doc.text == middle
    doc.undo()
    assert (doc.text, doc.dirty, doc.undo_what) == (SHOP, False, "")
    doc.undo()
    assert doc.text == SHOP
    doc.redo()
    doc.redo()
    doc.redo()
    assert doc.text == last
    assert doc.project.design.process.gas_flow_l_min == pytest.approx(12)


def test_a_new_step_forgets_what_was_taken_back():
    doc = document()
    doc.set_values({"times.burnback.setting": "110 ms"})
    doc.undo()
    doc.set_values({"process.gas_flow": "12 L/min"})
    assert doc.redo_what == ""


def test_a_pull_on_a_slider_is_one_step_until_it_is_let_go():
    doc = document()
    for burnback_ms in (110, 120, 150):
        doc.set_values({"times.burnback.setting": f"{burnback_ms} ms"}, group="burnback")
    doc.seal()
    middle = doc.text
    doc.set_values({"times.burnback.setting": "160 ms"}, group="burnback")
    doc.undo()
    assert doc.text == middle
    doc.undo()
    assert doc.text == SHOP


def test_pulls_on_two_sliders_are_two_steps():
    doc = document()
    doc.set_values({"times.burnback.setting": "110 ms"}, group="burnback")
    doc.set_values({"times.preflow.setting": "400 ms"}, group="preflow")
    doc.undo()
    assert doc.differences() == [KeyChange("times.burnback.setting", "130 ms", "110 ms")]


def test_what_differs_from_the_saved_file_is_told_by_key():
    doc = document()
    doc.set_values({"times.burnback.setting": "110 ms", "interlock.fitted": True})
    doc.take_out("process.inductance")
    assert doc.differences() == [
        KeyChange("times.burnback.setting", "130 ms", "110 ms"),
        KeyChange("interlock.fitted", "", "true"),
        KeyChange("process.inductance", "300 uH", ""),
    ]
    doc.saved()
    assert doc.differences() == []
    assert not doc.dirty


def test_undo_goes_on_working_after_saving():
    doc = document()
    doc.set_values({"times.burnback.setting": "110 ms"}, group="burnback")
    doc.saved()
    doc.set_values({"times.burnback.setting": "115 ms"}, group="burnback")
    doc.undo()
    assert not doc.dirty
    doc.undo()
    assert doc.text == SHOP
    assert doc.dirty


def test_a_key_is_left_out_only_where_it_may_be():
    doc = document()
    doc.take_out("process.slope")
    assert "slope" not in doc.text
    before = doc.text
    with pytest.raises(DesignFileError, match="this key must be there"):
        doc.take_out("process.wire_diameter")
    doc.take_out("process.nonsense")
    assert doc.text == before


def test_a_time_goes_on_a_dial_and_off_it():
    doc = Document(TEXTS["spot_stitch"])
    doc.replace_text(as_dial(doc.text, "times.preflow", "250 ms", "0 ms", "1 s"))
    preflow = doc.project.design.times.preflow
    assert (preflow.dial, preflow.from_us, preflow.to_us, preflow.setting_us) == (True, 0, 1_000_000, 250_000)
    doc.replace_text(as_fixed(doc.text, "times.preflow", "250 ms"))
    assert doc.text == TEXTS["spot_stitch"]
    with pytest.raises(DesignFileError, match="a dial that does not rise"):
        doc.replace_text(as_dial(doc.text, "times.preflow", "250 ms", "1 s", "0 ms"))


def test_a_time_that_loses_its_dial_keeps_its_off_switch():
    text = as_fixed(TEXTS["spot_stitch"], "spot.time", "500 ms")
    fixed = parse_design(text).spot.time
    assert (fixed.dial, fixed.setting_us, fixed.off_switch) == (False, 500_000, True)
    again = parse_design(as_dial(text, "spot.time", "500 ms", "100 ms", "2 s")).spot.time
    assert (again.dial, again.off_switch) == (True, True)


def test_opening_another_design_is_a_step_that_can_be_taken_back_with_all_that_was_not_saved():
    doc = document()
    doc.set_values({"times.burnback.setting": "110 ms"})
    edited, revision, openings = doc.text, doc.revision, doc.openings
    doc.open(TEXTS["spot_stitch"], "other.toml")
    assert (doc.name, doc.dirty, doc.undo_what) == ("other.toml", False, "other.toml loaded")
    assert doc.revision > revision
    assert doc.openings > openings
    doc.set_values({"times.burnback.setting": "100 ms"})
    other = doc.text
    doc.undo()
    doc.undo()
    assert (doc.name, doc.text, doc.dirty) == ("mine.toml", edited, True)
    assert doc.project.design == parse_design(edited)
    doc.undo()
    assert (doc.name, doc.text, doc.dirty) == ("mine.toml", SHOP, False)
    for _ in range(3):
        doc.redo()
    assert (doc.name, doc.text, doc.dirty) == ("other.toml", other, True)


def test_what_is_no_design_is_not_opened():
    doc = document()
    with pytest.raises(DesignFileError):
        doc.open("nonsense", "x.toml")
    assert (doc.name, doc.undo_what, doc.openings) == ("mine.toml", "", 1)


def test_taking_back_a_load_of_the_same_file_knows_what_the_disk_holds_now():
    doc = document()
    doc.set_values({"times.burnback.setting": "110 ms"})
    mine = doc.text
    doc.open(COMMENTED, "mine.toml")
    assert not doc.dirty
    doc.undo()
    assert (doc.text, doc.dirty, doc.saved_text) == (mine, True, COMMENTED)


def test_a_design_saved_under_another_files_history_is_clean_when_it_comes_back():
    doc = document()
    doc.set_values({"times.burnback.setting": "110 ms"})
    doc.saved()
    doc.open(TEXTS["spot_stitch"], "other.toml")
    doc.undo()
    assert (doc.name, doc.dirty) == ("mine.toml", False)


def test_whoever_listens_is_told_of_every_change_and_of_no_other():
    doc, told = document(), []
    doc.on_change(lambda: told.append(doc.revision))
    doc.set_values({"times.burnback.setting": "110 ms"})
    doc.set_values({"times.burnback.setting": "110 ms"})
    doc.undo()
    doc.undo()
    assert told == [2, 3]


@settings(max_examples=10)
@given(
    st.sampled_from(sorted(TEXTS)), st.lists(st.sampled_from(["coast", "filter", "open", "undo", "redo"]), max_size=6)
)
def test_undoing_everything_leads_back_and_every_text_is_a_design(name, moves):
    doc = Document(TEXTS[name])
    for number, move in enumerate(moves):
        if move == "coast":
            doc.set_values({"feeder.wire_drive.coast": f"{60 + number} ms"})
        elif move == "open":
            doc.open(SHOP.replace("shop_two_step", f"shop_{number}"), f"{number}.toml")
        elif move == "filter":
            doc.set_values({"trigger.filter": f"{30 + number} ms"}, group="filter")
        else:
            getattr(doc, move)()
        assert parse_design(doc.text) == doc.project.design
    for _ in moves:
        doc.undo()
    assert (doc.text, doc.name) == (TEXTS[name], "")
