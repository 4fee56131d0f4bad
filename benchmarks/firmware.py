"""The firmware as AVR code beside two plain sketches: memory, passes, latency, edges, under full serial traffic.

All three do the same welds on an ATmega328P in the simulator, with the same clean contacts, dials and traffic: lines
without a break at the port's full pace. Times are those of the simulated clock, so they do not hang on this machine.
"""

from __future__ import annotations

import json
import random
import shutil
import statistics
from collections.abc import Callable, Mapping, Sequence
from dataclasses import dataclass
from pathlib import Path
from typing import Any

from bench.avr.simulator import Cue, Simulator, Wiring, build_runner
from benchmarks.examples import ROOT, example_design
from codegen.sketch import sketch_files
from codegen.toolchain import compile_sketch, find_tools, measure
from timing.project import Project
from timing.protocol.target_of_design import target_of
from timing.sequence.core.engine import Edge
from timing.sequence.core.table import Output
from wirecue.projects import load_board

DESIGN = "shop_two_step"
SKETCHES = Path(__file__).parent / "sketches"
CACHE = ROOT / "out" / "compiled"
WELDS = 12
BOOT_US = 700_000
WELD_US = 1_000_000
"""From one press to the next."""
HELD_US = 350_000
FILTER_US = 25_000
WANTED_US = {"preflow": 100_000, "burnback": 60_000, "postflow": 300_000}
PLAIN_MS = {"preflow": (0, 1_500), "burnback": (20, 300), "postflow": (200, 4_000)}
"""What the plain sketches' dials cover."""
LINES = b"*IDN?;:SEQUENCE:CLOCK?;:TRACE:DATA?\nBENCH:CONTACTS?;:SYSTEM:ERROR?;:INPUT:ANALOG? 0\nFOO;*ESE 300,1\n"
LINES_US = len(LINES) * 10 * 1_000_000 // 115_200 + 1

FLASH_WANTED, RAM_WANTED = 10_240, 512
PASS_WANTED_US, EDGE_WANTED_US, LATENCY_WANTED_US = 80.0, 100.0, 150.0


@dataclass(frozen=True)
class Weld:
    """One weld as the pins showed it. Microseconds."""

    latency_us: int
    """Trigger to gas, less the filter."""
    errors_us: Mapping[str, int]
    """Each phase's time, less what its dial says."""


def run() -> dict[str, Any]:
    """Return the figures of the three sketches, and whether ours keeps its targets; a reason where none can be had."""
    if find_tools() is None or shutil.which("gcc") is None or not Path("/usr/include/simavr/sim_avr.h").exists():
        return {"skipped": "needs gcc, gcc-avr, avr-libc, arduino-core-avr and libsimavr-dev"}
    design = example_design(DESIGN)
    board = load_board(design.board.type)
    scales = target_of(Project(design, board)).scales
    ours = _figures(
        sketch_files(Project(design, board), "0.1.0"), lambda name, counts: scales[name].time_us(counts), Wiring.passes
    )
    figures: dict[str, Any] = {"wirecue": ours}
    for name in ("plain_delay", "plain_millis"):
        figures[name] = _figures({f"{name}.ino": (SKETCHES / name / f"{name}.ino").read_text()}, _plain_us)
    figures["wanted"] = {
        "flash_bytes": FLASH_WANTED,
        "ram_bytes": RAM_WANTED,
        "longest_pass_us": PASS_WANTED_US,
        "worst_edge_error_us": EDGE_WANTED_US,
        "worst_latency_us": LATENCY_WANTED_US,
    }
    figures["missed"] = [name for name, most in figures["wanted"].items() if ours[name] > most]
    return figures


