"""Plates of switches, buttons and lamp: one for each control that is fitted, and each can be read."""

from __future__ import annotations

from collections import Counter
from itertools import combinations

import pytest
from hypothesis import given, settings
from hypothesis import strategies as st
from reportlab.pdfbase.pdfmetrics import registerFont, stringWidth
from reportlab.pdfbase.ttfonts import TTFont

from codegen.papers.control_plate import control_plates, control_shapes
from codegen.papers.dial_pages import MARGIN_MM, placed_plates, size_mm
from codegen.papers.dial_plate import dial_plates, plate_shapes
from codegen.papers.shapes import A4, BOTH, CAP_HEIGHT, US_LETTER, Circle, Line, Text
from tests.conftest import ROOT, SOAK
from timing.design.board import ROLES
from timing.design.features import features_of
from timing.design.front_panel import ControlKind
from timing.design.loading import parse_design
from timing.project import Project
from timing.sequence.faults import EXPLANATIONS, faults_of
from wirecue.projects import load_board

SPOT = (ROOT / "examples" / "spot_stitch.toml").read_text()
HEAD = SPOT.partition("[trigger]")[0]
TAIL = "[supply]" + SPOT.partition("[supply]")[2].replace('type = "nano"', 'type = "mega"')
MEGA = load_board("mega")
FEW = 2_000 if SOAK else 25
"""Random panels."""
DESCENT = 0.22
"""Of the typeface, over its size."""

registerFont(TTFont("Vera", "Vera.ttf"))
registerFont(TTFont("VeraBd", "VeraBd.ttf"))


@st.composite
def panels(draw):
    """A design with any panel: every time fixed or on a dial, with or without a switch, and any controls beside."""

    def yes() -> str:
        return str(draw(st.booleans())).lower()

    def time(name: str) -> str:
        ends = {"burnback": ("10 ms", "300 ms"), "spot": ("200 ms", "2 s")}.get(name, ("100 ms", "5 s"))
        dial = f'from = "{ends[0]}", to = "{ends[1]}", ' if draw(st.booleans()) else ""
        return f'{{ {dial}setting = "250 ms", off_switch = {yes()} }}'

    spot = draw(st.booleans())
    stitch = spot and draw(st.booleans())
    times = {name: time(name) for name in ("preflow", "burnback", "postflow", "spot", "pause")}
    both = stitch and "off_switch = true" in times["spot"] and "off_switch = true" in times["pause"]
    selector = draw(st.sampled_from(["toggles", "three-position"])) if both else "toggles"
    arc = draw(st.booleans())
    return "\n".join(
        [
            HEAD,
            f'[trigger]\nmode = "{draw(st.sampled_from(["two-step", "four-step", "switch"]))}"',
            'sense = "dc"\nfilter = "12 ms"',
            f"[buttons]\npurge = {yes()}\ninch = {yes()}",
            f"[interlock]\nfitted = {yes()}",
            f'[panel]\nselector = "{selector}"',
            '[arc_sensor]\nfilter = "4 ms"' if arc else "",
            "[times]",
            *(f"{name} = {times[name]}" for name in ("preflow", "burnback", "postflow")),
            f"[spot]\ntime = {times['spot']}" if spot else "",
            f"[stitch]\npause = {times['pause']}" if stitch else "",
            '[limits]\nweld = "90 s"',
            'arc_start = "2 s"' if arc else "",
            TAIL,
        ]
    )


def on_the_plates(project: Project) -> Counter[str]:
    """Roles that a hand or an eye finds on a plate."""
    found: Counter[str] = Counter()
    for plate in dial_plates(project):
        found.update([f"{plate.name}_dial", *([f"{plate.name}_switch"] if plate.switch else [])])
    for plate in control_plates(project):
        found.update(plate.control.roles)
    return found


def for_a_hand_or_an_eye(key: str) -> bool:
    return key in ("four_step", "purge", "inch", "lamp") or key.endswith(("_switch", "_dial"))


@settings(max_examples=FEW)
@given(panels())
def test_every_fitted_control_has_one_plate_and_nothing_else_has(text):
    project = Project(parse_design(text), MEGA)
    fitted = {role.key for role in features_of(project.design).roles if for_a_hand_or_an_eye(role.key)}
    assert on_the_plates(project) == Counter(dict.fromkeys(fitted, 1))


def box(text: Text) -> tuple[float, float, float, float]:
    """Left, top, right, bottom of what is printed, by the metrics of the typeface of the PDF."""
    width = stringWidth(text.text, "VeraBd" if text.bold else "Vera", text.size)
    left = text.x - {"start": 0.0, "middle": width / 2, "end": width}[text.anchor]
    return left, text.y - CAP_HEIGHT * text.size, left + width, text.y + DESCENT * text.size


def bounds(shape: Text | Line | Circle) -> tuple[float, float, float, float]:
    match shape:
        case Text():
            return box(shape)
        case Line():
            xs, ys = sorted((shape.x1, shape.x2)), sorted((shape.y1, shape.y2))
            return xs[0], ys[0], xs[1], ys[1]
        case Circle():
            r = shape.radius
            return shape.x - r, shape.y - r, shape.x + r, shape.y + r


