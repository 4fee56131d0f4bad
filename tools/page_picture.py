"""Take the picture of the page for the README, docs/page.png. Run it by hand after the page has changed its looks.

Needs Chromium. The picture is a photograph of fonts and browser at hand, so no test compares it with a new one.
"""

from __future__ import annotations

import re
import shutil
import signal
import subprocess
import sys
import tempfile
from pathlib import Path

ROOT = Path(__file__).parent.parent
PICTURE = ROOT / "docs" / "page.png"
DESIGN = "spot_stitch"
WIDTH, HEIGHT = 1440, 960
FLAGS = ("--no-sandbox", "--no-first-run", "--disable-background-networking", "--disable-component-update")


def main() -> None:
    """Serve an example's page, wait for its pictures, and write the PNG."""
    browser = shutil.which("chromium")
    if browser is None:
        raise SystemExit("no chromium here: `make packages` installs it")
    with tempfile.TemporaryDirectory() as folder:
        shutil.copy(ROOT / "examples" / f"{DESIGN}.toml", folder)
        command = [sys.executable, "-u", "-m", "wirecue", "page", f"{DESIGN}.toml", "--no-browser"]
        environment = {"PYTHONPATH": str(ROOT), "PATH": "/usr/bin:/bin"}
        server = subprocess.Popen(command, cwd=folder, env=environment, text=True, stdout=subprocess.PIPE)
        try:
            _photograph(browser, _link(server), PICTURE)
        finally:
            server.send_signal(signal.SIGINT)
            server.communicate(timeout=20)


def _link(server: subprocess.Popen[str]) -> str:
    assert server.stdout is not None
    for line in server.stdout:
        if found := re.search(r"http://\S+", line):
            return found.group(0)
    raise SystemExit("the page printed no link")


def _photograph(browser: str, link: str, picture: Path) -> None:
    from playwright.sync_api import sync_playwright

    with sync_playwright() as playwright:
        chromium = playwright.chromium.launch(executable_path=browser, args=list(FLAGS))
        page = chromium.new_page(viewport={"width": WIDTH, "height": HEIGHT})
        page.goto(link)
        for name in ("timeline", "wire-end", "supply"):
            page.get_by_test_id(name).locator("svg").wait_for()
        page.screenshot(path=picture, animations="disabled")
        chromium.close()


if __name__ == "__main__":
    main()
