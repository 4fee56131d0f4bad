"""Files of the user's, written at the command line and by the page: whole or not at all.

A link is followed and stays, mode, owner and further names of a file stay, a device or a pipe is written into. A
command writes over an earlier output of the same kind, nothing else: each file that is written carries a line that says
what made it and stands for its content, so that a file of the user's, or an output that was edited since, is known. CSV
has no place for such a line: there the same columns count. Of a design file that a command changes it is shown first
what becomes of it.
"""

from __future__ import annotations

import hashlib
import os
import re
import secrets
import stat
from collections.abc import Iterator, Mapping
from contextlib import suppress
from dataclasses import dataclass
from enum import Enum
from pathlib import Path
from typing import Any

import click

from codegen import disk
from timing.design.text_file import shown
from timing.errors import WirecueError
from timing.system.file_names import refused_name

_INTO = os.O_WRONLY | getattr(os, "O_BINARY", 0)


class OutputError(WirecueError):
    """A file cannot be written, or must not be. Says where, why, and what may be done."""

    def __init__(self, path: Path, why: str, allowed: str = "a place where a file can be written") -> None:
        super().__init__(path, why, allowed)
        self.path = path
        self.why = why
        self.allowed = allowed

    def __str__(self) -> str:
        return f"{shown(self.path)}\n  found    {self.why}\n  allowed  {self.allowed}"


def write_file(path: Path, content: str | bytes) -> None:
    """Write `content` to `path`, over what is there. Raises OutputError; then what was there still is."""
    data = content.encode() if isinstance(content, str) else content
    if (why := refused_name(path.name)) is not None:
        raise OutputError(path, why, "another name")
    try:
        facts = path.stat() if path.exists() else None
        # What a link leads to is written; a link to a pipe has no path of its own to resolve.
        target = Path(os.path.realpath(path))
        if facts is None:
            _make(target, data)
        elif stat.S_ISDIR(facts.st_mode):
            raise OutputError(path, "a folder")
        elif not stat.S_ISREG(facts.st_mode):
            with os.fdopen(os.open(path, _INTO), "wb") as file:
                file.write(data)
        elif not os.access(target, os.W_OK):
            raise OutputError(path, "a file that may only be read", "a file that may be written, or another place")
        elif facts.st_nlink > 1 or not _replaced(target, data, facts):
            _write_into(target, data)
    except OSError as error:
        raise OutputError(path, (error.strerror or str(error)).lower()) from None


def _make(target: Path, data: bytes) -> None:
    part = _part(target)
    disk.make_file(part, data)
    try:
        disk.move(part, target)
    finally:
        disk.drop(part)


def _replaced(target: Path, data: bytes, facts: os.stat_result) -> bool:
    """Put a new file in the place of one, in one step; False where it could not have the same owner."""
    part = _part(target)
    disk.make_file(part, data, stat.S_IMODE(facts.st_mode))
    try:
        made = part.stat()
        if (made.st_uid, made.st_gid) != (facts.st_uid, facts.st_gid):
            if not disk.give_owner(part, facts):
                return False
            part.chmod(stat.S_IMODE(facts.st_mode))
        disk.replace(part, target)
    finally:
        disk.drop(part)
    return True


def _write_into(target: Path, data: bytes) -> None:
    """Write into a file that has other names or another owner. Until that is done a copy of it lies beside it."""
    before = target.read_bytes()
    names = (target.with_name(f"{target.name}.before{number or ''}") for number in (0, *range(2, 10_000)))
    copy = next(name for name in names if not disk.is_there(name))
    disk.make_file(copy, before, stat.S_IMODE(target.stat().st_mode))
    try:
        _overwrite(target, data)
    except OSError as error:
        with suppress(OSError):
            _overwrite(target, before)
            disk.drop(copy)
        if disk.is_there(copy):
            raise OutputError(target, f"{error.strerror}; as it was it is kept as {shown(copy.name)}") from None
        raise
    disk.drop(copy)


def _overwrite(target: Path, data: bytes) -> None:
    with os.fdopen(os.open(target, _INTO), "wb") as file:
        file.write(data)
        file.truncate()
        file.flush()
        os.fsync(file.fileno())


def _part(target: Path) -> Path:
    return target.with_name(f".wirecue-{secrets.token_hex(8)}.part")


