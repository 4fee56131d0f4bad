"""Templates to text: strict about names it does not know, and about text that travels into comments."""

from __future__ import annotations

import re
from collections.abc import Mapping
from functools import cache
from importlib.resources import files
from importlib.resources.abc import Traversable
from typing import Any

import jinja2


class TemplateFolders(jinja2.BaseLoader):
    """Looks a template up in one folder after the other: the board's own first, then what all share."""

    def __init__(self, *folders: str) -> None:
        self._folders = [files("board_templates").joinpath(folder) for folder in folders]

    def get_source(self, environment: jinja2.Environment, template: str) -> tuple[str, str, None]:
        """Return text and name of `template`. Raises TemplateNotFound."""
        found = self._find(template)
        if found is None:
            raise jinja2.TemplateNotFound(template)
        return found.read_text(encoding="utf-8"), template, None

    def list_templates(self) -> list[str]:
        """Return the names of all templates in these folders, sorted, each once."""
        present = (folder for folder in self._folders if folder.is_dir())
        names = {entry.name for folder in present for entry in folder.iterdir() if entry.name.endswith(".j2")}
        return sorted(names)

    def _find(self, template: str) -> Traversable | None:
        candidates = (folder.joinpath(template) for folder in self._folders)
        return next((candidate for candidate in candidates if candidate.is_file()), None)


def in_comment(text: str) -> str:
    """Return `text` so that it neither ends a C comment nor begins another, and holds no trigraph.

    Compilers warn of a trigraph that would join two lines, even in a comment.
    """
    return text.replace("*/", "* /").replace("/*", "/ *").replace("??", "? ?")


def short_form(header: str) -> str:
    """Return a header of the command table in capitals, with brackets around what its short form leaves out.

    'SYSTem:ERRor?' becomes 'SYST[EM]:ERR[OR]?'.
    """
    return re.sub("[a-z]+", lambda rest: f"[{rest.group().upper()}]", header)


# Kept with the templates that it has compiled: half of what a sketch takes.
@cache
def environment(*folders: str) -> jinja2.Environment:
    """Return the environment for C files, with the template folders in the order in which they are asked."""
    made = jinja2.Environment(
        loader=TemplateFolders(*folders),
        undefined=jinja2.StrictUndefined,
        trim_blocks=True,
        lstrip_blocks=True,
        keep_trailing_newline=True,
        # Names come from an alphabet that C takes as it is; free text passes `in_comment`.
        autoescape=False,
    )
    made.filters["in_comment"] = in_comment
    made.filters["short_form"] = short_form
    return made


def render(made: jinja2.Environment, template: str, facts: Mapping[str, Any]) -> str:
    """Return what `template` makes of `facts`. Raises jinja2.UndefinedError for a name that is not among them."""
    return made.get_template(template).render(facts)
