"""``wattwitness study``: can the unit be lived with, over many rides?"""

from __future__ import annotations

from collections.abc import Callable, Mapping, Sequence
from dataclasses import replace as with_changes
from pathlib import Path
from typing import TYPE_CHECKING, Any, TypeVar

import click

from wattwitness.cli.setting_options import setting_options, settings_from
from wattwitness.model.claim import DecisionRule

if TYPE_CHECKING:
    from wattwitness.model.study import Study

F = TypeVar("F", bound=Callable[..., Any])
Output = click.Path(path_type=Path)
QUESTIONS = ("claim", "rule", "risk", "at_w", "at_rpm", "threshold_w")
"""Options that stand for the same words in a list of rides, and win over them."""


JUDGING_OPTIONS = (
    click.option("--claim", metavar="NAME", help="A published limit to judge by, by its name in the documentation."),
    click.option(
        "--rule",
        type=click.Choice([rule.value for rule in DecisionRule]),
        help="Decision rule. Default: conformance_probability.",
    ),
    click.option(
        "--risk", type=click.FloatRange(0.001, 0.5), metavar="NUMBER", help="Largest chance of a wrong firm verdict."
    ),
    click.option(
        "--at-w", type=click.FloatRange(20, 2000), metavar="NUMBER", help="Power to carry every ride to, in W."
    ),
    click.option("--at-rpm", type=click.FloatRange(20, 200), metavar="NUMBER", help="Cadence to carry every ride to."),
    click.option(
        "--threshold-w", type=click.FloatRange(30, 1000), metavar="NUMBER", help="The rider's threshold power."
    ),
    click.option(
        "--processes", type=click.IntRange(1, 256), metavar="NUMBER", help="Rides at once. Default: all cores."
    ),
)
QUESTION_OPTIONS = (
    click.option(
        "--format",
        "output_format",
        type=click.Choice(["text", "json"]),
        default="text",
        help="What to print. Default: text.",
    ),
    click.option("--html", "html_path", type=Output, metavar="FILE", help="Also write one self-contained page."),
    *JUDGING_OPTIONS,
    click.option("--replace", is_flag=True, help="Replace the page if it is there already."),
    click.option("--quiet", is_flag=True, help="Show no progress."),
)


def question_options(command: F) -> F:
    """Give ``command`` what may be asked of a study, and how the answer is to be given."""
    for option in reversed(QUESTION_OPTIONS):
        command = option(command)
    return command


def judging_options(command: F) -> F:
    """Give ``command`` only what may be asked of a study."""
    for option in reversed(JUDGING_OPTIONS):
        command = option(command)
    return command


def asked_of(given: Mapping[str, Any]) -> dict[str, Any]:
    """What was asked, in the words of a list of rides; what was not given is not there. Raises UnknownName."""
    from wattwitness.workflows.study import published_claim

    asked = {name: value for name, value in given.items() if value is not None}
    if "claim" in asked:
        asked["claim"] = published_claim(asked["claim"])
    if "rule" in asked:
        asked["rule"] = DecisionRule(asked["rule"])
    return asked


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
@question_options
@setting_options
def study(
    rides: Path,
    reference: str,
    unit: str,
    output_format: str,
    html_path: Path | None,
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

    asked = asked_of({name: options.pop(name) for name in QUESTIONS})
    settings = settings_from(options)
    listed, unused = listed_study(rides, reference=reference, unit=unit)
    check_page(html_path, listed, rides, unused, replace=replace)
    listed = with_changes(listed, **asked)
    with StatusLine(quiet=quiet) as progress:
        found = run_study(listed, settings, progress=progress, processes=processes)
        publish_study(found, unused, html_path=html_path, replace=replace)
    print_found(found, unused, output_format)
    return outcome_of_study(found).value
