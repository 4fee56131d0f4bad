"""The name of a design that is to be, and of its file."""

from __future__ import annotations

import os
from pathlib import Path

from timing.design.text_file import shown
from timing.errors import WirecueError


class TakenNameError(WirecueError):
    """There is a file of that name already, and nothing is written over it."""

    def __init__(self, path: Path) -> None:
        super().__init__(path)
        self.path = path

    def __str__(self) -> str:
        return f"{shown(self.path.name)} is there already, and nothing is written over it: take another name"


def check_design_name(name: str, source: str) -> None:
    """Raise DesignFileError for what can be no design's name, in the words of the design file.

    source: names the file that is to be in the message.
    """
    from pydantic import TypeAdapter, ValidationError

    from timing.design.section import Name
    from timing.design.text_file import Complaint, DesignFileError

    try:
        TypeAdapter(Name).validate_python(name)
    except ValidationError as error:
        context = error.errors()[0].get("ctx", {})
        complaint = Complaint("name", context["found"], context["allowed"], context["hint"])
        raise DesignFileError(source, [complaint]) from None


def is_design_name(name: str) -> bool:
    """Tell whether a design can have that name."""
    from timing.design.text_file import DesignFileError

    try:
        check_design_name(name, name)
    except DesignFileError:
        return False
    return True


def new_design_path(folder: Path, typed: str) -> Path:
    """Return where a new design of that name goes, with or without its ending.

    Raises DesignFileError for what can be no name, TakenNameError where a file is there.
    """
    name = typed.strip().removesuffix(".toml")
    check_design_name(name, typed)
    path = folder / f"{name}.toml"
    if os.path.lexists(path):
        raise TakenNameError(path)
    return path
