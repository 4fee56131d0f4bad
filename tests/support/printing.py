"""Print an HTML file with Chromium, as a person does, and look at the pages."""

from __future__ import annotations

import shutil
import subprocess
from pathlib import Path

import pytest

MM_PER_IN = 25.4
DOTS_PER_IN = 72
TOOLS = ("chromium", "pdftoppm", "pdftotext")
QUIET = (
    "--headless",
    "--no-sandbox",
    "--no-first-run",
    "--disable-gpu",
    "--disable-background-networking",
    "--disable-component-update",
    "--disable-sync",
    "--no-pdf-header-footer",
)


def print_html(html: str, paper: str, folder: Path) -> Path:
    """Print to PDF on `paper` (A4 or letter); skip the test where a tool is missing."""
    missing = [tool for tool in TOOLS if shutil.which(tool) is None]
    if missing:
        pytest.skip(f"needs {', '.join(missing)}: `make packages` installs them")
    page, pdf = folder / f"{paper}.html", folder / f"{paper}.pdf"
    page.write_text(html.replace("@page {", f"@page {{ size: {paper};", 1))
    profile = f"--user-data-dir={folder / 'profile'}"
    subprocess.run(
        ["chromium", *QUIET, profile, f"--print-to-pdf={pdf}", page.as_uri()],
        check=True, capture_output=True, timeout=120,
    )  # fmt: skip
    return pdf


def text_of(pdf: Path) -> str:
    """Return all text, layout kept."""
    done = subprocess.run(["pdftotext", "-layout", pdf, "-"], check=True, capture_output=True, text=True, timeout=60)
    return done.stdout


def ink_outside(pdf: Path, margin_mm: float) -> list[int]:
    """Return the numbers of the pages that have ink closer than `margin_mm` to their left or right edge."""
    stem = pdf.with_suffix("")
    subprocess.run(["pdftoppm", "-r", str(DOTS_PER_IN), "-gray", pdf, stem], check=True, timeout=120)
    margin = round(margin_mm / MM_PER_IN * DOTS_PER_IN)
    found = []
    for number, image in enumerate(sorted(pdf.parent.glob(f"{stem.name}-*.pgm")), start=1):
        _, size, _, pixels = image.read_bytes().split(b"\n", 3)
        width, height = map(int, size.split())
        rows = [pixels[row * width : (row + 1) * width] for row in range(height)]
        if any(min(row[:margin] + row[-margin:]) < 250 for row in rows):
            found.append(number)
    return found