def meet(one, other) -> bool:
    return one[0] < other[2] and other[0] < one[2] and one[1] < other[3] and other[1] < one[3]


def clear(shapes, width: float, height: float) -> None:
    texts = [shape for shape in shapes if isinstance(shape, Text)]
    others = [one for one in shapes if isinstance(one, Line | Circle) and getattr(one, "mark", "") != "cut"]
    for text in texts:
        left, top, right, bottom = box(text)
        assert left >= 1.0
        assert top >= 1.0
        assert right <= width - 1.0, text
        assert bottom <= height - 0.5, text
        assert not [other for other in others if meet(box(text), bounds(other))], text
    for one, other in combinations(texts, 2):
        assert not meet(box(one), box(other)), (one, other)


@settings(max_examples=FEW)
@given(panels())
def test_no_word_lies_on_another_or_on_a_hole_or_leaves_its_plate(text):
    for plate in control_plates(Project(parse_design(text), MEGA)):
        clear(control_shapes(plate), plate.width_mm, plate.height_mm)


def test_words_of_a_dial_with_its_switch_are_clear_of_the_holes(example):
    project = Project(parse_design(example.read_text()), MEGA)
    for plate in dial_plates(project):
        shapes = plate_shapes(plate)
        words = [
            one
            for one in shapes
            if isinstance(one, Text) and one.text in ("on", "stitch on", "off", plate.title, plate.unit)
        ]
        holes = [one for one in shapes if isinstance(one, Circle)]
        assert not [1 for word in words for hole in holes if meet(box(word), bounds(hole))]


@settings(max_examples=FEW)
@given(panels(), st.sampled_from([A4, US_LETTER, BOTH]))
def test_plates_stay_on_their_page_and_off_each_other(text, paper):
    placed = placed_plates(Project(parse_design(text), MEGA), paper)
    areas = []
    for one in placed:
        width, height = size_mm(one.plate)
        assert one.x_mm >= MARGIN_MM
        assert one.x_mm + width <= paper.width_mm - MARGIN_MM
        assert one.y_mm + height <= paper.height_mm - MARGIN_MM
        areas.append((one.page, (one.x_mm, one.y_mm, one.x_mm + width, one.y_mm + height)))
    assert not [1 for (p, a), (q, b) in combinations(areas, 2) if p == q and meet(a, b)]
    assert sorted({page for page, _ in areas}) == list(range(1 + max(page for page, _ in areas)))


def test_beside_the_lamp_stands_every_number_that_it_can_blink_and_no_other(example):
    project = Project(parse_design(example.read_text()), load_board("mega"))
    (lamp,) = [plate for plate in control_plates(project) if plate.control.kind is ControlKind.LAMP]
    printed = [shape.text for shape in control_shapes(lamp) if isinstance(shape, Text)]
    for fault, told in EXPLANATIONS.items():
        shown = fault in faults_of(project.table)
        assert (str(int(fault)) in printed) == shown
        assert not shown or {told.brief, told.act} <= set(printed)


def test_the_switch_of_a_time_without_a_dial_has_a_plate_of_its_own():
    fixed = parse_design(SPOT.replace('preflow = "250 ms"', 'preflow = { setting = "250 ms", off_switch = true }'))
    keys = [plate.control.key for plate in control_plates(Project(fixed, MEGA))]
    assert keys == ["preflow_switch", "purge", "lamp"]


def test_with_the_selector_the_dials_of_spot_and_stitch_have_no_switch_below():
    project = Project(parse_design(f'{SPOT}\n[panel]\nselector = "three-position"\n'), MEGA)
    assert [plate.name for plate in dial_plates(project) if plate.switch] == []
    (weld,) = [plate for plate in control_plates(project) if plate.control.key == "selector"]
    words = [shape for shape in control_shapes(weld) if isinstance(shape, Text)]
    labels = [position.label for position in weld.control.positions]
    assert [one.text for one in sorted(words, key=lambda one: one.y) if one.text in labels] == labels


@pytest.mark.parametrize("key", [key for key in ROLES if for_a_hand_or_an_eye(key)])
def test_the_random_panels_can_have_every_control(key):
    """Else the properties above would hold for want of a case."""
    everything = (
        SPOT.replace("purge = true", "purge = true\ninch = true")
        .replace('mode = "two-step"', 'mode = "switch"')
        .replace('preflow = "250 ms"', 'preflow = { from = "0 ms", to = "1 s", setting = "250 ms", off_switch = true }')
        .replace('setting = "90 ms" }', 'setting = "90 ms", off_switch = true }')
        .replace('postflow = "1.1 s"', 'postflow = { from = "0 ms", to = "5 s", setting = "1 s", off_switch = true }')
    )
    assert on_the_plates(Project(parse_design(everything), MEGA))[key] == 1