PRINTED = "-"
_LARGEST = 64_000_000
_FORCE = "wirecue.force"


class Form(Enum):
    """A form of file, with its line: beginning, end, and before which line of the file it stands."""

    XML = ("<!-- ", " -->", -1)
    """SVG, HTML and JUnit."""
    PDF = ("% ", "", -1)
    VCD = ("$comment ", " $end", 0)
    JSON = ('  "made_by": "', '",', 1)
    CSV = ("", "", 0)
    SPICE = ("* ", "", 1)
    """Its first line is the title, whatever it says."""


@dataclass(frozen=True)
class Destination:
    """A file to write, or '-' for standard output, as an option of a command names it."""

    path: str
    what: str
    """What is made, in a word for people."""
    form: Form
    command: str

    @property
    def printed(self) -> bool:
        """True where it goes to standard output."""
        return self.path == PRINTED

    def require_free(self, inputs: Mapping[str, Path], *, force: bool) -> None:
        """Refuse a place where something would be lost. Raises OutputError.

        inputs: what the command reads, by the name of its argument.
        """
        if self.printed:
            return
        if (why := refused_name(Path(self.path).name)) is not None:
            raise OutputError(Path(self.path), why, "another name")
        try:
            self._require_free(Path(self.path), inputs, force)
        except OSError as error:
            raise OutputError(Path(self.path), (error.strerror or str(error)).lower()) from None

    def _require_free(self, path: Path, inputs: Mapping[str, Path], force: bool) -> None:
        if path.is_dir():
            raise OutputError(path, "a folder")
        if not path.exists():
            if not Path(os.path.realpath(path)).parent.is_dir():
                raise OutputError(path, "no such file or directory: its folder is not there")
            return
        for name, read in inputs.items():
            if read.exists() and path.samefile(read):
                raise OutputError(path, f"what this command reads, its {name}", f"another file for the {self.what}")
        # A device or a pipe is written into: nothing is lost there.
        if path.is_file() and path.stat().st_size > 0 and not force and not self._is_earlier(path):
            raise OutputError(
                path,
                f"a file that is no earlier {self.what} of `wirecue {self.command}`, or was edited since",
                "another file; --force writes over this one",
            )

    def give(self, content: str | bytes) -> None:
        """Print the content, or write the file and say so on standard error. Raises OutputError."""
        self.write(content)
        if not self.printed:
            click.echo(f"{self.what}: {shown(self.path)}", err=True)

    def write(self, content: str | bytes) -> None:
        """Print the content, or write the file. Raises OutputError."""
        data = self._marked(content.encode() if isinstance(content, str) else content)
        if self.printed:
            click.echo(data, nl=not data.endswith(b"\n"))
        else:
            write_file(Path(self.path), data)

    def _marked(self, data: bytes) -> bytes:
        form = _form_of(data, self.form)
        if form is Form.CSV or (form is Form.JSON and not data.startswith(b"{\n")):
            return data
        before, after, at = form.value
        if at < 0 and not data.endswith(b"\n"):
            data += b"\n"
        line = f"{before}{self._made_by} {_hash(data)}{after}\n".encode()
        lines = data.splitlines(keepends=True)
        place = at if at >= 0 else len(lines)
        return b"".join([*lines[:place], line, *lines[place:]])

    def _is_earlier(self, path: Path) -> bool:
        """Tell whether a file is what this option of this command wrote before, unchanged."""
        data = disk.read(Path(os.path.realpath(path)), _LARGEST)
        if data is None:
            return False
        if self.form is Form.CSV:
            return data.splitlines()[0].decode(errors="replace") in CSV_HEADS.get(self.command, ())
        before, after, at = _form_of(data, self.form).value
        lines = data.splitlines(keepends=True)
        place = at if at >= 0 else len(lines) - 1
        if not 0 <= place < len(lines):
            return False
        pattern = f"{re.escape(before)}{re.escape(self._made_by)} ([0-9a-f]{{16}}){re.escape(after)}\n"
        match = re.fullmatch(pattern.encode(), lines.pop(place))
        return match is not None and match[1].decode() == _hash(b"".join(lines))

    @property
    def _made_by(self) -> str:
        return f"wirecue {self.command}, {self.what},"


CSV_HEADS: Mapping[str, tuple[str, ...]] = {
    "simulate": ("time_us,trace,value",),
    "parts": ("quantity,refs,description,value,reason", "net,family,current_a,ref,terminal,kind,value,place"),
}
"""The first line of the CSV that each command writes."""


