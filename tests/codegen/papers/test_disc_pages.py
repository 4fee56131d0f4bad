"""Disc and flag on paper: measured in the picture and in the PDF, they are as large as they say."""

from __future__ import annotations

import math
import re
import xml.etree.ElementTree as ElementTree
from itertools import pairwise

import pytest

from codegen.papers.dial_pages import CHECK_BAR_MM, MARGIN_MM
from codegen.papers.disc_pages import DiscPaper, disc_files, disc_page, disc_shapes
from codegen.papers.shapes import A4, BOTH, US_LETTER, Circle, Line, Polygon, Text, page_svg
from tests.conftest import ROOT
from timing.design.loading import load_design
from timing.recorder.disc import disc_for
from timing.recorder.flag import flag_for

NAMESPACE = "{http://www.w3.org/2000/svg}"
POINTS_PER_MM = 72 / 25.4


def paper(outer_mm=None, bore_mm=8.0):
    process = load_design(ROOT / "examples" / "spot_stitch.toml").process
    return DiscPaper("spot_stitch", "design", disc_for(35.0, outer_mm, bore_mm), 35.0, True, flag_for(process))


def marked(svg):
    root = ElementTree.fromstring(svg)
    assert root.attrib["width"].endswith("mm")
    assert root.attrib["viewBox"].split()[2] == root.attrib["width"].removesuffix("mm") or float(
        root.attrib["viewBox"].split()[2]
    ) == pytest.approx(float(root.attrib["width"].removesuffix("mm")))
    return {item.attrib["data-mark"]: item.attrib for item in root.iter() if "data-mark" in item.attrib}


@pytest.mark.parametrize("outer", [40.0, 50.0, 120.0])
def test_the_picture_is_in_millimetres_and_as_large_as_it_says(outer):
    asked = paper(outer)
    found = marked(page_svg(disc_page(asked, BOTH)))
    assert float(found["disc outer"]["r"]) == outer / 2
    assert float(found["disc bore"]["r"]) == 4.0
    bar = found["check-bar"]["d"]
    (x1, _), (x2, _) = (map(float, point.split(",")) for point in re.findall(r"[-0-9.]+,[-0-9.]+", bar))
    assert x2 - x1 == CHECK_BAR_MM


def test_dark_and_bright_sectors_share_the_turn_evenly():
    disc = disc_for(35.0)
    sectors = [shape for shape in disc_shapes(disc) if isinstance(shape, Polygon)]
    assert len(sectors) == disc.sectors
    for sector in sectors:
        radii = [math.hypot(x, y) for x, y in sector.points]
        assert max(radii) == pytest.approx(disc.track_outer_mm)
        assert min(radii) == pytest.approx(disc.track_inner_mm)
        angles = [math.atan2(x, -y) for x, y in sector.points]
        spread = max(angles) - min(angles)
        assert min(spread, 2 * math.pi - spread) == pytest.approx(math.pi / disc.sectors, abs=1e-6)
    middles = sorted(math.atan2(sum(x for x, _ in one.points), -sum(y for _, y in one.points)) for one in sectors)
    steps = [after - before for before, after in pairwise(middles)]
    assert steps == pytest.approx([2 * math.pi / disc.sectors] * (disc.sectors - 1))


def test_in_the_pdf_the_bar_measures_50_mm_and_the_disc_its_diameter():
    pdf = disc_files(paper())["disc.pdf"].partition(b"1 0 0 1 0 0 cm")[2]
    scale = re.search(rb"([\d.]+) 0 0 ([\d.]+) 0 0 cm", pdf)
    assert scale is not None
    assert float(scale[1]) == float(scale[2]) == pytest.approx(POINTS_PER_MM, abs=1e-5)
    number = rb"(-?[\d.]+)"
    lines = re.findall(rb"n " + rb" ".join([number] * 2) + rb" m " + rb" ".join([number] * 2) + rb" l", pdf)
    lengths = [abs(float(x2) - float(x1)) for x1, y1, x2, y2 in lines if y1 == y2]
    assert any(length == pytest.approx(CHECK_BAR_MM, abs=1e-3) for length in lengths)
    # A circle begins at its right end.
    begins = [float(x) for x, _ in re.findall(number + rb"\s" + number + rb" m\s[-\d. ]+ c", pdf)]
    centre = MARGIN_MM + 25.0 + 2.0
    assert any(x - centre == pytest.approx(25.0, abs=1e-3) for x in begins)
    assert any(x - centre == pytest.approx(4.0, abs=1e-3) for x in begins)


@pytest.mark.parametrize("size", [A4, US_LETTER])
@pytest.mark.parametrize("outer", [40.0, 120.0])
def test_everything_stays_on_its_page(size, outer):
    for shape in disc_page(paper(outer), size).shapes:
        match shape:
            case Circle():
                xs, ys = (
                    (shape.x - shape.radius, shape.x + shape.radius),
                    (shape.y - shape.radius, shape.y + shape.radius),
                )
            case Line():
                xs, ys = (shape.x1, shape.x2), (shape.y1, shape.y2)
            case Polygon():
                xs, ys = zip(*shape.points, strict=True)
            case Text():
                xs, ys = (shape.x, shape.x + 0.56 * shape.size * len(shape.text)), (shape.y - shape.size, shape.y)
        assert min(xs) >= 4.0
        assert max(xs) <= size.width_mm - 4.0, shape
        assert min(ys) >= 4.0
        assert max(ys) <= size.height_mm - MARGIN_MM
