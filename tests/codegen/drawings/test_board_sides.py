"""The drawn strip board, read back from its pictures: what they show is connected as in the circuit, at full size."""

from __future__ import annotations

import csv
import io
import re
import xml.etree.ElementTree as ElementTree
from collections import defaultdict
from collections.abc import Iterator
from pathlib import Path

import pytest

from codegen.papers.board_pages import BoardPaper, board_files, board_sheets, holes_csv
from codegen.papers.shapes import A4_ACROSS, US_LETTER_ACROSS, Text
from codegen.style import text_width
from tests.conftest import EXAMPLES, VERSION
from tests.support.drawn_designs import project_of
from timing.placement.items import board_items
from timing.placement.place import place

PITCH_MM = 2.54
Place = tuple[int, int]


def paper_of(path: Path) -> BoardPaper:
    project = project_of(path.read_text())
    return BoardPaper(project, board_items(project.netlist), place(project.netlist, 24, 4_000), VERSION)


@pytest.fixture(scope="module", params=EXAMPLES, ids=[path.stem for path in EXAMPLES])
def paper(request: pytest.FixtureRequest) -> BoardPaper:
    return paper_of(request.param)


@pytest.fixture(scope="module")
def files(paper: BoardPaper) -> dict[str, bytes]:
    return board_files(paper)


def marked(svg: bytes) -> Iterator[tuple[str, list[tuple[float, float]]]]:
    """Marks of a picture with their places in mm."""
    for item in ElementTree.fromstring(svg).iter():
        given = item.attrib
        if "data-mark" not in given:
            continue
        if "cx" in given:
            yield given["data-mark"], [(float(given["cx"]), float(given["cy"]))]
        else:
            found = re.findall(r"(-?[0-9.]+),(-?[0-9.]+)", given["d"])
            yield given["data-mark"], [(float(x), float(y)) for x, y in found]


def holes(svg: bytes, mirrored: bool) -> list[tuple[str, list[Place]]]:
    """Marks with the holes that they lie at, row and column, counted from the one at the origin."""
    every = list(marked(svg))
    origin = next(places[0] for mark, places in every if mark == "origin")
    sign = -1 if mirrored else 1
    found = []
    for mark, places in every:
        at = [((y - origin[1]) / PITCH_MM, sign * (x - origin[0]) / PITCH_MM) for x, y in places]
        if mark.startswith(("pin", "link", "cut", "joint")):
            assert all(abs(value - round(value)) < 0.01 for place in at for value in place), (mark, at)
            found.append((mark, [(round(row), round(column)) for row, column in at]))
    return found


def read_back(component: bytes, copper: bytes) -> set[frozenset[str]]:
    """What the two pictures connect: pins and links of the one, cuts of the other."""
    above: dict[object, object] = {}

    def top(one: object) -> object:
        while above.setdefault(one, one) != one:
            one = above[one]
        return one

    shown = holes(component, mirrored=False)
    cuts = {places[0] for mark, places in holes(copper, mirrored=True) if mark.startswith("cut")}
    used = [place for _, places in shown for place in places]
    for row in {row for row, _ in used}:
        columns = [column for there, column in used if there == row]
        for column in range(min(columns), max(columns)):
            if (row, column) not in cuts and (row, column + 1) not in cuts:
                above[top((row, column))] = top((row, column + 1))
    for mark, places in shown:
        if mark.startswith("link"):
            above[top(places[0])] = top(places[1])
    groups: dict[object, set[str]] = defaultdict(set)
    for mark, places in shown:
        if mark.startswith("pin "):
            groups[top(places[0])].add(mark.removeprefix("pin "))
    return set(map(frozenset, groups.values()))


def test_the_two_pictures_connect_what_the_circuit_connects(paper, files):
    assert read_back(files["strip_board/component.svg"], files["strip_board/copper.svg"]) == set(
        paper.items.net_groups().values()
    )


