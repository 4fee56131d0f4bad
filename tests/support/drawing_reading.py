"""Reading a drawing back: what its wires connect, and what stands on what. Knows SVG, not the drawing code."""

from __future__ import annotations

import math
import re
import xml.etree.ElementTree as ElementTree
from collections import Counter, defaultdict
from collections.abc import Iterator, Sequence
from dataclasses import dataclass, field
from itertools import pairwise

from codegen.style import HOT

NAMESPACE = "{http://www.w3.org/2000/svg}"
NEAR = 0.05
INSIDE = 0.15
"""Letters do not fill their box: a line this far into it still touches none of them (mm)."""
LETTER_SHARE = 0.56
"""Mean width of a letter of DejaVu Sans over its size, measured on the words of these sheets."""

Point = tuple[float, float]
Box = tuple[float, float, float, float]


@dataclass
class Read:
    """What a sheet says."""

    terminals: dict[str, Point] = field(default_factory=dict)
    counts: Counter[str] = field(default_factory=Counter)
    wires: list[tuple[str, list[Point]]] = field(default_factory=list)
    flags: list[tuple[str, Point]] = field(default_factory=list)
    texts: list[tuple[str, Box]] = field(default_factory=list)
    bodies: list[tuple[str, Box]] = field(default_factory=list)
    """Parts with two terminals, and caution signs."""
    strokes: list[tuple[Point, Point]] = field(default_factory=list)
    """Lines of symbols, boxes and flags: everything drawn that is no wire and no part with two terminals."""
    size: Point = (0.0, 0.0)


def read(svg: str) -> Read:
    """Read one sheet."""
    root = ElementTree.fromstring(svg)
    left, top, width, height = (float(value) for value in root.attrib["viewBox"].split())
    assert (left, top) == (0.0, 0.0)
    found = Read(size=(width, height))
    for item in root.iter():
        kind, given = item.tag.removeprefix(NAMESPACE), item.attrib
        if "data-terminal" in given:
            found.terminals[given["data-terminal"]] = (float(given["cx"]), float(given["cy"]))
            found.counts[given["data-terminal"]] += 1
        elif "data-flag" in given:
            found.flags.append((given["data-flag"], (float(given["cx"]), float(given["cy"]))))
        elif "data-net" in given:
            found.wires.append((given["data-net"], list(_points(given["d"]))))
        elif "data-part" in given:
            found.bodies.append((given["data-part"], _body(given["transform"])))
        elif "data-caution" in given:
            found.bodies.append((f"caution {given['data-caution']}", _around(list(_points(given["d"].rstrip("Z"))))))
        elif kind in ("path", "rect") and "transform" not in given and not _pale(given):
            found.strokes += pairwise(_outline(kind, given))
        elif kind == "text" and item.text:
            found.texts.append((item.text, _box(item.text, given)))
    return found


def _pale(given: dict[str, str]) -> bool:
    """Tell whether a shape is a sign that carries its own mark, or has no line of its own."""
    return given.get("stroke", "none") in ("none", HOT)


def _outline(kind: str, given: dict[str, str]) -> list[Point]:
    if kind == "rect":
        x, y, width, height = (float(given[name]) for name in ("x", "y", "width", "height"))
        return [(x, y), (x + width, y), (x + width, y + height), (x, y + height), (x, y)]
    if set(given["d"]) & set("ACQ"):
        return []
    points = list(_points(given["d"].rstrip("Z")))
    return [*points, points[0]] if given["d"].endswith("Z") else points


def _points(path: str) -> Iterator[Point]:
    for step in path.replace("M", " ").replace("L", " ").split():
        x, y = step.split(",")
        yield float(x), float(y)


def _body(transform: str) -> Box:
    """A body is 6.4 mm along its axis and 4.4 mm across, the hooks of a varistor included."""
    x, y, turned = (float(number) for number in re.findall(r"-?[0-9.]+", transform))
    long, wide = (3.2, 2.2) if turned % 180 == 0 else (2.2, 3.2)
    return x - long, y - wide, x + long, y + wide


