"""Programs that are started so that they can be ended with all that they started themselves."""

from __future__ import annotations

import os
import signal
import subprocess
import sys
from contextlib import suppress
from typing import Any

_TASKKILL_TIMEOUT_S = 10.0


def apart() -> dict[str, Any]:
    """Return the arguments of subprocess.Popen that start a program apart from us, with its children.

    On Windows it has no console window either.
    """
    if sys.platform == "win32":
        return {"creationflags": subprocess.CREATE_NEW_PROCESS_GROUP | subprocess.CREATE_NO_WINDOW}
    return {"start_new_session": True}


def end_with_children(process: subprocess.Popen[bytes]) -> None:
    """End what still runs of a program that was started `apart`, its children with it."""
    if process.poll() is not None:
        return
    if sys.platform == "win32":
        with suppress(OSError, subprocess.TimeoutExpired):
            command = ["taskkill", "/T", "/F", "/PID", str(process.pid)]
            subprocess.run(command, capture_output=True, check=False, timeout=_TASKKILL_TIMEOUT_S)
        process.kill()
    else:
        os.killpg(process.pid, signal.SIGKILL)
