"""wirecue schema."""

from __future__ import annotations

from importlib import resources

import click

from wirecue.output_files import Destination, Form, OutputOption, WritingCommand
from wirecue.terminal import json_text


@click.command(name="schema", cls=WritingCommand, short_help="Print the JSON Schema of the design file, for editors.")
@click.option(
    "--output",
    "-o",
    type=OutputOption("schema", Form.JSON),
    default="-",
    show_default=True,
    help="File to write; - prints it.",
)
@click.option("--findings", is_flag=True, help="Print that of the findings in place of that of the design file.")
def command(output: Destination, findings: bool) -> None:
    """Print the JSON Schema of the design file, or of what `check --json` prints.

    Editors with TOML support complete keys and show what each means once they know the schema:

    \b
      wirecue schema -o wirecue.schema.json
      and as first line of the design file:  #:schema ./wirecue.schema.json

    --findings describes the JSON of `check` and of a build that is refused; the findings in the JSON of `supply` have
    the same form. Its `format` changes when a script has to.
    """
    if findings:
        schema_file = resources.files("timing.checks") / "finding_schema.json"
        output.give(schema_file.read_text(encoding="utf-8"))
        return
    from timing.design.design import Design

    schema = {"$schema": "https://json-schema.org/draft/2020-12/schema", **Design.model_json_schema()}
    output.give(json_text(schema))
