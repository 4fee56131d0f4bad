"""Run every benchmark, show the figures, keep them as JSON in out/speed.json; at the end, what must be shown."""

from __future__ import annotations

import importlib
import json
import pkgutil
from pathlib import Path

import benchmarks
from benchmarks import must_show


def main() -> None:
    """Run each module of this package that has a `run`."""
    figures = {}
    for module in sorted(item.name for item in pkgutil.iter_modules(benchmarks.__path__)):
        run = getattr(importlib.import_module(f"benchmarks.{module}"), "run", None) if module != "__main__" else None
        if run is not None:
            print(f"{module} ...", flush=True)
            figures[module] = run()
            print(json.dumps(figures[module], indent=2), flush=True)
    path = Path("out") / "speed.json"
    path.parent.mkdir(exist_ok=True)
    path.write_text(json.dumps(figures, indent=2) + "\n")
    print(f"kept in {path}\n")
    print(*must_show.table(figures), sep="\n")


if __name__ == "__main__":
    main()