def test_a_link_or_a_cut_that_is_not_drawn_is_seen(paper, files):
    component, copper = files["strip_board/component.svg"], files["strip_board/copper.svg"]
    wanted = set(paper.items.net_groups().values())
    link = re.sub(rb'data-mark="link [a-z]+"', b'data-mark="note"', component, count=1)
    assert link != component
    assert read_back(link, copper) != wanted
    cut = copper.replace(f'data-mark="cut {paper.layout.cuts[0]}"'.encode(), b'data-mark="note"')
    assert cut != copper
    assert read_back(component, cut) != wanted


def test_the_copper_side_shows_every_joint_mirrored(files):
    above = holes(files["strip_board/component.svg"], mirrored=False)
    below = holes(files["strip_board/copper.svg"], mirrored=True)
    pins = {(mark.removeprefix("pin "), *places) for mark, places in above if mark.startswith("pin ")}
    joints = {(mark.removeprefix("joint "), *places) for mark, places in below if mark.startswith("joint ")}
    ends = {place for mark, places in above if mark.startswith("link ") for place in places}
    assert {joint for joint in joints if joint[0] != "link"} == pins
    assert {joint[1] for joint in joints if joint[0] == "link"} == ends


def test_pages_are_at_full_size_with_a_check_bar_and_nothing_leaves_them(paper, files):
    for name in ("strip_board/component.svg", "strip_board/copper.svg"):
        root = ElementTree.fromstring(files[name])
        assert (root.attrib["width"], root.attrib["height"]) == ("279.4mm", "210mm")
        assert root.attrib["viewBox"].split()[2:] == ["279.4", "210.0"] or root.attrib["viewBox"].endswith("279.4 210")
        bar = next(places for mark, places in marked(files[name]) if mark == "check-bar")
        assert bar[1][0] - bar[0][0] == pytest.approx(50.0)
    for size in (A4_ACROSS, US_LETTER_ACROSS):
        for page in board_sheets(paper, size):
            for shape in page.shapes:
                if isinstance(shape, Text):
                    width = text_width(shape.text, shape.size)
                    left = shape.x - {"start": 0.0, "middle": width / 2, "end": width}[shape.anchor]
                    assert left > 5.0, shape
                    assert left + 0.97 * width < size.width_mm - 5.0, shape
                    assert 5.0 < shape.y < size.height_mm - 5.0, shape


def test_the_list_of_holes_has_every_pin_link_and_cut(paper):
    rows = list(csv.DictReader(io.StringIO(holes_csv(paper), newline="")))
    layout = paper.layout
    assert {(row["name"], row["hole"]) for row in rows if row["what"] == "pin"} == {
        (terminal, str(hole)) for part in layout.parts for terminal, hole in part.pins
    }
    assert [(row["hole"], row["to"]) for row in rows if row["what"] == "link"] == [
        (str(link.start), str(link.end)) for link in layout.links
    ]
    assert {row["hole"] for row in rows if row["what"] == "cut"} == set(map(str, layout.all_cuts))


def test_the_lists_tell_every_part_and_what_was_assumed_of_it(paper):
    words = " ".join(
        shape.text for page in board_sheets(paper, A4_ACROSS)[2:] for shape in page.shapes if isinstance(shape, Text)
    )
    squeezed = " ".join(words.split())
    for part in paper.layout.parts:
        assert f"{part.name}" in squeezed
        assert part.pattern in squeezed
    assert "common practice, no source" in squeezed


def test_the_exception_to_the_barrier_and_the_cautions_are_told(paper):
    words = " ".join(
        shape.text for page in board_sheets(paper, A4_ACROSS)[:2] for shape in page.shapes if isinstance(shape, Text)
    )
    assert "The exception is BR1" in words
    assert "licensed electrician" in words
    assert "local codes" in words


def test_the_same_layout_gives_the_same_bytes():
    paper = paper_of(EXAMPLES[0])
    assert board_files(paper) == board_files(paper)
