"""Values into the text of a design file: by dotted key, with comments and layout kept, and checked before use.

Nothing is written here: the new text goes back to the caller, who writes it whole or not at all.
"""

from __future__ import annotations

import re
from collections.abc import Iterator, Mapping
from dataclasses import dataclass
from typing import Any

import tomlkit
from pydantic import BaseModel
from tomlkit.container import Container, OutOfOrderTableProxy
from tomlkit.items import Item, Table

from timing.design.design import Design
from timing.design.loading import parse_design
from timing.design.origin import with_origin
from timing.design.section import section_in
from timing.design.text_file import Complaint, DesignFileError

Value = str | bool | Mapping[str, "Value"]
"""A text with its unit, true or false, or a table of such."""


@dataclass(frozen=True)
class Setting:
    """One key that takes another value."""

    key: str
    """Dotted path."""
    old: str | bool | None
    """As it stood in the file; None where it was not there."""
    new: str | bool


def with_values(
    text: str, values: Mapping[str, Value], source: str = "design", origin: str = ""
) -> tuple[str, tuple[Setting, ...]]:
    """Return the text of a design file with `values` put in, by dotted key, and what changes by that.

    A time without a dial may stand as bare text: `times.burnback.setting` reaches it as well. Raises DesignFileError
    when the text is no valid design before, or would be none afterwards; `source` names it.

    origin: where the values come from, for the remark on the line of each that changes; one of those that
    `timing.design.origin` knows goes from there, since it would be one no more.
    """
    parse_design(text, source)
    document = tomlkit.parse(text)
    changes = []
    for path, new in _leaves(values):
        old = _put(document, path, new, source)
        if old != new:
            changes.append(Setting(".".join(path), old, new))
            _say_origin(document, path, origin)
    changed = _with_line_ends_of(text, tomlkit.dumps(document)) if changes else text
    parse_design(changed, f"{source} as it would become")
    return changed, tuple(changes)


def _with_line_ends_of(text: str, changed: str) -> str:
    """Give new lines the ends that the file's other lines have."""
    return re.sub(r"(?<!\r)\n", "\r\n", changed) if text.count("\n") == text.count("\r\n") else changed


def _leaves(values: Mapping[str, Value]) -> Iterator[tuple[list[str], str | bool]]:
    for key, value in values.items():
        path = key.split(".")
        if isinstance(value, Mapping):
            for below, leaf in _leaves(value):
                yield path + below, leaf
        else:
            yield path, value


def _put(document: Any, path: list[str], new: str | bool, source: str) -> str | bool | None:
    """Set one key and return what stood there."""
    table = document
    for depth, step in enumerate(path[:-1]):
        if step not in table:
            # Below a table an inline one, which fits whatever form that table has.
            inline = depth >= 1
            table[step] = tomlkit.inline_table() if inline else tomlkit.table()
        below = table[step]
        if isinstance(below, str) and path[depth + 1 :] == ["setting"]:
            table[step] = new
            return str(below)
        if not isinstance(below, Mapping):
            key = ".".join(path)
            raise DesignFileError(source, [Complaint(key, repr(below), "a table", "set the whole of it by hand")])
        table = below
    old = table.get(path[-1])
    plain: str | bool | None = old if old is None or isinstance(old, bool) else str(old)
    if plain != new:
        table[path[-1]] = new
    return plain


def _say_origin(document: Container, path: list[str], origin: str) -> None:
    """Have the remark on the line of a key say where its value comes from."""
    item = _on_its_line(document, path)
    if item is None:
        return
    before = item.trivia.comment.removeprefix("#").strip()
    told = with_origin(before, origin)
    if told == before:
        return
    item.trivia.comment = f"# {told}" if told else ""
    item.trivia.comment_ws = (item.trivia.comment_ws or "  ") if told else ""


def _on_its_line(document: Container, path: list[str]) -> Item | None:
    """Return what stands on the line of a key: its value, or the inline table that holds it."""
    table: Any = document
    for step in path:
        container = table.value if isinstance(table, Table) else table
        found: Any = container.item(step) if isinstance(container, Container) else container[step]
        if not isinstance(found, Table | OutOfOrderTableProxy):
            return found if isinstance(found, Item) else None
        table = found
    return None


def starting_text(example: str, name: str, board: str | None) -> str:
    """Return the text of the design file `example` as the design `name`, a remark on every key.

    board: the type of board to put in; None: the example's own.
    """
    document = tomlkit.parse(example)
    document["name"] = name
    document["title"] = ""
    document["notes"] = ""
    if board is not None:
        document["board"] = {"type": board}
    _remark(document, Design)
    heading = "# The figures are an example's. Put in what you measured at your own machine.\n"
    lines = tomlkit.dumps(document).splitlines(keepends=True)
    body = [line for line in lines if not line.startswith("#")]
    return heading + "".join(body).lstrip("\n")


def _remark(container: Container, model: type[BaseModel]) -> None:
    for field in model.model_fields.values():
        if field.alias not in container:
            continue
        item = container.item(str(field.alias))
        inner = section_in(field.annotation)
        if isinstance(item, Table) and inner is not None:
            _remark(item.value, inner)
        elif field.description and isinstance(item, Item):
            item.comment(field.description)
