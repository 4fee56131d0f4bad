"""wirecue schema."""

from __future__ import annotations

import click

from wirecue.output import give, to_json


@click.command(name="schema", short_help="Print the JSON Schema of the design file, for editors.")
@click.option("--output", "-o", default="-", show_default=True, help="File to write; - prints it.")
def command(output: str) -> None:
    """Print the JSON Schema of the design file.

    Editors with TOML support complete keys and show what each means once they know the schema:

    \b
      wirecue schema -o wirecue.schema.json
      and as first line of the design file:  #:schema ./wirecue.schema.json
    """
    from timing.design.design import Design

    schema = {"$schema": "https://json-schema.org/draft/2020-12/schema", **Design.model_json_schema()}
    give(output, to_json(schema), "schema")
