"""Write the pages and pictures of the documentation that are made from the code. Run by `make docs`."""

from __future__ import annotations

from codegen.reference import PAGES
from tools import building, sources, walk_through
from tools.pictures import PICTURES, ROOT, SLOW_PICTURES


def main() -> None:
    """Write everything."""
    for name, make in {**PAGES, **PICTURES, **SLOW_PICTURES}.items():
        (ROOT / "docs" / name).write_text(make(), encoding="utf-8")
    (ROOT / "docs" / "sources.md").write_text(sources.page(), encoding="utf-8")
    building.PAGE.write_text(building.page(), encoding="utf-8")
    walk_through.main()


if __name__ == "__main__":
    main()
