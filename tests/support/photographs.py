"""Two pictures of the page, told apart by what they show, not by their points: fonts and browsers differ."""

from __future__ import annotations

import difflib
from pathlib import Path

from PIL import Image

from tools.page_picture import PlacedWords, outline_of

LEEWAY_PX = 40
"""How far apart the same words may stand on two pictures: other fonts have wider letters, and a line breaks earlier."""
SHADES = (24, 16)
LEEWAY_SHADE = 12
"""Of 255, on the average over a picture reduced to so many fields."""
FILE = ".toml - saved"
"""In the words that name the file in work, which is another one in a test."""


def differences(kept: Path, taken: Path) -> list[str]:
    """Return how two pictures differ in words, in where these stand, in size, and in light and dark."""
    before, now = ([one for one in outline_of(picture) if FILE not in one.words] for picture in (kept, taken))
    words, words_now = ([one.words for one in outline] for outline in (before, now))
    if words != words_now:
        return list(difflib.unified_diff(words, words_now, "kept", "now", n=0, lineterm=""))
    return [*_moved(before, now), *_resized(kept, taken), *_shaded(kept, taken)]


def _moved(before: list[PlacedWords], now: list[PlacedWords]) -> list[str]:
    return [
        f"{old.words}: from {old[1:]} to {new[1:]}"
        for old, new in zip(before, now, strict=True)
        if abs(old.left - new.left) > LEEWAY_PX or abs(old.top - new.top) > LEEWAY_PX
    ]


def _resized(kept: Path, taken: Path) -> list[str]:
    with Image.open(kept) as one, Image.open(taken) as other:
        across, down = (abs(old - new) for old, new in zip(one.size, other.size, strict=True))
    return [f"{across} wider or narrower, {down} higher or lower"] if across or down > LEEWAY_PX else []


def _shaded(kept: Path, taken: Path) -> list[str]:
    apart = [abs(old - new) for old, new in zip(_fields(kept), _fields(taken), strict=True)]
    mean = sum(apart) / len(apart)
    return [f"darker or paler by {mean:.0f} of 255"] if mean > LEEWAY_SHADE else []


def _fields(picture: Path) -> bytes:
    """Return a picture as a few fields of grey, in which no letter is left."""
    with Image.open(picture) as taken:
        return taken.convert("L").resize(SHADES, Image.Resampling.BOX).tobytes()
