"""``wattwitness alone``: what does one recording, with no second meter, show of itself?"""

from __future__ import annotations

from pathlib import Path
from typing import Any

import click

from wattwitness.cli.setting_options import alone_setting_options, alone_settings_from

Output = click.Path(path_type=Path)


@click.command()
@click.argument("recording", metavar="FILE")
@click.option(
    "--format",
    "output_format",
    type=click.Choice(["text", "json"]),
    default="text",
    help="What to print. Default: text.",
)
@click.option("--html", "html_path", type=Output, metavar="FILE", help="Also write one self-contained page.")
@click.option("--mapping", type=Output, metavar="FILE", help="A saved column mapping, for a table that needs one.")
@click.option("--replace", is_flag=True, help="Replace the page if it is there already.")
@click.option("--quiet", is_flag=True, help="Show no progress.")
@alone_setting_options
def alone(
    recording: str,
    output_format: str,
    html_path: Path | None,
    mapping: Path | None,
    replace: bool,
    quiet: bool,
    **options: Any,
) -> int:
    """Look at one recording with no second meter: where its power leaves its own behaviour.

    Power is held against what the bike itself shows at the same cadence and resistance, and looked over for one number
    on and on, gaps, leaps and zeros. That shows a change of behaviour. An error that never changes it cannot show:
    that takes a second meter, and “wattwitness compare”.

    FILE#2 takes the second recording of a file that holds several.

    Exit status: 0 the recording was looked at; 2 usage or unreadable input; 3 it holds no power to look at.
    """
    from wattwitness.cli.progress import StatusLine
    from wattwitness.workflows.alone import alone_file, check_alone_outputs

    settings = alone_settings_from(options)
    check_alone_outputs(recording, html_path, replace=replace)
    with StatusLine(quiet=quiet) as progress:
        progress(f"reading {Path(recording).name}")
        report = alone_file(recording, settings, mapping=mapping)
        if html_path is not None:
            from wattwitness.render.html import write_html
            from wattwitness.sections.publication import of_recording_alone

            progress(f"writing {html_path.name}")
            write_html(of_recording_alone(report), html_path, replace=replace)
    if output_format == "json":
        from wattwitness.render.alone_json import alone_text

        click.echo(alone_text(report))
    else:
        from wattwitness.render.terminal import print_alone, standard_console

        print_alone(report, standard_console())
    return 0 if report.mean_w is not None else 3
