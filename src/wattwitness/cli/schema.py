"""``wattwitness schema``: the published form of the JSON that the commands print."""

from __future__ import annotations

import click

COMMANDS = ("compare", "alone", "inspect", "weigh")


@click.command()
@click.argument("command", type=click.Choice(COMMANDS), default="compare", required=False)
def schema(command: str) -> int:
    """Print the JSON Schema of what a command prints with ``--format json``: of ``compare`` unless another is named."""
    from wattwitness.render.schemas import Printed, schema_text

    click.echo(schema_text(Printed(command)))
    return 0
