"""Say what is installed with wirecue at run time, and under which licence; fail where one is not known to fit.

Licences are read from the metadata of what is installed here. `make check` runs this, a test compares the table in
DEVELOPERS.md with it.
"""

from __future__ import annotations

import re
import sys
from collections import defaultdict
from collections.abc import Iterable
from importlib import metadata

from tools.write_constraints import wanted

COMPATIBLE = frozenset(
    {
        *("MIT", "MIT-CMU", "0BSD", "BSD-2-Clause", "BSD-3-Clause", "Apache-2.0", "PSF-2.0", "Zlib", "CC0-1.0"),
        *("MPL-2.0", "Public-Domain"),
    }
)
"""Licences (SPDX) that what an MIT-licensed program asks for may have, unchanged and as files of their own."""

_SPELLED = {
    "mit license": "MIT",
    "mit": "MIT",
    "bsd": "BSD-3-Clause",
    "bsd license": "BSD-3-Clause",
    "bsd license (see license.txt for details), copyright (c) 2000-2025, reportlab inc.": "BSD-3-Clause",
    "apache 2.0": "Apache-2.0",
    "apache software license": "Apache-2.0",
    "python software foundation license": "PSF-2.0",
    "mozilla public license 2.0 (mpl 2.0)": "MPL-2.0",
    "public domain": "Public-Domain",
}
"""What is written in place of an SPDX name, in small letters; where only 'BSD' is said, its usual form is meant."""

_LOOKED_UP = {"docutils": "Public-Domain AND BSD-2-Clause"}
"""Where metadata names more than is installed: docutils' GPL part is a file for an editor that is not installed."""


def run_time() -> dict[str, str]:
    """Return the licence of each distribution that wirecue installs here, page and all, by name."""
    return {name: licence_of(name) for name in sorted(wanted("wirecue", frozenset({"page"})))}


def licence_of(name: str) -> str:
    """Return the licence of an installed distribution as SPDX has it, as far as its metadata says."""
    if name in _LOOKED_UP:
        return _LOOKED_UP[name]
    facts = metadata.metadata(name)
    stated = facts.get("License-Expression") or facts.get("License") or ""
    classed = [text.rpartition("::")[2].strip() for text in facts.get_all("Classifier", []) if "License" in text]
    said = stated if stated and "\n" not in stated.strip() else " AND ".join(classed)
    return _SPELLED.get(said.strip().lower(), said.strip())


def fits(licence: str) -> bool:
    """Tell whether a licence is known to fit: all that AND joins, one of what OR does."""
    parts = re.split(r"\s+AND\s+", licence.replace("(", "").replace(")", ""))
    return all(any(one in COMPATIBLE for one in re.split(r"\s+OR\s+", part)) for part in parts)


def by_licence(licences: dict[str, str]) -> dict[str, list[str]]:
    """Return the names under each licence."""
    found: dict[str, list[str]] = defaultdict(list)
    for name, licence in licences.items():
        found[licence].append(name)
    return dict(sorted(found.items()))


def unfit(licences: dict[str, str]) -> Iterable[str]:
    """Yield a line for each distribution whose licence is not known to fit."""
    for name, licence in licences.items():
        if not fits(licence):
            yield f"{name}: licence {licence or 'not stated'!r} is not known to fit; see tools/dependencies.py"


def main() -> None:
    """Print the licences; exit with 1 where one does not fit."""
    licences = run_time()
    print(f"{len(licences)} packages at run time, page included:")
    for licence, names in by_licence(licences).items():
        print(f"  {licence}: {', '.join(names)}")
    if found := list(unfit(licences)):
        sys.exit("\n".join(found))


if __name__ == "__main__":
    main()