def _around(points: list[Point]) -> Box:
    xs, ys = zip(*points, strict=True)
    return min(xs), min(ys), max(xs), max(ys)


def _meet(first: Box, second: Box) -> bool:
    return min(first[2], second[2]) > max(first[0], second[0]) and min(first[3], second[3]) > max(first[1], second[1])


def _box(text: str, given: dict[str, str]) -> Box:
    size, x, y = float(given["font-size"]), float(given["x"]), float(given["y"])
    width = LETTER_SHARE * size * len(text)
    left = x - {"start": 0.0, "middle": width / 2, "end": width}[given.get("text-anchor", "start")]
    return left, y - 0.73 * size, left + width, y + 0.1 * size


def connected(sheets: Sequence[Read]) -> list[set[str]]:
    """What the drawn wires connect: terminals that hang together, within sheets by wires, between sheets by flags."""
    together: dict[str, str] = {}

    def root(name: str) -> str:
        while together.setdefault(name, name) != name:
            name = together[name]
        return name

    for number, sheet in enumerate(sheets):
        ends = [(name, at) for name, at in sheet.terminals.items()]
        ends += [(f"flag {net}", at) for net, at in sheet.flags]
        ends += [(f"wire {number} {index}", at) for index, (_, points) in enumerate(sheet.wires) for at in points]
        for index, (_, points) in enumerate(sheet.wires):
            for first, second in pairwise(points):
                for name, at in ends:
                    if on_segment(at, first, second):
                        together[root(name)] = root(f"wire {number} {index}")
        for place, (name, at) in enumerate(ends):
            for other, there in ends[place + 1 :]:
                if math.dist(at, there) < NEAR:
                    together[root(name)] = root(other)
    groups: dict[str, set[str]] = defaultdict(set)
    for sheet in sheets:
        for name in sheet.terminals:
            groups[root(name)].add(name)
    return list(groups.values())


def on_segment(at: Point, first: Point, second: Point) -> bool:
    return math.dist(at, first) + math.dist(at, second) - math.dist(first, second) < NEAR / 10


def overlaps(sheet: Read) -> Iterator[str]:
    """Texts that stand on each other, on a wire, on a symbol, or off the sheet."""
    width, height = sheet.size
    for index, (text, box) in enumerate(sheet.texts):
        if box[0] < 7 or box[1] < 7 or box[2] > width - 7 or box[3] > height - 7:
            yield f"{text!r} leaves the frame"
        for other, there in sheet.texts[index + 1 :]:
            if _meet(box, there):
                yield f"{text!r} stands on {other!r}"
        for part, there in sheet.bodies:
            if _meet(box, there) and part != f"caution {text}":
                yield f"{text!r} stands on {part}"
        for net, points in sheet.wires:
            for first, second in pairwise(points):
                if crosses(box, first, second):
                    yield f"{text!r} stands on a wire of {net}"
        if any(cuts(box, first, second) for first, second in sheet.strokes):
            yield f"{text!r} stands on a symbol"


def crosses(box: Box, first: Point, second: Point) -> bool:
    """Wires run along the sheet's edges, so that a segment is a box without width."""
    return (
        min(box[2], max(first[0], second[0])) > max(box[0], min(first[0], second[0])) - 1e-6
        and min(box[3], max(first[1], second[1])) > max(box[1], min(first[1], second[1])) - 1e-6
    )


def cuts(box: Box, first: Point, second: Point) -> bool:
    """Tell whether a line of any direction passes through the inside of a box."""
    enters, leaves = 0.0, 1.0
    for axis in (0, 1):
        start, along = first[axis], second[axis] - first[axis]
        low, high = box[axis] + INSIDE, box[axis + 2] - INSIDE
        if abs(along) < 1e-9:
            if not low < start < high:
                return False
            continue
        near, far = sorted(((low - start) / along, (high - start) / along))
        enters, leaves = max(enters, near), min(leaves, far)
    return enters < leaves
