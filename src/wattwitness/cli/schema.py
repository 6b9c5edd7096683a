"""``wattwitness schema``: the published form of the JSON that the commands print."""

from __future__ import annotations

import click

COMMANDS = ("compare", "alone", "inspect", "weigh", "study", "plan")


@click.command()
@click.option(
    "--of",
    "command",
    type=click.Choice(COMMANDS),
    default="compare",
    help="The command whose JSON is meant. Default: compare.",
)
def schema(command: str) -> int:
    """Print the JSON Schema of what a command prints with ``--format json``."""
    from wattwitness.render.schemas import Printed, schema_text

    click.echo(schema_text(Printed(command)))
    return 0
