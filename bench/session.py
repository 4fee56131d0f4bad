"""A whole bench run, from the port to the report."""

from __future__ import annotations

from collections.abc import Callable, Sequence
from dataclasses import dataclass

from bench.cases import Case
from bench.identity import Identity
from bench.link import PATIENCE_S, connected, require_bench_link, require_design
from bench.press import watch_press
from bench.results import CaseResult, Report
from bench.run import Bench
from timing.protocol.target import Target


@dataclass(frozen=True)
class Watching:
    """Who is told of what while a bench runs."""

    found: Callable[[Identity], None] = lambda _: None
    begins: Callable[[Case], None] = lambda _: None
    done: Callable[[CaseResult], None] = lambda _: None
    ask: Callable[[str], None] | None = None
    """Shows a request to the person at the bench; None: nobody is there, and the real trigger is left out."""


def run_session(
    port: str,
    target: Target,
    cases: Sequence[Case],
    watching: Watching | None = None,
    *,
    real: bool = True,
    patience_s: float = PATIENCE_S,
) -> Report:
    """Test the board behind `port` and return the report. Raises BenchError when there is no board to test.

    real: the board's clock is compared with the host's, all the time. A virtual one need not follow it.
    """
    watching = watching or Watching()
    with connected(port, patience_s, follows_host=real) as (link, identity):
        require_design(identity, port, target.design, target.digest)
        require_bench_link(link)
        watching.found(identity)
        bench = Bench(link, target, begins=watching.begins, done=watching.done)
        with bench.held():
            before = bench.both_clocks()
            results = bench.run(cases)
            clocks = bench.compare_clocks(before) if real else None
        if clocks is not None:
            results.append(clocks)
            watching.done(clocks)
        if watching.ask is not None:
            results.append(watch_press(link, target, watching.ask))
            watching.done(results[-1])
    return Report(target.design, target.digest, target.board, identity.version, port, tuple(results))
