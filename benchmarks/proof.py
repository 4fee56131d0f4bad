"""The proof: seconds against the number of combinations it walks, one design after the other; with the compiled core
compared on all of them, as a build does."""

from __future__ import annotations

import json
import time
from typing import Any

from benchmarks.examples import ROOT
from codegen.compiled_core import compare_core
from codegen.sketch import sketch_files
from timing.proof.prove import prove
from wirecue.projects import parse_project

WANTED_S = 5.0
"""For each design, with the compiled core compared."""
EXAMPLES = ("shop_two_step", "spot_stitch", "gasless_four_step")
EVERYTHING = (
    ('mode = "two-step"', 'mode = "switch"'),
    ("purge = true", "purge = true\ninch = true\n[interlock]\nfitted = true"),
)
NOTHING = (("purge = true\ninch = true", ""), ('weld = "5 min"', ""))


def run() -> dict[str, Any]:
    """Return seconds and combinations of each design, smallest first."""
    texts = {name: (ROOT / "examples" / f"{name}.toml").read_text() for name in EXAMPLES}
    texts["shop_two_step without buttons and limit"] = _changed(texts["shop_two_step"], NOTHING)
    texts["spot_stitch with everything"] = _changed(texts["spot_stitch"], EVERYTHING)
    rows = sorted((_row(name, text) for name, text in texts.items()), key=lambda row: int(row["combinations"]))
    return {
        "designs": rows,
        "wanted_s_each": WANTED_S,
        "missed": [row["design"] for row in rows if row["s"] + row["compared_s"] > WANTED_S],
    }


def _changed(text: str, changes: tuple[tuple[str, str], ...]) -> str:
    for old, new in changes:
        assert old in text, old
        text = text.replace(old, new)
    return text


def _row(name: str, text: str) -> dict[str, Any]:
    project = parse_project(text, name)
    sketch = sketch_files(project, "0")
    began = time.perf_counter()
    proof = prove(project.design)
    took_s = time.perf_counter() - began
    compared = compare_core(project.design, sketch, proof.walked)
    compared_s = time.perf_counter() - began - took_s
    return {
        "design": name,
        "situations": proof.situations,
        "combinations": proof.combinations,
        "s": round(took_s, 3),
        "compared_s": round(compared_s, 3),
        "compiler": compared.compiler,
        "us_a_combination": round(took_s / proof.combinations * 1e6, 3),
        "holds": proof.holds,
    }


if __name__ == "__main__":
    print(json.dumps(run(), indent=2))
