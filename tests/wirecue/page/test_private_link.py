"""The link reaches the browser, and nobody else on this machine."""

from __future__ import annotations

import os
from pathlib import Path

import pytest

from tests.wirecue.page.conftest import fill, serve
from wirecue.page.guard import private_pages

LINK = "http://127.0.0.1:1/open?token=secret&x=1"
OPENER = """#!/bin/sh
echo "$@" >launched
"""


def test_the_link_lies_in_a_file_of_the_users_own_until_it_was_used():
    launched = []
    with private_pages(launched.append) as show:
        used = show(LINK)
        path = Path(launched[0])
        assert "secret" not in launched[0]
        assert "url=http://127.0.0.1:1/open?token=secret&amp;x=1" in path.read_text()
        assert (path.stat().st_mode & 0o777, path.parent.stat().st_mode & 0o777) == (0o600, 0o700)
        used()
        assert not path.exists()
        used()
    assert not path.parent.exists()


def test_it_is_gone_at_the_end_though_it_was_never_used():
    launched = []
    with private_pages(launched.append) as show:
        show(LINK)
    assert not Path(launched[0]).parent.exists()


@pytest.mark.debian("chromium")
def test_the_browser_comes_in_by_it(chromium, tmp_path):
    fill(tmp_path)
    programs = tmp_path / "programs"
    programs.mkdir()
    (programs / "xdg-open").write_text(OPENER)
    (programs / "xdg-open").chmod(0o755)
    os.mkfifo(tmp_path / "launched")
    served = serve(tmp_path, "design.toml", browser=True, PATH=f"{programs}:{os.environ['PATH']}")
    context = chromium.new_context()
    try:
        # The launcher waits until what it was called with is read.
        arguments = (tmp_path / "launched").read_text().strip()
        assert served.link.rpartition("=")[2] not in arguments
        page = context.new_page()
        page.goto(f"file://{arguments}")
        page.get_by_test_id("timeline").locator("svg").wait_for()
        assert page.url == f"{served.address}/"
        assert not Path(arguments).exists()
    finally:
        context.close()
        served.stop()
    assert not Path(arguments).parent.exists()
