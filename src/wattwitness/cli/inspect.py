"""``wattwitness inspect``: what does a file hold, and what is wrong with it?"""

from __future__ import annotations

from pathlib import Path

import click

Output = click.Path(path_type=Path)


@click.command()
@click.argument("files", nargs=-1, required=True, metavar="FILE...")
@click.option(
    "--format",
    "output_format",
    type=click.Choice(["text", "json"]),
    default="text",
    help="What to print. Default: text.",
)
@click.option("--mapping", type=Output, metavar="FILE", help="A saved column mapping for tables that need one.")
@click.option(
    "--save-mapping", type=Output, metavar="FILE", help="Write the proposed column mapping of a table, to be edited."
)
@click.option("--serial-numbers", is_flag=True, help="Show serial numbers too; they identify the device.")
def inspect(
    files: tuple[str, ...],
    output_format: str,
    mapping: Path | None,
    save_mapping: Path | None,
    serial_numbers: bool,
) -> int:
    """Say what each file holds and what is wrong with it.

    Exit status: 0 every file could be read; 2 one or more could not.
    """
    from wattwitness.workflows.inspect import inspect_file, save_proposed_mapping

    if save_mapping is not None:
        if len(files) != 1:
            raise click.UsageError("--save-mapping goes with one file.")
        save_proposed_mapping(Path(files[0]), save_mapping)
        click.echo(f"The proposed mapping is in {save_mapping}: check it, then give it with --mapping.")
        return 0
    inspections = [inspect_file(file, mapping=mapping, serial_numbers=serial_numbers) for file in files]
    if output_format == "json":
        from wattwitness.render.json_form import inspections_text

        click.echo(inspections_text(inspections))
    else:
        from wattwitness.render.terminal import print_inspections, standard_console

        print_inspections(inspections, standard_console())
    return 0
