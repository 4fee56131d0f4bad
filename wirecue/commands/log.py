"""wirecue log."""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass
from pathlib import Path
from typing import TYPE_CHECKING

import click

from timing.design.text_file import shown
from timing.logbook.entry import LONGEST_NOTE, EntryKind, Logbook
from wirecue.terminal import json_text, paragraph, say

if TYPE_CHECKING:
    from timing.logbook.entry import Entry, EntryValue

LOG_FORMAT = 1
_WHEN, _HEAD = 18, 15
"""Columns that time and kind of an entry take."""


def _told(ctx: click.Context, param: click.Parameter, value: str | None) -> str | None:
    """Return a text that an entry is to keep. Raises click.BadParameter."""
    if value is not None and not 0 < len(value.strip()) <= LONGEST_NOTE:
        raise click.BadParameter(f"{len(value)} characters; 1 to {LONGEST_NOTE} say something", ctx, param)
    return None if value is None else value.strip()


@click.command(name="log", short_help="Show what was done to the machine, or add to it.")
@click.argument("design", type=click.Path(path_type=Path))
@click.option("--note", callback=_told, metavar="TEXT", help='Add a note: --note "new liner, 3 m gun".')
@click.option(
    "--setting", callback=_told, metavar="TEXT", help='Add what was set: --setting "burnback dial to mark 6".'
)
@click.option("--plates", metavar="NAMES", help='Add that plates were made: "burnback,purge", or "all" of the panel.')
@click.option("--flash", is_flag=True, help="Add that the board was flashed, with the latest build.")
@click.option("--port", "-p", help="With --flash: ask the board on this serial port what it carries.")
@click.option(
    "--kind",
    "kinds",
    multiple=True,
    type=click.Choice([kind.value for kind in EntryKind]),
    help="Show these entries only; may be given several times.",
)
@click.option("--json", "as_json", is_flag=True, help="Print the entries as JSON.")
def command(
    design: Path,
    note: str | None,
    setting: str | None,
    plates: str | None,
    flash: bool,
    port: str | None,
    kinds: tuple[str, ...],
    as_json: bool,
) -> None:
    """Show what was done to the machine, or add to it.

    The logbook lies beside the design, NAME.log for NAME.toml: plain text, an entry a line. What stands in it is never
    changed; a slip is put right by a further note. It is begun by the first entry that you make here, by
    commissioning or by test welds; from then on build, flash, bench and every --write add theirs by themselves.

    \b
      wirecue log my_feeder.toml                                    all of it, newest last
      wirecue log my_feeder.toml --kind weld --kind setting         test welds and settings
      wirecue log my_feeder.toml --note "new liner, 3 m gun"
      wirecue log my_feeder.toml --setting "burnback dial to mark 6"
      wirecue log my_feeder.toml --plates all
      wirecue log my_feeder.toml --flash --port /dev/ttyACM0        what the board says it carries
    """
    from timing.design.loading import read_design_text
    from wirecue.logbooks import append_entry, logbook_path, read_logbook

    if port is not None and not flash:
        raise click.UsageError("--port goes with --flash; `wirecue status` asks a board how it is")
    path = logbook_path(design)
    if not path.exists():
        # A name mistyped must not begin a logbook of nothing.
        read_design_text(design)
    book = read_logbook(path)
    wanted = list(_wanted(design, book, note, setting, plates, _Flash(port) if flash else None))
    if wanted and kinds:
        raise click.UsageError("--kind shows entries; nothing can be added with it")
    if wanted:
        entries = tuple(append_entry(path, kind, values) for kind, values in wanted)
    else:
        entries = book.of(*map(EntryKind, kinds)) if kinds else book.entries
    if as_json:
        click.echo(json_text(_record(path, entries, book)), nl=False)
    else:
        whole = Logbook((*book.entries, *entries)) if wanted else book
        say(_text(whole, entries) or _nothing(path, book, kinds))
    if wanted:
        say(f"entered in {shown(path)}", err=True)
        if plates is not None:
            _tell_unmade(design)
    else:
        _tell_unread(path, book)


@dataclass(frozen=True)
class _Flash:
    """A board that was flashed, with the port where it can be asked."""

    port: str | None


