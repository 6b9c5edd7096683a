"""``wattwitness weigh``: what do known weights say of a meter?"""

from __future__ import annotations

from pathlib import Path

import click

from wattwitness.cli.numbers import Between

Output = click.Path(path_type=Path)


@click.command()
@click.argument("worksheets", nargs=-1, metavar="[WORKSHEET]...", type=Output)
@click.option(
    "--format",
    "output_format",
    type=click.Choice(["text", "json"]),
    default="text",
    help="What to print. Default: text.",
)
@click.option("--html", "html_path", type=Output, metavar="FILE", help="Also write one self-contained page.")
@click.option("--replace", is_flag=True, help="Replace the page if it is there already.")
@click.option("--blank", type=Output, metavar="FILE", help="Write an empty worksheet to fill in, and nothing else.")
@click.option(
    "--level",
    type=Between(0.5, 0.999),
    default=0.95,
    metavar="NUMBER",
    help="How often an interval must hold the true value. Default: 0.95.",
)
def weigh(
    worksheets: tuple[Path, ...],
    output_format: str,
    html_path: Path | None,
    replace: bool,
    blank: Path | None,
    level: float,
) -> int:
    """Evaluate worksheets of hanging weights: slope, zero, linearity, hysteresis, and the correction they imply.

    Several worksheets of one meter show whether it drifts. Hanging weights can hurt: block the wheel, keep feet clear,
    hang no more than the maker allows.

    Exit status: 0 every worksheet was evaluated; 2 one could not be.
    """
    from wattwitness.workflows.weigh import check_page, publish_weighing, save_blank_worksheet, weigh_files

    if blank is not None:
        if worksheets or html_path is not None:
            raise click.UsageError("--blank writes an empty worksheet; give no other file with it.")
        save_blank_worksheet(blank)
        click.echo(f"The empty worksheet is {blank}: fill it in, then give it to “wattwitness weigh”.")
        return 0
    if not worksheets:
        raise click.UsageError("Name a worksheet, or let --blank FILE write an empty one.")
    if html_path is not None:
        check_page(worksheets, html_path, replace=replace)
    report = weigh_files(worksheets, level=level)
    if html_path is not None:
        publish_weighing(report, html_path, replace=replace)
    if output_format == "json":
        from wattwitness.render.weighing_json import weighing_text

        click.echo(weighing_text(report))
    else:
        from wattwitness.render.terminal import print_weighing, standard_console

        print_weighing(report, standard_console())
    return 0
