"""``wattwitness schema``: the published form of the JSON that ``compare`` prints."""

from __future__ import annotations

import click


@click.command()
def schema() -> int:
    """Print the JSON Schema of what ``compare --format json`` prints."""
    from wattwitness.render.json_form import schema_text

    click.echo(schema_text())
    return 0
