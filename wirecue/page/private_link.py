"""Hands the page's link to a browser without showing it to the other users of this machine.

What a program is started with can be read by everybody; a file of one's own cannot.
"""

from __future__ import annotations

import contextlib
import tempfile
from collections.abc import Callable, Iterator
from html import escape
from pathlib import Path

_PAGE = (
    '<!doctype html><meta charset="utf-8"><meta name="referrer" content="no-referrer"><title>wirecue</title>'
    '<meta http-equiv="refresh" content="0; url={link}"><a href="{link}">open</a>\n'
)


@contextlib.contextmanager
def private_pages(launch: Callable[[str], object]) -> Iterator[Callable[[str], Callable[[], None]]]:
    """Yield a function that opens a link in the browser by way of a private file; it returns what removes the file.

    launch: opens a file, by its name. At the end the file is gone in any case.
    """
    with tempfile.TemporaryDirectory(prefix="wirecue-page-", ignore_cleanup_errors=True) as folder:
        # The folder is this user's alone (mode 0700), and so is all that is in it.
        path = Path(folder) / "open.html"

        def show(link: str) -> Callable[[], None]:
            path.touch(mode=0o600)
            path.write_text(_PAGE.format(link=escape(link)), encoding="utf-8")
            launch(str(path))
            return lambda: path.unlink(missing_ok=True)

        yield show
