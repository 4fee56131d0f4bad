"""The sketch: a folder of C files made from a design and its board."""

from __future__ import annotations

from collections.abc import Mapping

from codegen.link_names import LINK_TEMPLATES
from codegen.owner_settings import owner_settings, settings_names
from codegen.rendering import environment, render
from codegen.sketch_facts import SketchFacts, sketch_facts
from timing.project import Project

_OWN = "common/sketch"
_SETTINGS = "settings.h"
_SKETCH = "sketch.ino.j2"


def sketch_files(project: Project, version: str) -> dict[str, str]:
    """Return the files of the sketch folder, by name; the folder must be called by the design's name.

    version: of this tool, as it goes into `*IDN?`. Same project and version in, same text out.

    Raises UnplacedRoleError where a role has no pin.
    """
    design, board = project.design, project.board
    facts = sketch_facts(project, version)
    # What only this board needs stands in its own folder and goes before what its family shares.
    made = environment(board.type, f"{_OWN}/{board.family}", f"common/{board.family}", _OWN, LINK_TEMPLATES)
    names = facts.names()
    templates = [name for name in made.list_templates() if not name.startswith("_") and _wanted(name, facts)]
    settings_h = render(made, f"{_SETTINGS}.j2", names).lstrip("\n")
    names |= settings_names(owner_settings(settings_h, design, board))
    files = {_SETTINGS: settings_h}
    for name in templates:
        if name not in (f"{_SETTINGS}.j2", _SKETCH):
            files[name.removesuffix(".j2")] = render(made, name, names).lstrip("\n")
    files[f"{design.name}.ino"] = render(made, _SKETCH, names | map_names(files)).lstrip("\n")
    return dict(sorted(files.items()))


def map_names(files: Mapping[str, str]) -> dict[str, object]:
    """Return what the map at the head of the sketch shows: files by what they are about, and what that is."""
    about: dict[str, list[str]] = {}
    for name in sorted(files, key=lambda name: (name.partition(".")[0], not name.endswith(".h"))):
        about.setdefault(name.partition(".")[0], []).append(name)
    return {
        # The first line of its first file says it, behind the opening of the comment.
        "map": {stem: files[names[0]].splitlines()[1].removeprefix(" * ") for stem, names in about.items()},
        "files_of": {stem: ", ".join(names) for stem, names in about.items()},
    }


def _wanted(template: str, facts: SketchFacts) -> bool:
    subject = template.partition(".")[0]
    absent = {"dials": not facts.dials, "supply": facts.supply is None, "panel": not facts.panel}
    return not absent.get(subject, False)
