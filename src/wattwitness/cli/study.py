"""``wattwitness study``: can the unit be lived with, over many rides?"""

from __future__ import annotations

from collections.abc import Callable, Sequence
from dataclasses import replace as with_changes
from pathlib import Path
from typing import TYPE_CHECKING, Any, TypeVar

import click

from wattwitness.cli.question_options import asked_of, processes_option, question_options, with_options
from wattwitness.cli.setting_options import setting_options, settings_from

if TYPE_CHECKING:
    from wattwitness.model.study import Study

F = TypeVar("F", bound=Callable[..., Any])
Output = click.Path(path_type=Path)
ANSWER_OPTIONS = (
    click.option(
        "--format",
        "output_format",
        type=click.Choice(["text", "json"]),
        default="text",
        help="What to print. Default: text.",
    ),
    click.option("--html", "html_path", type=Output, metavar="FILE", help="Also write one self-contained page."),
    processes_option,
    click.option("--with-names", is_flag=True, help="Leave names of riders and files on the page."),
    click.option("--replace", is_flag=True, help="Replace the page if it is there already."),
    click.option("--quiet", is_flag=True, help="Show no progress."),
)


def study_options(command: F) -> F:
    """Give ``command`` what may be asked of a study, and how the answer is to be given."""
    return with_options(question_options(command), ANSWER_OPTIONS)


def print_found(found: Study, unused: Sequence[tuple[str, str]], output_format: str) -> None:
    """Print the answer as text or as JSON."""
    if output_format == "json":
        from wattwitness.render.study_json import study_text

        click.echo(study_text(found, unused))
    else:
        from wattwitness.render.terminal import print_study, standard_console

        print_study(found, unused, standard_console())


@click.command()
@click.argument("rides", type=click.Path(path_type=Path), metavar="FOLDER|LIST")
@click.option("--reference", default="", metavar="TEXT", help="A part of the reference's file or meter names.")
@click.option("--unit", default="", metavar="TEXT", help="A part of the unit's file or meter names.")
@study_options
@setting_options
def study(
    rides: Path,
    reference: str,
    unit: str,
    output_format: str,
    html_path: Path | None,
    with_names: bool,
    processes: int | None,
    replace: bool,
    quiet: bool,
    **options: Any,
) -> int:
    """Judge one unit over many rides: a folder of recordings, or a TOML list that names each ride's pair.

    Says whether it is the same every day, whether it meets its claim and how surely, whether it can be corrected, and
    what it does to the rider.

    Exit status: 0 an answer was given; 1 a claim is not met; 2 usage or unreadable input; 3 no ride counts.
    """
    from wattwitness.cli.progress import StatusLine
    from wattwitness.workflows.publish_study import check_page, publish_study
    from wattwitness.workflows.study import listed_study, run_study
    from wattwitness.workflows.study_outcome import outcome_of_study

    asked = asked_of(options)
    settings = settings_from(options)
    listed, unused = listed_study(rides, reference=reference, unit=unit)
    check_page(html_path, listed, rides, unused, replace=replace)
    listed = with_changes(listed, **asked)
    with StatusLine(quiet=quiet) as progress:
        found = run_study(listed, settings, progress=progress, processes=processes)
        publish_study(found, unused, html_path=html_path, with_names=with_names, replace=replace)
    print_found(found, unused, output_format)
    return outcome_of_study(found).value
