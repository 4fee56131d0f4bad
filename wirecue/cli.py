"""The command line. Each command lives in a module of its own that is imported only when it is asked for."""

from __future__ import annotations

import atexit
import gc
import importlib
import os
import sys
import types
from typing import Any

import click

from timing.errors import WirecueError, meant
from wirecue import __version__

# Before anything loads numpy: its linear algebra starts a thread for every core, a third of its loading time,
# and nothing here multiplies matrices.
os.environ.setdefault("OPENBLAS_NUM_THREADS", "1")
# No look through every installed package for plugins of the library that reads design files; none has business here.
# Even to find none it loads what reads packages, mail headers and sockets with it: half as long as click takes.
os.environ.setdefault("PYDANTIC_DISABLE_PLUGINS", "__all__")
_no_plugins: Any = types.ModuleType("pydantic.plugin._loader")
_no_plugins.get_plugins = tuple
sys.modules.setdefault(_no_plugins.__name__, _no_plugins)
# Nor one on the way out for cycles, in what goes with the process anyway.
atexit.register(gc.freeze)

COMMAND_HELP = {
    "survey": "Ask what to measure at the feeder, and write the design from it.",
    "new": "Write a design file to start from.",
    "boards": "List the boards a sketch can be built for.",
    "schema": "Print the JSON Schema of the design file, for editors.",
    "advise": "Say where to start with every time, and why.",
    "burnback": "Show what each burnback setting leaves of the wire.",
    "supply": "Show whether the feeder's 24 VAC supply carries the add-on.",
    "parts": "Propose parts for the add-on's supply and circuits.",
    "check": "Check a design against the rules.",
    "simulate": "Show what happens, and when, at a pull of the trigger.",
    "prove": "Walk the phase table in every state; show what must always hold.",
    "layout": "Lay the circuit out on strip board.",
    "build": "Make sketch, bench harness and drawings from a design.",
    "flash": "Put a design onto its board, and have the board say so.",
    "sheet": "Write papers for the workshop: build sheet, commissioning sheet, plates.",
    "bench": "Test a board, real or virtual, over its serial link.",
    "recorder": "Make the recorder: a second board that watches, presses and measures.",
    "commission": "Walk through commissioning at the machine, step by step.",
    "measure": "Measure lags, wire speed and coast at the machine, with a recorder.",
    "status": "Ask a board what it carries, how it is and why it last started.",
    "trace": "Check a logic analyser's capture against a design.",
    "fit": "Find your machine's coast and its burnback setting from test welds.",
    "symptom": "From what you see at the machine to causes, checks and remedies.",
    "diff": "Say in words what changed: two designs, two builds, or a board and the file.",
    "log": "Show what was done to the machine, or add to it.",
    "page": "Turn the dials and look, in the browser.",
    "completion": "Print the completion script for your shell.",
}
"""Every command with its one line of help, in the order in which a design goes through them."""


class HelpText(click.HelpFormatter):
    """Help whose lists wrap as well; the library leaves them as they stand."""

    def write(self, string: str) -> None:
        """Write lines, long ones broken."""
        if any(len(line) > self.width for line in string.split("\n")):
            from wirecue.terminal import within_width

            string = within_width(string, self.width)
        super().write(string)


class HelpContext(click.Context):
    """Where a command runs."""

    formatter_class = HelpText


class LazyGroup(click.Group):
    """A group whose commands are imported when they are used, not when they are listed."""

    context_class = HelpContext

    def list_commands(self, ctx: click.Context) -> list[str]:
        """Return the names, in the order of use."""
        return list(COMMAND_HELP)

    def get_command(self, ctx: click.Context, cmd_name: str) -> click.Command | None:
        """Import and return one command."""
        if cmd_name not in COMMAND_HELP:
            return None
        command: click.Command = importlib.import_module(f"wirecue.commands.{cmd_name}").command
        command.context_class = HelpContext
        return command

    def resolve_command(
        self, ctx: click.Context, args: list[str]
    ) -> tuple[str | None, click.Command | None, list[str]]:
        """Find the command that is asked for; for a word that is none, suggest the nearest."""
        if args[0] not in COMMAND_HELP and not args[0].startswith("-"):
            near = meant(args[0], COMMAND_HELP)
            if near:
                ctx.fail(f"no command {args[0]!r}; {near}")
        return super().resolve_command(ctx, args)

    def format_commands(self, ctx: click.Context, formatter: click.HelpFormatter) -> None:
        """List the commands without importing them."""
        with formatter.section("Commands, in the order of the work"):
            formatter.write_dl(list(COMMAND_HELP.items()))

    def invoke(self, ctx: click.Context) -> Any:
        """Run a command; turn the errors that know their exit code into one screen of text."""
        if os.environ.get("NO_COLOR"):
            ctx.color = False
        try:
            return super().invoke(ctx)
        except WirecueError as error:
            # The words name place, finding and remedy themselves; nothing else prints errors.
            from wirecue.terminal import within_width

            click.echo(within_width(str(error)), err=True)
            raise click.exceptions.Exit(error.exit_code) from error
        except click.UsageError as error:
            from wirecue.terminal import within_width

            head = "Error: "
            words = head + error.format_message()
            if within_width(words) == words:
                raise
            raise click.UsageError(within_width(words).removeprefix(head), error.ctx) from error


@click.group(
    cls=LazyGroup,
    context_settings={"help_option_names": ["-h", "--help"], "max_content_width": 100},
    invoke_without_command=True,
)
@click.version_option(__version__, "-V", "--version", prog_name="wirecue")
@click.pass_context
def main(ctx: click.Context) -> None:
    """Gas preflow, spot time, burnback and postflow for an old wire feeder.

    You own a wire feeder whose timer options were never fitted. Describe it in one design file; wirecue shows the
    sequence, checks it, and makes the sketch for a small microcontroller board and the bench test for it.

    \b
    First steps:
      wirecue survey my_feeder         asks what to measure, explains how, writes my_feeder.toml
      wirecue new my_feeder            or start from an example; put your own figures in
      wirecue advise my_feeder.toml    says where to start with every time, and why
      wirecue check my_feeder.toml     says what is wrong, why, and what to do
      wirecue simulate my_feeder.toml  shows the times at gas, wire and arc
      wirecue build my_feeder.toml     makes the sketch and the bench test
      wirecue flash my_feeder.toml     puts the sketch onto the board
      wirecue bench my_feeder.toml --virtual

    Exit codes: 0 fine, 1 the design breaks a rule or a test fails, 2 a file or command is bad.

    This is a timer, not a safety function: it replaces no interlock, emergency stop or thermal cut-out. Pull the
    mains plug and measure that capacitors are empty before you open a machine. Leave mains work to a
    licensed electrician, and local codes come first.
    """
    if ctx.invoked_subcommand is None:
        click.echo(ctx.get_help())
