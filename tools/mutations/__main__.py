"""Try every planted fault: `python -m tools.mutations`. Exit code 1 where one survives its tests."""

from __future__ import annotations

import tempfile
from collections.abc import Iterable
from concurrent.futures import ThreadPoolExecutor
from pathlib import Path
from queue import Queue

import click

from tools.mutations.mutation import Mutation, mutations
from tools.mutations.trial import Outcome, copy_of_sources, run_tests, try_mutation


def _sound(tree: Path, chosen: Iterable[Mutation]) -> str | None:
    """Return what pytest says where the tests fail without any fault, else None."""
    tests = tuple(dict.fromkeys(test for mutation in chosen for test in mutation.tests))
    code, said = run_tests(tree, tests)
    return said if code else None


@click.command()
@click.option("--area", "areas", multiple=True, help="Only this area; may be given again.")
@click.option("--matching", default="", help="Only faults whose name or file holds this.")
@click.option("--jobs", type=click.IntRange(1, 16), default=2, show_default=True, help="How many to try side by side.")
@click.option("--trust-tests", is_flag=True, help="Do not run the tests on the sound sources first.")
def main(areas: tuple[str, ...], matching: str, jobs: int, trust_tests: bool) -> None:
    """Plant faults one at a time in a copy of the sources and see whether the tests notice."""
    chosen = [
        mutation
        for mutation in mutations()
        if (not areas or mutation.area in areas) and (matching in mutation.what or matching in mutation.file)
    ]
    if not chosen:
        raise click.UsageError("no planted fault is left by these options")
    survivors: list[Mutation] = []
    with tempfile.TemporaryDirectory(prefix="mutations-") as scratch:
        trees: Queue[Path] = Queue()
        for number in range(jobs):
            trees.put(copy_of_sources(Path(scratch) / f"tree{number}"))
        if not trust_tests:
            tree = trees.get()
            said = _sound(tree, chosen)
            trees.put(tree)
            if said is not None:
                raise click.ClickException(f"the tests fail without any fault:\n{said}")

        def tried(mutation: Mutation) -> tuple[Mutation, Outcome, str]:
            tree = trees.get()
            try:
                return mutation, *try_mutation(tree, mutation)
            finally:
                trees.put(tree)

        with ThreadPoolExecutor(jobs) as pool:
            for number, (mutation, outcome, said) in enumerate(pool.map(tried, chosen), 1):
                click.echo(f"{number:3}/{len(chosen)} {outcome.value:9} {mutation.area}: {mutation.what}")
                if outcome is not Outcome.CAUGHT:
                    click.echo(said)
                    survivors.append(mutation)
    click.echo(f"{len(chosen)} faults planted; survivors: {len(survivors) or 'none'}")
    for mutation in survivors:
        click.echo(f"  {mutation.file}: {mutation.what}")
    raise SystemExit(1 if survivors else 0)


if __name__ == "__main__":
    main()
