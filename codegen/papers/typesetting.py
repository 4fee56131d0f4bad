"""The typesetter in a process of its own: requests as JSON on standard input, PDF documents as JSON on standard output.

The library keeps what it has computed for as long as its process lives, some 90 MB a document, and has no call to let
go of it. Run as a program, with nothing of ours imported, so that it starts at once; `typeset` runs it.
"""

from __future__ import annotations

import base64
import json
import subprocess
import sys
from collections.abc import Sequence
from pathlib import Path
from typing import TypedDict


class Request(TypedDict):
    """What is to be typeset."""

    template: str
    inputs: dict[str, str]
    """What the template reads, by name."""
    typefaces: str
    """Folder of the typefaces, the same on every machine."""


class TypesettingError(RuntimeError):
    """The typesetter failed: a fault of the template, not of what was typeset."""


def typeset(requests: Sequence[Request]) -> list[bytes]:
    """Return a PDF document (PDF/UA-1) for each request, the same bytes for the same one. Raises TypesettingError.

    The process is started once, however many there are; for none, not at all. Letters that the typefaces lack are taken
    from those of the machine, if it has them.
    """
    if not requests:
        return []
    # -P: nothing in the folder where somebody stands is imported.
    command = [sys.executable, "-P", __file__]
    done = subprocess.run(command, input=json.dumps(requests).encode(), capture_output=True, check=False)
    if done.returncode != 0:
        raise TypesettingError(done.stderr.decode(errors="replace").strip()[-2000:])
    return [base64.b64decode(document) for document in json.loads(done.stdout)]


def _document(request: Request) -> bytes:
    from typst import Fonts, TypstError, compile

    template, typefaces = request["template"].encode(), Path(request["typefaces"])
    fonts = Fonts(include_system_fonts=False, font_paths=[typefaces])
    try:
        return compile(template, sys_inputs=request["inputs"], font_paths=fonts, timestamp=0, pdf_standards=["ua-1"])
    except TypstError:
        # PDF/UA refuses what it has no letter for. Shown with a gap it is still of use in a workshop.
        fonts = Fonts(include_system_fonts=True, font_paths=[typefaces])
        return compile(template, sys_inputs=request["inputs"], font_paths=fonts, timestamp=0)


if __name__ == "__main__":
    made = [_document(request) for request in json.load(sys.stdin.buffer)]
    json.dump([base64.b64encode(document).decode() for document in made], sys.stdout)
