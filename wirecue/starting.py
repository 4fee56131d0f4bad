"""The text of a new design file: an example under a new name, with a remark on every key."""

from __future__ import annotations

from typing import Any

import tomlkit
from pydantic import BaseModel
from tomlkit.container import Container
from tomlkit.items import Item, Table

from timing.design.design import Design
from wirecue.projects import example_text


def starting_text(name: str, like: str, board: str | None) -> str:
    """Return the design file of example `like` as the design `name`, on `board` if one is named."""
    document = tomlkit.parse(example_text(like))
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
        inner = _model_of(field.annotation)
        if isinstance(item, Table) and inner is not None:
            _remark(item.value, inner)
        elif field.description and isinstance(item, Item):
            item.comment(field.description)


def _model_of(annotation: Any) -> type[BaseModel] | None:
    candidates = [annotation, *getattr(annotation, "__args__", ())]
    return next((c for c in candidates if isinstance(c, type) and issubclass(c, BaseModel)), None)
