"""Write down the versions that were tested: requirements/constraints.txt from the environment that this runs in.

With --lowest it prints the least version of each package that pyproject.toml allows a user to have, for a trial.
"""

from __future__ import annotations

import sys
from collections.abc import Mapping
from importlib import metadata
from pathlib import Path

from packaging.requirements import Requirement
from packaging.utils import canonicalize_name

CONSTRAINTS = Path(__file__).parent.parent / "requirements" / "constraints.txt"
HEAD = """\
# The versions that this checkout was tested with; `make` installs these. Written by `make constraints`.
# A user's `pip install` takes any that pyproject.toml allows.
"""
EXTRAS = frozenset({"page", "docs", "dev"})


def wanted(
    name: str,
    extras: frozenset[str] = frozenset(),
    seen: dict[str, frozenset[str]] | None = None,
    system: Mapping[str, str] | None = None,
) -> set[str]:
    """Return the distributions, by normal name, that an installed one asks for here, with all that these ask for.

    system: in place of here: the variables of environment markers that another system has otherwise.
    """
    seen = {} if seen is None else seen
    for text in metadata.requires(name) or []:
        asked = Requirement(text)
        marked = [{**(system or {}), "extra": extra} for extra in extras | {""}]
        if asked.marker is not None and not any(asked.marker.evaluate(one) for one in marked):
            continue
        each = canonicalize_name(asked.name)
        if each not in seen or not asked.extras <= seen[each]:
            seen[each] = frozenset(asked.extras) | seen.get(each, frozenset())
            wanted(each, seen[each], seen, system)
    return set(seen)


def constraints() -> str:
    """Return the text of the file, as the environment is now."""
    names = sorted(wanted("wirecue", EXTRAS) - {"wirecue"})
    return HEAD + "".join(f"{name}=={metadata.version(name)}\n" for name in names)


def lowest(requirements: list[str]) -> list[str]:
    """Return the least versions that requirements allow, as constraints."""
    found = []
    for text in requirements:
        asked = Requirement(text)
        found += [f"{asked.name}=={each.version}" for each in asked.specifier if each.operator == ">="]
    return found


def main() -> None:
    """Write the file, or print the least versions."""
    if sys.argv[1:] == ["--lowest"]:
        import tomllib

        project = tomllib.loads((CONSTRAINTS.parent.parent / "pyproject.toml").read_text(encoding="utf-8"))["project"]
        print("\n".join(lowest(project["dependencies"] + project["optional-dependencies"]["page"])))
        return
    CONSTRAINTS.parent.mkdir(exist_ok=True)
    CONSTRAINTS.write_text(constraints(), encoding="utf-8")
    print(f"{CONSTRAINTS.name}: {constraints().count('==')} versions")


if __name__ == "__main__":
    main()
