"""How Sphinx makes the site in out/site from README, DEVELOPERS, CHANGELOG and docs/. Run by `make site`.

The pages stay as they are in the repository: what turns them into a site (their order, the look) is here. Nothing on a
page comes from outside, and no page but the search runs a script: it reads from a folder as from a server.
"""

from __future__ import annotations

import re
import shutil
import sys
from pathlib import Path
from typing import TYPE_CHECKING, Any

ROOT = Path(__file__).resolve().parents[2]
sys.path.insert(0, str(ROOT))

from codegen import style  # noqa: E402
from wirecue import __version__  # noqa: E402

if TYPE_CHECKING:
    from sphinx.application import Sphinx

FRONT = "README"
NAVIGATION = {
    "The job": [
        *("docs/walk-through", "docs/safety", "docs/building", "docs/flashing", "docs/recorder", "docs/witness"),
        *("docs/measuring", "docs/limits", "docs/help"),
    ],
    "Reference": [
        *("docs/glossary", "docs/design-file", "docs/sequence", "docs/rules", "docs/serial", "docs/faults"),
        *("docs/files", "docs/open-formats", "docs/sources"),
    ],
    "For developers": ["DEVELOPERS", "docs/decisions/README", "CHANGELOG"],
}
"""The pages in the order in which somebody who builds an add-on comes to them."""
DECISIONS = [f"docs/decisions/{path.stem}" for path in sorted((ROOT / "docs" / "decisions").glob("[0-9]*.md"))]

project = "wirecue"
release = __version__
extensions = ["myst_parser"]
root_doc = FRONT
include_patterns = [f"{FRONT}.md", "DEVELOPERS.md", "CHANGELOG.md", "docs/**"]
# Else every folder of the checkout is walked through for them.
exclude_patterns = [path.name for path in ROOT.iterdir() if path.is_dir() and path.name != "docs"]
myst_heading_anchors = 4
smartquotes = False

html_theme = "plain"
html_theme_path = [str(Path(__file__).parent)]
html_title = project
html_favicon = str(ROOT / "wirecue" / "page" / "icon.svg")
html_use_index = False
html_copy_source = False
html_permalinks = False
# A page read from a folder may not fetch another one, from which the search would show a summary.
html_show_search_summary = False
html_context = {
    "letters": style.FONT,
    "palette": {
        **{"ink": style.INK, "pale": style.PALE, "frame": style.FRAME, "lead": style.COMMANDED, "tint": style.TINT},
        **{"warm": style.WARM, "hot": style.HOT},
    },
}


def with_navigation(_app: Sphinx, page: str, source: list[str]) -> None:
    """Append the order of the pages to the front page, and that of the records to their list."""
    if page == FRONT:
        source[0] += "".join(_toctree(pages, caption) for caption, pages in NAVIGATION.items())
    if page == "docs/decisions/README":
        source[0] += _toctree(DECISIONS)


def _toctree(pages: list[str], caption: str = "") -> str:
    listed = "\n".join(f"/{page}" for page in pages)
    named = f":caption: {caption}\n" if caption else ""
    return f"\n```{{toctree}}\n:hidden:\n{named}\n{listed}\n```\n"


def for_small_screens(_app: Sphinx, _page: str, _template: str, context: dict[str, Any], _doctree: object) -> None:
    """Let a table that is wider than the screen scroll by itself, by keyboard too, and a picture open in full size."""
    if body := context.get("body"):
        frame = '<div class="wide" role="region" aria-label="table" tabindex="0"><table'
        body = body.replace("<table", frame).replace("</table>", "</table></div>")
        context["body"] = re.sub(r'<img [^>]*?src="([^"]+)"[^>]*>', r'<a class="picture" href="\1">\g<0></a>', body)


def with_index(app: Sphinx, trouble: Exception | None) -> None:
    """Let the folder open at the front page."""
    if trouble is None:
        shutil.copyfile(Path(app.outdir) / f"{FRONT}.html", Path(app.outdir) / "index.html")


def setup(app: Sphinx) -> None:
    """Called by Sphinx."""
    app.connect("source-read", with_navigation)
    app.connect("html-page-context", for_small_screens)
    app.connect("build-finished", with_index)
