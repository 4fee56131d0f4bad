"""Run pip-audit on what users get, and judge what it says; a service that was not reached is told as such.

Where the service does not know a package pip-audit passes it over and reports nothing found: that is no verdict.
"""

from __future__ import annotations

import json
import os
import subprocess
import sys
import tempfile
from importlib import metadata
from pathlib import Path
from typing import Any

from tools.write_constraints import wanted

TIMEOUT_S = 120.0


def told(report: dict[str, Any] | None) -> tuple[list[str], bool]:
    """Return lines for people, and whether all is well, of pip-audit's report; None: it did not get through."""
    packages = [] if report is None else report["dependencies"]
    asked = [one for one in packages if "skip_reason" not in one]
    if not asked:
        return ["known weaknesses: NOT CHECKED, the service that knows them cannot be reached from here"], True
    found = [f"{one['name']} {one['version']}: {weak['id']}" for one in asked for weak in one["vulns"]]
    lines = [f"known weaknesses: {len(found)} in {len(asked)} packages", *found]
    passed_over = [one["name"] for one in packages if "skip_reason" in one]
    if passed_over:
        lines.append(f"not known to the service: {', '.join(passed_over)}")
    return lines, not found


def asked_of_service(folder: Path) -> dict[str, Any] | None:
    """Return what pip-audit, installed in `folder`, reports; None where it does not get through."""
    names = sorted(wanted("wirecue", frozenset({"page"})))
    with tempfile.TemporaryDirectory() as place:
        pinned = Path(place) / "pinned.txt"
        pinned.write_text("".join(f"{name}=={metadata.version(name)}\n" for name in names), encoding="utf-8")
        options = ("--requirement", str(pinned), "--no-deps", "--disable-pip", "--format", "json", "--timeout", "10")
        try:
            done = subprocess.run(
                [sys.executable, "-m", "pip_audit", *options, "--progress-spinner", "off"],
                env=os.environ | {"PYTHONPATH": str(folder)},
                capture_output=True,
                encoding="utf-8",
                timeout=TIMEOUT_S,
                check=False,
            )
        except subprocess.TimeoutExpired:
            return None
    try:
        report: dict[str, Any] = json.loads(done.stdout)
    except ValueError:
        return None
    return report


def main() -> None:
    """Print what was found; exit with 1 where a weakness is known."""
    lines, well = told(asked_of_service(Path(sys.argv[1])))
    print("\n".join(lines))
    sys.exit(not well)


if __name__ == "__main__":
    main()
