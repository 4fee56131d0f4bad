"""wirecue schema."""

from __future__ import annotations

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
def command(output: Destination) -> None:
    """Print the JSON Schema of the design file.

    Editors with TOML support complete keys and show what each means once they know the schema:

    \b
      wirecue schema -o wirecue.schema.json
      and as first line of the design file:  #:schema ./wirecue.schema.json
    """
    from timing.design.design import Design

    schema = {"$schema": "https://json-schema.org/draft/2020-12/schema", **Design.model_json_schema()}
    output.give(json_text(schema))
