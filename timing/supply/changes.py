"""Writing a remedy's values into the text of a design file, comments and layout kept."""

from __future__ import annotations

import re
from collections.abc import Iterable

import tomlkit
from tomlkit.container import Container
from tomlkit.items import Table

from timing.supply.finding import Change, Finding


def first_changes(findings: Iterable[Finding]) -> tuple[Change, ...]:
    """Return the changes of the first remedy that has any, of each error; a key is changed once."""
    chosen: dict[str, Change] = {}
    for finding in findings:
        if finding.severity == "error":
            remedy = next((remedy for remedy in finding.remedies if remedy.changes), None)
            for change in remedy.changes if remedy else ():
                chosen.setdefault(change.key, change)
    return tuple(chosen.values())


def applied(design_text: str, changes: Iterable[Change]) -> str:
    """Return the design file's text with the changes written in; missing tables are added."""
    document = tomlkit.parse(design_text)
    for change in changes:
        *tables, key = change.key.split(".")
        place: tomlkit.TOMLDocument | Container | Table = document
        for name in tables:
            if name not in place:
                place.add(name, tomlkit.table())
            place = place[name]
        place[key] = change.value
    written = tomlkit.dumps(document)
    # New lines get the line ends of the others.
    return re.sub(r"\r?\n", "\r\n", written) if "\r\n" in design_text else written
