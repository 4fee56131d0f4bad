"""Folders that a user has on each system."""

from __future__ import annotations

import os
import sys
import tempfile
from pathlib import Path

_OURS = "wirecue"


def cache_folder() -> Path:
    """Return the folder for things that can be made again, there or not; XDG_CACHE_HOME names another on any system."""
    named = os.environ.get("XDG_CACHE_HOME")
    if named:
        return Path(named) / _OURS
    try:
        return _usual_cache(Path.home()) / _OURS
    except RuntimeError:  # a user without a home
        return Path(tempfile.gettempdir()) / _OURS


def _usual_cache(home: Path) -> Path:
    if sys.platform == "win32":
        return Path(os.environ.get("LOCALAPPDATA") or home / "AppData" / "Local")
    if sys.platform == "darwin":
        return home / "Library" / "Caches"
    return home / ".cache"
