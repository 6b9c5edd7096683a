"""``wattwitness compare``: how far is the unit off?"""

from __future__ import annotations

from pathlib import Path
from typing import Any

import click

from wattwitness.cli.recording_choices import recording_choices
from wattwitness.cli.setting_options import setting_options, settings_from

Output = click.Path(path_type=Path)


@click.command()
@click.argument("recordings", nargs=-1, required=True, metavar="REFERENCE UNIT [OTHER]...")
@click.option(
    "--format",
    "output_format",
    type=click.Choice(["text", "json"]),
    default="text",
    help="What to print. Default: text.",
)
@click.option("--html", "html_path", type=Output, metavar="FILE", help="Also write one self-contained page.")
@click.option(
    "--figures", "figures_folder", type=Output, metavar="FOLDER", help="Also write each chart as SVG and PNG."
)
@click.option(
    "--name", "names", multiple=True, metavar="NAME", help="What to call each recording, in the order of the files."
)
@click.option(
    "--mapping",
    "mappings",
    multiple=True,
    metavar="FILE|none",
    help="A saved column mapping for tables. Repeat it, in the order of the files, where they need different ones.",
)
@click.option(
    "--reference-meter", type=Output, metavar="FILE", help="A file that describes the reference: setup, budget."
)
@click.option(
    "--unit-meter",
    "unit_meters",
    multiple=True,
    metavar="FILE|none",
    help="A file that describes a unit. Repeat it, in the order of the files.",
)
@click.option("--replace", is_flag=True, help="Replace the page or figures if they are there already.")
@click.option("--quiet", is_flag=True, help="Show no progress.")
@setting_options
def compare(
    recordings: tuple[str, ...],
    output_format: str,
    html_path: Path | None,
    figures_folder: Path | None,
    names: tuple[str, ...],
    mappings: tuple[str, ...],
    reference_meter: Path | None,
    unit_meters: tuple[str, ...],
    replace: bool,
    quiet: bool,
    **options: Any,
) -> int:
    """Compare recordings of one ride: the reference first, then each unit under test.

    FILE#2 takes the second recording of a file that holds several. A file with two power sources may stand alone:
    its second is compared with its first.

    Exit status: 0 something asked for was produced; 1 a stated limit was broken; 2 usage or unreadable input;
    3 nothing could be concluded.
    """
    from wattwitness.cli.progress import StatusLine
    from wattwitness.workflows.compare import compare_recordings, read_choices
    from wattwitness.workflows.meters import read_meters
    from wattwitness.workflows.outcome import outcome_of
    from wattwitness.workflows.publish import check_outputs, publish

    settings = settings_from(options)
    choices = recording_choices(recordings, names, mappings)
    check_outputs(choices, html_path=html_path, figures_folder=figures_folder, replace=replace)
    with StatusLine(quiet=quiet) as progress:
        read = read_choices(choices, progress=progress)
        descriptions = [None if path == "none" else Path(path) for path in unit_meters]
        meters = read_meters(reference_meter, descriptions, compared=len(read) - 1)
        comparison = compare_recordings(read, settings, meters=meters, progress=progress)
        lacking = publish(
            comparison, html_path=html_path, figures_folder=figures_folder, replace=replace, progress=progress
        )
    if lacking:
        click.echo(lacking, err=True)
    if output_format == "json":
        from wattwitness.render.json_form import comparison_text

        click.echo(comparison_text(comparison))
    else:
        from wattwitness.render.terminal import print_comparison, standard_console

        print_comparison(comparison, standard_console())
    return outcome_of(comparison).value