def _wanted(
    design: Path, book: Logbook, note: str | None, setting: str | None, plates: str | None, flash: _Flash | None
) -> list[tuple[EntryKind, Mapping[str, EntryValue]]]:
    """Return what is to be entered. Raises what reading the design or asking the board does, before anything is."""
    found: list[tuple[EntryKind, Mapping[str, EntryValue]]] = []
    if flash is not None:
        found.append((EntryKind.FLASH, _carried(flash.port) if flash.port is not None else _latest(design, book)))
    if plates is not None:
        found.append((EntryKind.PLATES, _plates(design, plates)))
    if setting is not None:
        found.append((EntryKind.SETTING, {"text": setting}))
    if note is not None:
        found.append((EntryKind.NOTE, {"text": note}))
    return found


def _carried(port: str) -> Mapping[str, EntryValue]:
    """Return what the board on a port says it carries. Raises BenchError."""
    from bench.link import connected
    from bench.port import require_present

    require_present(port)
    with connected(port, follows_host=False, clears=False) as (_, identity):
        edited = {"edited": True} if identity.edited else {}
        return {"design": identity.design, "digest": identity.digest, "version": identity.version, **edited}


def _latest(design: Path, book: Logbook) -> Mapping[str, EntryValue]:
    """Return the latest build of the logbook, or the design as it stands where none is in it."""
    from timing.design.loading import load_design

    stands = load_design(design).digest()
    builds = book.of(EntryKind.BUILD)
    if not builds:
        say("no build is in the logbook: entered with the digest of the design as it stands", err=True)
        return {"digest": stands}
    values = builds[-1].values
    if values.get("digest") != stands:
        say(f"the design has changed since that build: as it stands its digest is {stands}", err=True)
    return {key: values[key] for key in ("digest", "version") if key in values}


def _tell_unmade(design: Path) -> None:
    """Say what keeps settings on plates that are glued on, where the design does not know of them yet."""
    from timing.design.loading import load_design

    if not load_design(design).panel.made:
        say(
            f"{shown(design)} does not say yet that its plates are made: once all are glued on, put `made = true` "
            "under [panel], and --write moves settings within their dials alone.",
            err=True,
        )


def _plates(design: Path, names: str) -> Mapping[str, EntryValue]:
    """Return what some plates of the panel show, by name. Raises click.BadParameter for one that is none."""
    from codegen.papers.control_plate import control_plates
    from timing.design.units import format_duration
    from wirecue.projects import load_project

    project = load_project(design)
    there = {
        name: f"{format_duration(dial.setting.low_us)} to {format_duration(dial.setting.high_us)}"
        for name, dial in project.dials.items()
    }
    for plate in control_plates(project):
        control = plate.control
        words = "/".join(position.label for position in control.positions)
        codes = " ".join(number for number, _, _ in plate.codes)
        there[control.key] = f"with codes {codes}" if codes else f"{control.kind.value} ({words})"
    wanted = list(there) if names.strip() == "all" else [name.strip() for name in names.split(",")]
    for name in wanted:
        if name not in there:
            known = ", ".join(["all", *there])
            raise click.BadParameter(f"{name!r} has no plate in this design; there are {known}", param_hint="--plates")
    return {name: there[name] for name in wanted}


def _text(book: Logbook, shown_entries: tuple[Entry, ...]) -> str:
    from timing.logbook.words import head_of, told_entries, when

    wanted = set(map(id, shown_entries))
    return "\n".join(
        paragraph(
            shown(words), first=f"{when(entry):<{_WHEN}}{head_of(entry):<{_HEAD}}", then=" " * (_WHEN + _HEAD)
        ).rstrip()
        for entry, words in told_entries(book)
        if id(entry) in wanted
    )


def _nothing(path: Path, book: Logbook, kinds: tuple[str, ...]) -> str:
    if kinds and book.entries:
        return f"no entry of that kind among the {len(book.entries)} in {shown(path)}"
    return f'nothing entered yet; {shown(path)} begins with the first entry, such as --note "new liner"'


def _record(path: Path, entries: tuple[Entry, ...], book: Logbook) -> dict[str, object]:
    return {
        "format": LOG_FORMAT,
        "logbook": str(path),
        "entries": [{"at": one.at, "kind": one.kind.value, "values": dict(one.values)} for one in entries],
        "unread": [{"line": one.number, "text": one.text, "why": one.why} for one in book.unread],
    }


def _tell_unread(path: Path, book: Logbook) -> None:
    for line in book.unread:
        text = line.text if len(line.text) <= 100 else f"{line.text[:100]}..."
        say(f"{shown(path)}, line {line.number}, is no entry and is kept as it is: {line.why}", err=True)
        say(f"  {shown(text)}", err=True)
