"""Runs `wirecue` and an emitted harness many times over, each run in a process of its own, everything imported once.

Started as a program with the harness's folder; orders come as lines of JSON, and each is answered by one. A process
with threads may not be forked, and the tests have threads: that is why it is a program.
"""

from __future__ import annotations

import contextlib
import importlib
import json
import os
import resource
import signal
import sys
import traceback
from collections.abc import Callable
from pathlib import Path
from types import ModuleType

import pytest

ANSWER_S = 0.3
ASK_AGAIN_S = 0.1
READ_S = 0.05
LONGEST_RUN_S = 25
"""A run that takes longer is ended by a signal, which the test sees."""


def main() -> None:
    folder = Path(sys.argv[1])
    import hypothesis  # noqa: F401  The harness wants it; imported once, before anything is forked.

    sys.path.insert(0, str(folder / "kit"))
    _hurry()
    # The harness's modules have the names of ours; a run of the harness takes them up again.
    carried = _set_aside()
    sys.path.remove(str(folder / "kit"))
    _hurry()

    with Path(os.devnull).open("w") as nowhere, contextlib.redirect_stdout(nowhere):
        _command(["bench", sys.argv[2], "--list-cases"])
    _say({"rss_kb": resource.getrusage(resource.RUSAGE_SELF).ru_maxrss})
    for line in sys.stdin:
        order = json.loads(line)
        child = os.fork()
        if child == 0:
            if order["program"] == "harness":
                _set_aside()
                sys.modules.update(carried)
            _run(order, folder)
        _, status, used = os.wait4(child, 0)
        _say({"code": os.waitstatus_to_exitcode(status), "rss_kb": used.ru_maxrss})


def _hurry() -> None:
    link, port = importlib.import_module("bench.link"), importlib.import_module("bench.port")
    link.ANSWER_TIMEOUT_S, link.ASK_AGAIN_S, port.READ_TIMEOUT_S = ANSWER_S, ASK_AGAIN_S, READ_S


def _set_aside() -> dict[str, ModuleType]:
    """Take the project's modules out of the imported ones; return them."""
    names = [name for name in sys.modules if name.partition(".")[0] in ("timing", "codegen", "bench", "wirecue")]
    return {name: sys.modules.pop(name) for name in names}


def _say(answer: dict[str, int]) -> None:
    print(json.dumps(answer), flush=True)


def _run(order: dict[str, object], folder: Path) -> None:
    """Do one order and end the process with its exit code."""
    signal.alarm(LONGEST_RUN_S)
    arguments = [str(argument) for argument in order["arguments"]]  # type: ignore[attr-defined]
    program: Callable[[], int] = (
        (lambda: _command(arguments)) if order["program"] == "wirecue" else (lambda: _harness(folder, arguments))
    )
    out = os.open(str(order["out"]), os.O_WRONLY | os.O_CREAT | os.O_TRUNC)
    os.dup2(os.open(os.devnull, os.O_RDONLY), 0)
    os.dup2(out, 1)
    os.dup2(out, 2)
    code = 70
    try:
        code = program()
    except BaseException:
        traceback.print_exc()
    sys.stdout.flush()
    sys.stderr.flush()
    os._exit(code)


def _command(arguments: list[str]) -> int:
    from wirecue.cli import main as wirecue

    try:
        wirecue(arguments)
    except SystemExit as end:
        return int(end.code or 0)
    return 0


def _harness(folder: Path, arguments: list[str]) -> int:
    os.chdir(folder)
    return int(pytest.main(["-p", "no:cacheprovider", *arguments]))


if __name__ == "__main__":
    main()
