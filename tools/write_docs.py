"""Write the pages and pictures of the documentation that are made from the code. Run by `make docs`."""

from __future__ import annotations

from pathlib import Path

from codegen.reference import PAGES
from codegen.timeline_svg import timeline_svg
from timing.design.loading import load_design
from timing.sequence.simulate import simulate
from timing.sequence.usual import usual_script
from tools import walk_through

ROOT = Path(__file__).parent.parent
PICTURED = "spot_stitch"


def readme_picture() -> str:
    """Return the timeline that the README shows."""
    design = load_design(ROOT / "examples" / f"{PICTURED}.toml")
    return timeline_svg(design, simulate(design, usual_script(design)))


def main() -> None:
    """Write everything."""
    for name, page in PAGES.items():
        (ROOT / "docs" / name).write_text(page(), encoding="utf-8")
    walk_through.main()
    (ROOT / "docs" / "timeline.svg").write_text(readme_picture(), encoding="utf-8")


if __name__ == "__main__":
    main()