def _plain_us(name: str, counts: int) -> int:
    from_ms, to_ms = PLAIN_MS[name]
    return (from_ms + counts * (to_ms - from_ms) // 1023) * 1_000


def _kicks(wiring: Wiring, at_us: int) -> Cue:
    """Time passes from one kick of the watchdog to the next, as the plain sketches give one a pass."""
    return Cue(wiring.cycle(at_us), "passes")


def _figures(
    files: Mapping[str, str],
    dial_us: Callable[[str, int], int],
    passes: Callable[[Wiring, int], Cue] = _kicks,
) -> dict[str, Any]:
    design = example_design(DESIGN)
    board = load_board(design.board.type)
    program = compile_sketch(files, board, CACHE)
    memory = measure(program)
    wiring, target = Wiring(design, board), target_of(Project(design, board))
    counts = {name: scale.counts_for(WANTED_US[name]) for name, scale in target.scales.items()}
    assert target.supply is not None
    presses_us = _presses_us()
    events = Simulator(build_runner(CACHE), program, board).run(
        _cues(wiring, counts | {"supply": target.supply.good}, presses_us, passes(wiring, BOOT_US))
    )
    welds = _welds(wiring.edges(events, 0), presses_us, {name: dial_us(name, counts[name]) for name in counts})
    count, longest, total = next(event.passes for event in events if event.kind == "passes")
    stack = next(event.stack_bytes for event in events if event.kind == "stack")
    errors_us = [error_us for weld in welds for error_us in weld.errors_us.values()]
    latencies_us = [weld.latency_us for weld in welds]
    per_us = wiring.cycles_per_us
    return {
        "flash_bytes": memory.flash_bytes,
        "ram_bytes": memory.ram_bytes,
        "stack_bytes": stack,
        "longest_pass_us": round(longest / per_us, 1),
        "mean_pass_us": round(total / count / per_us, 1),
        "welds": len(welds),
        "worst_latency_us": max(latencies_us),
        "mean_latency_us": round(statistics.mean(latencies_us)),
        "worst_edge_error_us": max(abs(error_us) for error_us in errors_us),
        "edge_jitter_us": max(_spread(welds, name) for name in WANTED_US),
    }


def _spread(welds: Sequence[Weld], name: str) -> int:
    errors_us = [weld.errors_us[name] for weld in welds]
    return max(errors_us) - min(errors_us)


def _presses_us() -> list[int]:
    """Instants anywhere within a pass and a millisecond, the same in each run."""
    rng = random.Random(1)
    return [BOOT_US + 20_000 + weld * WELD_US + rng.randrange(2_000) for weld in range(WELDS)]


def _cues(wiring: Wiring, counts: Mapping[str, int], presses_us: Sequence[int], passes: Cue) -> list[Cue]:
    end_us = presses_us[-1] + WELD_US
    cues = [*wiring.quiet(counts), passes]
    for at_us in presses_us:
        cues += [wiring.contact("trigger", True, at_us), wiring.contact("trigger", False, at_us + HELD_US)]
    cues += [wiring.serial(LINES, at_us) for at_us in range(BOOT_US, end_us - LINES_US, LINES_US)]
    return [*sorted(cues, key=lambda cue: cue.cycle), Cue(wiring.cycle(end_us), "end")]


def _welds(edges: Sequence[Edge], presses_us: Sequence[int], wanted_us: Mapping[str, int]) -> list[Weld]:
    """Return every weld of which all six edges are there; a sketch may lose one."""
    welds = []
    for press_us in presses_us:
        own = [edge for edge in edges if press_us <= edge.at_us < press_us + WELD_US]
        at_us = {(edge.output, edge.on): edge.at_us for edge in own}
        if len(own) != 6 or len(at_us) != 6:
            continue
        took_us = {
            "preflow": at_us[Output.WIRE, True] - at_us[Output.GAS, True],
            "burnback": at_us[Output.CONTACTOR, False] - at_us[Output.WIRE, False],
            "postflow": at_us[Output.GAS, False] - at_us[Output.CONTACTOR, False],
        }
        errors_us = {name: took_us[name] - wanted_us[name] for name in took_us}
        welds.append(Weld(at_us[Output.GAS, True] - press_us - FILTER_US, errors_us))
    return welds


if __name__ == "__main__":
    print(json.dumps(run(), indent=2))