def printed(*destinations: Destination | None) -> int:
    """Return how many of some destinations are standard output."""
    return sum(one is not None and one.printed for one in destinations)


class OutputOption(click.ParamType):  # type: ignore[type-arg]
    """The type of an option that names a file to write."""

    name = "file"

    def __init__(self, what: str, form: Form) -> None:
        self.what = what
        self.form = form

    def convert(self, value: Any, param: click.Parameter | None, ctx: click.Context | None) -> Destination:
        """Return the destination."""
        if isinstance(value, Destination):
            return value
        command = ctx.command.name if ctx is not None else None
        return Destination(str(value), self.what, self.form, command or "")


class WritingCommand(click.Command):
    """A command that writes files: before anything is computed, each is looked at for what would be lost there."""

    def __init__(self, *arguments: Any, **named: Any) -> None:
        super().__init__(*arguments, **named)
        if not any("--force" in param.opts for param in self.params):
            self.params.append(
                click.Option(
                    ["--force"],
                    is_flag=True,
                    expose_value=False,
                    callback=lambda ctx, _, value: ctx.meta.update({_FORCE: value}),
                    help="Write over a file that is there, whatever it is.",
                )
            )

    def invoke(self, ctx: click.Context) -> Any:
        """Run the command, unless it would write over what it must not. Raises OutputError."""
        force = bool(ctx.params.get("force", ctx.meta.get(_FORCE, False)))
        types = {param.name: param.type for param in self.params}
        inputs = {
            name.replace("_", " "): Path(value)
            for name, value in ctx.params.items()
            if isinstance(types.get(name), click.Path) and value is not None
        }
        destinations = [value for value in ctx.params.values() if isinstance(value, Destination)]
        for destination in destinations:
            destination.require_free(inputs, force=force)
        files = [os.path.realpath(one.path) for one in destinations if _is_kept(one)]
        if len(files) > len(set(files)):
            raise click.UsageError("two outputs into one file; give each its own")
        return super().invoke(ctx)


def _is_kept(destination: Destination) -> bool:
    """Tell whether a destination is a file that keeps what is written, unlike a terminal or a pipe."""
    path = Path(destination.path)
    return not destination.printed and (path.is_file() or not path.exists())


def _form_of(data: bytes, form: Form) -> Form:
    """Return the form of a paper, which may be PDF where HTML is the rule."""
    return Form.PDF if form is Form.XML and data.startswith(b"%PDF") else form


def _hash(data: bytes) -> str:
    return hashlib.sha256(data).hexdigest()[:16]


junit_option = click.option(
    "--junit",
    "junit_path",
    type=OutputOption("JUnit report", Form.XML),
    metavar="FILE",
    help="Write the verdicts as JUnit XML; - prints it.",
)
"""The option of every command that comes to verdicts."""


def write_changed(path: Path, before: str, after: str, by: str) -> None:
    """Show on standard error which lines change, and write them. Raises DesignFileError where `after` is no design.

    by: the command, for the logbook.
    """
    # Here, since most commands that write a file read no design.
    from wirecue.projects import parse_project

    if after == before:
        return
    parse_project(after, str(path))
    click.echo("\n".join(_changed_lines(before, after)), err=True)
    write_unless_changed(path, before, after, by)
    click.echo(f"written: {shown(path)}", err=True)


def write_unless_changed(path: Path, before: str, after: str, by: str) -> None:
    """Write a design file that was read as `before`. Raises OutputError where somebody has changed it since.

    by: the command; what it changed goes into the logbook, where the design has one.
    """
    from timing.design.loading import read_design_text
    from wirecue.logbooks import enter_changes

    if read_design_text(path) != before:
        raise OutputError(path, "changed by somebody else since it was read", "the same command again")
    write_file(path, after)
    enter_changes(path, before, after, by)


def _changed_lines(before: str, after: str) -> Iterator[str]:
    colours = {"+": "green", "-": "red"}
    # Late: few commands change a file.
    import difflib

    lines = difflib.unified_diff(before.splitlines(), after.splitlines(), n=1, lineterm="")
    for line in lines:
        if not line.startswith(("---", "+++", "@@")):
            yield click.style(line, fg=colours.get(line[:1]))
